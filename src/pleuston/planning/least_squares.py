"""Least squares with unknowns that can't be negative: shares of waters, masses of salts.

The active-set method of Lawson and Hanson: unknowns at zero are let go one by one, where that
lowers the error most, and put back when they would fall below zero.
"""

from __future__ import annotations

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.kernel import Array

TURNS = 200
SMALL = 1e-10


def nonnegative(matrix: Array, wanted: Array) -> Array:
    """The x >= 0 for which matrix @ x comes nearest to what is wanted.

    >>> nonnegative(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([2.0, -1.0])).tolist()
    [2.0, 0.0]
    """
    count = matrix.shape[1]
    x, free = np.zeros(count), np.zeros(count, dtype=bool)
    tolerance = SMALL * max(1.0, float(np.abs(matrix).max())) ** 2
    for _ in range(TURNS):
        slope = matrix.T @ (wanted - matrix @ x)
        slope[free] = -np.inf
        best = int(np.argmax(slope))
        if free.all() or slope[best] <= tolerance:
            return x
        free[best] = True
        x = _settled(matrix, wanted, x, free)
    raise EngineError("the mix did not settle", "least squares", "name fewer waters or doses")


def _settled(matrix: Array, wanted: Array, x: Array, free: np.ndarray) -> Array:
    """The best x with the free unknowns; those that would fall below zero are bound again."""
    while True:
        trial = np.zeros_like(x)
        trial[free] = np.linalg.lstsq(matrix[:, free], wanted, rcond=None)[0]
        below = free & (trial <= 0.0)
        if not below.any():
            return trial
        step = float(np.min(x[below] / np.maximum(x[below] - trial[below], SMALL)))
        x = x + step * (trial - x)
        free &= x > SMALL * max(1.0, float(np.abs(x).max()))
        x = np.where(free, x, 0.0)
