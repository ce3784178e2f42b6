"""The holiday planner backwards: the day on which a limit is reached, solved by hand first."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pleuston.chemistry.evaporation import evaporation_shah
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.away import (
    LOW_WATER,
    UNFED_DAYS,
    away,
    cover_after,
    feeding_days,
    portion,
)
from pleuston.planning.plans import NEIGHBOUR_GAP, SOON

from .rack import START, belief, entry, record

LITRES, AREA = 30.0, 0.1
A_DAY = float(evaporation_shah(299.15, 295.15, 0.5, 1.0)) * AREA
"""Litres a day from 0.1 m2 of open water at 26 C into a room of 22 C at half humidity: 0.43."""
TOLD = "That may be more than 10% of the water"


@cache
def bare() -> TankBelief:
    """Water alone: no soil, plant, animal or lamp; a heater at 26 C, no lid, nobody else."""
    made = record([entry(0.0, "top_up", "soft", 1.0)], lid="open", heater_c=26.0, light_hours=0.0,
                  light_ppfd=0.0, soil_mm=0.0, cap_mm=0.0)  # fmt: skip
    at = START + timedelta(days=10)
    found = learn_tank(made, "Fern", at, members=24, threads=1, from_prior=True)
    numbers = found.parameters.copy()
    numbers[:, found.case.table.at("parameter", "evaporation_factor")] = 1.0
    return replace(found, parameters=numbers)


@cache
def left(days: int, neighbour: bool = False) -> dict[str, Any]:
    return away(bare(), days, neighbour=neighbour, threads=1)


@pytest.mark.parametrize("days", [3, 6, 12])
def test_litres_short_are_days_times_what_evaporates(days: int) -> None:
    """Filled to the mark an hour after leaving: 0.43 L x (days - 1/24). The heater lets the water
    fall a little below 26 C in a room that swings: within a twentieth."""
    low, middle, high = left(days)["litres_short"]
    assert middle == pytest.approx(A_DAY * (days - SOON), rel=0.05)
    assert high - low < 0.01


def test_a_tenth_of_the_water_is_gone_after_a_week() -> None:
    """Backwards: 0.1 x 30 L / 0.43 L a day = 7.0 days. Six days say nothing of it, eight do."""
    until = LOW_WATER * LITRES / A_DAY
    assert until == pytest.approx(7.0, abs=0.05)
    before, after = round(until) - 1, round(until) + 1
    assert not any(TOLD in line for line in left(before)["said"])
    assert any(TOLD in line for line in left(after)["said"])


def test_conductivity_is_a_tenth_higher_when_the_water_has_shrunk_by_as_much() -> None:
    """Salts stay: EC V is constant. After three days V = 30 - 0.43 x 2.96 = 28.7 L; EC is 1.1
    times that where V = 28.7 / 1.1 = 26.1 L: after (30 - 26.1) / 0.43 = 9.1 days."""
    begun = LITRES - A_DAY * (3.0 - SOON)
    until = (LITRES - begun / 1.1) / A_DAY + SOON
    assert until == pytest.approx(9.1, abs=0.05)
    three, eight, ten = (_ec(left(days)) for days in (3, 8, 10))
    assert np.all(eight < 1.1 * three)
    assert np.all(ten > 1.1 * three)


def _ec(made: dict[str, Any]) -> np.ndarray:
    """The range of the conductivity at the end, as advised."""
    row = next(r for r in made["tables"][0]["rows"] if r[0] == "Conductivity at the end")
    return np.array([row[3]["low"], row[3]["high"]])


def test_a_neighbour_s_weekly_top_up_leaves_the_days_since_the_last_one() -> None:
    """Twelve days away, filled after seven: five days' water is short, 2.1 L in place of 5.1."""
    assert left(12, neighbour=True)["litres_short"][1] == pytest.approx(
        A_DAY * (12.0 - NEIGHBOUR_GAP), rel=0.05)  # fmt: skip
    told = left(12, neighbour=True)["said"]
    assert not any(TOLD in line for line in told)


def test_a_jar_lasts_as_many_days_as_it_holds_bags() -> None:
    """0.06 g a day: bags of 0.04 g every second day. Half a gram is 12.5 bags: the thirteenth,
    which it can't fill, is of day 26 (counted from 1)."""
    bag = portion(0.06)
    assert bag == pytest.approx(0.04)
    until = next(d for d in range(1, 60) if len(feeding_days(d)) * bag > 0.5 + 1e-9)
    assert until == 26


def test_unfed_days_end_after_two_weeks() -> None:
    said = {d: " ".join(away(belief(), d, threads=1)["said"]) for d in (UNFED_DAYS, UNFED_DAYS + 1)}
    assert "ask somebody in" not in said[UNFED_DAYS]
    assert "ask somebody in" in said[UNFED_DAYS + 1]


@given(st.floats(0.02, 0.4), st.floats(0.45, 0.95), st.floats(0.02, 0.4))
def test_the_day_on_which_plants_close_to_a_cover(start: float, most: float, rate: float) -> None:
    """Logistic: the odds of the cover grow by e^(r t), so t = ln(odds of most / of start) / r."""
    odds = [c / (1.0 - c) for c in (start, most)]
    until = np.log(odds[1] / odds[0]) / rate
    assert cover_after(start, rate, until) == pytest.approx(most)
    assert cover_after(start, rate, 0.99 * until) < most
