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

import numpy as np

from pleuston.base.errors import PleustonError
from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.alterations import ALTERATIONS, Members
from pleuston.inference.drift import filtered
from pleuston.inference.readings import IntervalData, ReadingInterval
from pleuston.inference.tank import (
    AFTER,
    TAKEN,
    TankBelief,
    learn_tank,
    stream_of,
    tank_readings,
)
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


@dataclass(frozen=True)
class _Ask:
    """What is asked of a run: readings by place, their outputs, and the moments they need."""

    case: Case
    until: float
    pairs: Sequence[tuple[ReadingInterval, str]]
    threads: int | None

    @property
    def outputs(self) -> list[str]:
        return sorted({out.removeprefix(TAKEN) for _, out in self.pairs})

    def run(self, start: float, end: float, states: Array, parameters: Array) -> Trajectory:
        """Run members over a part of the record; every reading inside is a moment of it."""
        moments = self._moments(start, end)
        return run_tank(
            self.case.schedule(start, end, moments), states, parameters, outputs=self.outputs,
            scale=self.case.scale, tolerance=INTERACTIVE, threads=self.threads,
        )  # fmt: skip

    def _moments(self, start: float, end: float) -> Array:
        times = np.array([r.time for r, _ in self.pairs])
        after = np.minimum(times + AFTER, self.until)
        every = np.concatenate([times, after, [end]])
        return np.unique(every[(every >= start) & (every <= end)])

    def read(self, run: Trajectory, start: float, end: float, into: Array) -> None:
        """Put what members would have read between two days in its places."""
        for place, (reading, output) in enumerate(self.pairs):
            if not start <= reading.time <= end:
                continue
            column = self.outputs.index(output.removeprefix(TAKEN))
            row = int(np.searchsorted(run.times, reading.time))
            into[:, place] = run.values[row, column]
            if output.startswith(TAKEN):
                later = min(reading.time + AFTER, self.until)
                into[:, place] -= run.values[int(np.searchsorted(run.times, later)), column]
        into[~run.good] = np.nan


def factors_of(
    record: Record, name: str, at: datetime, *, seed: int = 1, members: int = 96,
    threads: int | None = None, before: TankBelief | None = None,
) -> dict[str, Factor]:  # fmt: skip
    """Bayes factor of every altered model against the unaltered one; empty where too little
    is known to tell.

    before: members learned up to the start of the window, learned here when None.
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
    if before is None:
        before = learn_tank(record, name, at - timedelta(days=window), seed=seed,
                            members=members, threads=threads)  # fmt: skip
    pairs, _ = tank_readings(case, until)
    since = sum(r.time > start for r, _ in pairs)
    if since < LEAST_READINGS:
        return {}
    ask = _Ask(case, until, pairs, threads)
    return _compared(ask, before, start, np.random.default_rng([seed, 17]))


def _compared(
    ask: _Ask, before: TankBelief, start: float, rng: np.random.Generator
) -> dict[str, Factor]:
    data = IntervalData.of([r for r, _ in ask.pairs], [stream_of(r, o) for r, o in ask.pairs])
    onsets = [start + share * (ask.until - start) for share in ONSETS]
    case, members = ask.case, len(before)
    parameters = case.parameters(before.values, members)
    states = case.start(before.values, members)
    usual = np.empty((members, len(data)))
    snapshots = []
    for first, last in zip([0.0, *onsets], [*onsets, ask.until], strict=True):
        run = ask.run(first, last, states, parameters)
        ask.read(run, first, last, usual)
        states = np.where(run.good[:, None], run.end, states)
        snapshots.append(states)
    base = _log_chance(data, usual)
    found = {}
    for cause, alteration in ALTERATIONS.items():
        if cause == "young_bacteria" and case.opening.age + start < SETTLED:
            continue
        sizes = alteration.sizes(members, rng)
        chances = []
        for onset, there in zip(onsets, snapshots, strict=False):
            changed = Members(case, onset, there.copy(), parameters.copy())
            alteration.act(changed, sizes)
            run = ask.run(onset, ask.until, changed.states, changed.parameters)
            predicted = usual.copy()
            ask.read(run, onset, ask.until, predicted)
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
