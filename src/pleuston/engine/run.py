"""Run the tank model: on the compiled kernel, or on NumPy where there can be none."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import cache

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import DEFAULT, Control, Trajectory, run_ensemble
from pleuston.engine.kernel import Array, Kernel, tank_kernel, tank_table
from pleuston.engine.numpy_stepper import run_ensemble_numpy
from pleuston.engine.schedule import Schedule

WIDE = 256
"""Members that step together on NumPy: many times faster than eight at a time."""


def run_tank(
    schedule: Schedule, y_start: Array, parameters: Array, *, outputs: Sequence[str],
    scale: float = 1.0, tolerance: float = DEFAULT, extents: bool = False,
    threads: int | None = None, control: Control | None = None,
) -> Trajectory:  # fmt: skip
    """Run members of a tank through a schedule, as `run_ensemble`.

    Without a compiled kernel and a compiler the NumPy kernel runs, after one line on
    standard error. Raises EngineError on bad shapes, values or cancellation.
    """
    kernel = compiled()
    if kernel is not None:
        return run_ensemble(
            kernel, schedule, y_start, parameters, outputs=outputs, scale=scale,
            tolerance=tolerance, extents=extents, threads=threads, control=control,
        )  # fmt: skip
    from pleuston.model import kernel_numpy

    return run_ensemble_numpy(
        kernel_numpy, tank_table(), schedule, y_start, parameters, outputs=outputs, scale=scale,
        tolerance=tolerance, extents=extents, control=control, lanes=min(WIDE, len(y_start)),
    )  # fmt: skip


@cache
def compiled() -> Kernel | None:
    """The compiled kernel of the tank, or None (said once) where it can't be had."""
    try:
        return tank_kernel()
    except EngineError as error:
        print(f"warning: {error} Until then it runs on NumPy, many times slower.", file=sys.stderr)
        return None
