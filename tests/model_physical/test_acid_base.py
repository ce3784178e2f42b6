"""Alkalinity as the balance of strong ions, and the pH that follows from it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.verification.compare import table

from pleuston.chemistry.speciation import Water, ph_of_water

from .plain import World, middling, strong_ions, tank

ROW_OF = {
    "NH4 uptake 1 mg N/L (plant)": ("take_up_ammonium_rooted", 1.0),
    "NO3 uptake 1 mg N/L (plant)": ("take_up_nitrate_rooted", 1.0),
    "CaCO3 dissolution 10 mg/L": ("dissolve_shell", 10.0),
    "K+ uptake 1 mg/L": ("take_up_potassium_rooted", 1.0),
    "denitrification 1 mg N/L": ("denitrify_dissolved", 1.0),
}
"""Process of the table -> the row that stands for it, and how much of it."""


def effect(row: str) -> Fraction:
    """Alkalinity [meq] that a unit of a row makes."""
    closed = next(r for r in tank().rows if r.name == row)
    return Fraction(closed.coefficients.get("alkalinity", 0))


def test_nitrification_takes_two_equivalents_per_nitrogen() -> None:
    both = effect("oxidise_ammonium") + effect("oxidise_nitrite")
    assert both == -2 / Fraction("14.007")


def test_ammonification_gives_what_uptake_takes() -> None:
    assert effect("take_up_ammonium_rooted") == -1 / Fraction("14.007")
    assert effect("take_up_nitrate_rooted") == 1 / Fraction("14.007")


@pytest.mark.oracle
def test_processes_change_alkalinity_as_speciation_finds() -> None:
    lines = {line["process"]: line for line in table("alkalinity_process_effects")}
    both = float(effect("oxidise_ammonium") + effect("oxidise_nitrite"))
    found = float(lines["nitrification of 1 mg N/L"]["d_alk_phreeqc_meq"])
    assert both == pytest.approx(found, abs=1e-4)
    for process, (row, amount) in ROW_OF.items():
        expected = float(lines[process]["d_alk_phreeqc_meq"])
        assert float(effect(row)) * amount == pytest.approx(expected, abs=1e-4), process


def test_charge_balances_at_the_ph() -> None:
    """All ions together carry no charge at the root, counted one by one."""
    states = middling(ammonium=60.0, phosphate=30.0)
    world = World(states)
    litres, h = states["water"], world["hydrogen"]
    bicarbonate = world["bicarbonate_concentration"] / 12.011
    carbonate = world["carbonate_concentration"] / 12.011
    ammonia = world["ammonia_concentration"] / 14.007
    second = world["phosphoric_second"]
    hpo4 = states["phosphate"] / litres / 30.974 * second / (second + h)
    strong = strong_ions(states) / litres  # all ammonia as NH4+, all phosphate as H2PO4-
    positive = strong - ammonia + 1e3 * h
    negative = bicarbonate + 2.0 * carbonate + hpo4 + 1e3 * world["water_product"] / h
    assert positive == pytest.approx(negative, rel=1e-9)


@given(alkalinity=st.floats(0.3, 6.0), carbon=st.floats(0.9, 1.6), celsius=st.floats(12.0, 32.0))
def test_ph_is_that_of_the_full_solution_of_simple_water(
    alkalinity: float, carbon: float, celsius: float
) -> None:
    """A sodium bicarbonate water has no ion pairs to speak of: both ways agree."""
    states = dict.fromkeys(middling(), 0.0)
    states |= {
        "water": 10.0, "heat": 4.186 * 12.0 * celsius, "alkalinity": 10.0 * alkalinity,
        "sodium": 10.0 * alkalinity * 22.990, "carbon_inorganic": 120.11 * alkalinity * carbon,
    }  # fmt: skip
    world = World(states)
    water = Water(world["temperature"], alkalinity, world["ionic_strength"])
    full = ph_of_water(water, 12.011 * alkalinity * carbon)
    assert world["ph"] == pytest.approx(full.ph, abs=1e-6)


def test_carbon_dioxide_lowers_ph_and_leaves_alkalinity() -> None:
    states = middling()
    sour = World(states | {"carbon_inorganic": states["carbon_inorganic"] * 1.3})
    assert sour["ph"] < World(states)["ph"] - 0.3
    assert sour["alkalinity_concentration"] == World(states)["alkalinity_concentration"]


def test_carbon_species_add_up() -> None:
    world = World(middling())
    species = sum(
        world[f"{name}_concentration"] for name in ("carbon_dioxide", "bicarbonate", "carbonate")
    )
    assert species == pytest.approx(world["carbon_inorganic_concentration"], rel=1e-12)


def test_water_without_buffer_has_a_ph_still() -> None:
    states = middling(alkalinity=-1.5)
    assert 3.5 < World(states)["ph"] < 5.0


def test_neutral_tank_stays_neutral_under_physical_rows() -> None:
    """Every row of salts and gases moves as much alkalinity as charge of ions."""
    names = [
        r.name for r in tank().rows
        if r.function.__module__.split(".")[-1] in {"air", "salts", "metals", "heat"}
    ]  # fmt: skip
    assert len(names) >= 25
    for name in names:
        change = World(middling()).change(name)
        assert strong_ions(change) == pytest.approx(change["alkalinity"], abs=1e-12), name
