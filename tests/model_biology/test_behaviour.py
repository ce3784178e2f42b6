"""What a tank's plants and animals must do, whatever the numbers: balances, reserves, harvests."""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.engine.ensemble import Trajectory
from pleuston.engine.kernel import tank_kernel
from pleuston.engine.schedule import Event

from .vessel import CARBON, Vessel, dry_mass, run

FRESH = "floater1_fresh_mass"
NITROGEN = ("ammonium", "nitrite", "nitrate", "dom_nitrogen", "detritus_nitrogen")
MICROBE_N = 14.007 / (5 * 12.011)
BODY_N = 10.0 / 42.0


def _end(result: Trajectory, name: str) -> float:
    return float(result.end[0, tank_kernel().table.at("state", name)])


def _extent(result: Trajectory, *names: str) -> float:
    """Sum of what some rows did over the whole run."""
    assert result.extents is not None
    return float(sum(result.extents[-1, tank_kernel().table.at("row", n), 0] for n in names))


def test_crowding_comes_from_light() -> None:
    """More light carries a denser mat; growth per gram falls week by week, mass does not."""
    ends = []
    for light in (100.0, 200.0):
        v = Vessel(days=42, dry=2.0, celsius=25.0, light=light, hours=10.0, litres=1e5)
        mass = dry_mass(run(v, FRESH, every=7.0))
        relative = np.diff(np.log(mass))
        assert (np.diff(mass) > 0.0).all()
        assert (np.diff(relative) < 0.0).all()
        assert relative[0] > 3.0 * relative[4]
        ends.append(mass[-1])
    assert ends[1] > 1.3 * ends[0]


@pytest.mark.parametrize("group", ["lemna", "spirodela", "pistia", "salvinia", "azolla"])
def test_every_group_grows_in_a_lit_tank(group: str) -> None:
    v = Vessel(
        days=14, dry=3.0, celsius=25.0, light=100.0, hours=10.0, group=group, alkalinity=1.0,
        air_co2=2.1e-3, reserves={"nitrogen": 38.0, "phosphorus": 8.0, "potassium": 40.0},
    )  # fmt: skip
    mass = dry_mass(run(v, FRESH), group)
    assert 1.2 < mass[-1] / mass[0] < 8.0


def test_a_mat_kept_young_wastes_less() -> None:
    """Weekly harvests to a thin cover: less of each gram grown dies of age."""
    base = {"days": 28, "celsius": 25.0, "light": 100.0, "hours": 10.0, "litres": 5e3}
    taken = tuple(
        Event(7.0 * week, "harvest_floater1", {"harvest_grams": 0.0, "harvest_cover": 0.5})
        for week in range(1, 4)
    )
    stagnant = run(Vessel(dry=40.0, **base), FRESH, extents=True)  # type: ignore[arg-type]
    young = run(Vessel(dry=7.0, events=taken, **base), FRESH, extents=True)  # type: ignore[arg-type]
    grown, shed = "photosynthesise_floater1", "shed_floater1_carbon"
    assert _extent(young, shed) / _extent(young, grown) < 0.5 * (
        _extent(stagnant, shed) / _extent(stagnant, grown)
    )


def test_ammonium_goes_first_and_nitrate_waits() -> None:
    v = Vessel(days=2, dry=5.0, litres=200.0, medium={"ammonium": 3.0, "nitrate": 3.0})
    result = run(v, "ammonium_concentration", "nitrate_concentration", extents=True)
    ammonium, nitrate = "take_up_ammonium_floater1", "take_up_nitrate_floater1"
    assert result.extents is not None
    first = result.extents[1, :, 0]
    table = tank_kernel().table
    assert first[table.at("row", ammonium)] > 3.0 * first[table.at("row", nitrate)]


def test_a_dark_plant_takes_less_nitrate_but_as_much_ammonium() -> None:

    def taken(light: float, medium: dict[str, float], row: str) -> float:
        v = Vessel(days=1, dry=1.0, light=light, medium=medium, reserves={"nitrogen": 25.0})
        result = run(v, extents=True, every=1 / 48)
        assert result.extents is not None
        return float(result.extents[1, tank_kernel().table.at("row", row), 0])

    nitrate, ammonium = "take_up_nitrate_floater1", "take_up_ammonium_floater1"
    dark = taken(0.0, {"ammonium": 0.0}, nitrate) / taken(100.0, {"ammonium": 0.0}, nitrate)
    assert dark == pytest.approx(0.51, abs=0.02)
    dark = taken(0.0, {"nitrate": 0.0}, ammonium) / taken(100.0, {"nitrate": 0.0}, ammonium)
    assert dark == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("missing", ["potassium", "iron", "calcium"])
def test_growth_stops_without_a_nutrient(missing: str) -> None:
    """Nitrate and phosphate alone do not feed a plant."""
    v = Vessel(days=28, dry=1.0, medium={missing: 0.0}, reserves={"potassium": 10.0})
    mass = dry_mass(run(v, FRESH))
    assert mass[-1] / mass[14] < 1.05


