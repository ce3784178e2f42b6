"""The tank that is timed: the demo rack's Birch, as its keeper recorded it for thirty days.

Two lamp switches a day, feeding most days, a harvest and a top-up each week, a trim; every
uncertain parameter spread.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np

from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import Trajectory, run_ensemble
from pleuston.engine.kernel import Array, Kernel, tank_kernel
from pleuston.engine.schedule import Schedule
from pleuston.records.record import Record
from pleuston.services.demo import write_demo
from pleuston.services.racks import open_rack

AT = datetime(2026, 7, 20, 9, tzinfo=UTC)
TANK = "Birch"
SPREAD = 0.25
A_DAY = 5
DETECTED = 0.01
"""Of a typical amount: 1 ug/L of ammonium nitrogen, 10 ug/L of nitrate nitrogen, 2 ug/L of
phosphate phosphorus, five milligrams of lime: at or below what a laboratory can tell from
nothing."""
SHARE_OF_MOST = 0.05


@cache
def demo_record() -> Record:
    """The record of the demo rack."""
    with tempfile.TemporaryDirectory() as folder:
        return open_rack(write_demo(Path(folder) / "demo"))


@cache
def demo_case(name: str = TANK) -> Case:
    """A tank of the demo rack."""
    return tank_case(demo_record(), name, AT)


@dataclass(frozen=True)
class Problem:
    """Members of one tank and their timeline, with records to compare at."""

    case: Case
    schedule: Schedule
    start: Array
    parameters: Array

    @property
    def member_days(self) -> float:
        """Members times days."""
        return len(self.start) * self.schedule.days

    @property
    def scale(self) -> Array:
        """Typical amounts of this tank's states."""
        return self.case.table.typical * self.case.scale

    @property
    def breaks(self) -> list[int]:
        """Segments at whose start a solver must begin anew: switches and jumps."""
        return [int(i) for i in np.flatnonzero(self.schedule.keep_step == 0)]


def problem(members: int, days: float, seed: int = 5) -> Problem:
    """Members of the timed tank: log-normal parameters, sd 0.25, those with narrower
    evidence (a temperature, a pH, a share) inside their recorded range."""
    case = demo_case()
    schedule = case.schedule(0.0, days, np.arange(1, int(A_DAY * days) + 1) / A_DAY)
    return Problem(case, schedule, case.start({}, members), spread(case, members, seed))


def spread(case: Case, members: int, seed: int = 5) -> Array:
    """(members, parameters): every parameter with a record, drawn independently."""
    rng = np.random.default_rng(seed)
    result = case.parameters({}, members)
    for i, name in enumerate(case.table.parameters):
        drawn = np.exp(SPREAD * rng.standard_normal(members))
        if name in case.constants:
            continue
        record = case.record_of(name)
        if record.law == "lognormal":
            result[:, i] = np.clip(record.value * drawn, record.low, record.high)
    return result


def run_ours(
    what: Problem, tolerance: float, *, kernel: Kernel | None = None, extents: bool = False,
    threads: int = 1,
) -> Trajectory:  # fmt: skip
    """Our engine on the problem."""
    return run_ensemble(
        kernel or tank_kernel(), what.schedule, what.start, what.parameters,
        outputs=["ph", "oxygen_concentration"], scale=what.case.scale, tolerance=tolerance,
        extents=extents, threads=threads,
    )  # fmt: skip


def states_of(what: Problem, run: Trajectory) -> Array:
    """(records, states, members) from the start and the extents of rows and moves."""
    table = what.case.table
    changes = [*table.data["rows"], *table.data["moves"]]
    matrix = np.zeros((len(table.states), len(changes)))
    for j, change in enumerate(changes):
        for state, text in change["coefficients"].items():
            top, _, bottom = text.partition("/")
            matrix[table.at("state", state), j] = float(top) / float(bottom or 1)
    assert run.extents is not None
    made: Array = np.einsum("sj,tjm->tsm", matrix, run.extents)
    return made + what.start.T[None]


@dataclass(frozen=True)
class Errors:
    """Root mean square over members and times of the error of each state, relative."""

    states: Array

    @property
    def worst(self) -> float:
        """The worst state's."""
        return float(self.states.max())

    @property
    def median(self) -> float:
        """The middle state's."""
        return float(np.median(self.states))


def errors(what: Problem, found: Array, reference: Array) -> Errors:
    """|y - reference| over the largest of |reference|, 5 % of the member's most, and what can
    be detected."""
    most = np.abs(reference).max(axis=0, keepdims=True)
    least = DETECTED * what.scale[None, :, None]
    size = np.maximum(np.maximum(np.abs(reference), SHARE_OF_MOST * most), least)
    return Errors(np.sqrt(np.mean(np.square((found - reference) / size), axis=(0, 2))))
