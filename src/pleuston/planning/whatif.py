"""What if: plans run side by side on the same members, so that what differs is the plan alone.

Members, their parameters, what the model leaves out and the weather are the same in every
plan; the difference of two plans is taken member by member.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.events import Maker, Plants, parameter_record
from pleuston.engine.forcing import forcings
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Event, Series
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import MINUTES
from pleuston.planning.fit import LOOK
from pleuston.planning.habits import Habits, habits_of
from pleuston.planning.hours import limits_data, local_time
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import SHOWN, Ahead, limits_of
from pleuston.planning.plan import AS_NOW, Plan, check_names, text_of, words_of
from pleuston.planning.plans import check_plan, events_under, habits_under, record_under
from pleuston.records.library import library

DAYS = 60
MEMBERS = 128
"""Members of a what-if: by common random numbers as good as thousands drawn apart."""
AXES = (
    "oxygen_dawn", "cover", "ammonia_nh3", "nitrate", "ec25", "kh", "gh", "ph", "temperature",
    "potassium", "level_drop",
)  # fmt: skip
"""What plans are drawn side by side in."""
BAND = (0.1, 0.5, 0.9)
LEAST = 0.01
"""Chance from which a limit is told."""
FEEDING_MINUTES = 0.2
"""A meal: common practice, no source."""


@dataclass(frozen=True)
class Tried:
    """A plan with the members run under it, and the jumps it made."""

    plan: Plan
    ahead: Ahead
    events: tuple[Event, ...]

    @property
    def minutes(self) -> float:
        """Minutes a week of the keeper, or of the neighbour while the keeper is away."""
        return minutes_of(self.events, len(self.ahead.times))


def tried(
    belief: TankBelief, plan: Plan, days: int = DAYS, members: int = MEMBERS, *,
    habits: Habits | None = None, threads: int | None = None, first: int = 0,
    usual_drivers: dict[str, Series] | None = None, extra: Sequence[Event] = (),
    apart: float = 1.0,
) -> Tried:  # fmt: skip
    """Run members of a belief under a plan. first: where among them the members begin.

    usual_drivers: `drivers_of` the same days, to spare making them for every plan. extra: jumps
    beside those of the plan, such as what is done the day before leaving. apart: days between
    two looks at the members; limits are judged on whole days alone.
    Raises InputError where the plan can't be done in this tank.
    """
    case, at = belief.case, belief.at
    check_plan(plan, case, at)
    usual = habits_of(case, at) if habits is None else habits
    under = habits_under(plan, usual, case, at)
    events = [*events_under(plan, case, at, days, under), *extra]
    events = [e for e in events if at <= e.time < at + days]
    drivers = usual_drivers
    record = record_under(plan, case, at)
    if drivers is None or plan.heat or record is not case.record:
        drivers = forcings(
            record, case.tank, case.clock, at + days,
            lambda made: warmer(made, plan.heat, at, at + plan.heat_days),
        )  # fmt: skip
    times = at + apart * np.arange(1, round(days / apart) + 1, dtype=float)
    times[-1] = at + days
    schedule = case.schedule(at, at + days, times, events=events, drivers=drivers)
    take = slice(first, first + members)
    start, parameters = swapped(belief, plan, belief.end[take], belief.parameters[take])
    run = run_tank(
        schedule, start, parameters, outputs=_outputs(), scale=case.scale,
        tolerance=INTERACTIVE, threads=threads,
    )  # fmt: skip
    return Tried(plan, Ahead(belief, times, run, under), tuple(events))


def drivers_of(belief: TankBelief, days: int) -> dict[str, Series]:
    """The forcings of the coming days, nothing changed."""
    case = belief.case
    return forcings(case.record, case.tank, case.clock, belief.at + days)


def _outputs() -> list[str]:
    shown = {s.output for s in SHOWN.values() if not s.output.startswith(("lowest_", "highest_"))}
    return sorted(shown | {"dissolved_carbon_concentration", "chloride_concentration"})


def warmer(made: dict[str, Series], kelvin: float, start: float, end: float) -> dict[str, Series]:
    """The forcings with the room some kelvin warmer over a span of days."""
    if kelvin == 0.0:
        return made
    room = made["room_temperature"]
    inside = (room.times >= start) & (room.times <= end)
    return made | {"room_temperature": replace(room, values=room.values + kelvin * inside)}


def swapped(
    belief: TankBelief, plan: Plan, start: Array, parameters: Array
) -> tuple[Array, Array]:
    """States and parameters with one floating species in another's place, at the same cover.

    The newcomer grows by its group's recorded values: nothing of it was learned here.
    """
    if plan.swap is None:
        return start, parameters
    case, (old, new) = belief.case, plan.swap
    slot = case.plants.slots[old]
    model = library().find_species(new).model or "lemna"
    plants = Plants(case.plants.slots, {**case.plants.models, slot: model})
    start, parameters = start.copy(), parameters.copy()
    was = case.table.at("parameter", f"{slot}_cover_area")
    area = parameters[:, was].copy()
    for name in case.table.parameters:
        if slot in name.split("_"):
            value = parameter_record(case.records, name, plants).value
            parameters[:, case.table.at("parameter", name)] = value
    carbon = case.table.at("state", f"{slot}_carbon")
    wanted = start[:, carbon] * area / parameters[:, was]
    tissue = Maker(case.record, case.tank, case.clock, plants, case.records).tissue(slot, 1.0)
    for argument, amount in tissue.items():
        state = f"{slot}_{argument.removeprefix('plant_')}"
        start[:, case.table.at("state", state)] = wanted * amount / tissue["plant_carbon"]
    return start, parameters


def minutes_of(events: Sequence[Event], days: float) -> float:
    """Minutes a week that jumps take at the rack.

    >>> minutes_of([Event(0.0, "top_up"), Event(7.0, "top_up"), Event(1.0, "feed")], 14.0)
    0.6
    """
    changes = {e.time for e in events if e.jump == "water_out"}
    thinnings = {e.time for e in events if e.jump.startswith("harvest_")}
    total = MINUTES["water_change"] * len(changes) + MINUTES["thin"] * len(thinnings)
    total += sum(MINUTES["top_up"] for e in events if e.jump == "top_up" and e.time not in changes)
    total += FEEDING_MINUTES * len({e.time for e in events if e.jump == "feed"})
    return round(LOOK + 7.0 * total / days, 2)


# -- side by side --------------------------------------------------------------------


def what_if(
    belief: TankBelief, plans: Sequence[Plan], days: int = DAYS, *, members: int = MEMBERS,
    threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Up to four plans beside `as now`, as data: ranges, chances, differences, minutes.

    Raises InputError for none or too many plans, two of one name, or one that can't be done.
    """
    check_names(plans)
    habits = habits_of(belief.case, belief.at)
    runs = [
        tried(belief, p, days, members, habits=habits, threads=threads) for p in (AS_NOW, *plans)
    ]
    good = np.logical_and.reduce([r.ahead.run.good for r in runs])
    if good.sum() < 0.5 * len(good):
        raise EngineError(
            "most members do not go through one of the plans",
            where=f"tank {belief.case.tank.name}", remedy="Try a plan that changes less",
        )  # fmt: skip
    limits = limits_of(runs[0].ahead)
    values = [{q: shown_of(r.ahead, q)[:, good] for q in AXES} for r in runs]
    crossed = [{x.key: r.ahead.crossed(x)[:, good] for x in limits} for r in runs]
    told = [x for x in limits if any(c[x.key].any(axis=0).mean() >= LEAST for c in crossed)]
    told = strictest(told)
    return {
        "tank": belief.case.tank.name, "at": local_time(belief, belief.at), "days": days,
        "members": int(good.sum()), "model": belief.model, "seed": belief.seed,
        "times": [local_time(belief, t) for t in runs[0].ahead.times],
        "units": {q: SHOWN[q].unit for q in AXES},
        "limits": limits_data(tuple(told)),
        "plans": [
            _plan_data(run, v, values[0], [(x, c[x.key], crossed[0][x.key]) for x in told],
                       runs[0].minutes)
            for run, v, c in zip(runs, values, crossed, strict=True)
        ],
    }  # fmt: skip


