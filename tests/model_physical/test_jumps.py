"""What a keeper does to a tank: every jump balances, stays neutral, and does what it says."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from pleuston.engine.start import SOIL_DEFAULT, soil_put_in

from .plain import World, middling, strong_ions, tank

SOFT: Mapping[str, float] = {
    "calcium_in": 20.0, "magnesium_in": 4.0, "potassium_in": 1.5, "sodium_in": 8.0,
    "chloride_in": 12.0, "sulfate_in": 5.0, "nitrate_in": 1.0, "phosphate_in": 0.05,
    "carbon_inorganic_in": 13.0, "copper_in": 0.01, "zinc_in": 0.03, "oxygen_in": 8.5,
    "temperature_in": 291.15,
}  # fmt: skip
DISSOLVED = (
    "oxygen", "carbon_inorganic", "calcium", "magnesium", "potassium", "sodium", "chloride",
    "sulfate", "alkalinity", "ammonium", "nitrite", "nitrate", "phosphate", "iron", "copper",
    "zinc", "humic", "dom_carbon", "dom_nitrogen", "dom_phosphorus",
)  # fmt: skip
USUAL: Mapping[str, Mapping[str, float]] = {
    "top_up": SOFT | {"to_mark": 0.0, "litres": 3.0},
    "water_out": {"share": 0.4},
    "feed": {
        "feed_carbon": 40.0, "feed_nitrogen": 7.0, "feed_phosphorus": 1.0, "feed_potassium": 0.8,
        "feed_copper": 0.001, "feed_zinc": 0.008, "feed_iron": 0.02,
    },
    "trim_rooted": {"trim_grams": 5.0},
    "disturb_soil": {"share": 0.2},
    "add_soil": soil_put_in(SOIL_DEFAULT, 0.1),
    "add_shell": {"shell_grains": 5000.0},
    "dose": {"dose_potassium": 10.0, "dose_sulfate": 4.1, "dose_sodium": 30.0, "dose_iron": 1.0},
}  # fmt: skip


def arguments_of(jump: str) -> Mapping[str, float]:
    if jump in USUAL:
        return USUAL[jump]
    if jump.startswith("harvest"):
        return {"harvest_grams": 2.0, "harvest_cover": 1.0}
    plant = {f"plant_{n}": 10.0 for n in ("carbon", "nitrogen", "phosphorus", "potassium")}
    return {"body_carbon": 40.0} | plant


def held(states: Mapping[str, float], thing: str) -> float:
    """Amount of a conserved thing in a tank."""
    kept = tank().states
    return sum(float(kept[s].holds.get(thing, 0)) * value for s, value in states.items())


@pytest.mark.parametrize("jump", tank().jumps)
def test_a_jump_brings_what_its_moves_carry_and_nothing_else(jump: str) -> None:
    before = middling()
    world = World(before, arguments=arguments_of(jump))
    after = world.after(jump)
    moves = [m for m in tank().moves if m.jump == jump]
    assert any(world.size(m) > 0.0 for m in moves) or jump.endswith("floater3")
    assert all(world.size(m) >= 0.0 for m in moves)
    for thing in tank().elements:
        carried = sum(float(m.carried.get(thing, 0)) * world.size(m) for m in moves)
        assert held(after, thing) - held(before, thing) == pytest.approx(carried, abs=1e-9), thing


@pytest.mark.parametrize("jump", tank().jumps)
def test_a_jump_leaves_no_store_below_its_floor(jump: str) -> None:
    after = World(middling(), arguments=arguments_of(jump)).after(jump)
    assert {n: v for n, v in after.items() if v < 0.0} == {}


@pytest.mark.parametrize("jump", ["top_up", "water_out", "feed", "dose"])
def test_water_stays_neutral(jump: str) -> None:
    after = World(middling(), arguments=arguments_of(jump)).after(jump)
    assert after["alkalinity"] == pytest.approx(strong_ions(after), abs=1e-9)


# -- water ---------------------------------------------------------------------------


def test_topping_up_to_the_mark_fills_the_tank() -> None:
    low = middling(water=25.5)
    world = World(low, arguments=SOFT | {"to_mark": 1.0, "litres": 99.0})
    after = world.after("top_up")
    assert after["water"] == pytest.approx(30.0)
    assert after["calcium"] - low["calcium"] == pytest.approx(4.5 * 20.0)
    full = World(middling(water=31.0), arguments=SOFT | {"to_mark": 1.0}).after("top_up")
    assert full["water"] == 31.0


def test_salts_double_after_a_volume_has_evaporated() -> None:
    """A tank full of its top-up water holds twice its salts after V/E of topping up."""
    states = middling()
    for ion in ("calcium", "magnesium", "potassium", "sodium", "chloride", "sulfate"):
        states[ion] = 30.0 * SOFT[f"{ion}_in"]
    start = {ion: states[ion] for ion in ("calcium", "sodium", "chloride")}
    weeks, each = 15, 2.0  # V/E = 30 L / (2 L per week)
    for _ in range(weeks):
        states["water"] -= each
        states = World(states, arguments=SOFT | {"to_mark": 1.0}).after("top_up")
    assert states["water"] == pytest.approx(30.0)
    for ion, first in start.items():
        assert states[ion] == pytest.approx(2.0 * first)


def test_taking_water_out_leaves_every_concentration() -> None:
    before = middling()
    after = World(before, arguments={"share": 0.5}).after("water_out")
    assert after["water"] == pytest.approx(15.0)
    for name in DISSOLVED:
        assert after[name] == pytest.approx(0.5 * before[name]), name
    assert World(after)["temperature"] == pytest.approx(World(before)["temperature"])
    assert after["detritus_carbon"] == before["detritus_carbon"]


def test_taking_water_out_leaves_alkalinity_that_the_soil_s_ions_balance() -> None:
    """Alkalinity also answers for ammonium made in the soil; draining halves it all the same."""
    before = middling(alkalinity=strong_ions(middling()) + 6.0)
    after = World(before, arguments={"share": 0.5}).after("water_out")
    assert after["alkalinity"] == pytest.approx(0.5 * before["alkalinity"])


def test_cold_top_up_cools_by_mixing() -> None:
    """3 L of 18 degC into 30 L of 24 degC with a bed like 2 L of water."""
    world = World(middling(), arguments=SOFT | {"litres": 3.0})
    mixed = (32.0 * 24.0 + 3.0 * 18.0) / 35.0
    assert World(world.after("top_up"))["temperature"] == pytest.approx(273.15 + mixed, abs=1e-9)


# -- feed, plants, animals -----------------------------------------------------------


def test_animals_share_a_small_meal_by_bodies_and_eagerness_and_leave_none() -> None:
    """By hand: fish 300 x 6, shrimp 100 x 2, snails 50 x 1: 1800, 200 and 50 parts of 2050."""
    given = {"feed_carbon": 4.1, "feed_nitrogen": 0.82, "feed_phosphorus": 0.1}
    after = World(middling(), arguments=given).after("feed")
    assert after["fish_gut_carbon"] == pytest.approx(3.6)
    assert after["shrimp_gut_carbon"] == pytest.approx(0.4)
    assert after["snails_gut_nitrogen"] == pytest.approx(0.02)
    assert after["detritus_carbon"] == pytest.approx(600.0)


def test_what_the_guts_cannot_hold_is_left() -> None:
    before = middling()
    world = World(before, arguments={"feed_carbon": 400.0, "feed_nitrogen": 80.0})
    after = world.after("feed")
    room = world["feed_appetite"] * 450.0
    eaten = sum(after[f"{a}_gut_carbon"] for a in ("fish", "shrimp", "snails"))
    assert eaten == pytest.approx(room)
    assert after["detritus_carbon"] - before["detritus_carbon"] == pytest.approx(400.0 - room)
    lone = middling(fish_body=0.0, shrimp_body=0.0, snails_body=0.0)
    alone = World(lone, arguments={"feed_carbon": 40.0}).after("feed")
    assert alone["detritus_carbon"] == pytest.approx(640.0)


def test_a_harvest_by_grams_takes_all_elements_alike() -> None:
    before = middling(floater1_nitrogen=90.0, floater1_potassium=70.0, floater1_copper=0.03)
    world = World(before, arguments={"harvest_grams": 10.0, "harvest_cover": 1.0})
    share = 10.0 / world["floater1_fresh_mass"]
    assert 0.1 < share < 0.5
    after = world.after("harvest_floater1")
    for element in ("carbon", "nitrogen", "potassium", "copper"):
        name = f"floater1_{element}"
        assert after[name] == pytest.approx((1.0 - share) * before[name])
    assert after["floater2_carbon"] == before["floater2_carbon"]


def test_a_harvest_to_a_cover_leaves_that_cover() -> None:
    before = middling(floater1_carbon=1500.0)
    world = World(before, arguments={"harvest_grams": 0.0, "harvest_cover": 0.25})
    assert world["floater1_cover"] > 0.5
    after = World(world.after("harvest_floater1"))
    assert after["floater1_cover"] == pytest.approx(0.25)
    thin = World(middling(floater1_carbon=50.0), arguments={"harvest_cover": 0.25})
    assert thin.after("harvest_floater1")["floater1_carbon"] == 50.0


def test_a_dead_animal_becomes_detritus_or_is_taken_out() -> None:
    before = middling()
    world = World(before, arguments={"body_carbon": 50.0}, carcass_left=1.0)
    after = world.after("die_fish")
    assert after["fish_body"] == pytest.approx(250.0)
    assert after["detritus_carbon"] - before["detritus_carbon"] == pytest.approx(50.0)
    assert after["detritus_nitrogen"] == pytest.approx(50.0 / 4.2)
    out = World(before, arguments={"body_carbon": 1e6}).after("remove_fish")
    assert out["fish_body"] == 0.0


# -- doses and soil ------------------------------------------------------------------


def test_doses_change_alkalinity_by_their_ions() -> None:
    def gain(**dose: float) -> float:
        before = middling()
        return World(before, arguments=dose).after("dose")["alkalinity"] - before["alkalinity"]

    neutral = gain(dose_potassium=2.0 * 39.098, dose_sulfate=32.06)
    assert neutral == pytest.approx(0.0, abs=1e-12)
    assert gain(dose_sodium=22.990, dose_carbon_inorganic=12.011) == pytest.approx(1.0)
    assert gain(dose_calcium=40.078, dose_carbon_inorganic=12.011) == pytest.approx(2.0)
    assert gain(dose_nitrate=14.007) == pytest.approx(-1.0)


def test_stirring_up_the_soil_gives_ammonium_and_takes_oxygen() -> None:
    before = middling(reduced_soil=1000.0)
    after = World(before, arguments={"share": 0.3}).after("disturb_soil")
    assert after["ammonium"] - before["ammonium"] == pytest.approx(0.3 * 40.0)
    assert 0.0 < after["oxygen"] < before["oxygen"]
    starved = World(middling(oxygen=5.0, reduced_soil=1e5), arguments={"share": 1.0})
    assert starved.after("disturb_soil")["oxygen"] > 0.0
