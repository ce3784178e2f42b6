"""A plan of a what-if: what changes from habit, as text, as words, and as jumps of the model."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta

from pleuston.base.errors import InputError
from pleuston.engine.case import Case
from pleuston.engine.schedule import Event
from pleuston.engine.start import soil_put_in
from pleuston.planning.habits import Habits, fed, future_events, thinned_to
from pleuston.records.kinds import FLOWS, LIDS
from pleuston.records.library import library
from pleuston.records.record import Entry, Record
from pleuston.records.resolve import soil_named

SOON = 1.0 / 24.0
"""What a plan does at once is done within the hour [d]."""
EVENING = 20.0
"""Local hour at which a power cut begins: the night without flow or heat is the hardest."""
HEAT_DAYS = 7.0
WEEK = 7.0
NEIGHBOUR_GAP = 7.0
"""Days between the top-ups of a neighbour."""


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
PRESETS: Mapping[str, str] = {
    "Holiday of 14 days": "holiday=14", "Heat wave": "heat=6,heat_days=7",
    "Power cut": "power_cut=24", "Thin to 25 %": "cover=25", "No harvest": "cover=100",
    "Half the food": "feed=50",
}  # fmt: skip
"""Plans to begin from."""


# -- from text and back --------------------------------------------------------------


def _refuse(name: str, key: str, why: str) -> InputError:
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
        raise _refuse(name, "name", "a plan needs a name of at most 60 characters without : , |")
    given: dict[str, object] = {}
    for key, value in pairs:
        if key not in KEYS:
            raise _refuse(name, key, f"there is no key {key!r}; use one of {', '.join(KEYS)}")
        try:
            given[key] = KEYS[key](value)
        except ValueError as error:
            raise _refuse(name, key, str(error) or f"{value!r} can't be read") from error
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


# -- what it does -----------------------------------------------------------------


def check_plan(plan: Plan, case: Case, at: float) -> None:
    """Refuse what can't be done in this tank: a water or soil without analysis, no such plant."""
    slots = case.plants.slots
    for species in [*(s for s, _ in plan.harvest), *([plan.swap[0]] if plan.swap else [])]:
        if species not in slots:
            raise _refuse(plan.name, "species", f"{species} does not float in {case.tank.name}")
    if plan.top_up:
        case.maker.water(at, plan.top_up)
    if plan.soil:
        soil_named(case.record, plan.soil[0])


def habits_under(plan: Plan, habits: Habits, case: Case, at: float) -> Habits:
    """The habits that a plan leaves, apart from what only lasts some days."""
    if plan.cover is not None:
        days = habits.thinning_days or WEEK
        slots = list(case.plants.slots.values())
        thinner = replace(
            habits, thinning=dict.fromkeys(slots, plan.cover), thinning_days=days,
            last_thinning=at - days + SOON,
        )  # fmt: skip
        habits = thinned_to(thinner, plan.cover)
    if plan.harvest:
        habits = replace(habits, thinning={})
    if plan.feed is not None:
        habits = fed(habits, plan.feed)
    if plan.feed_grams is not None:
        if habits.feed_per_day <= 0.0:
            raise _refuse(plan.name, "feed_grams", "no meal of the last weeks tells which food")
        habits = fed(habits, plan.feed_grams / habits.feed_per_day)
    return replace(habits, top_up_water=plan.top_up) if plan.top_up else habits


def record_under(plan: Plan, case: Case, at: float) -> Record:
    """The record with the settings and the power cut of a plan noted in it."""
    moment = case.clock.moment(at)
    made = [
        _entry(case, moment, "setting", what, amount, note)
        for what, amount, note, changed in (
            ("light_hours", plan.light, "", plan.light is not None),
            ("lid", None, plan.lid, plan.lid), ("flow", None, plan.flow, plan.flow),
        ) if changed
    ]  # fmt: skip
    if plan.power_cut:
        off = case.clock.local_hour(moment, EVENING)
        off = off if off >= moment else off + timedelta(days=1)
        made.append(_entry(case, off, "power_off"))
        made.append(_entry(case, off + timedelta(hours=plan.power_cut), "power_on"))
    return replace(case.record, entries=(*case.record.entries, *made)) if made else case.record


def _entry(
    case: Case, at: datetime, kind: str, what: str = "", amount: float | None = None,
    note: str = "",
) -> Entry:  # fmt: skip
    name = f"plan-{kind}-{what}-{at.isoformat()}"
    return Entry(name, at, case.tank.name, kind, what, amount, amount, note=note)


def events_under(plan: Plan, case: Case, at: float, days: float, habits: Habits) -> list[Event]:
    """The jumps that a plan makes, habits among them, and none of them while away but a
    neighbour's."""
    made = [*future_events(case, at, days, habits), *_weekly(plan, case, at, days, habits)]
    away = at + plan.holiday
    kept = []
    for event in made:
        if event.time >= away:
            kept.append(event)
        elif event.jump == "feed" and plan.holiday_feed:
            share = {k: v * plan.holiday_feed for k, v in event.arguments.items()}
            kept.append(Event(event.time, "feed", share))
    if plan.holiday and plan.neighbour and habits.top_up_water:
        gap, day = NEIGHBOUR_GAP, at + NEIGHBOUR_GAP
        while day < min(away, at + days):
            kept.append(case.maker.top_up_event(day, habits.top_up_water))
            day += gap
    return [*kept, *_once(plan, case, at)]


def _weekly(plan: Plan, case: Case, at: float, days: float, habits: Habits) -> list[Event]:
    made: list[Event] = []
    day = at + SOON
    while day < at + days:
        for species, grams in plan.harvest:
            jump = f"harvest_{case.plants.slots[species]}"
            made.append(Event(day, jump, {"harvest_grams": grams, "harvest_cover": 1.0}))
        if plan.water_change:
            made += case.maker.change_events(day, habits.top_up_water, plan.water_change)
        day += WEEK
    return made


def _once(plan: Plan, case: Case, at: float) -> list[Event]:
    moment = case.clock.moment(at + SOON)
    made: list[Event] = []
    for species, number in plan.stock:
        kind = "stock_in" if number >= 0.0 else "stock_out"
        made += case.maker.events([_entry(case, moment, kind, species, abs(number))])
    if plan.soil:
        name, kilograms = plan.soil
        arguments = soil_put_in(soil_named(case.record, name), kilograms)
        made.append(Event(at + SOON, "add_soil", arguments))
    return made