def shown_of(ahead: Ahead, quantity: str) -> Array:
    """(days, members) of what is drawn: of poisonous ammonia the highest of each day, as limits
    judge it; else the end of the day."""
    return ahead.judged(quantity) if quantity == "ammonia_nh3" else ahead.values(quantity)


def strictest(limits: Sequence[Limit]) -> list[Limit]:
    """Of limits that say the same of a quantity the one that is crossed first, gravest first."""
    found: dict[tuple[str, str, str, str], Limit] = {}
    for limit in limits:
        key = (limit.quantity, limit.side, limit.severity, limit.word)
        other = found.get(key)
        stricter = other is None or (limit.value > other.value) == (limit.side == "low")
        found[key] = limit if stricter or other is None else other
    return sorted(found.values(), key=lambda x: (-x.rank, x.quantity))


def _plan_data(
    run: Tried, values: dict[str, Array], base: dict[str, Array],
    chances: Sequence[tuple[Limit, Array, Array]], usual: float,
) -> dict[str, Any]:  # fmt: skip
    rows = [chance_data(limit, over, before) for limit, over, before in chances]
    return {
        "name": run.plan.name, "text": text_of(run.plan), "changes": words_of(run.plan),
        "minutes": run.minutes,
        "quantities": {q: _band(v) for q, v in values.items()},
        "differences": {q: difference(v, base[q]) for q, v in values.items()},
        "chances": rows, "sentence": sentence(run.plan, rows, run.minutes - usual),
    }  # fmt: skip