def test_floaters_draw_on_the_air_for_most_of_their_oxygen_and_carbon() -> None:
    v = Vessel(days=3, dry=10.0, hours=12.0)
    result = run(v, extents=True)
    given = _extent(result, "photosynthesise_floater1_in_water")
    all_given = given + _extent(result, "photosynthesise_floater1")
    roots = _extent(result, "respire_floater1_roots")
    all_breath = roots + _extent(result, "respire_floater1")
    assert 0.02 < given / all_given < 0.10
    assert 0.05 < roots / all_breath <= 0.20


def test_a_plant_gives_its_copper_back_in_clean_water() -> None:
    v = Vessel(days=8, dry=5.0, hours=12.0, amounts={"floater1_copper": 5.0})
    result = run(v, "copper_concentration")
    assert _end(result, "floater1_copper") < 0.3
    assert result.of("copper_concentration")[-1, 0] * v.litres > 3.5


def _fed(days: int, **amounts: float) -> Trajectory:
    feed = {"feed_carbon": 40.0, "feed_nitrogen": 7.0, "feed_phosphorus": 1.0}
    meals = tuple(Event(d + 0.25, "feed", feed) for d in range(days))
    living = {
        "fish_body": 100.0, "shrimp_body": 30.0, "snails_body": 20.0, "heterotrophs": 60.0,
        "ammonia_oxidisers": 8.0, "nitrite_oxidisers": 4.0, **amounts,
    }  # fmt: skip
    v = Vessel(
        days=days, dry=0.0, litres=30.0, area=0.1, hours=10.0, events=meals, amounts=living,
        medium={"ammonium": 0.05, "nitrate": 1.0, "phosphate": 0.2},
        parameters={"feed_factor": 1.0, "wall_area": 0.3},
        forcings={"lid_openness": 1.0, "flow_level": 1.0},
    )  # fmt: skip
    return run(v, "ammonium_concentration", "oxygen_concentration", every=1 / 24, extents=True)


def test_all_nitrogen_of_the_feed_is_found_again() -> None:
    days, start = 6, 100.0 * BODY_N + 30.0 * BODY_N + 20.0 * BODY_N + 72.0 * MICROBE_N
    result = _fed(days)
    bodies = sum(_end(result, f"{a}_body") for a in ("fish", "shrimp", "snails")) * BODY_N
    guts = sum(_end(result, f"{a}_gut_nitrogen") for a in ("fish", "shrimp", "snails"))
    microbes = MICROBE_N * sum(
        _end(result, m) for m in ("heterotrophs", "ammonia_oxidisers", "nitrite_oxidisers")
    )
    water = sum(_end(result, n) for n in NITROGEN)
    gas = _extent(result, "denitrify_dissolved", "denitrify_in_soil", "volatilise_ammonia")
    given = 7.0 * days + 30.0 * (0.05 + 1.0) + start
    soil = _end(result, "ammonium_soil") + _end(result, "soil_nitrogen")
    assert bodies + guts + microbes + water + gas + soil == pytest.approx(given, rel=1e-8)


def test_ammonium_peaks_hours_after_a_meal() -> None:
    """The peak of excretion follows a meal by hours, not by days."""
    result = _fed(4)
    table = tank_kernel().table
    assert result.extents is not None
    excreted = result.extents[:, table.at("row", "excrete_ammonium_fish"), 0]
    hourly = np.diff(excreted)[72:96]
    after = (np.arange(24) - 6) % 24
    assert 0 <= after[hourly.argmax()] <= 8
    assert hourly.max() > 2.0 * hourly[after == 23][0]


def test_hungry_animals_lose_mass() -> None:
    forced = {"lid_openness": 1.0, "flow_level": 1.0}
    v = Vessel(
        days=8, dry=0.0, litres=30.0, area=0.1, amounts={"fish_body": 100.0}, forcings=forced
    )
    hungry, fed = _end(run(v), "fish_body"), _end(_fed(8), "fish_body")
    assert 70.0 < hungry < 95.0
    assert fed > hungry + 5.0


def test_bacteria_turn_ammonium_to_nitrate_only_with_oxygen() -> None:
    living = {"ammonia_oxidisers": 20.0, "nitrite_oxidisers": 10.0}
    shared = {"days": 6, "dry": 0.0, "litres": 30.0, "area": 0.1, "light": 0.0}
    medium = {"ammonium": 2.0, "nitrate": 0.0, "phosphate": 0.3}
    open_air = run(
        Vessel(
            amounts=living, medium=medium, parameters={"wall_area": 0.3},
            forcings={"lid_openness": 1.0, "flow_level": 1.0}, **shared,  # type: ignore[arg-type]
        )
    )  # fmt: skip
    airless = run(
        Vessel(
            amounts=living, medium={**medium, "oxygen": 0.0},
            parameters={
                "wall_area": 0.3, "gas_exchange_still": 1e-9, "evaporation_factor": 1e-9,
            }, **(shared | {"area": 1e-3}),  # type: ignore[arg-type]
        )
    )  # fmt: skip
    assert _end(open_air, "ammonium") < 6.0
    assert _end(open_air, "nitrate") > 45.0
    assert _end(airless, "nitrate") < 0.5


def test_carbon_of_dry_plant_is_that_of_the_record() -> None:
    v = Vessel(days=1, dry=6.0, light=0.0)
    result = run(v, FRESH)
    assert result.of(FRESH)[0, 0] == pytest.approx(100.0)
    assert _end(result, "floater1_carbon") < CARBON * 6.0
