"""Oxygen saturation against tables."""

from __future__ import annotations

import pytest

from pleuston.chemistry.evaporation import saturated_vapour_pressure
from pleuston.chemistry.oxygen import (
    oxygen_at_saturation,
    oxygen_salting_out,
    pressure_at_altitude,
)

from .compare import assert_absolute, table

KELVIN = 273.15


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    return table("do_saturation")


def test_fresh_water_at_one_atmosphere(rows: list[dict[str, str]]) -> None:
    assert len(rows) == 41
    for row in rows:
        here = oxygen_at_saturation(float(row["T_C"]) + KELVIN, 1.0)
        assert_absolute(here, float(row["BK84"]), 0.0, row["T_C"])
        assert_absolute(here, float(row["GG92_gsw"]), 0.002, row["T_C"])
        if row["SM_table_MEMORY"]:
            assert_absolute(here, float(row["SM_table_MEMORY"]), 0.002, row["T_C"])
        assert here == pytest.approx(float(row["PHREEQC"]), rel=0.006)


def test_salt(rows: list[dict[str, str]]) -> None:
    for row in rows:
        kelvin = float(row["T_C"]) + KELVIN
        for salt in (0.2, 1.0):
            here = oxygen_at_saturation(kelvin, 1.0) * oxygen_salting_out(kelvin, salt)
            assert_absolute(here, float(row[f"BK84_S{salt:g}"]), 0.0, row["T_C"])


def test_altitude(rows: list[dict[str, str]]) -> None:
    for row in rows:
        for height in (500, 1000, 2000):
            pressure = pressure_at_altitude(float(height))
            here = oxygen_at_saturation(float(row["T_C"]) + KELVIN, pressure)
            assert_absolute(here, float(row[f"BK84_{height}m"]), 0.002, (row["T_C"], height))


def test_vapour_pressure(rows: list[dict[str, str]]) -> None:
    for row in rows:
        here = saturated_vapour_pressure(float(row["T_C"]) + KELVIN)
        assert here == pytest.approx(float(row["pH2O_atm"]), rel=2e-3)
