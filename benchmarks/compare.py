"""Work against accuracy: our engine, LSODA and CVODE on one problem, one thread."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from benchmarks.plain import PlainWorld, difference
from benchmarks.rivals import Solver, cvode, lsoda, solve
from benchmarks.tank import Problem, errors, problem, run_ours, states_of
from pleuston.engine.compile import binary_name
from pleuston.engine.kernel import (
    MODEL,
    SOURCES,
    STEPPER,
    Array,
    Kernel,
    best_variant,
    tank_table,
)

EQUAL = 1e-3
"""Accuracy at which solvers are compared: root mean square error of the worst state."""
OURS = (1e-2, 1e-3, 3e-4, 1e-4, 5e-5, 3e-5, 1e-5, 5e-6, 2e-6)
THEIRS = (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6)
REFERENCE = 1e-10


@dataclass(frozen=True)
class Line:
    """One solver at one tolerance: processor microseconds a member-day, errors, work."""

    engine: str
    tolerance: float
    microseconds: float
    median_error: float
    worst_error: float
    worst_state: str
    work_a_day: float
    """Steps of a block (ours) or evaluations of a member (others), a day."""

    @property
    def data(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def _line(
    what: Problem, engine: str, tolerance: float, seconds: float, states: Array, reference: Array,
    work: float,
) -> Line:  # fmt: skip
    found = errors(what, states, reference)
    return Line(
        engine, tolerance, 1e6 * seconds / what.member_days, found.median, found.worst,
        what.case.table.states[int(np.argmax(found.states))], work,
    )  # fmt: skip


def ours(what: Problem, tolerance: float, reference: Array, repeats: int = 5) -> Line:
    """Our engine at one tolerance, the best of some runs."""
    best = np.inf
    for _ in range(repeats):
        begun = time.process_time()
        run = run_ours(what, tolerance)
        best = min(best, time.process_time() - begun)
    if not run.good.all():
        raise RuntimeError(f"members did not go through: {run.status}")
    again = run_ours(what, tolerance, extents=True)
    steps = float(again.steps[:, :2].sum()) / len(again.steps) / what.schedule.days
    return _line(what, "ours", tolerance, best, states_of(what, again), reference, steps)


def by_variant(what: Problem, tolerance: float) -> dict[str, float]:
    """Processor microseconds a member-day of every binary that is built for this machine."""
    table, found = tank_table(), {}
    for variant in best_variant():
        path = SOURCES / binary_name(MODEL / "kernel.c", STEPPER, variant)
        if path.exists():
            kernel, best = Kernel(table, path), np.inf
            for _ in range(5):
                begun = time.process_time()
                run_ours(what, tolerance, kernel=kernel)
                best = min(best, time.process_time() - begun)
            found[variant] = 1e6 * best / what.member_days
    return found


def theirs(
    what: Problem, engine: str, solver: Solver, tolerance: float, reference: Array
) -> Line:
    """Another solver at one tolerance."""
    run = solve(what, solver, tolerance)
    work = run.calls / what.member_days
    return _line(what, engine, tolerance, run.seconds, run.states, reference, work)


def plain_python(tolerance: float, days: float) -> Line:
    """LSODA with rates in plain Python: one member, a few days."""
    what = problem(1, days)
    run = solve(what, lsoda, tolerance, PlainWorld)
    reference = solve(what, cvode, REFERENCE).states
    calls = solve(what, lsoda, tolerance).calls / what.member_days
    name = "LSODA, rates in plain Python"
    return _line(what, name, tolerance, run.seconds, run.states, reference, calls)


def cheapest(lines: Iterable[Line], engine: str) -> Line | None:
    """The cheapest line of an engine that is accurate enough."""
    enough = [x for x in lines if x.engine == engine and x.worst_error <= EQUAL]
    return min(enough, key=lambda x: x.microseconds) if enough else None


@dataclass(frozen=True)
class Comparison:
    """All lines of one problem, and how far apart two tight solvers are."""

    members: int
    days: float
    lines: list[Line]
    plain: Line
    plain_difference: float
    tight_agreement: float
    variants: dict[str, float]

    def ratio(self, engine: str) -> float | None:
        """How many times more processor time an engine takes than ours, equally accurate."""
        mine = cheapest(self.lines, "ours")
        other = self.plain if engine == self.plain.engine else cheapest(self.lines, engine)
        return other.microseconds / mine.microseconds if mine and other else None


def compare(members: int, days: float, plain_days: float) -> Comparison:
    """Run everything against CVODE at 1e-10."""
    what = problem(members, days)
    reference = solve(what, cvode, REFERENCE).states
    lines = [ours(what, tolerance, reference) for tolerance in OURS]
    for engine, solver in (("LSODA", lsoda), ("CVODE", cvode)):
        for tolerance in THEIRS:
            lines.append(theirs(what, engine, solver, tolerance, reference))
    lines.append(ours(what, 1e-8, reference, repeats=1))
    picked = cheapest(lines, "LSODA")
    plain = plain_python(picked.tolerance if picked else 1e-4, plain_days)
    tight = lines.pop().worst_error
    mine = cheapest(lines, "ours")
    variants = by_variant(what, mine.tolerance) if mine else {}
    return Comparison(members, days, lines, plain, difference(what), tight, variants)
