"""Tables that lie beside the project, and how well numbers agree."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

TABLES = Path(__file__).parents[2].parent / "shared" / "tables"
PRINTED = 6
"""Significant digits of the numbers in those tables."""


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table, without its comment lines; skips when the folder is not there."""
    path = TABLES / f"{name}.csv"
    if not path.is_file():
        pytest.skip(f"the folder of tables beside the project has no {path.name}")
    lines = (line for line in path.read_text("utf-8").splitlines() if not line.startswith("#"))
    return list(csv.DictReader(lines))


def rounding(value: float, digits: int = PRINTED) -> float:
    """Half a unit of the last printed digit of a number.

    >>> rounding(0.0123, 3)
    5e-05
    """
    if value == 0.0:
        return 0.0
    return 0.5 * 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)


def matching_digits(actual: float, expected: float) -> float:
    """How many significant digits agree; 16 when the two are the same.

    >>> round(matching_digits(9.0925, 9.092), 1)
    4.3
    """
    if actual == expected:
        return 16.0
    if expected == 0.0 or not math.isfinite(actual):
        return 0.0
    return max(0.0, -math.log10(abs(actual / expected - 1.0)))


def assert_relative(actual: float, expected: float, tolerance: float, at: object) -> None:
    """Agree within a share of the expected value, apart from the rounding of its print."""
    allowed = tolerance * abs(expected) + rounding(expected)
    assert abs(actual - expected) <= allowed, (
        f"{at}: {actual} for {expected}, {matching_digits(actual, expected):.1f} digits agree"
    )


def assert_absolute(actual: float, expected: float, tolerance: float, at: object) -> None:
    """Agree within a fixed distance, apart from the rounding of the print."""
    assert abs(actual - expected) <= tolerance + rounding(expected), (
        f"{at}: {actual} for {expected}, off by {actual - expected:.2g}"
    )
