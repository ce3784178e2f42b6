"""The growth law against a table of hand sums: laboratory controls, tanks, crowded mats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq  # type: ignore[import-untyped]

from pleuston.base import parameters
from pleuston.biology.floating_plants import ageing_rate, cover_of_density, mat_light_response
from pleuston.biology.nutrients import droop_response
from pleuston.biology.temperature import optimum_response, q10_response

KELVIN = 273.15
LOSS = 0.05
"""Respiration and death together, as the table was calculated with (klein2022)."""


def _of(group: str, role: str) -> float:
    return parameters.load()[f"{group}_{role}"].value


def net_growth(celsius: float, light: float, hours: float, density: float = 0.0) -> float:
    """Growth of a well-fed stand of duckweed, averaged over the day [1/d]."""
    at = [_of("lemna", n) for n in ("coldest", "best", "warmest")]
    warm = optimum_response(celsius + KELVIN, *at)
    thickness = density * _of("lemna", "extinction")
    lit = mat_light_response(light, _of("lemna", "light_half"), thickness) * hours / 24.0
    return float(
        _of("lemna", "growth_max") * warm * lit - LOSS * q10_response(celsius + KELVIN, 2.0, 298.15)
    )


@pytest.mark.parametrize(
    ("celsius", "light", "hours", "rate", "digits"),
    [
        (24.0, 110.0, 24.0, 0.383, 3), (24.0, 85.0, 24.0, 0.355, 3), (24.0, 135.0, 24.0, 0.403, 3),
        (23.0, 150.0, 16.0, 0.25, 2), (25.0, 150.0, 12.0, 0.19, 2), (25.0, 50.0, 8.0, 0.065, 3),
        (25.0, 100.0, 10.0, 0.130, 3), (25.0, 200.0, 10.0, 0.156, 3), (22.0, 30.0, 8.0, 0.039, 3),
        (28.0, 220.0, 12.0, 0.19, 2),
    ],
)  # fmt: skip
def test_thin_stands_grow_as_calculated(
    celsius: float, light: float, hours: float, rate: float, digits: int
) -> None:
    assert net_growth(celsius, light, hours) == pytest.approx(rate, abs=1.01 * 10.0**-digits)


@pytest.mark.parametrize(
    ("light", "hours", "density"),
    [
        (30.0, 8.0, 20.0), (50.0, 8.0, 33.0), (100.0, 10.0, 66.0), (200.0, 10.0, 93.0),
        (110.0, 24.0, 167.0), (500.0, 14.0, 186.0),
    ],
)  # fmt: skip
def test_a_mat_stops_growing_where_calculated(light: float, hours: float, density: float) -> None:
    """Self-shading alone sets the limit: measured 176 to 180 g/m2 in bright light."""
    limit = brentq(lambda b: net_growth(25.0, light, hours, b), 1.0, 400.0)
    assert limit == pytest.approx(density, abs=1.0, rel=0.01)


def test_cover_of_a_random_layer() -> None:
    known = {2: 0.18, 5: 0.39, 9: 0.59, 16: 0.80, 20: 0.86, 30: 0.95}
    for density, cover in known.items():
        found = cover_of_density(float(density), _of("lemna", "cover_area"))
        assert found == pytest.approx(cover, abs=0.0051)


def test_ageing_of_mats() -> None:
    known = {0.30: 0.0004, 0.20: 0.0025, 0.10: 0.0125, 0.05: 0.025, 0.02: 0.036, 0.0: 0.045}
    for rate, share in known.items():
        assert ageing_rate(rate, 22.0) == pytest.approx(share, abs=0.00051)


def test_reserves_carry_growth() -> None:
    """A tissue of 30 mg/g of N still allows two thirds of the growth, at 15 it stops."""
    found = [float(droop_response(q, 15.0, 65.0)) for q in (65.0, 45.0, 30.0, 20.0, 15.0)]
    assert found == pytest.approx([1.0, 0.867, 0.65, 0.325, 0.0], abs=0.001)


def test_every_group_has_its_optimum_inside_its_span() -> None:
    for group in ("lemna", "spirodela", "pistia", "salvinia", "azolla"):
        cold, best, warm = (_of(group, n) for n in ("coldest", "best", "warmest"))
        at = np.linspace(cold, warm, 200)
        response = optimum_response(at, cold, best, warm)
        assert at[np.argmax(response)] == pytest.approx(best, abs=0.2)
        assert response[[0, -1]] == pytest.approx([0.1, 0.1], rel=1e-9)


@pytest.mark.parametrize("group", ["limnobium", "ceratopteris", "phyllanthus"])
def test_groups_without_numbers_borrow_them_with_a_wider_spread(group: str) -> None:
    records = parameters.load()
    lender = "salvinia" if group == "phyllanthus" else "pistia"
    own = {n: p for n, p in records.items() if n.startswith(f"{group}_")}
    assert len(own) > 25
    for name, record in own.items():
        lent = records[name.replace(group, lender, 1)]
        assert (record.value, record.grade) == (lent.value, "guess")
        if record.law == "lognormal":
            assert record.spread == pytest.approx(lent.spread + 0.3)
