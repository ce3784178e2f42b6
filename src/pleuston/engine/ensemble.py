"""Run many members of one tank through a schedule, on all cores, deterministically."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.kernel import LANES, STATUS, Array, Kernel, Table, hint
from pleuston.engine.schedule import Schedule

INTERACTIVE = 1e-2
DEFAULT = 1e-3
TIGHT = 3e-5
"""The worst state is off by 3 %, 1 % and 0.1 % at these, the middle one by less than a
hundredth of a percent (docs/decisions/011-speed.md)."""
FIRST_STEP = 8.0 / 1440.0
"""Of a span after a switch or a jump [d]: eight minutes."""


def longest_step(tolerance: float) -> float:
    """Longest step [d]: two hours, as longer ones lose accuracy and save nothing; three where
    a hundredth is good enough."""
    return 1.0 / 12.0 if tolerance <= DEFAULT else 0.125


@dataclass(frozen=True)
class Trajectory:
    """What an ensemble did.

    values: (records, outputs, members); low, high: extremes of the tracked quantities
    since the record before, (records, tracked, members); extents: cumulative extents of
    rows then moves, (records, rows + moves, members), or None; end: (members, states);
    status: (members,), 0 when a member went through.
    """

    times: Array
    outputs: tuple[str, ...]
    values: Array
    tracked: tuple[str, ...]
    low: Array
    high: Array
    extents: Array | None
    end: Array
    status: np.ndarray
    steps: np.ndarray

    def of(self, name: str) -> Array:
        """(records, members) of one output; `lowest_x` and `highest_x` of a tracked one."""
        for prefix, extreme in (("lowest_", self.low), ("highest_", self.high)):
            if name.startswith(prefix) and name.removeprefix(prefix) in self.tracked:
                return extreme[:, self.tracked.index(name.removeprefix(prefix))]
        if name not in self.outputs:
            raise EngineError(
                f"the run did not record {name}", where="a trajectory",
                remedy=hint("output", name, self.outputs),
            )  # fmt: skip
        return self.values[:, self.outputs.index(name)]

    @property
    def good(self) -> np.ndarray:
        """Which members went through."""
        return np.asarray(self.status == 0)


@dataclass
class Control:
    """Progress and cancellation of a run, shared with whoever watches it."""

    progress: Callable[[float], None] | None = None
    cancelled: bool = False


def run_ensemble(
    kernel: Kernel, schedule: Schedule, y_start: Array, parameters: Array, *,
    outputs: Sequence[str], scale: float = 1.0, tolerance: float = DEFAULT,
    extents: bool = False, threads: int | None = None, control: Control | None = None,
    h_first: float = FIRST_STEP, h_max: float | None = None, max_steps: int = 20000,
) -> Trajectory:  # fmt: skip
    """Run members (rows of y_start and parameters) through a schedule.

    scale: size of the tank relative to 30 L, for the absolute tolerance. A member's
    place in its block of eight is its number, so the same members give the same numbers
    however many threads run. Raises EngineError on bad shapes, values or cancellation.
    """
    check_members(kernel.table, y_start, parameters)
    members, blocks = len(y_start), -(-len(y_start) // LANES)
    held = _buffers(kernel.table, schedule, y_start, parameters, outputs, scale, extents)
    job = kernel.job(
        {
            "tol": tolerance, "h_first": h_first, "max_steps": max_steps,
            "h_max": longest_step(tolerance) if h_max is None else h_max,
            "blocks": blocks, "segments": len(schedule.times) - 1,
            "records": len(schedule.record_times), "outputs": len(outputs),
            "jumps": len(schedule.jump_kind), **held,
        }
    )  # fmt: skip
    total = blocks * (len(schedule.times) - 1)
    watched = (held["cancel"], held["progress"], total)
    _spread(lambda a, b: kernel.run(job, a, b), blocks, threads, control, *watched)
    if (held["status"] == 4).any():
        raise EngineError("the run was cancelled", where="the ensemble", remedy="Start it again")
    end = held["y_end"].transpose(0, 2, 1).reshape(blocks * LANES, -1)
    return Trajectory(
        schedule.record_times, tuple(outputs), held["out"][..., :members], kernel.table.tracked,
        held["low"][..., :members], held["high"][..., :members],
        held["extents"][..., :members] if extents else None, end[:members].copy(),
        held["status"][:members], held["steps"],
    )  # fmt: skip


def _buffers(
    table: Table, schedule: Schedule, y_start: Array, parameters: Array, outputs: Sequence[str],
    scale: float, extents: bool,
) -> dict[str, Any]:  # fmt: skip
    """The arrays that the kernel reads and fills."""
    blocks = -(-len(y_start) // LANES)
    lanes, records, tracked = blocks * LANES, len(schedule.record_times), len(table.tracked)
    changes = len(table.rows) + len(table.moves)
    return {
        "scale": np.ascontiguousarray(table.typical * scale),
        "y_start": in_lanes(y_start, blocks), "p": in_lanes(parameters, blocks),
        "y_end": np.empty((blocks, len(table.states), LANES)),
        "out": np.full((records, len(outputs), lanes), np.nan),
        "low": np.full((records, tracked, lanes), np.nan),
        "high": np.full((records, tracked, lanes), np.nan),
        "extents": np.full((records, changes, lanes), np.nan) if extents else None,
        "status": np.zeros(lanes, dtype=np.int32), "steps": np.zeros((blocks, 3), dtype=np.int64),
        "times": schedule.times, "x0": schedule.x0, "x1": schedule.x1,
        "output": np.array([table.at("observed", n) for n in outputs] or [0], dtype=np.int32),
        "jump_first": schedule.jump_first, "jump_kind": schedule.jump_kind,
        "jump_args": schedule.jump_args, "record_at": schedule.record_at,
        "keep_step": schedule.keep_step, "cancel": np.zeros(1, dtype=np.int32),
        "progress": np.zeros(1, dtype=np.int64),
    }  # fmt: skip


def describe_failures(trajectory: Trajectory) -> str:
    """One line on the members that did not go through; empty when all did."""
    codes, counts = np.unique(trajectory.status, return_counts=True)
    parts = [f"{n} member(s): {STATUS[int(c)]}" for c, n in zip(codes, counts, strict=True) if c]
    return "; ".join(parts)


def in_lanes(values: Array, blocks: int, lanes: int = LANES) -> Array:
    """(members, n) -> (blocks, n, lanes), the last member repeated to fill the last block."""
    index = np.minimum(np.arange(blocks * lanes), len(values) - 1)
    return np.ascontiguousarray(
        values[index].reshape(blocks, lanes, -1).transpose(0, 2, 1), dtype=np.float64
    )


def check_members(table: Table, y_start: Array, parameters: Array) -> None:
    """Refuse starts and parameters of a wrong shape, or that are not finite."""
    for label, values, names in (
        ("states", y_start, table.states),
        ("parameters", parameters, table.parameters),
    ):
        if values.ndim != 2 or values.shape[1] != len(names) or not len(values):
            raise EngineError(
                f"{label} have shape {values.shape}, not (members, {len(names)})",
                where="the ensemble", remedy="Give one row a member",
            )  # fmt: skip
        bad = ~np.isfinite(values).all(axis=0)
        if bad.any():
            raise EngineError(
                f"{names[int(np.argmax(bad))]} is not finite", where=f"the {label} of a member",
                remedy="Correct the tank's description or its entries",
            )  # fmt: skip
    if len(y_start) != len(parameters):
        raise EngineError(
            f"{len(y_start)} starts but {len(parameters)} sets of parameters",
            where="the ensemble", remedy="Give one of each a member",
        )  # fmt: skip


def _spread(
    work: Callable[[int, int], None], blocks: int, threads: int | None,
    control: Control | None, flag: np.ndarray, done: np.ndarray, total: int,
) -> None:  # fmt: skip
    """Run blocks in chunks on threads, watching for cancellation."""
    workers = min(threads or os.cpu_count() or 1, blocks)
    if control is not None and control.cancelled:
        flag[0] = 1
    if workers <= 1 and control is None:
        work(0, blocks)
        return
    size = max(1, min(4, -(-blocks // (2 * workers))))
    with ThreadPoolExecutor(workers) as pool:
        futures = [pool.submit(work, a, min(a + size, blocks)) for a in range(0, blocks, size)]
        try:
            for future in futures:
                _wait(future, control, flag, done, total)
        except BaseException:
            flag[0] = 1  # the blocks that are running end soon
            raise


def _wait(
    future: Future[None], control: Control | None, flag: np.ndarray, done: np.ndarray, total: int
) -> None:
    """Wait for one chunk; tell the progress, and pass a cancellation on."""
    while True:
        try:
            future.result(timeout=None if control is None else 0.1)
            finished = True
        except TimeoutError:
            finished = False
        if control is not None and control.cancelled:
            flag[0] = 1
        if control is not None and control.progress is not None:
            control.progress(min(1.0, float(done[0]) / max(1, total)))
        if finished:
            return
