"""What crosses the water's surface: gases, vapour, heat and light."""

from __future__ import annotations

import math

import pytest

from pleuston.base import parameters

from .plain import World, middling

AREA = 0.12
CALM_ROOM = {"room_temperature": 303.15, "room_humidity": 1.0}
"""So damp and warm that nothing evaporates."""


def at(celsius: float) -> float:
    """Heat [kJ] of the middling tank at a temperature."""
    return 4.186 * 32.0 * celsius


# -- gases ---------------------------------------------------------------------------


def test_oxygen_rests_at_saturation() -> None:
    for celsius, saturation in ((20.0, 9.092), (25.0, 8.263), (30.0, 7.559)):
        world = World(middling(heat=at(celsius), oxygen=30.0 * saturation))
        change = world.change("absorb_oxygen", "release_oxygen")
        assert world.rate("absorb_oxygen") > 0.0
        assert abs(change["oxygen"]) < 2e-3 * world.rate("absorb_oxygen")
        assert world["oxygen_percent"] == pytest.approx(1.0, abs=2e-3)


def test_oxygen_comes_back_in_most_of_a_day_in_a_still_open_tank() -> None:
    """Still open water takes up 1 to 2.5 cm/h: KLa near 0.06 1/h at 0.3 m, e-fold 12 to 30 h."""
    assert 12.0 < _hours_to_come_back(CALM_ROOM) < 30.0


def test_a_heated_open_tank_stirs_itself() -> None:
    """Surface renewal by cooling of 20 to 120 W/m2: 1.4 to 4.7 cm/h, e-fold 6 to 21 h at 0.3 m."""
    warm = _hours_to_come_back({"room_temperature": 291.15, "room_humidity": 0.4})
    assert 6.0 < warm < 21.0
    assert warm < _hours_to_come_back(CALM_ROOM)


def _hours_to_come_back(forcings: dict[str, float]) -> float:
    """Hours in which a lack of oxygen falls to 1/e, floating plants and film apart."""
    world = World(middling(water=36.0, heat=4.186 * 38.0 * 20.0), forcings)
    hours = 24.0 * world["water"] / (world["oxygen_transfer"] * AREA * 1000.0)
    return float(hours * world["surface_open_to_gas"] * world["film_open_to_gas"])


def test_stirring_speeds_gas_and_a_lid_slows_it() -> None:
    def k(**forcings: float) -> float:
        return World(middling(), CALM_ROOM | forcings)["transfer_600"]

    assert k() < k(flow_level=1.0) < k(flow_level=2.0) < k(flow_level=2.0, air_stone=1.0)
    cooling = World(middling(), CALM_ROOM)["transfer_convective"]
    stirred = [math.sqrt(k(flow_level=level) ** 2 - cooling**2) for level in (0.0, 0.5, 1.0)]
    assert stirred[1] == pytest.approx((stirred[0] + stirred[2]) / 2.0)
    shut = World(middling(), CALM_ROOM | {"lid_openness": 0.0})
    left = math.sqrt(shut["transfer_600"] ** 2 - shut["transfer_convective"] ** 2)
    assert left / stirred[0] == pytest.approx(parameters.load()["gas_exchange_lid"].value)
    pumped = k(lid_openness=0.0, flow_level=2.0) / k(flow_level=2.0)
    assert pumped > 0.9


def test_a_film_slows_gas_on_still_water_only() -> None:
    """A film as resistant as the water below it lets half of the oxygen through."""

    def k(name: str, film: float = 1.0, **room: float) -> float:
        return World(middling(), CALM_ROOM | room, surface_film=film)[name]

    assert k("oxygen_transfer") == pytest.approx(0.5 * k("oxygen_transfer", 0.0))
    clean = k("carbon_dioxide_transfer", 0.0)
    assert 0.5 * clean < k("carbon_dioxide_transfer") < clean  # its reaction makes up for some
    for moved in ({"flow_level": 1.0}, {"flow_level": 2.0}, {"air_stone": 1.0}):
        assert k("film_open_to_gas", 1.0, **moved) == 1.0
    assert k("oxygen_transfer", 1.0, flow_level=0.5) > k("oxygen_transfer")


