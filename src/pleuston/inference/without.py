"""Readings taken in lesser ways, to measure what each part of taking them as they are is worth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pleuston.inference.normal import Array
from pleuston.inference.readings import IntervalData

TYPICAL = 2.0
"""Width of an open interval, in its sd, where no closed one of its kind tells."""


def without_lapses(data: IntervalData) -> IntervalData:
    """The same readings, none of which can be simply wrong or after a step nobody noted."""
    return replace(data, lapse=np.zeros(len(data)), step=np.zeros(len(data)))


def as_midpoints(data: IntervalData) -> IntervalData:
    """The same readings, the middle of each interval taken as if it had been read exactly.

    An open end is closed as those who write down a number close it: below the first step
    halfway to nothing, else by the usual width of its quantity's intervals.
    """
    width = _usual_width(data)
    nothing = np.where(_logged(data), np.log(np.maximum(data.offset, 1e-12)), -np.inf)
    low = np.where(np.isneginf(data.low), np.maximum(data.high - width, nothing), data.low)
    low = np.where(np.isneginf(data.low) & _logged(data), nothing, low)
    high = np.where(np.isposinf(data.high), low + width, data.high)
    low = np.where(np.isneginf(low), high - width, low)
    unknown = np.isinf(data.low) & np.isinf(data.high)
    middle = np.where(data.exact, data.low, 0.5 * (low + high))
    density = data.misread / np.maximum(high - low, 1e-9)
    return replace(
        data, low=middle, high=middle, exact=np.ones(len(data), dtype=np.bool_),
        misread=np.where(data.exact, data.misread, density),
        sd=np.where(unknown, 1e6, data.sd),
    )  # fmt: skip


def _logged(data: IntervalData) -> np.ndarray:
    return np.array([kind == "log" for kind in data.kinds], dtype=np.bool_)


def _usual_width(data: IntervalData) -> Array:
    """By reading, the middle width of the closed intervals of its quantity."""
    with np.errstate(invalid="ignore"):
        own = data.high - data.low
    closed = np.isfinite(own) & ~data.exact
    width = TYPICAL * data.sd
    for quantity in set(data.quantities):
        at = np.array([q == quantity for q in data.quantities])
        if (at & closed).any():
            width[at] = np.median(own[at & closed])
    return np.asarray(width)
