"""Published numbers that come with the project, one file per source and quantity."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from math import floor, log10
from pathlib import Path
from typing import Any

import pytest

from pleuston.base import references
from pleuston.chemistry import (
    ammonia,
    biofilm,
    conductivity,
    evaporation,
    metals,
    nitrogen_limits,
    oxygen,
)

from .compare import matching_digits

FILES = sorted((Path(__file__).parent / "data").glob("*.toml"))
KELVIN = 273.15


def _salts(potassium_chloride: float, sodium_chloride: float) -> float:
    """Conductivity of KCl and NaCl, mmol/L."""
    strength = 1e-3 * (potassium_chloride + sodium_chloride)
    ions = (0.0, 0.0, 22.990 * sodium_chloride, 39.098 * potassium_chloride, 0.0)
    chloride = 35.45 * (potassium_chloride + sodium_chloride)
    return float(
        conductivity.conductivity_of_strong_ions(298.15, strength, *ions, chloride, 0.0, 0.0)
    )


def _warm(function: Callable[[Any, Any], Any]) -> Callable[[float, float], float]:
    return lambda celsius, ph: float(function(ph, celsius + KELVIN))


def _by_hardness(function: Callable[[Any], Any]) -> Callable[[float], float]:
    return lambda hardness: float(1e3 * function(hardness * 2.0 / 100.087))


CALCULATE: dict[str, Callable[..., float]] = {
    "ammonia_fraction": lambda t, ph: float(ammonia.ammonia_fraction(ph, t + KELVIN, 0.0)),
    "ammonia_cmc_epa2013": _warm(ammonia.ammonia_cmc_epa2013),
    "ammonia_cmc_salmonids_epa2013": _warm(ammonia.ammonia_cmc_salmonids_epa2013),
    "ammonia_ccc_epa2013": _warm(ammonia.ammonia_ccc_epa2013),
    "oxygen_at_saturation": lambda t, p: float(oxygen.oxygen_at_saturation(t + KELVIN, p)),
    "evaporation_shah": lambda water, room, humidity: float(
        evaporation.evaporation_shah(water + KELVIN, room + KELVIN, humidity, 1.0) / 24.0
    ),
    "pen_factor_kcl": lambda ec: float(conductivity.pen_factor_kcl(ec)),
    "pen_factor_nacl": lambda ec: float(conductivity.pen_factor_nacl(ec)),
    "pen_factor_442": lambda ec: float(conductivity.pen_factor_442(ec)),
    "conductivity": _salts,
    "copper_cmc_epa1996": _by_hardness(metals.copper_cmc_epa1996),
    "copper_ccc_epa1996": _by_hardness(metals.copper_ccc_epa1996),
    "nitrite_mean_bcmoe2009": lambda cl: float(nitrogen_limits.nitrite_mean_bcmoe2009(cl)),
    "nitrite_most_bcmoe2009": lambda cl: float(nitrogen_limits.nitrite_most_bcmoe2009(cl)),
    "biofilm_nitrification_zhu1999": lambda s: float(biofilm.biofilm_nitrification_zhu1999(s)),
}


def significant(value: float, digits: int) -> float:
    """A number rounded to significant digits."""
    return round(value, digits - 1 - floor(log10(abs(value))))


def agrees(check: str, actual: float, expected: float, tolerance: float) -> bool:
    """Whether a value agrees: absolutely, relatively, or in all printed digits."""
    if check == "digits":
        return significant(actual, int(tolerance)) == expected
    scale = abs(expected) if check == "relative" else 1.0
    return abs(actual - expected) <= tolerance * scale


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_published_numbers_are_reached(path: Path) -> None:
    known = tomllib.loads(path.read_text("utf-8"))
    function = CALCULATE[known["quantity"]]
    points = known["points"]
    assert len(points) >= 3
    misses = []
    for *inputs, expected in points:
        assert len(inputs) == len(known["inputs"])
        actual = function(*inputs)
        if not agrees(known["check"], actual, expected, float(known["tolerance"])):
            digits = matching_digits(actual, expected)
            misses.append(f"{inputs}: {actual:.6g} for {expected}, {digits:.1f} digits agree")
    assert not misses


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_published_numbers_name_their_source(path: Path) -> None:
    known = tomllib.loads(path.read_text("utf-8"))
    assert known["source"] in references.load()
    assert known["where"].strip()
    assert known["grade"] in ("read", "abstract", "derived", "memory")
    assert known["check"] in ("absolute", "relative", "digits")


def test_every_calculation_has_a_file() -> None:
    assert set(CALCULATE) == {tomllib.loads(p.read_text("utf-8"))["quantity"] for p in FILES}


def test_ammonia_check_values_by_hand() -> None:
    for celsius, ph, share in ((25, 7, 0.00564), (25, 8, 0.0537), (25, 9, 0.362), (30, 8, 0.0743)):
        actual = ammonia.ammonia_fraction(float(ph), celsius + KELVIN, 0.0)
        assert matching_digits(actual, share) > 2.5


def test_salts_lower_the_share_of_ammonia() -> None:
    free = ammonia.ammonia_fraction(7.5, 298.15, 0.0)
    for strength, loss in ((0.002, 0.05), (0.01, 0.09)):
        assert 1.0 - ammonia.ammonia_fraction(7.5, 298.15, strength) / free == pytest.approx(
            loss, abs=0.01
        )
