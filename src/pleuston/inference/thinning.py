"""Many readings of one thing: a probe's day tells little more than its lowest and highest.

A model's error in a quantity lasts for weeks, so a hundred readings within a day weigh no
more than two. Of long dense series the last weeks stay whole and the rest is thinned evenly.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from pleuston.inference.readings import ReadingInterval

PER_DAY = 2
MOST = 120
"""Readings of one quantity that are learned from."""
WHOLE_DAYS = 28.0
"""Days before the last reading in which a long series is not thinned."""
Pair = tuple[ReadingInterval, str]


def thinned(found: Sequence[Pair]) -> list[Pair]:
    """Leave at most two readings a day of each quantity, and at most MOST in all."""
    groups: dict[tuple[str, str], list[Pair]] = {}
    for reading, output in found:
        groups.setdefault((reading.quantity, output), []).append((reading, output))
    kept = {id(pair[0]) for group in groups.values() for pair in _of_one(group)}
    return [pair for pair in found if id(pair[0]) in kept]


def _of_one(group: list[Pair]) -> list[Pair]:
    days: dict[int, list[Pair]] = {}
    for pair in group:
        days.setdefault(int(pair[0].time), []).append(pair)
    left = [pair for day in days.values() for pair in _of_day(day)]
    if len(left) <= MOST:
        return left
    last = max(pair[0].time for pair in left)
    new = [pair for pair in left if pair[0].time > last - WHOLE_DAYS]
    old = [pair for pair in left if pair[0].time <= last - WHOLE_DAYS]
    step = max(1, -(-len(old) // max(MOST - len(new), 1)))
    return [*old[::step], *new]


def _of_day(day: list[Pair]) -> list[Pair]:
    """The lowest and the highest reading of a day."""
    if len(day) <= PER_DAY:
        return day
    ranked = sorted(day, key=lambda pair: _middle(pair[0]))
    return [ranked[0], ranked[-1]]


def _middle(reading: ReadingInterval) -> float:
    ends = [v for v in (reading.low, reading.high) if v is not None and isfinite(v)]
    return sum(ends) / len(ends) if ends else 0.0
