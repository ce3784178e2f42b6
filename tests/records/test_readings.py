"""Readings as intervals of canonical quantities."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from pleuston.base.errors import InputError
from pleuston.base.units import convert
from pleuston.records.composition import element_share
from pleuston.records.kinds import READINGS
from pleuston.records.readings import interval, mean_mass_g, pen_factor
from pleuston.records.record import Entry

AT = datetime(2026, 3, 1, tzinfo=UTC)


def reading(
    what: str, low: float | None, high: float | None, unit: str = "", method: str = ""
) -> Entry:
    return Entry("r", AT, "Fern", "reading", what, low, high, unit, method=method)


@pytest.mark.parametrize(
    ("what", "value", "unit", "quantity", "expected", "canonical"),
    [
        ("ammonium", 0.5, "mg/L", "ammonium", 0.5, "mg/L"),
        ("ammonium_ion", 1.28786, "mg/L", "ammonium", 1.0, "mg/L"),
        ("nitrite_ion", 46.005 / 14.007, "mg/L", "nitrite", 1.0, "mg/L"),
        ("nitrate_ion", 4.42672, "mg/L", "nitrate", 1.0, "mg/L"),
        ("nitrate_ion", 4426.72, "ug/L", "nitrate", 1.0, "mg/L"),
        ("phosphate_ion", 3.06615, "mg/L", "phosphate", 1.0, "mg/L"),
        ("copper", 20.0, "ug/L", "copper", 0.02, "mg/L"),
        ("ph", 7.2, "", "ph", 7.2, "1"),
        ("kh", 2.80385, "dH", "kh", 1.0, "meq/L"),
        ("gh", 2.80385, "dH", "gh", 1.0, "meq/L"),
        ("ec25", 310.0, "uS/cm", "ec25", 310.0, "uS/cm"),
        ("temperature", 24.0, "C", "temperature", 297.15, "K"),
        ("room_temperature", 20.0, "C", "room_temperature", 293.15, "K"),
        ("oxygen", 6.0, "mg/L", "oxygen", 6.0, "mg/L"),
        ("oxygen_pct", 85.0, "%", "oxygen_saturation", 0.85, "1"),
        ("cover", 40.0, "%", "cover", 0.4, "1"),
        ("humidity", 55.0, "%", "room_humidity", 0.55, "1"),
        ("level_drop", 12.0, "mm", "level_drop", 0.012, "m"),
        ("light_ppfd", 80.0, "umol/m2/s", "light", 80.0, "umol/m^2/s"),
    ],
)
def test_a_reading_becomes_its_quantity(
    what: str, value: float, unit: str, quantity: str, expected: float, canonical: str
) -> None:
    found = interval(reading(what, value, value, unit))
    assert (found.quantity, found.unit) == (quantity, canonical)
    assert found.low == pytest.approx(expected, rel=2e-5)
    assert found.high == found.low


def test_every_reading_can_be_turned_and_keeps_its_order() -> None:
    for name, item in READINGS.items():
        top = min(item.most, 50.0)
        found = interval(reading(name, top / 2, top, item.unit, "0.5"))
        assert found.low < found.high, name
        assert (found.quantity, found.unit) == (item.quantity, item.canonical)


def test_open_ends_are_infinite() -> None:
    below = interval(reading("nitrate_ion", None, 5.0, "mg/L"))
    above = interval(reading("nitrate_ion", 80.0, None, "mg/L"))
    assert below.low == -math.inf
    assert above.high == math.inf
    assert below.is_censored
    assert above.is_censored
    assert not interval(reading("ph", 7.0, 7.4)).is_censored


@pytest.mark.parametrize(
    ("method", "low", "high"),
    [("factor 0.5", 650.0, 650.0), ("0.64", 325 / 0.64, 325 / 0.64), ("", 325 / 0.7, 650.0)],
)
def test_a_pen_needs_its_factor(method: str, low: float, high: float) -> None:
    found = interval(reading("pen_ppm", 325.0, 325.0, "ppm", method))
    assert (found.quantity, found.unit) == ("ec25", "uS/cm")
    assert (found.low, found.high) == pytest.approx((low, high))


def test_a_factor_no_pen_has_is_refused() -> None:
    with pytest.raises(InputError, match="factor"):
        interval(reading("pen_ppm", 325.0, 325.0, "ppm", "factor 7"))
    assert pen_factor("pen 2, factor 0.7") == 0.7
    assert pen_factor("the old pen") is None


def test_what_is_not_a_reading_is_refused() -> None:
    with pytest.raises(InputError, match="not a reading"):
        interval(Entry("r", AT, "Fern", "feed", "flake", 1.0, 1.0, "g"))


@pytest.mark.parametrize(
    ("method", "mass"),
    [
        ("0.3 g", 0.3),
        ("mean 250 mg each", 0.25),
        ("", None),
        ("by eye", None),
        ("12 glasses", None),
    ],
)
def test_mean_mass_of_animals(method: str, mass: float | None) -> None:
    entry = Entry("s", AT, "Fern", "stock_in", "Poecilia wingei", 6.0, 6.0, method=method)
    assert mean_mass_g(entry) == (None if mass is None else pytest.approx(mass))


@pytest.mark.parametrize(
    ("ion", "as_ion", "as_element"),
    [
        ("ammonium", "mg/L NH4", "mg/L NH4-N"),
        ("nitrite", "mg/L NO2", "mg/L NO2-N"),
        ("nitrate", "mg/L NO3", "mg/L NO3-N"),
        ("phosphate", "mg/L PO4", "mg/L PO4-P"),
    ],
)
def test_ions_weigh_the_same_everywhere(ion: str, as_ion: str, as_element: str) -> None:
    assert convert(1.0, as_ion, as_element) == pytest.approx(float(element_share(ion)), rel=1e-12)
