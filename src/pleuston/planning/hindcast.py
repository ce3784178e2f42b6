"""Forecasts held against what was read later: how far a tank's outlook was to be trusted.

At moments of the past a tank is learned from what was known by then, and run on along what
the keeper then really did: feeds, harvests, top-ups, deaths and settings are taken from the
record (cover that a harvest left is part of that harvest), later readings are not. Each later
reading is held against the distribution of what it would show: members, the model's slow
error as far as it was known, the kit's own error and the reader's.

A reading stands for an interval. Where the predicted distribution function runs from F(low)
to F(high) over it, the part of that stretch that a central band covers counts as inside: this
is the mean of the randomised probability integral transform (Czado, Gneiting & Held 2009,
Biometrics 65:1254), without its draw. Misreadings are not taken out.

The error of a forecast is the continuous ranked probability score (Hersbach 2000) on the
scale where readings are compared, counting only thresholds on which the reading tells: the
reading's interval is shrunk to a point, so nothing within it costs. References that name one
number (the last reading, a line through the readings) are scored by the same rule: by how far
they lie outside the interval.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.normal import cdf
from pleuston.inference.readings import IntervalData, ReadingInterval, observation_model
from pleuston.inference.score import crps, skill
from pleuston.inference.signs import breathing_readings, poison_readings
from pleuston.inference.tank import TankBelief, learn_tank, tank_readings
from pleuston.planning.outlook import change_held_back
from pleuston.records.record import Record

BANDS = (0.5, 0.8, 0.9, 0.95)
LEADS: Mapping[str, tuple[float, float]] = {
    "1-7": (0.0, 7.0), "8-14": (7.0, 14.0), "15-28": (14.0, 28.0),
}  # fmt: skip
"""Days ahead, after the first up to and with the last."""
AHEAD = 28.0
LEAST_KNOWN, LEAST_AFTER, MOST_STARTS = 42.0, 7.0, 4
"""Days known before the first look ahead, days after it, and looks at most: a choice."""
LINE_LEAST = 3
"""Readings that a straight line needs."""
Tell = Callable[[float], None]


@dataclass(frozen=True)
class Held:
    """One reading held against its forecast: `start` to `end` of it on the forecast's [0, 1]."""

    quantity: str
    lead: float
    start: float
    end: float
    error: float
    last: float | None
    line: float | None

    def inside(self, band: float) -> float:
        """The share of the reading that lies in a central band.

        >>> Held("ph", 1.0, 0.2, 0.4, 0.0, None, None).inside(0.5)
        0.75
        """
        low, high = 0.5 - 0.5 * band, 0.5 + 0.5 * band
        if self.end - self.start < 1e-12:
            return float(low <= self.start <= high)
        part = min(self.end, high) - max(self.start, low)
        return round(max(part, 0.0) / (self.end - self.start), 12)


