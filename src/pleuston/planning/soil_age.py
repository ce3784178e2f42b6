"""Is the soil worn out? What it still holds, how plants grow in it, and what a renewal would free.

Rooted plants live on the soil, floating ones on the water: which of them stalls tells which is
short.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.engine.kernel import Array
from pleuston.engine.start import SOIL_DEFAULT, soil_put_in
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.habits import Habits, habits_of
from pleuston.planning.hours import local_time
from pleuston.planning.outlook import limits_of
from pleuston.planning.plan import AS_NOW, Plan
from pleuston.planning.planner import cell, span, step, table
from pleuston.planning.whatif import Tried, tried
from pleuston.records.resolve import soil_named

DAYS, MEMBERS = 42, 100
FIRST_DAYS, HOUR = 3, 1.0 / 24.0
"""Days after a renewal that are looked at by the hour."""
MUCH = 0.2
"""Total ammonia [mg/L of N] that a kit shows: common practice, no source."""
WORN = 0.25
"""Share of a new soil's store from which it counts as worn out: guess."""
STALL = 0.005
"""Growth of each gram [1/d] below which plants stand still: guess."""
YEAR = 365.25
FAR = 30.0
"""Years beyond which none are told."""
JUDGED = ("nitrogen", "phosphorus")
"""Stores that tell a worn soil; potassium comes with water too."""
SHORT, LATELY = ("pale_leaves", "pinholes"), 56.0
"""Signs that the water lacks potassium or iron, and days in which they still count."""
PALE = ("pale_leaves", "pinholes", "melt")
ROOT = "root"
"""What a note of food put at the roots says."""
STORES = {
    "nitrogen": ("soil_slow_nitrogen", "soil_nitrogen", "ammonium_soil"),
    "phosphorus": ("soil_slow_phosphorus", "soil_phosphorus", "phosphate_soil"),
    "potassium": ("potassium_soil",),
}
"""What plants can have of the soil in time: what rots in it, and what it holds exchangeably."""


def held(belief: TankBelief, element: str) -> Array:
    """(members,) of an element that plants can have of the soil in time [mg]."""
    table_ = belief.case.table
    return np.asarray(sum(belief.end[:, table_.at("state", s)] for s in STORES[element]))


def new_store(belief: TankBelief, element: str) -> float:
    """What the same soil held when it was new [mg]."""
    tank, record = belief.case.tank, belief.case.record
    soil = soil_named(record, tank.soil) if tank.soil else SOIL_DEFAULT
    fresh = soil_put_in(soil, belief.case.opening.soil_mass)
    words = [s.removeprefix("soil_").removesuffix("_soil") for s in STORES[element]]
    return sum(fresh[f"soil_in_{w}"] for w in words)


def years_left(share: Array, age: float) -> Array:
    """Years until a store comes down to the worn share, falling by as much of itself each year.

    share: of the new store that is left; age: years. Where nothing was lost, or more years than
    can be told are left, it is the most that is told.

    >>> float(years_left(np.array([0.5]), 2.0)[0])
    2.0
    """
    rate = -np.log(np.clip(share, 1e-9, 0.999999)) / max(age, 1e-6)
    years = np.maximum(np.log(np.maximum(share, 1e-9) / WORN), 0.0) / rate
    return np.asarray(np.minimum(years, FAR))


def growth(run: Tried, kinds: tuple[str, ...]) -> Array:
    """(members,) growth of each gram a day over the days run, none taken out; NaN where none."""
    belief = run.ahead.belief
    table_ = belief.case.table
    places = [table_.at("state", f"{k}_carbon") for k in kinds]
    good = run.ahead.run.good
    days = len(run.ahead.times)
    begun = belief.end[: len(good)][good][:, places].sum(axis=1)
    ended = run.ahead.run.end[good][:, places].sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(begun > 1.0, np.log(ended / begun) / days, np.nan))


def verdict(
    worn: float, rooted: float | None, floating: float | None, pale_in_water: bool = False
) -> str:
    """`worn`, `suspect`, `water`, `both`, `neither`, `wearing` or `unseen`, by what stalls.

    worn: chance that a store is below the worn share; rooted, floating: growth [1/d], None where
    there are none.

    >>> verdict(0.9, 0.0, 0.1), verdict(0.1, 0.03, 0.0), verdict(0.9, 0.03, 0.1)
    ('worn', 'water', 'wearing')
    >>> verdict(0.2, 0.02, 0.1), verdict(0.2, 0.0, 0.0), verdict(0.2, 0.0, 0.1)
    ('neither', 'both', 'suspect')
    """
    root_stalls = rooted is not None and rooted < STALL
    water_stalls = (floating is not None and floating < STALL) or pale_in_water
    if root_stalls and water_stalls:
        return "both"
    if water_stalls:
        return "water"
    if root_stalls:
        return "worn" if worn >= 0.5 or floating is None else "suspect"
    if worn < 0.5:
        return "neither"
    return "unseen" if rooted is None else "wearing"


