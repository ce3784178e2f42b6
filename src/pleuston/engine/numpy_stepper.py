"""The stepper in NumPy: the slow truth beside the C one, and the way without a compiler.

The algorithm is that of native/stepper.c line by line: ROS34PW2 in extents of the rows
(Rang & Angermann 2005, BIT 45:761), one step size for a block of members, a limiter that
keeps what can't be negative from falling below zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from types import ModuleType
from typing import Any

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import (
    DEFAULT,
    FIRST_STEP,
    Control,
    Trajectory,
    check_members,
    in_lanes,
    longest_step,
)
from pleuston.engine.kernel import LANES, Array, Table
from pleuston.engine.schedule import LAND, PASS, Schedule

GAMMA = 0.43586652150845900
A = (
    (),
    (0.87173304301691801,),
    (0.84457060015369423, -0.11299064236484185),
    (0.0, 0.0, 1.0),
)
GAMMAS = (
    (),
    (-0.87173304301691801,),
    (-0.90338057013044082, 0.054180672388095326),
    (0.24212380706095346, -1.2232505839045147, 0.54526025533510214),
)
B = np.array([0.24212380706095346, -1.2232505839045147, 1.5452602553351020, 0.43586652150845900])
B_LOWER = np.array([0.37810903145819369, -0.096042292212423178, 0.5, 0.21793326075422950])
C = (0.0, 0.87173304301691801, 0.73157995778885238, 1.0)
INSIDE = np.array([
    [1.0564298455794094, -1.3864882699759573, 0.5721822314575016],
    [2.296429974281067, -8.262611700275677, 4.742931142090097],
    [-1.307599564525376, 7.250979895056055, -4.398120075195578],
    [-1.045260255335102, 2.398120075195581, -0.9169932983520199],
])  # fmt: skip
"""Weights of the stages at a share u of a step, on u, u^2 and u^3; at u = 1 they are B."""
GROWTH = 4.0
Take = Callable[[int, Array, Array], None]
"""Takes the record at the start of a segment, of some states and extents."""
OK, TOO_MANY_STEPS, STEP_TOO_SMALL, NOT_FINITE = 0, 1, 2, 3
COLD, WARM, OBSERVING = 16, 3, 8
SMALLEST = 1e-9


class Equations:
    """A generated NumPy kernel with its matrices."""

    def __init__(self, module: ModuleType, table: Table) -> None:
        if table.hash != module.HASH:
            raise EngineError(
                f"the NumPy kernel was made of model {module.HASH}, the table is {table.hash}",
                where=str(table.data["name"]), remedy="Run `make kernel`",
            )  # fmt: skip
        self.module: Any = module
        self.table = table
        self.rows = _matrix(module.ROWS, len(table.states))
        self.moves = _matrix(module.MOVES, len(table.states))
        self.fast = np.array(module.FAST, dtype=int)
        self.of_jump = {
            jump: [i for i, m in enumerate(table.data["moves"]) if m["jump"] == jump]
            for jump in table.jumps
        }
        self.floored = np.array([s["floor"] is not None for s in table.data["states"]])
        self.starts: Array = np.array(list(table.data["implicits"].values()), dtype=float)

    def jacobian(self, entries: Array, lanes: int) -> Array:
        """(lanes, rows, fast) from the entries that are not zero."""
        full = np.zeros((lanes, len(self.table.rows), len(self.fast)))
        for (row, column), entry in zip(self.module.JACOBIAN, entries, strict=True):
            full[:, row, column] = entry
        return full


def _matrix(entries: list[list[tuple[int, float]]], states: int) -> Array:
    """(changes, states) coefficients."""
    full = np.zeros((len(entries), states))
    for i, pairs in enumerate(entries):
        for state, coefficient in pairs:
            full[i, state] = coefficient
    return full


class Block:
    """Members that step together."""

    def __init__(
        self, equations: Equations, schedule: Schedule, y: Array, p: Array, scale: Array,
        tolerance: float, h_first: float, h_max: float, max_steps: int,
    ) -> None:  # fmt: skip
        self.eq, self.schedule = equations, schedule
        self.y, self.p, self.scale = y, p, scale[:, None]
        self.tolerance, self.h_first, self.h_max = tolerance, h_first, h_max
        self.max_steps = max_steps
        table = equations.table
        self.lanes = y.shape[1]
        self.h = np.repeat(equations.starts[:, None], self.lanes, axis=1)
        self.no_arguments = np.zeros(len(table.arguments))
        self.extent = np.zeros((len(table.rows) + len(table.moves), self.lanes))
        self.low = np.full((len(table.tracked), self.lanes), np.inf)
        self.high = -self.low
        self.status = np.zeros(self.lanes, dtype=np.int32)
        self.last = h_first
        self.steps = np.zeros(3, dtype=np.int64)

    # -- evaluations ------------------------------------------------------------

    def forcing(self, segment: int, t: float, last: int | None = None) -> Array:
        """Forcings at a time after the start of a segment, before that of the last."""
        s = self.schedule
        end = segment + 1 if last is None else last
        while segment + 1 < end and t > s.times[segment + 1]:
            segment += 1
        a, b = s.times[segment], s.times[segment + 1]
        f = (t - a) / (b - a)
        return np.asarray(s.x0[segment] * (1.0 - f) + s.x1[segment] * f)

    def call(self, function: Any, size: int, y: Array, x: Array, a: Array, passes: int) -> Array:
        """A function of the generated module, evaluated for the block."""
        out = np.empty((size, self.lanes))
        function(y, self.p, x, a, self.h, passes, out)
        return out

    def rates(self, y: Array, x: Array, passes: int) -> tuple[Array, Array]:
        """Rates of the rows and the tracked quantities."""
        rows, tracked = len(self.eq.table.rows), len(self.eq.table.tracked)
        out = self.call(self.eq.module.rates, rows + tracked, y, x, self.no_arguments, passes)
        return out[:rows], out[rows:]

    def rates_jacobian(self, x: Array, passes: int) -> tuple[Array, Array]:
        """Rates of the rows, and their derivatives by the fast states; notes extremes."""
        module, table = self.eq.module, self.eq.table
        rows, tracked = len(table.rows), len(table.tracked)
        size = rows + tracked + len(module.JACOBIAN)
        out = self.call(module.rates_jacobian, size, self.y, x, self.no_arguments, passes)
        self.note(out[rows : rows + tracked])
        return out[:rows], self.eq.jacobian(out[rows + tracked :], self.lanes)

    def note(self, tracked: Array) -> None:
        """Keep the extremes of the tracked quantities."""
        self.low = np.where(tracked < self.low, tracked, self.low)
        self.high = np.where(tracked > self.high, tracked, self.high)

    # -- one step -----------------------------------------------------------------

    def stages(
        self, span: tuple[int, int], t: float, h: float, first: Array, jac: Array
    ) -> Array:
        """Rates of the rows at the four stages, (4, rows, lanes)."""
        matrix, fast = self.eq.rows, self.eq.fast
        system = np.eye(len(fast)) - GAMMA * h * (matrix[:, fast].T @ jac)
        changes: list[Array] = []
        found: list[Array] = []
        for i in range(4):
            if i == 0:
                rate = first.copy()
            else:
                z = self.y + h * sum(a * k for a, k in zip(A[i], changes, strict=True))
                z[self.eq.floored] = np.maximum(z[self.eq.floored], 0.0)
                rate, _ = self.rates(z, self.forcing(span[0], t + C[i] * h, span[1]), WARM)
            if len(fast):
                if i > 0:
                    past: Any = sum(g * k[fast] for g, k in zip(GAMMAS[i], changes, strict=True))
                    rate += _times(jac, h * past)
                right = (matrix[:, fast].T @ rate).T[:, :, None]
                solved: Any = np.linalg.solve(system, right)[:, :, 0].T
                rate += _times(jac, GAMMA * h * solved)
            found.append(rate)
            changes.append(matrix.T @ rate)
        return np.array(found)

    def limit(self, lane: int, xi: Array) -> Array:
        """Extents of a lane, scaled back so that no floored state falls below zero."""
        y, floored = self.y[:, lane], self.eq.floored
        matrix = self.eq.rows * floored
        touches = (matrix != 0.0).any(axis=1)
        for credit in (1.0, 0.0):
            forward = np.maximum(xi, 0.0)
            moved = matrix * forward[:, None]
            made, lost = np.maximum(moved, 0.0).sum(axis=0), -np.minimum(moved, 0.0).sum(axis=0)
            have = np.maximum(y, 0.0) + credit * made
            share = np.where(lost > have, 0.9999 * have / np.where(lost > 0.0, lost, 1.0), 1.0)
            least = np.where(matrix < 0.0, share, 1.0).min(axis=1)
            xi = np.where(touches, forward * least, xi)
            if not (y + xi @ self.eq.rows < 0.0)[floored].any():
                break
        return np.asarray(xi)

    def accept(self, xi: Array) -> tuple[Array, np.ndarray]:
        """Take a step of some extents; gives those taken, and which lanes were limited."""
        below = (self.y + self.eq.rows.T @ xi < 0.0)[self.eq.floored].any(axis=0)
        for lane in np.flatnonzero(below):
            xi[:, lane] = self.limit(int(lane), xi[:, lane])
            self.steps[2] += 1
        self.y = self.y + self.eq.rows.T @ xi
        self.tidy()
        self.extent[: len(xi)] += xi
        self.drop(~(np.abs(self.y) < 1e300).all(axis=0) & (self.status == OK), NOT_FINITE)
        self.steps[0] += 1
        return xi, below

    def tidy(self) -> None:
        """What is below nothing by rounding alone is nothing."""
        tiny = (self.y < 0.0) & (self.y > -1e-12 * self.scale) & self.eq.floored[:, None]
        self.y[tiny] = 0.0

    def drop(self, lanes: np.ndarray, status: int) -> None:
        """Take lanes out, so that they do not stop their block."""
        self.status[lanes] = status
        self.y[:, lanes] = np.nan

    def worst(self, of: Array) -> int:
        """The lane with the largest number, NaN above all, of those still going."""
        ranked = np.where(np.isnan(of), np.inf, of)
        return int(np.argmax(np.where(self.status == OK, ranked, -np.inf)))

    # -- spans --------------------------------------------------------------------

    def span(self, number: int, last: int, take: Take) -> None:
        """Step from the start of a segment to that of another, taking records on the way."""
        times = self.schedule.times
        end, t, left = times[last], float(times[number]), times[last] - times[number]
        kept = self.schedule.keep_step[number] == LAND
        h, passes = (self.last, WARM) if kept else (self.h_first, COLD)
        ahead = number + 1
        tries, blame = 0, np.zeros(self.lanes)
        first: Array | None = None
        while left > 0.0 and (self.status == OK).any():
            tries += 1
            if tries > self.max_steps:
                self.drop(np.arange(self.lanes) == self.worst(blame), TOO_MANY_STEPS)
                tries, h, first = 0, self.h_first, None
                continue
            wanted = h = min(h, self.h_max)
            h = left if h >= left * 0.999 else min(h, 0.5 * left)
            if first is None:
                number = self.reached(number, last, t)
                first, jac = self.rates_jacobian(self.forcing(number, t, last), passes)
                passes = WARM
            found = self.stages((number, last), t, h, first, jac)
            error, guilty, broken = self.error(h * np.tensordot(B - B_LOWER, found, 1))
            blame[guilty] += 1
            growth = 0.9 * float(np.cbrt(1.0 / error)) if error > 0.0 else GROWTH
            growth = min(GROWTH, max(0.2, growth))
            if error > 1.0:
                self.steps[1] += 1
                h *= growth
                if h < SMALLEST:
                    code = NOT_FINITE if broken else STEP_TOO_SMALL
                    self.drop(np.arange(self.lanes) == guilty, code)
                    h, first = self.h_first, None
                continue
            before = self.y
            xi, limited = self.accept(h * np.tensordot(B, found, 1))
            left -= h
            t = end - left
            ahead = self.inside(ahead, last, t, h, before, found, xi, limited, take)
            h = wanted if h < wanted and h * growth < wanted else h * growth
            self.last, first = h, None

    def reached(self, number: int, last: int, t: float) -> int:
        """The segment that a time lies in."""
        while number + 1 < last and t >= self.schedule.times[number + 1]:
            number += 1
        return number

    def inside(
        self, ahead: int, last: int, t: float, h: float, before: Array, found: Array, xi: Array,
        limited: np.ndarray, take: Take,
    ) -> int:  # fmt: skip
        """Take the records inside a step; gives the first segment that starts after it."""
        times, rows = self.schedule.times, len(xi)
        while ahead < last and times[ahead] <= t and (self.status == OK).any():
            if self.schedule.record_at[ahead] >= 0:
                u = max(0.0, 1.0 - (t - times[ahead]) / h)
                weights = h * u * (INSIDE[:, 0] + u * (INSIDE[:, 1] + u * INSIDE[:, 2]))
                so_far = np.where(limited, u * xi, np.tensordot(weights, found, 1))
                y = before + self.eq.rows.T @ so_far
                y[self.eq.floored] = np.maximum(y[self.eq.floored], 0.0)
                extent = self.extent.copy()
                extent[:rows] += so_far - xi
                take(ahead, y, extent)
            ahead += 1
        return ahead

    def error(self, extents: Array) -> tuple[float, int, bool]:
        """The worst lane's error in tolerances, which lane that is, and whether it is NaN."""
        a = self.tolerance * (self.scale + np.abs(self.y))
        sums = np.square(self.eq.rows.T @ extents / a).mean(axis=0)
        guilty = self.worst(sums)
        size = float(sums[guilty])
        return (np.sqrt(size) if size < 1e12 else 1e6), guilty, np.isnan(size)

    def jump(self, kind: int, arguments: Array, x: Array) -> None:
        """Apply one jump: all its moves on the state before it."""
        name = self.eq.table.jumps[kind]
        moves = self.eq.of_jump[name]
        amounts = self.call(self.eq.module.JUMPS[name], len(moves), self.y, x, arguments, COLD)
        self.y = self.y + self.eq.moves[moves].T @ amounts
        self.extent[len(self.eq.rows) + np.array(moves)] += amounts
        self.tidy()

    def observe(self, number: int, y: Array, output: np.ndarray) -> tuple[Array, Array]:
        """The chosen outputs and the tracked quantities of some states where a segment starts."""
        table, kept = self.eq.table, self.h.copy()
        x = self.forcing(min(number, len(self.schedule.x0) - 1), self.schedule.times[number])
        observed = self.call(
            self.eq.module.observe, len(table.observed), y, x, self.no_arguments, OBSERVING
        )
        tracked = self.rates(y, x, OBSERVING)[1] if len(table.tracked) else self.low
        self.note(tracked)
        self.h = kept  # what is recorded must not change how the run goes on
        for values in (observed, self.low, self.high):
            values[:, self.status != OK] = np.nan
        return np.asarray(observed[output]), tracked


