"""The same problem by SciPy's LSODA and by CVODE, begun anew at every switch and jump."""

from __future__ import annotations

import ctypes
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from benchmarks.tank import Problem
from pleuston.base.errors import EngineError
from pleuston.engine import compile as compiling
from pleuston.engine.kernel import MODEL, STEPPER, Array, best_variant

Change = Callable[[float, Array], Array]
Solver = Callable[["World", float, float, Array, Array, float, Array], Array]


@cache
def _library() -> ctypes.CDLL:
    """The kernel, one lane wide, with a function of time and state for other solvers."""
    folder = Path(tempfile.mkdtemp(prefix="pleuston-bench-"))
    command = compiling.compiler()
    if command is None:
        raise EngineError("no C compiler", where="the benchmark", remedy="Install gcc or clang")
    line = [
        *command, *compiling.FLAGS, *compiling.variants()[best_variant()[0]],
        "-DL=1", f'-DKERNEL="{MODEL / "kernel.c"}"', f'-DSTEPPER="{STEPPER}"',
        str(Path(__file__).parent / "rhs.c"), "-o", str(folder / "rhs.so"), "-lm",
    ]  # fmt: skip
    subprocess.run(line, check=True)
    library = ctypes.CDLL(str(folder / "rhs.so"))
    double, pointer, whole = ctypes.c_double, ctypes.c_void_p, ctypes.c_int64
    library.world_size.restype = whole
    library.world_start.argtypes = [pointer, whole, *[pointer] * 4]
    library.world_span.argtypes = [pointer, whole, whole]
    library.world_change.argtypes = [pointer, double, pointer, pointer]
    library.world_jump.argtypes = [pointer, ctypes.c_int, double, pointer, pointer]
    library.world_settle.argtypes = [pointer, double, pointer]
    return library


class World:
    """One member: its rate of change as a function of time and state, compiled."""

    def __init__(self, what: Problem, member: int) -> None:
        self.library, schedule = _library(), what.schedule
        self.held = np.zeros(self.library.world_size(), dtype=np.uint8)
        self.p = np.ascontiguousarray(what.parameters[member])
        self.schedule = schedule
        self.address = self.held.ctypes.data
        self.library.world_start(
            self.address, len(schedule.times) - 1, schedule.times.ctypes.data,
            schedule.x0.ctypes.data, schedule.x1.ctypes.data, self.p.ctypes.data,
        )  # fmt: skip
        self.change_in_c = self.library.world_change
        self.dy = np.empty(len(what.case.table.states))
        self.dy_address = self.dy.ctypes.data

    @property
    def calls(self) -> int:
        """Evaluations so far."""
        return int(self.held[16:24].view(np.int64)[0])

    def change(self, t: float, y: Array) -> Array:
        """dy/dt, in an array that the next call fills again."""
        self.change_in_c(self.address, t, y.ctypes.data, self.dy_address)
        return self.dy

    def change_into(self, t: float, y: Array, dy: Array) -> None:
        """dy/dt, in the array given."""
        self.change_in_c(self.address, t, y.ctypes.data, dy.ctypes.data)

    def begin(self, segment: int, last: int, y: Array) -> None:
        """Do the jumps before a segment, and stay between it and the last one."""
        schedule, time_of = self.schedule, float(self.schedule.times[segment])
        self.library.world_span(self.address, segment, last)
        for j in range(schedule.jump_first[segment], schedule.jump_first[segment + 1]):
            args = np.ascontiguousarray(schedule.jump_args[j])
            kind = int(schedule.jump_kind[j])
            self.library.world_jump(self.address, kind, time_of, args.ctypes.data, y.ctypes.data)
        self.library.world_settle(self.address, time_of, y.ctypes.data)


@dataclass(frozen=True)
class Found:
    """What a solver found, and what it took: processor seconds, evaluations."""

    states: Array
    seconds: float
    calls: int


def solve(
    what: Problem, solver: Solver, tolerance: float, world_of: type[World] = World
) -> Found:
    """Every member by a solver, span by span; states at the records before any jump there."""
    schedule = what.schedule
    ends = [*what.breaks[1:], len(schedule.times) - 1]
    states = np.empty((len(schedule.record_times), len(what.case.table.states), len(what.start)))
    absolute = tolerance * what.scale
    calls, begun = 0, time.process_time()
    for member in range(len(what.start)):
        world = world_of(what, member)
        y = what.start[member].copy()
        for first, last in zip(what.breaks, ends, strict=True):
            world.begin(first, last, y)
            inside = [s for s in range(first + 1, last + 1) if schedule.record_at[s] >= 0]
            moments = schedule.times[[*inside, *([last] if last not in inside else [])]]
            a, b = float(schedule.times[first]), float(schedule.times[last])
            path = solver(world, a, b, y, moments, tolerance, absolute)
            states[schedule.record_at[inside], :, member] = path[: len(inside)]
            y = np.ascontiguousarray(path[-1])
        calls += world.calls
    return Found(states, time.process_time() - begun, calls)


def lsoda(
    world: World, a: float, b: float, y: Array, moments: Array, tolerance: float, absolute: Array
) -> Array:
    """SciPy's solve_ivp with LSODA."""
    from scipy.integrate import solve_ivp  # type: ignore[import-untyped,unused-ignore]

    found = solve_ivp(
        world.change, (a, b), y, method="LSODA", t_eval=moments, rtol=tolerance, atol=absolute
    )
    if not found.success:
        raise RuntimeError(f"LSODA stopped at day {a:g}: {found.message}")
    return np.asarray(found.y.T)


def cvode(
    world: World, a: float, _: float, y: Array, moments: Array, tolerance: float, absolute: Array
) -> Array:
    """CVODE's BDF through scikit-sundae."""
    from sksundae.cvode import CVODE  # type: ignore[import-untyped,unused-ignore]

    solver = CVODE(
        world.change_into, rtol=tolerance, atol=absolute, method="BDF", max_num_steps=10**6
    )
    found = solver.solve(np.array([a, *moments]), y)
    if not found.success:
        raise RuntimeError(f"CVODE stopped at day {a:g}: {found.message}")
    return np.asarray(found.y[1:])
