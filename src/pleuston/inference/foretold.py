"""What members would have read: runs over a record, or a part of it, with its readings' moments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pleuston.engine.case import Case
from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Schedule
from pleuston.inference.readings import ReadingInterval

TAKEN = "taken "
"""Before the name of an output: what a harvest takes of it, not what is there."""
AFTER = 0.5 / 1440.0
"""Days from a harvest to what it left."""


@dataclass(frozen=True)
class Foretold:
    """Readings, each with the model's output that it reads, asked of members up to a day."""

    case: Case
    pairs: Sequence[tuple[ReadingInterval, str]]
    until: float
    threads: int | None = None

    @cached_property
    def outputs(self) -> list[str]:
        """The outputs that a run must record."""
        return sorted({output.removeprefix(TAKEN) for _, output in self.pairs})

    @cached_property
    def times(self) -> Array:
        """(readings,) days."""
        return np.array([reading.time for reading, _ in self.pairs], dtype=float)

    @cached_property
    def taken(self) -> np.ndarray:
        """(readings,) whether a reading is of what a harvest takes."""
        return np.array([output.startswith(TAKEN) for _, output in self.pairs], dtype=bool)

    @cached_property
    def later(self) -> Array:
        """(readings of harvests,) days of what they left."""
        return np.asarray(np.minimum(self.times[self.taken] + AFTER, self.until))

    @cached_property
    def _column(self) -> np.ndarray:
        names = [output.removeprefix(TAKEN) for _, output in self.pairs]
        return np.array([self.outputs.index(name) for name in names], dtype=int)

    def schedule(self, start: float, end: float) -> Schedule:
        """The record's timeline between two days; every reading inside is a moment of it."""
        every = np.unique(np.concatenate([self.times, self.later]))
        inside = every[(every >= start) & (every <= end)]
        return self.case.schedule(start, end, inside if len(inside) else [end])

    def run(self, schedule: Schedule, states: Array, parameters: Array) -> Trajectory:
        """Run members through a part of the record."""
        return run_tank(
            schedule, states, parameters, outputs=self.outputs, scale=self.case.scale,
            tolerance=INTERACTIVE, threads=self.threads,
        )  # fmt: skip

    def put(self, run: Trajectory, start: float, end: float, into: Array) -> None:
        """Put what members read between two days in its columns of (members, readings).

        A member that did not go through reads nothing: its row is not a number.
        """
        here = np.flatnonzero((self.times >= start) & (self.times <= end))
        row = np.searchsorted(run.times, self.times[here])
        into[:, here] = run.values[row, self._column[here]].T
        harvests = here[self.taken[here]]
        after = np.minimum(self.times[harvests] + AFTER, self.until)
        into[:, harvests] -= run.values[
            np.searchsorted(run.times, after), self._column[harvests]
        ].T
        into[~run.good] = np.nan