def _band(values: Array) -> dict[str, list[float]]:
    made = np.quantile(values, BAND, axis=1)
    return {n: [round(float(x), 6) for x in row] for n, row in zip(("p10", "p50", "p90"), made,
                                                                     strict=True)}  # fmt: skip


def difference(values: Array, base: Array) -> dict[str, list[float]]:
    """What a plan changes, member by member: 10 %, middle, 90 % at the end and on the mean."""
    apart = values - base
    return {
        "end": [round(float(x), 6) for x in np.quantile(apart[-1], BAND)],
        "mean": [round(float(x), 6) for x in np.quantile(apart.mean(axis=0), BAND)],
    }


def chance_data(limit: Limit, over: Array, before: Array) -> dict[str, Any]:
    """Chance of crossing a limit, its first day, and the change of chance with its 80 % range."""
    ever, was = over.any(axis=0), before.any(axis=0)
    apart = ever.astype(float) - was
    wide = 1.2816 * float(apart.std()) / np.sqrt(len(apart))
    share = np.logical_or.accumulate(over, axis=0).mean(axis=1)
    reached = np.flatnonzero(share >= max(0.05, LEAST))
    return {
        "limit": limit.name, "chance": round(float(ever.mean()), 4),
        "first_day": int(reached[0]) + 1 if len(reached) else None,
        "change": [round(float(apart.mean() + k * wide), 4) for k in (-1.0, 0.0, 1.0)],
        "word": limit.word, "severity": limit.severity,
    }  # fmt: skip


def sentence(plan: Plan, rows: Sequence[dict[str, Any]], minutes: float) -> str:
    """What a plan does to the limits, and what it costs, in a sentence."""
    if plan == AS_NOW:
        worst = max(rows, key=lambda r: r["chance"], default=None)
        return ("No limit is likely to be crossed." if worst is None else
                f"Likeliest to be crossed: {worst['word']}, {worst['chance']:.0%}.")  # fmt: skip
    sure = [r for r in rows if r["change"][0] > 0.0 or r["change"][2] < 0.0]
    sure.sort(key=lambda r: -abs(r["change"][1]))
    said = list(dict.fromkeys(
        f"{r['word']} {r['chance'] - r['change'][1]:.0%} to {r['chance']:.0%}" for r in sure
    ))[:3]  # fmt: skip
    effect = "Chances go: " + "; ".join(said) if said else "No chance changes surely"
    cost = "as many minutes" if abs(minutes) < 0.05 else (
        f"{abs(minutes):.1f} minutes a week {'more' if minutes > 0 else 'less'}")  # fmt: skip
    return f"{effect}. It takes {cost}."


