"""Small helpers that equations share; they work on floats, arrays, quantities and traced nodes."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from typing import Any

import numpy as np

NOTHING = 1e-100
"""What is smaller than this counts as none at all, whatever its unit."""


def saturating(x: Any, half: Any) -> Any:
    """Share of the maximum at x: x / (half + x), 0 at 0 and one half at `half`."""
    return x / (half + x)


def inhibiting(x: Any, half: Any) -> Any:
    """Share left at x: half / (half + x), 1 at 0 and one half at `half`."""
    return half / (half + x)


def ratio(a: Any, b: Any) -> Any:
    """a / b where there is any b to speak of, else zero: exact at an empty store.

    Below NOTHING the square of b, which its derivative divides by, would be lost.
    """
    some = b > attach(NOTHING, unit_of(b))
    return np.where(some, a / np.where(some, b, attach(1.0, unit_of(b))), 0)


def smallest(*values: Any) -> Any:
    """The least of several values."""
    result = values[0]
    for value in values[1:]:
        result = np.minimum(result, value)
    return result


def largest(*values: Any) -> Any:
    """The greatest of several values."""
    result = values[0]
    for value in values[1:]:
        result = np.maximum(result, value)
    return result


def strip(x: Any, unit: str) -> Any:
    """The bare number of x in a canonical unit; numbers are canonical already."""
    return x.m_as(unit) if hasattr(x, "m_as") else x


UNIT_CHECK: ContextVar[Callable[[Any, Any], Any] | None] = ContextVar("UNIT_CHECK", default=None)
"""Puts a unit on a number while units are being checked; None in every run."""


def attach(value: Any, unit: Any) -> Any:
    """Put a unit on the result of an empirical formula when units are being checked."""
    check = UNIT_CHECK.get()
    return value if check is None else check(value, unit)


def unit_of(x: Any) -> Any:
    """The unit of x when units are being checked, else 1."""
    return getattr(x, "units", "1")
