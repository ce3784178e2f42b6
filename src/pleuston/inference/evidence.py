"""How well each altered model explains a tank's latest readings: Bayes factors, dated.

Members are learned from the record up to some weeks ago, before what is to be explained.
From there they run on as they are, and altered from one of several days. The chance that
each way gives to the readings since, averaged over members, sizes and days, is its marginal
likelihood; over that of the unaltered model it is a Bayes factor (Kass & Raftery 1995,
Journal of the American Statistical Association 90:773-795). All ways share the members, so
that chance in drawing them cancels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from pleuston.base.errors import PleustonError
from pleuston.engine.case import Case, tank_case
from pleuston.engine.kernel import Array
from pleuston.inference.alterations import ALTERATIONS, Members
from pleuston.inference.drift import filtered
from pleuston.inference.foretold import Foretold
from pleuston.inference.readings import IntervalData
from pleuston.inference.tank import TankBelief, learn_tank, stream_of, tank_readings
from pleuston.records.record import Record

WINDOW = timedelta(days=42)
"""How far back a change is looked for."""
LEAST_BEFORE = 35.0
"""Days of record that members are learned from at least, before the window."""
LEAST_WINDOW = 14.0
SETTLED = 90.0
"""Age [d] from which few bacteria are a change: until then the model has them few already."""
ONSETS = (0.0, 0.25, 0.5, 0.75)
"""Days from which a change is tried, as shares of the window."""
LEAST_READINGS = 3
TRUST = 0.3
"""Power that a Bayes factor is raised to: readings share errors that neither way knows of."""
MOST = 6.0
"""Largest log Bayes factor either way that is believed."""


@dataclass(frozen=True)
class Factor:
    """What the readings say of one cause: log Bayes factor, and the likeliest day it began."""

    log: float
    since: datetime | None


def factors_of(
    record: Record, name: str, at: datetime, *, seed: int = 1, members: int = 96,
    threads: int | None = None,
) -> dict[str, Factor]:  # fmt: skip
    """Bayes factor of every altered model against the unaltered one.

    Empty where too little is known to tell, or no unaltered member goes through.
    """
    try:
        case = tank_case(record, name, at)
    except PleustonError:
        return {}
    until = case.clock.day(at)
    window = min(WINDOW / timedelta(days=1), until - LEAST_BEFORE)
    if window < LEAST_WINDOW:
        return {}
    start = until - window
    pairs, _ = tank_readings(case, until)
    if sum(r.time > start for r, _ in pairs) < LEAST_READINGS:
        return {}
    before = learn_tank(record, name, at - timedelta(days=window), seed=seed, members=members,
                        threads=threads)  # fmt: skip
    asked = Foretold(case, pairs, until, threads)
    return _compared(asked, before, start, np.random.default_rng([seed, 17]))


def _compared(
    asked: Foretold, before: TankBelief, start: float, rng: np.random.Generator
) -> dict[str, Factor]:
    pairs, until = asked.pairs, asked.until
    data = IntervalData.of([r for r, _ in pairs], [stream_of(r, o) for r, o in pairs])
    onsets = [start + share * (until - start) for share in ONSETS]
    case, members = asked.case, len(before)
    parameters = case.parameters(before.values, members)
    states = case.start(before.values, members)
    usual = np.empty((members, len(data)))
    snapshots = []
    for first, last in pairwise([0.0, *onsets, until]):
        run = asked.run(asked.schedule(first, last), states, parameters)
        asked.put(run, first, last, usual)
        states = np.where(run.good[:, None], run.end, states)
        snapshots.append(states)
    base = _log_chance(data, usual)
    if not np.isfinite(base).any():
        return {}
    schedules = [asked.schedule(onset, until) for onset in onsets]
    found = {}
    for cause, alteration in ALTERATIONS.items():
        if cause == "young_bacteria" and case.opening.age + start < SETTLED:
            continue
        sizes = alteration.sizes(members, rng)
        chances = []
        for onset, there, schedule in zip(onsets, snapshots, schedules, strict=False):
            changed = Members(case, onset, there.copy(), parameters.copy())
            alteration.act(changed, sizes)
            run = asked.run(schedule, changed.states, changed.parameters)
            predicted = usual.copy()
            asked.put(run, onset, until, predicted)
            chances.append(_log_chance(data, predicted))
        found[cause] = _factor(case, np.array(chances), base, onsets)
    return found


def _log_chance(data: IntervalData, predicted: Array) -> Array:
    """(members,) log chance of all readings; a member that failed has none."""
    scaled = data.scaled(predicted)
    good = np.isfinite(scaled).all(axis=1)
    result = np.full(len(scaled), -np.inf)
    result[good] = filtered(data, scaled[good]).log_likelihood
    return result


def _factor(case: Case, chances: Array, base: Array, onsets: Sequence[float]) -> Factor:
    """chances: (onsets, members)."""
    by_onset = np.logaddexp.reduce(chances, axis=1) - np.log(chances.shape[1])
    whole = np.logaddexp.reduce(by_onset) - np.log(len(onsets))
    usual = np.logaddexp.reduce(base) - np.log(len(base))
    log = float(np.clip(TRUST * (whole - usual), -MOST, MOST))
    day = onsets[int(np.argmax(by_onset))]
    return Factor(log, case.clock.moment(day) if log > 0.0 else None)


def unknown_factor(factors: Mapping[str, Factor]) -> float:
    """Log Bayes factor of a change that is none of those named: the mean over all of them."""
    if not factors:
        return 0.0
    logs = np.array([f.log for f in factors.values()])
    return float(np.logaddexp.reduce(logs) - np.log(len(logs)))