def starts_of(first: datetime, at: datetime) -> list[datetime]:
    """The moments to look ahead from: four weeks apart, the last four weeks before `at`."""
    whole = (at - first) / timedelta(days=1)
    if whole < LEAST_KNOWN + LEAST_AFTER:
        raise InputError(
            f"the record holds {max(whole, 0.0):.0f} days, too few to score a forecast", "score",
            f"wait until it holds {LEAST_KNOWN + LEAST_AFTER:.0f} days",
        )  # fmt: skip
    if whole < LEAST_KNOWN + AHEAD:
        return [first + timedelta(days=LEAST_KNOWN)]
    count = min(int((whole - LEAST_KNOWN) // AHEAD), MOST_STARTS)
    return [at - timedelta(days=AHEAD * k) for k in range(count, 0, -1)]


def without_later_readings(record: Record, since: datetime) -> Record:
    """The record with what was done after a moment, but not what was read.

    Cover stays: a run takes up of it only what a harvest left.
    """
    kept = tuple(
        e for e in record.entries if e.at <= since or e.kind != "reading" or e.what == "cover"
    )
    return replace(record, entries=kept)


def later_readings(case: Case, since: float, until: float) -> list[tuple[ReadingInterval, str]]:
    """What was read after a day, with the model's output; acts and signs are no readings."""
    signs = {*breathing_readings(case, until), *poison_readings(case, until)}
    return [
        (r, out) for r, out in tank_readings(case, until)[0]
        if since < r.time <= until and r.quantity != "harvest" and r not in signs
    ]  # fmt: skip


def predicted(
    belief: TankBelief, case: Case, pairs: Sequence[tuple[ReadingInterval, str]],
    threads: int | None = None,
) -> tuple[Array, Array]:  # fmt: skip
    """(members, readings) of what each model would have, along what the keeper then did."""
    times = np.array([r.time for r, _ in pairs])
    outputs = sorted({out for _, out in pairs})
    moments = np.unique(times)
    schedule = case.schedule(belief.at, float(times.max()), moments)
    run = run_tank(
        schedule, belief.end, case.parameters(belief.values, len(belief)), outputs=outputs,
        scale=case.scale, tolerance=INTERACTIVE, threads=threads,
    )  # fmt: skip
    column = np.array([outputs.index(out) for _, out in pairs])
    found: Array = run.values[np.searchsorted(moments, times), column].T
    return found[run.good], run.good


def hold(
    belief: TankBelief, pairs: Sequence[tuple[ReadingInterval, str]], members: Array, good: Array
) -> list[Held]:
    """Hold readings against what members (of those that are `good`) foretold of them."""
    data = IntervalData.of([r for r, _ in pairs])
    scaled = data.scaled(members)
    before = _read_before(belief)
    rng = np.random.default_rng([belief.seed, len(pairs)])
    found = []
    for i, (reading, output) in enumerate(pairs):
        model = observation_model(reading.quantity)
        lead = reading.time - belief.at
        known, left = belief.error_ahead(reading.quantity, [lead])
        held = change_held_back(belief, reading.quantity, output, np.array([lead]))
        middle = scaled[:, i] + (known[0] - held[0])[good]
        reader = max(data.sd[i] ** 2 - model.discrepancy**2 - model.passing**2, 0.0)
        sd = float(np.hypot(left[0], np.sqrt(reader)))
        low, high = float(data.low[i]), float(data.high[i])
        start, end = (float(cdf((b - middle) / sd).mean()) for b in (low, high))
        drawn = middle + sd * rng.standard_normal(len(middle))
        error = float(crps(outside(drawn, low, high), 0.0))
        last, line = _references(before.get(reading.quantity, []), reading.time)
        told = [None if v is None else abs(float(outside(np.array(v), low, high)))
                for v in (last, line)]  # fmt: skip
        found.append(Held(reading.quantity, lead, start, end, error, told[0], told[1]))
    return found


def outside(values: Array, low: float, high: float) -> Array:
    """How far values lie below (negative) or above an interval; 0 within.

    >>> outside(np.array([1.0, 2.5, 5.0]), 2.0, 3.0).tolist()
    [-1.0, 0.0, 2.0]
    """
    return np.asarray(np.minimum(values - low, 0.0) + np.maximum(values - high, 0.0))


def _read_before(belief: TankBelief) -> dict[str, list[tuple[float, float]]]:
    """By quantity: (day, middle on the scale of comparison) of what was read so far."""
    found: dict[str, list[tuple[float, float]]] = {}
    for reading, _ in later_readings(belief.case, 0.0, belief.at):
        model = observation_model(reading.quantity)
        ends = [model.least if reading.low is None else reading.low,
                reading.low if reading.high is None else reading.high]  # fmt: skip
        known = [float(e) for e in ends if e is not None]
        middle = float(model.scaled(sum(known) / len(known)))
        found.setdefault(reading.quantity, []).append((reading.time, middle))
    return {name: sorted(rows) for name, rows in found.items()}


def _references(
    rows: Sequence[tuple[float, float]], day: float
) -> tuple[float | None, float | None]:
    """As last read, and a straight line through the readings so far, at a day."""
    if not rows:
        return None, None
    days, values = np.array(rows).T
    if len(rows) < LINE_LEAST or np.ptp(days) < 1.0:
        return float(values[-1]), None
    slope, level = np.polyfit(days - days[-1], values, 1)
    return float(values[-1]), float(level + slope * (day - days[-1]))


def hindcast(
    record: Record, tank: str, at: datetime, *, seed: int = 1, members: int = 96,
    learning: int = 96, threads: int | None = None, tell: Tell = lambda _: None,
    cancel: Callable[[], bool] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Score the forecasts of a tank on its past, as data."""
    whole = tank_case(record, tank, at)
    starts = starts_of(whole.clock.moment(0.0), at)
    held: list[Held] = []
    skipped: list[str] = []
    for k, start in enumerate(starts):
        belief = learn_tank(
            record, tank, start, seed=seed, members=members, learning=learning, threads=threads,
            progress=_part_of(tell, k, len(starts)), cancel=cancel,
        )  # fmt: skip
        end = min(at, start + timedelta(days=AHEAD))
        later = tank_case(record, tank, end)
        if later.plants.slots != belief.case.plants.slots:
            skipped.append(record.local(start).isoformat(timespec="minutes"))
            continue
        pairs = later_readings(later, belief.at, later.clock.day(end))
        if pairs:
            acts = tank_case(without_later_readings(record, start), tank, end)
            held += _window(belief, acts, pairs, threads)
    local = [record.local(s).isoformat(timespec="minutes") for s in starts]
    about = {"tank": tank, "at": record.local(at).isoformat(timespec="minutes"), "seed": seed,
             "model": whole.table.hash, "starts": local, "skipped": skipped}  # fmt: skip
    return about | scores(held)


def _part_of(tell: Tell, k: int, count: int) -> Tell:
    """Tells the share of the whole that the k-th of some looks is at."""
    return lambda share: tell((k + 0.9 * share) / count)


def _window(
    belief: TankBelief, case: Case, pairs: Sequence[tuple[ReadingInterval, str]],
    threads: int | None,
) -> list[Held]:  # fmt: skip
    members, good = predicted(belief, case, pairs, threads)
    return hold(belief, pairs, members, good)


def scores(held: Sequence[Held]) -> dict[str, Any]:
    """Coverage, error and skill: of all, by quantity, and by days ahead."""
    names = sorted({h.quantity for h in held})
    return score_of(held) | {
        "quantities": [
            {"quantity": name, **score_of(of), "leads": _by_lead(of)}
            for name in names if (of := [h for h in held if h.quantity == name])
        ]
    }  # fmt: skip


def _by_lead(held: Sequence[Held]) -> list[dict[str, Any]]:
    rows = []
    for word, (after, last) in LEADS.items():
        part = [h for h in held if after < h.lead <= last]
        rows.append({"days": word, **score_of(part)})
    return rows


def score_of(held: Sequence[Held]) -> dict[str, Any]:
    """The scores of some readings; None where nothing was held against a reference."""
    n = len(held)
    bands = {f"{100 * b:.0f}": round(sum(h.inside(b) for h in held) / n, 4) if n else None
             for b in BANDS}  # fmt: skip
    error = round(float(np.mean([h.error for h in held])), 6) if n else None
    return {"n": n, "bands": bands, "crps": error,
            "skill_last": _skill([(h.error, h.last) for h in held]),
            "skill_line": _skill([(h.error, h.line) for h in held])}  # fmt: skip


def _skill(pairs: Sequence[tuple[float, float | None]]) -> float | None:
    """1 - error / reference error over readings with a reference; None where that is perfect."""
    both = [(e, r) for e, r in pairs if r is not None]
    if not both or sum(r for _, r in both) <= 0.0:
        return None
    return round(skill([e for e, _ in both], [r for _, r in both]), 4)
