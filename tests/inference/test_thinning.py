"""A probe's readings are thinned to what they tell; a keeper's are left as they are."""

from __future__ import annotations

from itertools import pairwise

from pleuston.inference.readings import ReadingInterval
from pleuston.inference.thinning import MOST, WHOLE_DAYS, thinned


def read(time: float, value: float, quantity: str = "temperature") -> tuple[ReadingInterval, str]:
    return ReadingInterval(quantity, value, value, time), quantity


def test_of_a_day_the_lowest_and_the_highest_stay() -> None:
    day = [read(3.0 + hour / 24.0, 20.0 + (hour - 12) ** 2 / 100.0) for hour in range(24)]
    left = thinned(day)
    assert [round(pair[0].time, 3) for pair in left] == [3.0, 3.5]
    assert [pair[0].low for pair in left] == [21.44, 20.0]


def test_what_a_keeper_reads_stays_whole() -> None:
    weekly = [read(7.0 * week, 24.0) for week in range(100)]
    others = [read(7.0 * week + 0.01 * i, 0.1, f"kit {i}") for week in range(100) for i in range(9)]
    assert thinned([*weekly, *others]) == [*weekly, *others]


def test_a_long_series_is_thinned_evenly_and_its_end_stays() -> None:
    daily = [read(float(day), 24.0) for day in range(730)]
    left = [pair[0].time for pair in thinned(daily)]
    assert len(left) <= MOST + 1
    assert [t for t in left if t > 729.0 - WHOLE_DAYS] == [float(d) for d in range(702, 730)]
    old = [t for t in left if t <= 729.0 - WHOLE_DAYS]
    assert {b - a for a, b in pairwise(old)} == {8.0}


def test_open_intervals_have_a_middle_too() -> None:
    below = ReadingInterval("copper", None, 0.05, 1.1)
    above = ReadingInterval("copper", 1.0, None, 1.2)
    between = ReadingInterval("copper", 0.1, 0.2, 1.3)
    pairs = [(r, "copper_concentration") for r in (below, above, between)]
    assert [pair[0] for pair in thinned(pairs)] == [below, above]