def test_floating_plants_hinder_gas_down_to_a_floor() -> None:
    """Duckweed: a hundredth per g/m2, so 30 g/m2 leave 70 %; a thick mat leaves 30 %."""
    bare = middling(floater1_carbon=0.0, floater2_carbon=0.0)
    duckweed = 30.0 * AREA * 378.0
    assert World(bare)["surface_open_to_gas"] == 1.0
    some = World(bare | {"floater1_carbon": duckweed})["surface_open_to_gas"]
    assert some == pytest.approx(0.7, abs=1e-9)
    thick = World(bare | {"floater1_carbon": 10.0 * duckweed})["surface_open_to_gas"]
    assert thick == pytest.approx(0.3)


def test_carbon_dioxide_rests_in_balance_with_the_room() -> None:
    """At 420 ppm, 25 degC and 1 atm water holds 0.61 mg/L of CO2."""
    world = World(middling(heat=at(25.0)), {"air_co2": 4.2e-4})
    assert world["co2_at_equilibrium"] * 44.009 / 12.011 == pytest.approx(0.61, abs=0.01)
    states = middling(heat=at(25.0))
    low, high = 400.0, 900.0
    for _ in range(60):
        states["carbon_inorganic"] = 0.5 * (low + high)
        open_water = World(states)
        if open_water["carbon_dioxide_concentration"] < open_water["co2_at_equilibrium"]:
            low = states["carbon_inorganic"]
        else:
            high = states["carbon_inorganic"]
    change = World(states).change("absorb_carbon_dioxide", "release_carbon_dioxide")
    assert abs(change["carbon_inorganic"]) < 1e-6


def test_reaction_speeds_carbon_dioxide_in_still_water_only() -> None:
    """At 1 cm/h and pH 8 by a factor of 2.9, at 4 cm/h by less than 1.5; oxygen never."""

    def factor(transfer: float) -> float:
        bare = middling(heat=at(25.0), floater1_carbon=0.0, floater2_carbon=0.0)
        world = World(bare, transfer_600=transfer, ph=8.0)
        plain = world["oxygen_transfer"] * (500.0 / 600.0) ** 0.5
        return world["carbon_dioxide_transfer"] / plain

    assert 2.3 < factor(0.24) < 3.2
    assert factor(0.96) < 1.5


def test_ammonia_leaves_when_the_water_is_basic() -> None:
    sour = World(middling(ammonium=60.0, carbon_inorganic=1500.0))
    basic = World(middling(ammonium=60.0, carbon_inorganic=690.0))
    assert basic["ph"] > sour["ph"] + 1.0
    assert basic.rate("volatilise_ammonia") > 8.0 * sour.rate("volatilise_ammonia")
    assert basic.rate("volatilise_ammonia") < 0.1 * 60.0


# -- vapour and heat -----------------------------------------------------------------


def test_an_open_tank_loses_three_millimetres_a_day() -> None:
    """24 degC water in a room of 22 degC and 50 %: 3.1 mm/d; five correlations give 2.0 to 4.3."""
    bare = middling(floater1_carbon=0.0, floater2_carbon=0.0, heat=at(24.0))
    world = World(bare)
    assert world["evaporation"] / AREA == pytest.approx(3.1, abs=0.1)
    tight = World(bare, {"lid_openness": 0.1})
    assert tight["evaporation"] == pytest.approx(0.1 * world["evaporation"])


def test_plants_change_evaporation_by_their_cover() -> None:
    """Duckweed over all of the water evaporates 0.85 of open water."""
    mat = World(middling(floater1_carbon=1e6, floater2_carbon=0.0))
    assert mat["evaporation_of_cover"] == pytest.approx(0.85, abs=1e-6)
    bare = World(middling(floater1_carbon=0.0, floater2_carbon=0.0))
    assert bare["evaporation_of_cover"] == 1.0


def test_evaporation_cools_by_its_latent_heat_and_leaves_the_rest_as_warm() -> None:
    """28.3 W/m2 per mm/d; the water that stays is cooled by the latent part alone."""
    world = World(middling(heat=at(24.0)))
    litres, change = world["evaporation"], world.change("cool_by_evaporation")
    warmth = 4.186 * 24.0 * litres
    watts = (-change["heat"] - warmth) / 86.4 / AREA
    assert watts / (litres / AREA) == pytest.approx(28.3, abs=0.1)


