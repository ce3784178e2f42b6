"""A plan of a what-if: what changes from habit, as text and in words, without computing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields

from pleuston.base.errors import InputError
from pleuston.records.kinds import FLOWS, LIDS
from pleuston.records.library import library

HEAT_DAYS = 7.0


@dataclass(frozen=True)
class Plan:
    """What is done otherwise than by habit; a field left as it is changes nothing.

    cover: share of the surface left when thinning, 1 for no harvest; harvest: grams a week by
    species; feed: share of the usual food; feed_grams: grams a day; stock: animals in or out;
    swap: a floating species and the one that takes its place; soil: its name and dry kilograms.
    """

    name: str
    cover: float | None = None
    harvest: tuple[tuple[str, float], ...] = ()
    feed: float | None = None
    feed_grams: float | None = None
    light: float | None = None
    lid: str = ""
    flow: str = ""
    top_up: str = ""
    water_change: float = 0.0
    stock: tuple[tuple[str, float], ...] = ()
    swap: tuple[str, str] | None = None
    holiday: float = 0.0
    neighbour: bool = False
    holiday_feed: float = 0.0
    heat: float = 0.0
    heat_days: float = HEAT_DAYS
    power_cut: float = 0.0
    soil: tuple[str, float] | None = None

    @property
    def changes(self) -> dict[str, object]:
        """The fields that change something."""
        return {
            f.name: getattr(self, f.name) for f in fields(self)
            if f.name != "name" and getattr(self, f.name) != f.default
        }  # fmt: skip


AS_NOW = Plan("as now")
MOST_PLANS = 4
PRESETS: Mapping[str, str] = {
    "Holiday of 14 days": "holiday=14", "Heat wave": "heat=6,heat_days=7",
    "Power cut": "power_cut=24", "Thin to 25 %": "cover=25", "No harvest": "cover=100",
    "Half the food": "feed=50",
}  # fmt: skip
"""Plans to begin from."""


# -- from text and back --------------------------------------------------------------


def refused(name: str, key: str, why: str) -> InputError:
    """The refusal of a key of a plan."""
    return InputError(why, where=f"plan {name!r}, {key}", remedy="See `pleuston what-if --help`")


def _number(low: float, high: float, scale: float = 1.0) -> Callable[[str], float]:
    def read(text: str) -> float:
        value = float(text.strip().removesuffix("%"))
        if not low <= value <= high:
            raise ValueError(f"{value:g} is not within {low:g} to {high:g}")
        return value * scale

    return read


def _one_of(*words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise ValueError(f"{text!r} is none of {', '.join(words)}")
        return text

    return read


def _amounts(text: str, low: float, high: float) -> tuple[tuple[str, float], ...]:
    made = []
    for part in text.split("/"):
        name, _, amount = part.strip().rpartition(" ")
        made.append((library().find_species(name).name, _number(low, high)(amount)))
    return tuple(made)


def _harvest(text: str) -> tuple[tuple[str, float], ...]:
    return _amounts(text, 0.0, 1e4)


def _stock(text: str) -> tuple[tuple[str, float], ...]:
    made = _amounts(text, -500.0, 500.0)
    for name, _ in made:
        if library().find_species(name).group not in ("fish", "shrimp", "snails"):
            raise ValueError(f"{name} is no animal")
    return made


def _swap(text: str) -> tuple[str, str]:
    old, sign, new = text.partition(">")
    if not sign:
        raise ValueError("give the old species, '>' and the new one")
    pair = library().find_species(old.strip()), library().find_species(new.strip())
    if any(s.group != "floating" for s in pair):
        raise ValueError("only floating species can be swapped")
    return pair[0].name, pair[1].name


def _soil(text: str) -> tuple[str, float]:
    name, _, amount = text.strip().rpartition(" ")
    return name, _number(0.0, 500.0)(amount)


def _yes(text: str) -> bool:
    return _one_of("yes", "no")(text) == "yes"


KEYS: Mapping[str, Callable[[str], object]] = {
    "cover": _number(0.0, 100.0, 0.01), "harvest": _harvest, "feed": _number(0.0, 1000.0, 0.01),
    "feed_grams": _number(0.0, 100.0), "light": _number(0.0, 24.0), "lid": _one_of(*LIDS),
    "flow": _one_of(*FLOWS), "top_up": str.strip, "water_change": _number(0.0, 1e4),
    "stock": _stock, "swap": _swap, "holiday": _number(0.0, 366.0), "neighbour": _yes,
    "holiday_feed": _number(0.0, 100.0, 0.01), "heat": _number(-15.0, 15.0),
    "heat_days": _number(0.0, 366.0), "power_cut": _number(0.0, 240.0), "soil": _soil,
}  # fmt: skip
"""Every key of a plan and how its value is read; shares are typed as percent."""


def plan_from(text: str) -> Plan:
    """Read a plan from `NAME:key=value,key=value`.

    >>> plan_from("away:holiday=14,neighbour=yes").changes
    {'holiday': 14.0, 'neighbour': True}
    >>> plan_from("less:cover=25,feed=50").cover
    0.25
    """
    name, _, rest = text.partition(":")
    pairs = [part.partition("=") for part in rest.split(",") if part.strip()]
    return plan_of(name.strip(), [(key.strip(), value.strip()) for key, _, value in pairs])


def plan_of(name: str, pairs: Iterable[tuple[str, str]]) -> Plan:
    """Make a plan from keys and their values as typed."""
    if not name or len(name) > 60 or any(c in name for c in ":,|"):
        raise refused(name, "name", "a plan needs a name of at most 60 characters without : , |")
    given: dict[str, object] = {}
    for key, value in pairs:
        if key not in KEYS:
            raise refused(name, key, f"there is no key {key!r}; use one of {', '.join(KEYS)}")
        try:
            given[key] = KEYS[key](value)
        except ValueError as error:
            raise refused(name, key, str(error) or f"{value!r} can't be read") from error
    return Plan(name, **given)  # type: ignore[arg-type]


def text_of(plan: Plan) -> str:
    """A plan as the text it is read from.

    >>> text_of(plan_from("away:holiday=14,neighbour=yes"))
    'away:holiday=14,neighbour=yes'
    """
    return f"{plan.name}:" + ",".join(f"{k}={v}" for k, v in typed(plan).items())


def typed(plan: Plan) -> dict[str, str]:
    """The changes of a plan as typed, by key."""
    made = {}
    for key, value in plan.changes.items():
        if isinstance(value, bool):
            made[key] = "yes" if value else "no"
        elif isinstance(value, float):
            share = key in ("cover", "feed", "holiday_feed")
            made[key] = f"{value * 100.0 if share else value:.10g}"
        elif key in ("harvest", "stock"):
            made[key] = "/".join(f"{n} {a:g}" for n, a in value)  # type: ignore[attr-defined]
        elif key == "swap":
            made[key] = "{}>{}".format(*value)  # type: ignore[misc]
        elif key == "soil":
            made[key] = "{} {:g}".format(*value)  # type: ignore[misc]
        else:
            made[key] = str(value)
    return made


WORDS: Mapping[str, str] = {
    "cover": "thin to {} % of the surface", "harvest": "harvest {} g a week",
    "feed": "{} % of the usual food", "feed_grams": "{} g of food a day",
    "light": "{} h of light", "lid": "lid {}", "flow": "{} flow", "top_up": "top up with {}",
    "water_change": "change {} L of water a week", "stock": "animals: {}", "swap": "swap {}",
    "holiday": "{} days away", "neighbour": "a neighbour tops up",
    "holiday_feed": "{} % of the food while away", "heat": "room {} K warmer",
    "heat_days": "for {} days", "power_cut": "no power for {} h", "soil": "new soil: {} kg",
}  # fmt: skip


def words_of(plan: Plan) -> str:
    """What a plan changes, in words.

    >>> words_of(plan_from("x:cover=100,light=7"))
    'no harvest, 7 h of light'
    """
    said = [
        "no harvest" if key == "cover" and value == "100" else WORDS[key].format(value)
        for key, value in typed(plan).items()
    ]
    return ", ".join(said) or "as now"


def check_names(plans: Sequence[Plan]) -> None:
    """Refuse none or too many plans, and two of one name."""
    names = [p.name for p in plans]
    if not 1 <= len(plans) <= MOST_PLANS or len({*names, AS_NOW.name}) != len(plans) + 1:
        raise InputError(
            f"{len(plans)} plans named {', '.join(names) or 'nothing'}", where="what-if",
            remedy=f"Give one to {MOST_PLANS} plans of different names, none named 'as now'",
        )  # fmt: skip