VERDICTS = {
    "worn": "The soil is worn out: rooted plants stand still while those on the water grow",
    "suspect": "Rooted plants stand still while those on the water grow: the soil, as keepers "
    "know it, or their shade; by the balance it still holds some",
    "wearing": "The soil holds little, but rooted plants still grow: no need to act yet",
    "unseen": "The soil holds little, and no rooted plants are noted that would tell",
    "water": "It is not the soil: floating plants stand still, so the water is short, "
    "of potassium or iron most often",
    "both": "All plants stand still: light, carbon, potassium or iron before the soil",
    "neither": "The soil is not worn out",
}


def soil_age(
    belief: TankBelief, part: float = 0.25, soil: str = "", threads: int | None = None
) -> dict[str, Any]:
    """How worn the soil is, when it will be, and what part of it renewed would free, as an answer.

    part: share of the bed that would be renewed. Raises InputError for a tank without soil.
    """
    case, at = belief.case, belief.at
    tank = case.tank
    mass = case.opening.soil_mass
    if mass <= 0.0:
        raise InputError(
            "no soil is set up", where=f"tank {tank.name}", remedy="note soil and its depth"
        )
    if not 0.0 < part <= 1.0:
        raise InputError(f"a part of {part:.0%}", "plan soil-age", "give 1 to 100 %")
    since = tank.soil_since or tank.started
    age = max((case.clock.moment(at) - since).days / YEAR, 0.0) if since else None
    name = soil or tank.soil or "garden soil"
    left = {e: held(belief, e) / max(new_store(belief, e), 1e-9) for e in STORES}
    habits = habits_of(case, at)
    renewal = Plan("part", soil=(name, part * mass))
    no_harvest = tried(belief, Plan("no harvest", cover=1.0), DAYS, MEMBERS, habits=habits,
                       threads=threads)  # fmt: skip
    rooted = _middle(growth(no_harvest, ("rooted",)))
    floats = _middle(growth(no_harvest, tuple(case.plants.slots.values())))
    worst = min(JUDGED, key=lambda e: float(np.median(left[e])))
    worn = float((left[worst] < WORN).mean())
    found = verdict(worn, rooted, floats, _pale_lately(belief))
    data: dict[str, Any] = {
        "planner": "soil-age", "tank": tank.name, "at": local_time(belief, at),
        "model": belief.model, "seed": belief.seed, "soil": name, "age_years": age,
        "left": {e: _three(v) for e, v in left.items()}, "least": worst, "worn_chance": worn,
        "rooted_growth": rooted, "floating_growth": floats, "verdict": found,
        "years_left": None if not age else _three(years_left(left[worst], age)),
        "part": part, "kilograms": part * mass, "signs": _signs(belief),
        "ammonia": _released(belief, renewal, habits, threads),
    }  # fmt: skip
    return data | _words(belief, data)


def _middle(values: Array) -> float | None:
    return None if np.isnan(values).all() else float(np.nanmedian(values))


def _three(values: Array) -> list[float]:
    return [float(v) for v in np.quantile(values, [0.1, 0.5, 0.9])]


def _signs(belief: TankBelief) -> list[str]:
    """What the record says of leaves, and of food put at the roots, in the last half year."""
    case = belief.case
    found = []
    for entry in case.record.entries_of(case.tank.name, until=case.clock.moment(belief.at)):
        if entry.tank != case.tank.name or belief.at - case.clock.day(entry.at) > YEAR / 2.0:
            continue
        day = case.record.local(entry.at).date().isoformat()
        if entry.kind == "seen" and entry.what in PALE:
            found.append(f"{day}: {entry.what.replace('_', ' ')} seen")
        elif entry.kind == "dose" and ROOT in f"{entry.method} {entry.note}".casefold():
            found.append(f"{day}: {entry.what} at the roots; did new leaves come within a month?")
    return found[-5:]


def _pale_lately(belief: TankBelief) -> bool:
    """Whether leaves lacked something of the water in the last weeks, seen twice at least."""
    case = belief.case
    seen = [
        e for e in case.record.entries_of(case.tank.name, kind="seen")
        if e.what in SHORT and 0.0 <= belief.at - case.clock.day(e.at) <= LATELY
    ]  # fmt: skip
    return len(seen) >= 2


