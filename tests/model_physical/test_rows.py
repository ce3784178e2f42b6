"""Laws of every row of air, salts, metals and heat, called with plain floats."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pleuston.model.declare import Closed
from pleuston.model.rows.salts import CALCIUM_USUAL

from .plain import World, middling, tank

ROWS = [
    r for r in tank().rows
    if r.function.__module__.split(".")[-1] in {"air", "salts", "metals"}
]  # fmt: skip
WITH_EACH = pytest.mark.parametrize("row", ROWS, ids=lambda r: r.name)
COUNT = len(middling())
SHARES = st.lists(st.floats(0.0, 4.0), min_size=COUNT, max_size=COUNT)


def test_the_rows_are_there() -> None:
    assert len(ROWS) == 23


@WITH_EACH
def test_nothing_leaves_an_empty_store(row: Closed) -> None:
    consumed = [
        s for s, c in row.coefficients.items()
        if c < 0 and tank().states[s].floor == 0.0 and s != "water"
    ]  # fmt: skip
    for state in consumed:
        assert World(middling() | {state: 0.0}).size(row) == 0.0, state


@WITH_EACH
@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(shares=SHARES, celsius=st.floats(5.0, 38.0))
def test_rates_are_finite_and_never_below_zero(
    row: Closed, shares: list[float], celsius: float
) -> None:
    states = middling()
    for (name, value), share in zip(states.items(), shares, strict=True):
        if tank().states[name].floor == 0.0 and name != "water":
            states[name] = value * share
    states["heat"] = 4.186 * 32.0 * celsius
    rate = World(states).size(row)
    assert math.isfinite(rate)
    assert rate >= 0.0


def test_an_all_but_empty_tank_hardly_evaporates() -> None:
    full = World(middling()).rate("evaporate")
    states = middling()
    dry = World(states | {"water": 1e-6, "heat": 4.186 * 2.0 * 24.0}).rate("evaporate")
    assert 0.0 <= dry < 1e-3 * full


# -- salts ---------------------------------------------------------------------------


def test_lime_neither_forms_nor_dissolves_between_its_limits() -> None:
    """Water just above saturation keeps its lime and takes none from shells."""
    states = middling()
    low, high = 100.0, 1500.0
    for _ in range(60):  # the carbon at which calcite is three times saturated
        states["carbon_inorganic"] = 0.5 * (low + high)
        if World(states)["calcite_saturation"] > 3.0:
            low = states["carbon_inorganic"]
        else:
            high = states["carbon_inorganic"]
    world = World(states)
    assert world["calcite_saturation"] == pytest.approx(3.0, rel=1e-6)
    assert world.rate("precipitate_scale") == 0.0
    assert world.rate("dissolve_shell") == 0.0
    assert world.rate("dissolve_scale") == 0.0


def test_hard_water_without_carbon_dioxide_scales_and_soft_water_eats_shells() -> None:
    hard = World(middling(calcium=3000.0, alkalinity=150.0, carbon_inorganic=1650.0))
    assert hard["calcite_saturation"] > hard["scale_threshold"]
    change = hard.change("precipitate_scale")
    assert change["scale"] > 0.0
    assert change["calcium"] / change["scale"] == pytest.approx(-40.078 / 100.086, rel=1e-9)
    soft = World(middling(calcium=150.0, alkalinity=6.0, carbon_inorganic=120.0))
    assert soft.rate("dissolve_shell") > 0.0
    assert soft.rate("precipitate_scale") == 0.0


def test_exchange_with_the_soil_rests_at_the_partition() -> None:
    """Potassium in proportion to what is dissolved, calcium by its fourth root (Freundlich)."""
    world = World(middling())
    for metal in ("calcium", "potassium"):
        dissolved = world[f"{metal}_concentration"]
        if metal == "calcium":
            dissolved = CALCIUM_USUAL**0.75 * dissolved**0.25
        held = dissolved * world[f"{metal}_partition"] * world["soil_mass"]
        rest = World(middling(**{f"{metal}_soil": held}))
        change = rest.change(f"sorb_{metal}_to_soil", f"release_{metal}_from_soil")
        assert rest.rate(f"sorb_{metal}_to_soil") > 0.0
        assert change[metal] == pytest.approx(0.0, abs=1e-9)


def test_a_soil_gives_no_more_iron_than_it_has() -> None:
    rich, poor = World(middling()), World(middling(iron_soil=100.0))
    change = rich.change("release_iron_from_soil")
    assert change["iron"] == -change["iron_soil"] > 0.0
    assert poor.rate("release_iron_from_soil") < 0.3 * change["iron"]
    assert World(middling(iron_soil=0.0)).rate("release_iron_from_soil") == 0.0


# -- metals --------------------------------------------------------------------------


def test_organic_matter_and_soil_hold_copper() -> None:
    """At rest a sediment holds log Kd 3.5 L/kg of the free copper."""
    world = World(middling())
    free = world["copper_free_concentration"]
    tea = World(middling(humic=300.0))
    assert tea["copper_free_concentration"] < 0.6 * free
    held = free * 10**3.5 * world["soil_mass"]
    rest = World(middling(copper_soil=held))
    change = rest.change("sorb_copper_to_soil", "release_copper_from_soil")
    assert abs(change["copper"]) < 0.02 * rest.rate("sorb_copper_to_soil")


def test_copper_that_acts_matches_the_line_of_daphnia() -> None:
    """EC50 = 17.2 DOC + 30.2: at the EC50 the acting copper is the same for any DOC."""
    acting = []
    for doc in (0.0, 1.0, 5.0):
        states = middling(humic=30.0 * doc, dom_carbon=0.0)
        states["copper"] = 30.0 * (17.2 * doc + 30.2) / 1000.0
        acting.append(World(states)["copper_free_concentration"])
    assert acting == pytest.approx([0.0302] * 3, rel=1e-3)


def test_an_ordinary_soil_does_not_poison_its_tank() -> None:
    """Soils hold 39 mg/kg of copper on the world's mean: at rest free copper stays near 10 ug/L."""
    world = World(middling())
    rest = 39.0 / world["copper_partition"]
    assert 0.003 < rest < 0.02
