"""Two days ahead by the hour: how warmth, oxygen, pH and ammonia go through the nights."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.forcing import forcings
from pleuston.engine.run import run_tank
from pleuston.inference.tank import TankBelief
from pleuston.planning.habits import future_events, habits_of
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import SHOWN, Ahead, ranges, shown_bound

HOURS = 48
NIGHTLY = ("oxygen", "temperature", "ph", "ammonia_nh3")


def hours_ahead(belief: TankBelief, hours: int = HOURS, threads: int | None = None) -> Ahead:
    """Run the members onward by the hour, the moment of the belief first."""
    case = belief.case
    habits = habits_of(case, belief.at)
    end = belief.at + hours / 24.0
    times = belief.at + np.arange(hours + 1) / 24.0
    times[-1] = end
    schedule = case.schedule(
        belief.at, end, times, events=future_events(case, belief.at, hours / 24.0, habits)
    )
    names = sorted({s.output for s in SHOWN.values() if not s.output.startswith("lowest_")})
    run = run_tank(
        schedule, belief.end, belief.parameters, outputs=names, scale=case.scale,
        tolerance=INTERACTIVE, threads=threads,
    )  # fmt: skip
    return Ahead(belief, times, run, habits)


def dark_spans(belief: TankBelief, until: float) -> list[tuple[float, float]]:
    """Spans of days without light between the moment of a belief and a later day."""
    case = belief.case
    light = forcings(case.record, case.tank, case.clock, until)["light"]
    inside = light.times[(light.times > belief.at) & (light.times < until)]
    edges = np.concatenate([[belief.at], inside, [until]])
    level, _ = light.before_after(edges[:-1], edges[1:])
    spans: list[tuple[float, float]] = []
    for start, end, value in zip(edges[:-1], edges[1:], level, strict=True):
        if value > 0.0:
            continue
        if spans and spans[-1][1] == start:
            spans[-1] = (spans[-1][0], float(end))
        else:
            spans.append((float(start), float(end)))
    return spans


def night_data(ahead: Ahead, limits: tuple[Limit, ...]) -> dict[str, Any]:
    """The next two days by the hour as data, with the hours without light."""
    belief = ahead.belief
    times = [local_time(belief, t) for t in ahead.times]
    return {
        "tank": belief.case.tank.name, "at": local_time(belief, belief.at),
        "model": belief.model, "seed": belief.seed,
        "quantities": {n: ranges(ahead.values(n), SHOWN[n].unit, times) for n in NIGHTLY},
        "dark": [
            [local_time(belief, a), local_time(belief, b)]
            for a, b in dark_spans(belief, float(ahead.times[-1]))
        ],
        "limits": limits_data(limits, NIGHTLY),
    }  # fmt: skip


def limits_data(limits: tuple[Limit, ...], names: tuple[str, ...] = ()) -> list[dict[str, Any]]:
    """Limits as data, in the unit their quantity is shown in; of some quantities, or of all."""
    return [
        {
            "limit": limit.name, "quantity": limit.quantity, "side": limit.side,
            "value": round(shown_bound(limit), 6), "unit": SHOWN[limit.quantity].unit,
            "severity": limit.severity, "word": limit.word, "horizon": limit.horizon,
            "who": list(limit.who), "source": limit.source, "own": limit.own,
        }
        for limit in limits if not names or limit.quantity in names
    ]  # fmt: skip


def local_time(belief: TankBelief, day: float) -> str:
    """A day of a belief's clock as a local time."""
    case = belief.case
    return case.record.local(case.clock.moment(float(day))).isoformat(timespec="minutes")
