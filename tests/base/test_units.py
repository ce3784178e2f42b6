"""The table of units against pint, spellings, and what is refused."""

from __future__ import annotations

from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pleuston.base.errors import InputError, UnitError
from pleuston.base.units import DOUBTFUL, UNITS, convert, find, normalise

PINT = {
    # ours: pint's
    "%": "percent", "ppmv": "ppm", "d": "day", "h": "hour", "min": "minute", "s": "second",
    "week": "week", "L": "liter", "mL": "milliliter", "m^3": "m^3", "US gal": "gallon",
    "imp gal": "imperial_gallon", "g": "gram", "mg": "mg", "ug": "ug", "kg": "kg", "oz": "ounce",
    "lb": "pound", "m": "m", "cm": "cm", "mm": "mm", "in": "inch", "ft": "foot", "m^2": "m^2",
    "cm^2": "cm^2", "K": "kelvin", "degC": "degC", "degF": "degF", "mg/L": "mg/L", "ug/L": "ug/L",
    "g/L": "g/L", "uS/cm": "uS/cm", "mS/cm": "mS/cm", "mS/m": "mS/m",
    "umol/m^2/s": "umol/m^2/s", "atm": "atm", "Pa": "Pa", "hPa": "hPa", "kPa": "kPa",
    "mmHg": "mmHg", "W": "watt", "kW": "kW", "mg/kg": "mg/kg", "g/kg": "g/kg", "g/m^2": "g/m^2",
    "kg/m^2": "kg/m^2", "1": "dimensionless",
}  # fmt: skip
CHEMICAL = {"ammonium", "nitrite", "nitrate", "phosphate", "equivalents", "pen"}
"""Dimensions that need to know the substance; tested against a table of factors."""
REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()


def test_every_physical_unit_is_compared_with_pint() -> None:
    assert {n for n, u in UNITS.items() if u.dimension not in CHEMICAL} == set(PINT)


@pytest.mark.parametrize("name", PINT)
def test_factors_are_those_of_pint(name: str) -> None:
    base = next(u for u in UNITS.values() if u.dimension == find(name).dimension)
    for value in (1.0, 37.5):
        expected = REGISTRY.Quantity(value, PINT[name]).to(PINT[base.name]).magnitude
        assert convert(value, name, base.name) == pytest.approx(expected, rel=1e-8)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6))
def test_there_and_back_again(one: str, other: str, value: float) -> None:
    if find(one).dimension == find(other).dimension:
        back = convert(convert(value, one, other), other, one)
        assert back == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_other_dimensions_are_refused(one: str, other: str) -> None:
    if find(one).dimension != find(other).dimension:
        with pytest.raises(UnitError, match="is a unit of"):
            convert(1.0, one, other)


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda u: u.name)
def test_every_spelling_stands_for_its_unit(unit: object) -> None:
    for word in (unit.name, *unit.spellings):  # type: ignore[attr-defined]
        assert find(word) is unit
        assert find(f" {word}  ") is unit


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("µS/cm", "uS/cm"),
        ("μS/cm", "uS/cm"),
        ("us/cm", "uS/cm"),
        ("MS/CM", "mS/cm"),
        ("° C", "degC"),
        ("ºC", "degC"),
        ("℃", "degC"),
        ("c", "degC"),
        ("°F", "degF"),
        ("°f", "°f"),
        ("mg / l", "mg/L"),
        ("mg per L", "mg/L"),
        ("MG/L", "mg/L"),
        ("mg/L as CaCO3", "mg/L CaCO3"),
        ("ppm CaCO3", "mg/L CaCO3"),
        ("mg/l NO3", "mg/L NO3"),
        ("mg/L NO3-N", "mg/L NO3-N"),
        ("m²", "m^2"),
        ("cm³", "mL"),
        ("µmol·m⁻²·s⁻¹", "umol/m^2/s"),
        ("umol/(m2 s)", "umol/m^2/s"),
        ("Days", "d"),
    ],
)
def test_common_spellings(spelling: str, name: str) -> None:
    assert normalise(spelling) == name


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (0.0, "°C", "K", 273.15),
        (-40.0, "°F", "°C", -40.0),
        (212.0, "F", "K", 373.15),
        (50.0, "mg/L NO3", "mg/L NO3-N", 11.29524),
        (1.0, "mg/L NH4", "mg/L NH4-N", 0.77648),
        (1.0, "mg/L NO2", "mg/L NO2-N", 0.304467),
        (1.0, "mg/L PO4", "mg/L PO4-P", 0.32615),
        (10.0, "dH", "mg/L CaCO3", 178.481),
        (1.0, "mmol/L CaCO3", "dH", 5.6077),
        (1.0, "mmol/L HCO3", "dH", 2.80385),
        (1.0, "°e", "dH", 0.79863),
        (1.0, "mS/m", "uS/cm", 10.0),
        (36.0, "h", "d", 1.5),
        (5.0, "US gal", "L", 18.92706),
    ],
)
def test_conversions(value: float, unit: str, to: str, expected: float) -> None:
    assert convert(value, unit, to) == pytest.approx(expected, rel=2e-5)


def test_the_same_unit_leaves_the_number_alone() -> None:
    assert convert(0.1, "°dH", "dH") == 0.1


def test_an_unknown_unit_names_the_nearest() -> None:
    with pytest.raises(UnitError, match=r"'mg/LL' is not known.*Did you mean mg/L"):
        find("mg/LL")


def test_a_strange_unit_names_all() -> None:
    with pytest.raises(UnitError, match=r"Known units: .*meq/L"):
        find("@@@@@@@@@@")


@pytest.mark.parametrize("spelling", DOUBTFUL)
def test_a_doubtful_unit_is_not_guessed(spelling: str) -> None:
    with pytest.raises(UnitError, match="more than one unit") as caught:
        find(spelling.upper() if spelling.isalpha() else spelling)
    assert caught.value.remedy == DOUBTFUL[spelling]
    assert isinstance(caught.value, InputError)


def test_ppm_of_a_pen_is_no_concentration() -> None:
    with pytest.raises(UnitError, match="unit of pen"):
        convert(100.0, "ppm", "mg/L")
