"""Laws of single rows and moves: balance, source, empty stores, signs, life, size."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from . import laws
from .evaluate import World, tank, worlds

N, C, K, CA = (Fraction(m) for m in ("14.007", "12.011", "39.098", "40.078"))
PINNED = (
    ({"oxidise_ammonium": 1, "oxidise_nitrite": 1}, "oxygen", -64 / N),
    ({"oxidise_ammonium": 1, "oxidise_nitrite": 1}, "alkalinity", -2 / N),
    ({"oxidise_ammonium": 1}, "oxygen", -48 / N),
    ({"oxidise_ammonium": 1}, "nitrite", Fraction(1)),
    ({"mineralise_nitrogen": 1}, "alkalinity", 1 / N),
    ({"denitrify_dissolved": 1}, "dom_carbon", -Fraction(5, 4) * C / N),
    ({"denitrify_dissolved": 1}, "carbon_inorganic", Fraction(5, 4) * C / N),
    ({"denitrify_dissolved": 1}, "alkalinity", 1 / N),
    ({"denitrify_in_soil": 1}, "soil_carbon", -Fraction(5, 4) * C / N),
    ({"take_up_nitrate_rooted": 1}, "alkalinity", 1 / N),
    ({"take_up_nitrate_floater1": 1}, "alkalinity", 1 / N),
    ({"take_up_ammonium_floater1": 1}, "alkalinity", -1 / N),
    ({"take_up_potassium_floater1": 1}, "alkalinity", -1 / K),
    ({"sorb_calcium_to_soil": 1}, "alkalinity", -2 / CA),
    ({"respire_heterotrophs": 1}, "oxygen", -32 / C),
    ({"respire_algae": 1}, "oxygen", -32 / C),
    ({"respire_fish": 1}, "oxygen", -32 / C),
    ({"dissolve_scale": 1}, "alkalinity", 2 / Fraction("100.086")),
    ({"precipitate_scale": 1}, "calcium", -CA / Fraction("100.086")),
)
"""Textbook closures: rows with how much of each, the state, and what it has to gain."""
TABLE = Path(__file__).parents[2].parent / "shared" / "tables" / "alkalinity_process_effects.csv"
ROWS_OF = {
    "nitrification of 1 mg N/L": {"oxidise_ammonium": 1.0, "oxidise_nitrite": 1.0},
    "NH4 uptake 1 mg N/L (plant)": {"take_up_ammonium_rooted": 1.0},
    "NO3 uptake 1 mg N/L (plant)": {"take_up_nitrate_rooted": 1.0},
    "denitrification 1 mg N/L": {"denitrify_dissolved": 1.0},
    "ammonification 1 mg N/L (org N -> NH4+ + HCO3-)": {"mineralise_nitrogen": 1.0},
    "CaCO3 dissolution 10 mg/L": {"dissolve_scale": 10.0},
    "K+ uptake 1 mg/L": {"take_up_potassium_floater2": 1.0},
    "Ca2+ uptake 1 mg/L": {"sorb_calcium_to_soil": 1.0},
}
GROWS = {
    *tank().states, "surface_area", "wall_area", "net_volume", "bed_heat_capacity",
    "heater_power", *(a for a in tank().arguments if not a.endswith("_in")),
} - {"share", "to_mark", "harvest_cover"}  # fmt: skip
"""What is twice as large in two tanks side by side; all else is the same."""


@pytest.mark.parametrize(("name", "thing"), laws.balances())
def test_balances(name: str, thing: str) -> None:
    laws.balance(laws.named(name), dict(tank().states), thing)


@pytest.mark.parametrize("name", [c.name for c in laws.changes()])
def test_has_a_source(name: str) -> None:
    laws.source(laws.named(name))


@pytest.mark.parametrize(
    ("rows", "state", "gain"), PINNED, ids=[f"{'+'.join(p[0])}-{p[1]}" for p in PINNED]
)
def test_closure_is_that_of_the_textbook(
    rows: dict[str, int], state: str, gain: Fraction
) -> None:
    found = sum(laws.named(r).coefficients.get(state, Fraction(0)) * n for r, n in rows.items())
    # what a row states as a float is as exact as floats are
    assert float(found) == pytest.approx(float(gain), rel=1e-11)


@pytest.mark.skipif(not TABLE.exists(), reason="the folder of tables is not here")
def test_alkalinity_of_processes_as_in_the_table() -> None:
    lines = [t for t in TABLE.read_text("utf-8").splitlines() if not t.startswith("#")]
    given = {line["process"]: line for line in csv.DictReader(lines)}
    for process, rows in ROWS_OF.items():
        made = {r: float(laws.named(r).coefficients.get("alkalinity", 0)) for r in rows}
        found = sum(made[r] * n for r, n in rows.items())
        expected = float(given[process]["d_alk_phreeqc_meq"])
        # atomic weights of five digits on both sides: 100.086 here, 100.087 there for lime
        assert found == pytest.approx(expected, rel=2e-5), process


@pytest.mark.parametrize(("name", "state"), laws.drains())
def test_drains_no_empty_store(name: str, state: str) -> None:
    laws.drains_no_empty_store(laws.named(name), state, worlds())


@pytest.mark.parametrize("name", laws.never_negative())
def test_is_never_negative(name: str) -> None:
    laws.is_never_negative(laws.named(name), worlds())


@pytest.mark.parametrize(("biomass", "name"), laws.living())
def test_nothing_alive_nothing_done(biomass: str, name: str) -> None:
    laws.nothing_alive_nothing_done(laws.named(name), biomass, worlds())


def test_every_living_thing_has_rows() -> None:
    owners = {biomass for biomass, _ in laws.living()}
    assert owners == set(laws.BIOMASS)


def doubled(world: World) -> World:
    """Two such tanks as one."""
    return world.but(**{n: 2.0 * world.given[n] for n in GROWS if n in world.given})


DOUBLED = [(w, doubled(w)) for w in worlds(3)]


@pytest.mark.parametrize("name", [c.name for c in laws.changes()])
def test_doubled_tank_doubles(name: str) -> None:
    change = laws.named(name)
    for one, two in DOUBLED:
        assert two.size(change) == pytest.approx(2.0 * one.size(change), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize("name", [r.name for r in tank().rows if "photosynthesise" in r.name])
def test_no_light_no_photosynthesis(name: str) -> None:
    for world in worlds():
        assert world.but(light=0.0).size(laws.named(name)) == 0.0


def test_responses_are_one_at_their_reference() -> None:
    from pleuston.biology import animals, temperature

    assert temperature.q10_response(298.15, 2.3, 298.15) == 1.0
    assert temperature.arrhenius_response(298.15, 70.0) == 1.0
    assert temperature.optimum_response(299.0, 281.0, 299.0, 313.0) == 1.0
    assert animals.mass_response(0.5) == 1.0
    for world in worlds():
        capacity = 4.186 * (world["water"] + world["bed_heat_capacity"])
        warm = world.but(heat=25.0 * capacity)
        assert warm["decay_warmth"] == pytest.approx(1.0, abs=1e-12)
        for plant in ("floater1", "floater2", "floater3", "rooted"):
            best = world.but(heat=(world[f"{plant}_best"] - 273.15) * capacity)
            assert best[f"{plant}_warmth"] == pytest.approx(1.0, abs=1e-12)
