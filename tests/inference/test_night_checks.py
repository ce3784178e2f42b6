"""Each rule that looks at a probe's file, alone: what it finds and what it leaves alone."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pleuston.inference import night_checks as checks

DAYS = np.arange(73) / 288.0
GOOD = 7.4 + 0.8 * np.exp(-12.0 * DAYS)


def test_good_readings_are_left_alone() -> None:
    kept, found = checks.cleaned(DAYS, {"oxygen": GOOD, "celsius": np.full(73, 24.0)})
    assert found == []
    assert np.isfinite(kept["oxygen"]).all()
    assert checks.jumps(DAYS, GOOD) == checks.gaps(DAYS) == checks.clock_steps(DAYS) == []


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [("ph", 16.0, "pH can't be 16"), ("oxygen", -3.0, "oxygen can't be -3 mg/L"),
     ("celsius", 85.0, "temperature can't be 85 degC"), ("hectopascal", 29.9, "29.9 hPa")],
)  # fmt: skip
def test_impossible_values_are_told_and_set_aside(name: str, value: float, words: str) -> None:
    values = np.full(73, {"ph": 7.0, "oxygen": 7.0, "celsius": 24.0, "hectopascal": 990.0}[name])
    values[5:8] = value
    bad, found = checks.impossible(name, DAYS, values)
    assert bad.sum() == 3
    assert words in found[0].words
    assert found[0].set_aside
    assert (found[0].first, found[0].last) == (DAYS[5], DAYS[7])


def test_a_spike_is_set_aside_and_its_neighbours_stay() -> None:
    values = GOOD.copy()
    values[30] += 1.5
    kept, found = checks.cleaned(DAYS, {"oxygen": values})
    assert [f.kind for f in found] == ["spike"]
    assert np.flatnonzero(~np.isfinite(kept["oxygen"])).tolist() == [30]


def test_a_stuck_probe_is_set_aside_after_two_hours_only() -> None:
    for readings, aside in ((14, False), (30, True)):
        values = GOOD.copy()
        values[20 : 20 + readings] = values[20]
        bad, found = checks.flat_lines(DAYS, values)
        assert [f.kind for f in found] == ["flat line"]
        assert found[0].set_aside is aside
        assert bad.sum() == (readings if aside else 0)


def test_coarse_steps_are_told_but_kept() -> None:
    bad, found = checks.flat_lines(DAYS, np.round(GOOD, 1))
    assert found
    assert not bad.any()


def test_a_jump_that_stays_is_told() -> None:
    values = GOOD.copy()
    values[40:] -= 1.0
    _, cleaned = checks.cleaned(DAYS, {"oxygen": values})
    assert cleaned == []
    (found,) = checks.jumps(DAYS, values)
    assert (found.first, found.last) == (DAYS[39], DAYS[40])


def test_gaps_and_a_clock_set_forward() -> None:
    days = DAYS.copy()
    days[30:] += 3.0 / 24.0
    (found,) = checks.gaps(days)
    assert found.words == "no readings for 3.1 h"
    days[30:] -= 2.0 / 24.0
    (found,) = checks.gaps(days)
    assert "was the clock set forward" in found.words


def test_a_clock_set_back_and_doubled_times() -> None:
    days = DAYS.copy()
    days[30:] -= 1.0 / 24.0
    (found,) = checks.clock_steps(days)
    assert "autumn" in found.words
    days = DAYS.copy()
    days[10] = days[9]
    (found,) = checks.clock_steps(days)
    assert "at one time" in found.words


def basis(percent: NDArray[np.float64]) -> tuple[str, list[checks.Finding]]:
    sea = np.full(73, 8.3)
    return checks.percent_basis(GOOD, percent, sea, sea * 0.9)


def test_per_cent_of_which_pressure_is_told_by_the_mg() -> None:
    found, told = basis(GOOD / 8.3 * 100.0)
    assert found == "sea"
    assert "10.0 % more" in told[0].words
    assert basis(GOOD / 7.47 * 100.0) == ("local", [])
    found, told = basis(GOOD / 6.0 * 100.0)
    assert found == ""
    assert "disagree" in told[0].words


def test_another_clock_is_told_by_when_oxygen_falls() -> None:
    assert checks.not_on_this_clock(0.5, 0.51) == []
    (found,) = checks.not_on_this_clock(0.5, 0.5 + 2.0 / 24.0)
    assert "2.0 h after the lamp goes off" in found.words