def _released(
    belief: TankBelief, renewal: Plan, habits: Habits, threads: int | None
) -> dict[str, Any]:
    """Ammonia after a part is renewed: the highest of each member, and chances of limits.

    The first days are looked at by the hour: what stirring frees is taken up within a day.
    """
    both = (renewal, AS_NOW)
    renewed, usual = (
        tried(belief, p, DAYS, MEMBERS, habits=habits, threads=threads) for p in both
    )
    peaks = [
        tried(belief, p, FIRST_DAYS, MEMBERS, habits=habits, threads=threads, apart=HOUR)
        for p in both
    ]
    good = renewed.ahead.run.good & usual.ahead.run.good
    for run in peaks:
        good = good & run.ahead.run.good
    limits = [x for x in limits_of(usual.ahead)
              if x.quantity == "ammonia_nh3" and x.severity in ("act", "danger")]  # fmt: skip
    runs = {"renewed": renewed, "usual": usual}
    total = {
        n: np.maximum(r.ahead.values("ammonium")[:, good].max(axis=0),
                      first.ahead.values("ammonium")[:, good].max(axis=0))
        for (n, r), first in zip(runs.items(), peaks, strict=True)
    }  # fmt: skip
    chance = {
        n: max((float(r.ahead.crossed(x)[:, good].any(axis=0).mean()) for x in limits), default=0.0)
        for n, r in runs.items()
    }
    days = (renewed.ahead.values("ammonium")[:, good] > MUCH).sum(axis=0)
    hours = (peaks[0].ahead.values("ammonium")[:, good] > MUCH).sum(axis=0)
    return {
        "highest": _three(total["renewed"]), "highest_usual": _three(total["usual"]),
        "chance": chance["renewed"], "chance_usual": chance["usual"],
        "days_above": _three(days.astype(float)), "hours_above": _three(hours.astype(float)),
    }  # fmt: skip


def _words(belief: TankBelief, d: dict[str, Any]) -> dict[str, Any]:
    said = [_age_said(d)]
    if d["years_left"] is not None and d["verdict"] in ("neither", "wearing", "unseen"):
        low, _, high = d["years_left"]
        said.append(
            f"By how it has fallen, its {d['least']} comes down to {WORN:.0%} of the new store in "
            f"{short(low)} to {short(high)} years{' or more' if high >= FAR else ''}; a guess by "
            "the trend, not a date."
        )
    return {
        "headline": VERDICTS[d["verdict"]], "said": [*said, basis(belief)], "steps": _steps(d),
        "tables": _tables(d),
        "cautions": [
            CAUTIONS["water_change"], CAUTIONS["test"],
            "Stirred soil frees ammonia and takes oxygen: the safest is to have the animals out "
            "until two tests a day apart show none.",
            "Cuts and soil: gloves, and wash. Old soil may hold copper: not for salad beds.",
        ],
        "sources": ["common_practice"],
    }  # fmt: skip


def _age_said(d: dict[str, Any]) -> str:
    age = "of unknown age" if d["age_years"] is None else f"{d['age_years']:.1f} years old"
    low, middle, high = d["left"][d["least"]]
    return (
        f"It is {age} and holds {middle:.0%} ({low:.0%} to {high:.0%}) of the {d['least']} that "
        "plants could have of it when new."
    )


def _steps(d: dict[str, Any]) -> list[dict[str, Any]]:
    if d["verdict"] in ("water", "both"):
        first = step("Try potassium and iron in the water first",
                     "The planner 'Give potassium or iron back' lays a trial out.",
                     "Renewing soil would not help and frees ammonia.")  # fmt: skip
        return [first]
    release = d["ammonia"]
    low, middle, high = release["highest"]
    options = [
        step("Feed a little more, within the feed budget", "Animals' food manures slowly."),
        step("Put food for roots into the bed at the hungriest plants only",
             "Note it as a dose with 'root' in its note; new leaves within a month tell."),
        step(
            f"Renew a part: {d['kilograms']:.2g} kg of {d['soil']}, {d['part']:.0%} of the bed",
            f"Total ammonia may come to {short(middle)} mg/L N ({short(low)} to {short(high)}); "
            f"above {MUCH} for {release['hours_above'][1]:.0f} hours of the first "
            f"{FIRST_DAYS * 24}, and at the end of {release['days_above'][1]:.0f} days after.",
            f"Chance that poisonous ammonia crosses a limit {release['chance']:.0%}, as usual "
            f"{release['chance_usual']:.0%}. Cap it, one corner at a time, with matched water "
            "ready to change.",
        ),
        step("Renew all with the animals out", "Then start it anew: the planner 'Start a tank'."),
    ]  # fmt: skip
    return options if d["verdict"] in ("worn", "suspect") else [
        step("Leave the soil alone", "Look again in half a year."), *options[1:3]
    ]


def _tables(d: dict[str, Any]) -> list[dict[str, Any]]:
    stores = [
        [e.capitalize(), span(100 * low, 100 * high, "%")] for e, (low, _, high) in
        d["left"].items()
    ]  # fmt: skip
    grown = [
        [word, "none here" if value is None else cell(value, "1/d")]
        for word, value in (("Rooted", d["rooted_growth"]), ("Floating", d["floating_growth"]))
    ]
    made = [
        table("Left of what a new soil holds", ["", "Range"], stores),
        table("Growth of each gram, not thinned", ["Plants", "Middle"], grown),
    ]
    if d["signs"]:
        made.append(table("What the record says", ["Sign"], [[s] for s in d["signs"]]))
    return made
