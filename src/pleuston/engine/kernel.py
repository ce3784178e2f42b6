"""Load a compiled kernel and call it: rates, observed quantities, jumps, whole runs."""

from __future__ import annotations

import ctypes
import difflib
import functools
import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pleuston.base.errors import EngineError
from pleuston.engine import compile as compiling

Array = NDArray[np.float64]
LANES = 8
SOURCES = Path(__file__).parent / "native"
STEPPER = SOURCES / "stepper.c"
MODEL = Path(__file__).parents[1] / "model"

NEEDS = {
    "v4": {"avx512f", "avx512bw", "avx512cd", "avx512dq", "avx512vl", "avx2", "fma", "bmi2"},
    "v3": {"avx2", "fma", "bmi2"},
    "v2": set(),
}
"""Processor flags that each variant of the kernel needs; a block of eight fills one register
of the first."""

STATUS = {
    0: "done",
    1: "too many steps in one segment: loosen the tolerance or look at the inputs",
    2: "the step became too small: look at the inputs of this tank",
    3: "an amount is not finite: look at the inputs of this tank",
    4: "cancelled",
}


@dataclass(frozen=True)
class Table:
    """Names of a generated kernel, and where each of them stands."""

    data: Mapping[str, Any]
    states: tuple[str, ...]
    rows: tuple[str, ...]
    moves: tuple[str, ...]
    jumps: tuple[str, ...]
    parameters: tuple[str, ...]
    forcings: tuple[str, ...]
    arguments: tuple[str, ...]
    observed: tuple[str, ...]
    tracked: tuple[str, ...]
    typical: Array
    index: Mapping[str, Mapping[str, int]] = field(repr=False)

    @property
    def hash(self) -> str:
        """Identifies the model: stored with every forecast."""
        return str(self.data["hash"])

    def at(self, kind: str, name: str) -> int:
        """Position of a name; raises EngineError when there is none."""
        try:
            return self.index[kind][name]
        except KeyError:
            raise EngineError(
                f"the model has no {kind} called {name}",
                where=str(self.data["name"]),
                remedy=hint(kind, name, self.index.get(kind, ())),
            ) from None


def hint(kind: str, name: str, known: Iterable[str]) -> str:
    """What to do about a name that stands for nothing."""
    close = difflib.get_close_matches(name, list(known), n=3)
    if close:
        return f"Did you mean {', '.join(close)}?"
    return f"Use one of the names of `pleuston table` ({kind}s)"


def read_table(data: Mapping[str, Any]) -> Table:
    """The table of a generated model from its JSON data."""
    names = {
        "state": tuple(s["name"] for s in data["states"]),
        "row": tuple(r["name"] for r in data["rows"]),
        "move": tuple(m["name"] for m in data["moves"]),
        "jump": tuple(data["jumps"]),
        "parameter": tuple(data["parameters"]),
        "forcing": tuple(data["forcings"]),
        "argument": tuple(data["arguments"]),
        "observed": tuple(data["observed"]),
        "tracked": tuple(data["tracked"]),
    }
    return Table(
        data, names["state"], names["row"], names["move"], names["jump"], names["parameter"],
        names["forcing"], names["argument"], names["observed"], names["tracked"],
        np.array([s["typical"] for s in data["states"]]),
        {kind: {n: i for i, n in enumerate(of)} for kind, of in names.items()},
    )  # fmt: skip


class _Job(ctypes.Structure):
    _fields_ = [
        *((n, ctypes.c_double) for n in ("tol", "h_first", "h_max")),
        *((n, ctypes.c_int64) for n in (
            "max_steps", "blocks", "segments", "records", "outputs", "jumps",
        )),
        *((n, ctypes.c_void_p) for n in (
            "times", "x0", "x1", "jump_first", "jump_kind", "jump_args", "record_at", "keep_step",
            "output", "scale", "y_start", "p", "y_end", "out", "low", "high", "extents", "status",
            "steps", "cancel", "progress",
        )),
    ]  # fmt: skip