def _times(jac: Array, v: Array) -> Array:
    """(rows, lanes) of (lanes, rows, fast) times (fast, lanes)."""
    return np.asarray(np.matmul(jac, v.T[:, :, None])[:, :, 0].T)


def run_ensemble_numpy(
    module: ModuleType, table: Table, schedule: Schedule, y_start: Array, parameters: Array, *,
    outputs: Sequence[str], scale: float = 1.0, tolerance: float = DEFAULT,
    extents: bool = False, control: Control | None = None, h_first: float = FIRST_STEP,
    h_max: float | None = None, max_steps: int = 20000, lanes: int = LANES,
) -> Trajectory:  # fmt: skip
    """Run members through a schedule without a compiled kernel.

    As `run_ensemble`, and the same numbers with blocks of eight lanes; wider blocks are
    faster here and differ within the tolerance. Raises EngineError as `run_ensemble` does.
    """
    check_members(table, y_start, parameters)
    equations = Equations(module, table)
    blocks = -(-len(y_start) // lanes)
    longest = longest_step(tolerance) if h_max is None else h_max
    output = np.array([table.at("observed", n) for n in outputs], dtype=int)
    started = zip(
        in_lanes(y_start, blocks, lanes), in_lanes(parameters, blocks, lanes), strict=True
    )
    done = []
    with np.errstate(all="ignore"):
        for number, (y, p) in enumerate(started):
            block = Block(
                equations, schedule, y, p, table.typical * scale, tolerance, h_first, longest,
                max_steps,
            )  # fmt: skip
            done.append((block, _through(block, output, control, number, blocks)))
    joined = [np.concatenate([r[i] for _, r in done], axis=-1) for i in range(4)]
    members = len(y_start)
    values, low, high, reached = (a[..., :members] for a in joined)
    return Trajectory(
        schedule.record_times, tuple(outputs), values, table.tracked, low, high,
        reached if extents else None, np.concatenate([b.y for b, _ in done], axis=1).T[:members],
        np.concatenate([b.status for b, _ in done])[:members],
        np.array([b.steps for b, _ in done]),
    )  # fmt: skip


def _through(
    block: Block, output: np.ndarray, control: Control | None, number: int, blocks: int
) -> tuple[Array, Array, Array, Array]:
    """Run one block: outputs, lows, highs and extents at its records."""
    schedule, records = block.schedule, len(block.schedule.record_times)
    values = np.full((records, len(output), block.lanes), np.nan)
    low, high = (np.full((records, *block.low.shape), np.nan) for _ in range(2))
    extents = np.full((records, *block.extent.shape), np.nan)

    def take(number: int, y: Array, extent: Array) -> None:
        at = schedule.record_at[number]
        values[at], tracked = block.observe(number, y, output)
        low[at], high[at] = block.low, block.high
        extents[at] = np.where(block.status == OK, extent, np.nan)
        inside = y is not block.y
        block.low = tracked.copy() if inside else np.full_like(block.low, np.inf)
        block.high = tracked.copy() if inside else -block.low

    segments, i = len(schedule.times) - 1, 0
    while True:
        if schedule.record_at[i] >= 0:
            take(i, block.y, block.extent)
        if i == segments:
            break
        x = block.forcing(i, schedule.times[i])
        for j in range(schedule.jump_first[i], schedule.jump_first[i + 1]):
            block.jump(int(schedule.jump_kind[j]), schedule.jump_args[j], x)
        after = i + 1
        while after < segments and schedule.keep_step[after] == PASS:
            after += 1
        block.span(i, after, take)
        i = after
        if control is not None and control.cancelled:
            raise EngineError("the run was cancelled", where="the ensemble", remedy="Start again")
        if control is not None and control.progress is not None:
            control.progress((number + i / segments) / blocks)
    return values, low, high, extents