def test_the_heater_only_heats_up_to_its_power_and_setpoint() -> None:
    cold, warm = World(middling(heat=at(20.0))), World(middling(heat=at(26.0)))
    assert cold.rate("heat_by_heater") == pytest.approx(25.0 * 86.4)
    assert warm.rate("heat_by_heater") == 0.0
    assert World(middling(), {"heater_power": 0.0}).rate("heat_by_heater") == 0.0
    nearly = World(middling(heat=at(23.75))).rate("heat_by_heater")
    assert nearly == pytest.approx(0.5 * 25.0 * 86.4, rel=1e-6)


def test_an_unheated_dark_tank_rests_a_little_below_the_room() -> None:
    """Evaporation keeps open water one to three kelvin under a dry room."""
    names = ("exchange_heat_with_room", "cool_by_evaporation", "heat_by_lamp", "heat_by_heater")
    low, high = 10.0, 22.0
    for _ in range(60):
        celsius = 0.5 * (low + high)
        states = middling(heat=at(celsius))
        still = World(states, {"light": 0.0, "heater_power": 0.0})
        warmth = 4.186 * celsius * still["evaporation"]
        if still.change(*names)["heat"] + warmth > 0.0:
            low = celsius
        else:
            high = celsius
    assert 19.0 < celsius < 21.5


def test_a_lamp_warms_in_proportion() -> None:
    bright = World(middling(), {"light": 120.0}).rate("heat_by_lamp")
    assert bright == pytest.approx(2.0 * World(middling()).rate("heat_by_lamp"))
    assert World(middling(), {"light": 0.0}).rate("heat_by_lamp") == 0.0


# -- light ---------------------------------------------------------------------------


def test_light_falls_from_lamp_to_bed() -> None:
    world = World(middling())
    path = [world[n] for n in (
        "light_at_water", "light_below_canopy", "light_mean_water", "light_at_bed",
    )]  # fmt: skip
    assert path == sorted(path, reverse=True)
    assert path[0] == 60.0


def test_brown_and_green_water_is_darker() -> None:
    clear = World(middling(humic=0.0, algae_carbon=0.0))
    assert clear["water_attenuation"] == pytest.approx(0.3)
    brown = World(middling(humic=1000.0, algae_carbon=0.0))["water_attenuation"]
    green = World(middling(humic=0.0, algae_carbon=150.0))["water_attenuation"]
    assert 1.5 < brown < 3.0
    assert 1.5 < green < 3.0
    mean = clear["light_mean_water"] / clear["light_below_canopy"]
    assert mean == pytest.approx(1.0 - 0.5 * 0.3 * 0.25, abs=2e-3)


def test_conductivity_follows_the_ions_and_its_factor() -> None:
    """The sum of ions is 0.49 to 0.79 mg/L per uS/cm over fresh waters."""
    world = World(middling())
    assert 0.49 < world["dissolved_solids"] / world["conductivity"] < 0.79
    twice = {n: v if n in ("water", "heat") else 2.0 * v for n, v in middling().items()}
    doubled = World(twice)
    assert 1.8 < doubled["conductivity"] / world["conductivity"] < 2.0
    assert World(middling(), conductivity_factor=1.1)["conductivity"] == pytest.approx(
        1.1 * world["conductivity"]
    )


def test_nitrification_lowers_conductivity() -> None:
    """By 6.5 uS/cm per mg/L of N at infinite dilution; less between other ions.

    0.143 meq of bicarbonate and 0.071 of ammonium leave, 0.071 of nitrate come.
    """
    before = middling(ammonium=60.0)
    after = dict(before)
    after["ammonium"] -= 30.0
    after["nitrate"] += 30.0
    after["alkalinity"] -= 60.0 / 14.007
    after["carbon_inorganic"] -= 60.0 / 14.007 * 12.011  # the CO2 set free leaves
    fall = World(after)["conductivity"] - World(before)["conductivity"]
    assert -6.5 < fall < -4.5
