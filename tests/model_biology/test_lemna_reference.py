"""Our responses in a published Lemna model, against the numbers that its authors' program gives.

The model of Klein et al. (2022) is written down here with the temperature, loss and
nutrient responses of the tank model, and solved by scipy. Its published runs are the oracle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

from pleuston.base import parameters
from pleuston.base.maths import saturating, smallest
from pleuston.biology.temperature import optimum_response, q10_response

GROWTH_MAX, LOSS, CROWDED = 0.47, 0.05, 177.0
FRESH, AREA, FROND = 16.7, 1000.0, 1e-4
NITROGEN_HALF, PHOSPHORUS_HALF = 0.034, 0.0043
DARK, LIGHT_SLOPE = 0.25, 5e-5
KELVIN = 273.15


@dataclass(frozen=True)
class Toxicant:
    """Half-effect content, slope, greatest effect, permeability [cm/d] and partition."""

    half: float
    slope: float
    most: float
    permeability: float
    partition: float


SLOW = Toxicant(half=4.16, slope=0.3, most=1.0, permeability=0.0054, partition=1.0)
HERBICIDE = Toxicant(half=0.3, slope=4.16, most=0.784, permeability=0.0054, partition=0.75)


def ditch(celsius: float, radiation: float, phosphorus: float, nitrogen: float) -> float:
    """Gross growth of a thin stand without toxicant [1/d]."""
    at = [parameters.load()[f"lemna_{n}"].value for n in ("coldest", "best", "warmest")]
    least = smallest(
        optimum_response(celsius + KELVIN, *at),
        min(1.0, LIGHT_SLOPE * radiation + DARK),
        saturating(phosphorus, PHOSPHORUS_HALF),
        saturating(nitrogen, NITROGEN_HALF),
    )
    return float(GROWTH_MAX * least)


def solve(
    days: int, mass: float, gross: float, loss: float, toxicant: Toxicant,
    exposed: float, outside: float = 1.0, crowded: float = CROWDED,
) -> np.ndarray:  # fmt: skip
    """(days + 1, 2): dry mass [g/m2] and toxicant in the plants, day by day."""

    def slope(_: float, y: np.ndarray, water: float) -> list[float]:
        inside = max(y[1], 0.0) / (y[0] * FRESH) / toxicant.partition
        power = inside**toxicant.slope
        left = 1.0 - toxicant.most * power / (toxicant.half**toxicant.slope + power)
        grown = gross * left * (1.0 - y[0] / crowded)
        entering = toxicant.permeability * y[0] * AREA * (water - inside)
        return [(grown - loss) * y[0], entering - loss * y[1]]

    states = [np.array([mass, 0.0])]
    for day in range(days):
        water = outside if day < exposed else 0.0
        step = solve_ivp(
            slope, (0.0, 1.0), states[-1], "LSODA", args=(water,), rtol=1e-11, atol=1e-14
        )
        states.append(step.y[:, -1])
    return np.array(states)


def test_the_published_run_is_met_to_four_decimals() -> None:
    """Also the toxicant's content, apart from the fifth digit of the authors' solver."""
    mass = [1, 1.198841, 1.410120, 1.648541, 1.921189, 2.234682, 2.596018, 3.012897]
    inside = [0, 5.028960, 9.480796, 13.628139, 17.702777, 21.897913, 26.379982, 31.299206]
    gross = ditch(18.0, 15000.0, 0.3, 0.6)
    loss = LOSS * float(q10_response(18.0 + KELVIN, 2.0, 298.15))
    found = solve(7, 1.0, gross, loss, SLOW, exposed=7.0)
    assert found[:, 0] == pytest.approx(mass, abs=0.5e-4)
    assert found[:, 1] == pytest.approx(inside, rel=1e-5)
    assert found[7, 1] / (found[7, 0] * FRESH) == pytest.approx(0.62206, abs=0.5e-5)
    assert found[7, 0] / FROND == pytest.approx(30129, abs=0.5)


def test_without_toxicant() -> None:
    gross = ditch(18.0, 15000.0, 0.3, 0.6)
    loss = LOSS * float(q10_response(18.0 + KELVIN, 2.0, 298.15))
    assert solve(7, 1.0, gross, loss, SLOW, 7.0, outside=0.0)[7, 0] == pytest.approx(
        5.7684, abs=0.5e-4
    )


def test_the_herbicide_run_is_met_to_a_frond() -> None:
    """Seven days of exposure and seven of recovery: published 27.78 and 295.37 fronds."""
    found = solve(14, 0.0012, GROWTH_MAX, LOSS, HERBICIDE, exposed=7.0, crowded=1e12)
    assert found[7, 0] / FROND == pytest.approx(27.78, abs=1.0)
    assert found[14, 0] / FROND == pytest.approx(295.37, abs=1.0)
