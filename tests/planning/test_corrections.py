"""Mixing, diluting and dosing against hand calculation, and what they may never advise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from pleuston.base.errors import InputError
from pleuston.chemistry.ammonia import ammonia_fraction
from pleuston.engine.waters import whole_water
from pleuston.planning.correction import (
    HARDNESS_STEP,
    Pour,
    correction,
    emergency_change,
    harmless,
    needed_share,
    stages,
)
from pleuston.planning.dosing import dose_mass, dose_plan
from pleuston.planning.least_squares import nonnegative
from pleuston.planning.limits import Caps, caps_for
from pleuston.planning.mixer import (
    Use,
    missed,
    mix_plan,
    recipe,
    steady_factor,
    step_of_filling,
    weeks_to_double,
)
from pleuston.planning.mixing import Mix, after_change, at_ph, measured, mixed, of_source
from pleuston.planning.policy import STORED_AMMONIA
from pleuston.planning.sources import Source
from pleuston.planning.steps import RISE
from pleuston.records.record import Water

CAPS = caps_for(["Neocaridina davidi"])


def source(name: str, **held: float | str) -> Source:
    made = whole_water(Water(name, **held))  # type: ignore[arg-type]
    return Source(name, made.per_litre, made.assumed)


TAP = source("tap", kind="tap", ph=7.6, kh_dh=12.0, gh_dh=16.0, chloride_mg_l=40.0)
RAIN = source("rain", kind="rain", kh_dh=0.2, gh_dh=0.2)


def tank(ammonium: float = 0.0, ph: float = 7.6, kh: float = 6.0) -> Mix:
    return measured(ec25=400.0, kh=kh, gh=8.0, ph=ph, celsius=24.0, ammonium=ammonium)


# -- diluting (D10, D19) -------------------------------------------------------------


def test_the_share_is_that_of_the_closed_form() -> None:
    # 40 mg/L to 25 with water of 5: 1 - (25 - 5)/(40 - 5) = 3/7
    assert needed_share(40.0, 25.0, 5.0) == pytest.approx(3.0 / 7.0)
    left = (1.0 - 3.0 / 7.0) * 40.0 + 3.0 / 7.0 * 5.0
    assert left == pytest.approx(25.0)
    assert needed_share(10.0, 20.0, 0.0) == 0.0
    assert needed_share(10.0, 5.0, 7.0) == 1.0


def test_matched_water_takes_two_changes_where_half_at_once_is_the_most() -> None:
    same = Pour("same", measured(ec25=400, kh=6, gh=8, ph=7.6, celsius=24), 0.0)
    made, stopped = stages(tank(), same, 100.0, 30.0, CAPS)
    assert [round(s.share, 6) for s in made] == [0.5, 0.4]
    assert [round(s.amount, 6) for s in made] == [50.0, 30.0]
    assert stopped == ""


def test_rain_is_held_back_by_a_tenth_of_the_conductivity_or_a_degree() -> None:
    rain = Pour("rain", of_source(RAIN, 24.0), 0.0)
    made, _ = stages(tank(), rain, 100.0, 30.0, CAPS)
    before = tank()
    for stage in made:
        after = stage.after.mix
        assert abs(after.ec25 - before.ec25) / before.ec25 <= CAPS.ec * 1.02
        assert abs(after.gh_dh - before.gh_dh) <= HARDNESS_STEP + 1e-6
        assert abs(after.kh_dh - before.kh_dh) <= HARDNESS_STEP + 1e-6
        before = after
    assert made[-1].amount == pytest.approx(30.0)


def test_ammonia_in_a_mix_is_that_of_emerson_at_its_ph() -> None:
    a = tank(1.0)
    share = float(ammonia_fraction(7.6, 297.15, a.strength))
    assert a.nh3(a.ph) == pytest.approx(share, rel=1e-6)
    # at 24 degC and pH 7.6 two parts in a hundred are NH3; salts take a few per cent of it
    assert 0.0185 < a.nh3(a.ph) < 0.0206


def test_harder_water_raises_the_ph_once_it_has_breathed() -> None:
    hard = measured(ec25=600.0, kh=12.0, gh=16.0, ph=7.2, celsius=24.0)
    made = after_change(tank(), hard, 0.5)
    # at the same CO2 the pH goes with the logarithm of the alkalinity: 6 to 9 dH is +0.18
    assert made.ph_later - 7.6 == pytest.approx(np.log10(9.0 / 6.0), abs=0.02)
    assert made.ph_at_once < 7.6


def test_stored_ammonia_bars_water_that_raises_the_ph() -> None:
    hard = Pour("hard", measured(ec25=600.0, kh=14.0, gh=16.0, ph=7.4, celsius=24.0), 0.0)
    made, stopped = stages(tank(1.0), hard, 1.0, 0.1, CAPS)
    assert stopped == "stored ammonia"
    assert all(s.after.ph_later <= 7.6 + RISE + 1e-9 for s in made)


@settings(max_examples=30, deadline=None)
@given(
    st.floats(0.0, 8.0), st.floats(6.4, 8.6), st.floats(1.0, 14.0), st.floats(0.3, 18.0),
    st.floats(6.5, 8.3), st.floats(14.0, 30.0),
)  # fmt: skip
def test_no_stage_raises_the_poison_or_leaves_the_caps(
    ammonium: float, ph: float, kh: float, kh_new: float, ph_new: float, celsius: float
) -> None:
    now = tank(ammonium, ph, kh)
    water = measured(ec25=60.0 + 45.0 * kh_new, kh=kh_new, gh=kh_new, ph=ph_new, celsius=celsius)
    made, _ = stages(now, Pour("x", water, 0.0), 50.0, 10.0, CAPS)
    poison, before = now.nh3(now.ph), now
    for stage in made:
        assert stage.after.nh3 <= poison * (1.0 + 1e-3) + 1e-12
        if stage.after.mix.held["ammonium"] > STORED_AMMONIA:
            assert max(stage.after.ph_at_once, stage.after.ph_later) <= now.ph + RISE + 1e-6
        assert abs(stage.after.mix.ec25 / before.ec25 - 1.0) <= CAPS.ec * 1.05
        assert abs(stage.after.mix.temperature - now.temperature) <= CAPS.temperature + 1e-6
        before = stage.after.mix


def test_an_emergency_is_one_large_change_with_what_does_least_harm() -> None:
    matched = Pour("aged", measured(ec25=380.0, kh=5.5, gh=7.0, ph=7.3, celsius=23.0), 0.0)
    hard = Pour("hard", measured(ec25=640.0, kh=14.0, gh=16.0, ph=7.4, celsius=23.0), 0.0)
    pour, share, after = emergency_change(tank(6.0, 8.2), [hard, matched])
    assert pour is matched
    assert after is not None
    assert share == pytest.approx(0.5)
    assert harmless(tank(6.0, 8.2), after)
    made = correction(tank(6.0, 8.2), [hard, matched], "aged", "ammonium", 6.0, 0.5, 30.0, CAPS,
                      emergency="It kills.")  # fmt: skip
    assert made["emergency"]
    assert made["steps"][0]["title"] == "Now: change 15.0 L for aged"
    # what is left is half of 6 mg/L, and the stages begin a day later from there
    assert made["stages"][0]["left"] < 3.0
    assert all(not s["title"].startswith("Now") for s in made["steps"][1:])


def test_an_emergency_takes_matched_water_before_pure_water() -> None:
    matched = Pour("aged", measured(ec25=390.0, kh=6.2, gh=8.0, ph=7.6, celsius=24.0), 0.0)
    rain = Pour("rain", of_source(RAIN, 24.0), 0.0)
    pour, share, after = emergency_change(tank(1.0), [rain, matched])
    assert pour is matched
    assert share == pytest.approx(0.5)
    assert after is not None
    assert after.nh3 < 0.75 * tank(1.0).nh3(7.6)


def test_without_any_harmless_water_animals_are_moved_at_once() -> None:
    acid = tank(6.0, 6.6, 1.0)
    hard = Pour("hard", measured(ec25=700.0, kh=16.0, gh=18.0, ph=8.3, celsius=24.0), 0.0)
    assert emergency_change(acid, [hard])[0] is None
    made = correction(acid, [hard], "hard", "ammonium", 6.0, 0.5, 30.0, CAPS, emergency="Gasping.")
    assert "animals out" in made["steps"][0]["title"]


def test_water_that_holds_as_much_is_refused_and_nothing_to_do_is_said() -> None:
    pour = Pour("tap", of_source(TAP, 24.0), 8.0)
    with pytest.raises(InputError, match="itself holds"):
        correction(tank(), [pour], "tap", "nitrate", 20.0, 5.0, 30.0, CAPS)
    made = correction(tank(), [pour], "tap", "nitrate", 4.0, 5.0, 30.0, CAPS)
    assert made["headline"].startswith("Nothing to do")
    assert made["stages"] == []


def test_ph_and_hardness_that_can_not_stand_together_are_refused() -> None:
    with pytest.raises(InputError, match="can't stand together"):
        at_ph(tank(), 11.9)
    assert at_ph(tank(), 6.8).ph == pytest.approx(6.8, abs=1e-5)
    assert mixed(tank(), tank(), 0.3).kh_dh == pytest.approx(6.0)


# -- doses (D20) ---------------------------------------------------------------------


def test_a_dose_goes_by_net_litres_purity_and_crystal_water() -> None:
    # K2SO4: 2 x 39.098/174.256 of it is potassium
    share = 2 * 39.098 / 174.256
    assert dose_mass("potassium sulfate", "potassium", 5.0, 26.0, 1.0) == pytest.approx(
        5.0 * 26.0 / share, rel=1e-4)  # fmt: skip
    assert dose_mass("potassium sulfate", "potassium", 5.0, 26.0, 0.9) == pytest.approx(
        5.0 * 26.0 / share / 0.9, rel=1e-4)  # fmt: skip
    # MgSO4.7H2O: 24.305/246.47; 4.334 mg/L of magnesium are a degree
    heavy = dose_mass("magnesium sulfate heptahydrate", "gh", 1.0, 10.0, 1.0)
    assert heavy == pytest.approx(10.0 * 4.334 * 246.47 / 24.305, rel=2e-3)
    # NaHCO3: 84.006 mg per meq, 0.35665 meq a degree
    assert dose_mass("sodium bicarbonate", "kh", 1.0, 10.0, 1.0) == pytest.approx(
        10.0 * 0.35665 * 84.006, rel=1e-3)  # fmt: skip


def test_a_large_dose_is_split_by_the_caps_of_a_day() -> None:
    made = dose_plan(tank(), "sodium bicarbonate", "kh", 3.0, 26.0, CAPS)
    assert made["parts"] == 3
    assert len(made["steps"]) == 3
    wide = Caps(10.0, 10.0, 10.0)
    assert dose_plan(tank(), "potassium sulfate", "potassium", 5.0, 26.0, wide)["parts"] == 1


@pytest.mark.parametrize(("substance", "quantity", "ammonium", "purity"), [
    ("sodium bicarbonate", "kh", 0.5, 1.0), ("copper sulfate pentahydrate", "potassium", 0.0, 1.0),
    ("potassium sulfate", "iron", 0.0, 1.0), ("potassium sulfate", "potassium", 0.0, 0.0),
])  # fmt: skip
def test_doses_that_harm_or_do_nothing_are_refused(
    substance: str, quantity: str, ammonium: float, purity: float
) -> None:
    with pytest.raises(InputError):
        dose_plan(tank(ammonium), substance, quantity, 1.0, 26.0, CAPS, purity=purity)


# -- mixing (D8) ---------------------------------------------------------------------


def test_two_waters_meet_a_hardness_by_the_rule_of_mixture() -> None:
    made = recipe([TAP, RAIN], [], {"gh": 6.0})
    # 16 x + 0.2 (1 - x) = 6
    assert made.shares["tap"] == pytest.approx(5.8 / 15.8, abs=1e-3)
    assert made.of("gh") == pytest.approx(6.0, abs=0.01)
    assert sum(made.shares.values()) == pytest.approx(1.0)


def test_a_conductivity_is_met_though_it_is_not_quite_in_proportion() -> None:
    for target in (120.0, 250.0, 450.0):
        made = recipe([TAP, RAIN], [], {"ec25": target})
        assert made.ec25 == pytest.approx(target, rel=0.01)


def test_a_salt_goes_in_only_where_waters_do_not_do() -> None:
    salts = ["calcium chloride dihydrate", "sodium bicarbonate"]
    assert recipe([TAP, RAIN], salts, {"gh": 6.0}).doses == {}
    made = recipe([TAP, RAIN], salts, {"gh": 6.0, "kh": 3.0})
    assert made.of("gh") == pytest.approx(6.0, abs=0.05)
    assert made.of("kh") == pytest.approx(3.0, abs=0.05)
    # what the waters leave of GH: 147.01 mg of CaCl2.2H2O bring 40.078 mg of calcium
    lacking = 6.0 - made.shares["tap"] * 16.0 - made.shares["rain"] * 0.2
    held = made.doses["calcium chloride dihydrate"] * 40.078 / 147.01
    assert held / 7.147 == pytest.approx(lacking, rel=0.02)


def test_what_is_out_of_reach_is_told_with_its_reason() -> None:
    soft = recipe([TAP], [], {"kh": 4.0})
    assert "add a softer one" in missed(soft, [TAP], [], {"kh": 4.0})[0]
    hard = recipe([RAIN], [], {"gh": 8.0})
    assert "no dose brings it" in missed(hard, [RAIN], [], {"gh": 8.0})[0]
    both = {"gh": 6.0, "kh": 8.0}
    apart = missed(recipe([TAP, RAIN], [], both), [TAP, RAIN], [], both)
    assert any("can't stand together" in line for line in apart)


def test_the_long_run_goes_by_volume_over_top_up() -> None:
    # 26 L filled up with 1.4 L a week of its own water: salts double in 19 weeks
    assert round(weeks_to_double(26.0, 1.4, 350.0, 350.0)) == 19
    assert steady_factor(1.4, 0.35) == pytest.approx(5.0)
    assert np.isinf(steady_factor(1.4, 0.0))
    # one tenth evaporated and filled with pure water: back to a tenth less than before filling
    assert step_of_filling(26.0, 2.6, 400.0, 0.0) == pytest.approx(-0.1)


def test_a_harder_mix_is_barred_while_ammonia_is_stored() -> None:
    use = Use(26.0, 1.4, tank_ec=200.0, tank_kh=2.0, stored_ammonia=True)
    made = mix_plan([TAP, RAIN], [], {"kh": 6.0}, use, CAPS)
    assert made["headline"].startswith("Not now")
    assert made["steps"] == []
    assert mix_plan([TAP, RAIN], [], {"kh": 1.5}, use, CAPS)["steps"]


@pytest.mark.parametrize(("waters", "targets"), [
    ([], {"gh": 6.0}), ([TAP], {}), ([TAP, RAIN, TAP, RAIN, TAP], {"gh": 6.0}),
])  # fmt: skip
def test_mixes_without_water_or_target_are_refused(
    waters: list[Source], targets: dict[str, float]
) -> None:
    with pytest.raises(InputError):
        recipe(waters, [], targets)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_least_squares_agree_with_another_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    matrix, wanted = rng.normal(size=(7, 5)), rng.normal(size=7)
    ours, theirs = nonnegative(matrix, wanted), nnls(matrix, wanted)[0]
    assert ours.min() >= 0.0
    assert np.linalg.norm(matrix @ ours - wanted) == pytest.approx(
        np.linalg.norm(matrix @ theirs - wanted), abs=1e-8)  # fmt: skip