class Kernel:
    """A compiled kernel with its table. Calls release the interpreter lock."""

    def __init__(self, table: Table, library: Path) -> None:
        self.table = table
        self.path = library
        self._lib = ctypes.CDLL(str(library))
        self._lib.pleuston_hash.restype = ctypes.c_char_p
        self._lib.pleuston_run.argtypes = [ctypes.POINTER(_Job), ctypes.c_int64, ctypes.c_int64]
        found = self._lib.pleuston_hash().decode()
        if found != table.hash:
            raise EngineError(
                f"the binary was made of model {found}, the table is {table.hash}",
                where=str(library), remedy="Run `make kernel` and install again",
            )  # fmt: skip

    def job(self, values: Mapping[str, Any]) -> _Job:
        """The C structure of a run; arrays must outlive the call."""
        job = _Job()
        for name, value in values.items():
            if isinstance(value, np.ndarray):
                setattr(job, name, value.ctypes.data)
            elif value is not None:
                setattr(job, name, value)
        return job

    def run(self, job: _Job, first: int, last: int) -> None:
        """Run the blocks first..last of a job."""
        self._lib.pleuston_run(ctypes.byref(job), first, last)

    # -- single evaluations, for tests, benchmarks and other solvers -----------

    def _block(self, values: Array) -> Array:
        """(members, n) -> (n, 8): up to eight members as the lanes of one block."""
        block = np.empty((values.shape[1], LANES))
        block[:] = values[np.minimum(np.arange(LANES), len(values) - 1)].T
        return block

    def _starts(self) -> Array:
        implicit: Mapping[str, float] = self.table.data["implicits"]
        starts = list(implicit.values()) or [1.0]
        return np.repeat(np.array(starts)[:, None], LANES, axis=1).copy()

    def rates(self, y: Array, p: Array, x: Array, passes: int = 30) -> tuple[Array, Array]:
        """Rates of the rows and changes of the states of up to eight members."""
        r, dy = np.zeros((len(self.table.rows), LANES)), np.zeros((len(self.table.states), LANES))
        self._call(
            "pleuston_rates", self._block(y), self._block(p), x, self._starts(), passes, r, dy
        )
        return r.T[: len(y)].copy(), dy.T[: len(y)].copy()

    def observe(self, y: Array, p: Array, x: Array, passes: int = 30) -> Array:
        """The observed quantities of up to eight members."""
        out = np.zeros((len(self.table.observed), LANES))
        self._call(
            "pleuston_observe", self._block(y), self._block(p), x, self._starts(), passes, out
        )
        return out.T[: len(y)].copy()

    def jump(self, name: str, y: Array, p: Array, x: Array, a: Array) -> Array:
        """States of up to eight members after a jump."""
        block = self._block(y)
        extent = np.zeros((len(self.table.rows) + len(self.table.moves), LANES))
        kind = self.table.at("jump", name)
        self._call("pleuston_jump", kind, block, self._block(p), x, a, self._starts(), extent)
        return block.T[: len(y)].copy()

    def _call(self, name: str, *arguments: Any) -> None:
        given = [
            a if isinstance(a, int) else ctypes.c_void_p(np.ascontiguousarray(a).ctypes.data)
            for a in arguments
        ]
        kept = [a for a in arguments if not isinstance(a, int)]
        if any(not a.flags.c_contiguous or a.dtype != np.float64 for a in kept):
            raise EngineError("an array is not float64", where=name, remedy="Pass float64 arrays")
        getattr(self._lib, name)(*given)


def best_variant(flags: Sequence[str] | None = None) -> list[str]:
    """Variants this processor can run, best first."""
    known = list(compiling.variants())
    if "v2" not in known:
        return known
    if flags is None:
        try:
            text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
            flags = next((w.split() for w in text.splitlines() if w.startswith("flags")), [])
        except OSError:
            flags = []
    can = {v for v, needed in NEEDS.items() if needed <= set(flags)}
    return [v for v in known if v in can]


def binary_of(kernel: Path, folders: Sequence[Path]) -> Path | None:
    """A binary built before from this very kernel, if one of the folders has it."""
    for variant in best_variant():
        name = compiling.binary_name(kernel, STEPPER, variant)
        for folder in folders:
            if (folder / name).exists():
                return folder / name
    return None


def compile_kernel(text: str, table: Mapping[str, Any], folder: Path) -> Kernel:
    """Compile a generated kernel into a folder and load it."""
    folder.mkdir(parents=True, exist_ok=True)
    source = folder / f"kernel-{table['hash']}.c"
    source.write_text(text, encoding="utf-8")
    try:
        binary = binary_of(source, [folder]) or compiling.build(
            source, STEPPER, folder, best_variant()[0]
        )
    except RuntimeError as error:
        raise EngineError(
            str(error), where="the kernel", remedy="Install gcc, clang or ziglang and try again"
        ) from None
    return Kernel(read_table(table), binary)


@functools.cache
def tank_table() -> Table:
    """The table of the tank model."""
    return read_table(json.loads((MODEL / "table.json").read_text(encoding="utf-8")))


@functools.cache
def tank_kernel() -> Kernel:
    """The kernel of the tank model: built with the package, else compiled now, once.

    Raises EngineError when there is neither a binary nor a compiler.
    """
    table = tank_table()
    source = MODEL / "kernel.c"
    cache = Path(tempfile.gettempdir()) / f"pleuston-kernel-{_user()}"
    binary = binary_of(source, [SOURCES, cache])
    if binary is None:
        return compile_kernel(source.read_text(encoding="utf-8"), table.data, cache)
    return Kernel(table, binary)


def _user() -> str:
    import os

    return str(os.getuid()) if hasattr(os, "getuid") else "user"
