"""What a reading stands for: an interval of a quantity in its canonical unit."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from pleuston.base.errors import InputError
from pleuston.base.units import convert
from pleuston.records.composition import element_share
from pleuston.records.kinds import READINGS
from pleuston.records.near import near_names
from pleuston.records.record import Entry

FACTOR_LEAST, FACTOR_MOST = 0.4, 1.0
"""Factors that a dissolved-solids pen can multiply conductivity with."""
FACTOR_USUAL = (0.5, 0.7)
"""The usual factors, weak and strong; both are allowed for when the pen's is unknown."""

_NUMBER = re.compile(r"\d+(?:\.\d+)?|\.\d+", re.ASCII)
_MASS = re.compile(r"(\d+(?:\.\d+)?|\.\d+)\s*(mg|g|oz)\b", re.ASCII)
_IONS = ("ammonium_ion", "nitrite_ion", "nitrate_ion", "phosphate_ion")


@dataclass(frozen=True, slots=True)
class Interval:
    """A range a quantity lies in; an open end is infinite."""

    quantity: str
    low: float
    high: float
    unit: str

    @property
    def is_censored(self) -> bool:
        """True when the reading is below the first or above the last step."""
        return math.isinf(self.low) or math.isinf(self.high)


def interval(entry: Entry) -> Interval:
    """Give the interval that a reading stands for, in the unit of its quantity.

    Ions become their element, percent shares, pens conductivity at 25 degC; an empty
    low is minus infinity ("below the first step"), an empty high plus infinity.
    A pen whose factor is unknown gets the whole range that the usual factors allow.
    """
    reading = READINGS.get(entry.what) if entry.kind == "reading" else None
    if reading is None:
        raise InputError(
            what=f"{entry.kind} {entry.what!r} is not a reading",
            where=f"entry {entry.id}",
            remedy=near_names(entry.what, READINGS),
        )
    unit = entry.unit or reading.unit
    if entry.what == "pen_ppm":
        low, high = _pen(entry)
    else:
        turn = turned(entry.what, unit, reading.canonical)
        low = -math.inf if entry.low is None else turn(float(entry.low))
        high = math.inf if entry.high is None else turn(float(entry.high))
    return Interval(reading.quantity, low, high, reading.canonical)


def turned(what: str, unit: str, canonical: str) -> Callable[[float], float]:
    """How a value of a reading in a unit becomes its quantity's; ions become their element."""
    if what == "ph":
        return float
    if what in _IONS:
        share = float(element_share(what.removesuffix("_ion")))
        return lambda value: convert(value, unit, canonical) * share
    return lambda value: convert(value, unit, canonical)


def _pen(entry: Entry) -> tuple[float, float]:
    try:
        factor = pen_factor(entry.method)
    except ValueError:
        raise InputError(
            what=f"{entry.method!r} holds no possible factor of a pen",
            where=f"entry {entry.id}",
            remedy="write the factor, such as 0.5, or leave it empty",
        ) from None
    weak, strong = (factor, factor) if factor is not None else FACTOR_USUAL
    low = -math.inf if entry.low is None else float(entry.low) / strong
    high = math.inf if entry.high is None else float(entry.high) / weak
    return low, high


def pen_factor(method: str) -> float | None:
    """Read the factor of a pen from the method of a reading; None when it names no number.

    >>> pen_factor("factor 0.64"), pen_factor("")
    (0.64, None)
    """
    numbers = [float(text) for text in _NUMBER.findall(method)]
    if not numbers:
        return None
    for number in numbers:
        if FACTOR_LEAST <= number <= FACTOR_MOST:
            return number
    raise ValueError(f"no factor between {FACTOR_LEAST} and {FACTOR_MOST} in {method!r}")


def mean_mass_g(entry: Entry) -> float | None:
    """Read the mean mass of an animal [g] from the method of a stock entry, if it is there.

    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 1, tzinfo=UTC)
    >>> mean_mass_g(Entry("a", at, "Fern", "stock_in", "Poecilia wingei", 6, 6, method="0.3 g"))
    0.3
    """
    match = _MASS.search(entry.method)
    return None if match is None else convert(float(match[1]), match[2], "g")
