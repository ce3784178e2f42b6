"""Decisions on water, each against a sum by hand: litres, top-up, creep, steps, KH, copper, doses.

The sums stand in the docstrings. Compositions and worked examples are common practice of the
trade, read off published tables where a key is named (emerson1975, benson1984).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import numpy as np
import pytest

from pleuston.engine.kernel import tank_table
from pleuston.planning.acts_safety import copper
from pleuston.planning.acts_water import salts
from pleuston.planning.correction import needed_share
from pleuston.planning.dosing import dose_mass
from pleuston.planning.habits import habits_of
from pleuston.planning.limits import Caps
from pleuston.planning.mixer import recipe, weeks_to_double
from pleuston.planning.outlook import Ahead, run_ahead
from pleuston.planning.sources import Source, share_within_step, sources
from pleuston.planning.steps import Standing, share_within_steps
from pleuston.services.catalogue import net_litres

from .fakes import Drawn, fake_view
from .rack import belief

DKH = 2.8039
"""Degrees of carbonate hardness of a meq/L: 1 dH is 10 mg/L CaO, 0.35665 meq/L."""
CAPS = Caps(0.10, 0.3, 2.0)


@cache
def dry_weeks() -> Ahead:
    """Four weeks of a tank filled up with hard water: nothing fed, nothing taken out."""
    made = belief(top_up_water="hard", lid="open")
    habits = replace(habits_of(made.case, made.at), top_up_water="hard", thinning={}, meals=())
    return run_ahead(made, 28, habits, threads=1, extents=True)


def went(ahead: Ahead, name: str) -> np.ndarray:
    """(members,) what a row or move carried over a run [L or mg]."""
    table = ahead.belief.case.table
    names = [r["name"] for r in table.data["rows"]] + [m["name"] for m in table.data["moves"]]
    assert ahead.run.extents is not None
    return np.asarray(ahead.run.extents[-1, names.index(name)])


def poured(ahead: Ahead, what: str) -> np.ndarray:
    """(members,) what the top-ups of a run brought: litres of water, mg of the rest."""
    return went(ahead, f"top_up_{what}")


def held(ahead: Ahead, state: str) -> tuple[np.ndarray, np.ndarray]:
    """(members,) of a store before and after a run."""
    at = ahead.belief.case.table.at("state", state)
    return ahead.belief.end[:, at], ahead.run.end[:, at]


# -- D1 litres ------------------------------------------------------------------------


def test_d1_a_tank_sold_as_54_litres_holds_43() -> None:
    """60 x 30 cm, filled to 27 of 30 cm, 5 cm of bed with 40 % pores.

    1800 cm2 x (27 - 5 x 0.6) cm = 43.2 L, free water 1800 x 22 = 39.6 L: 20 % less than the label.
    """
    made = net_litres(60, 30, 27, 25, 25, soil_porosity=0.4, cap_porosity=0.4)
    assert made["net_l"] == pytest.approx(43.2, abs=0.01)
    free = made["net_l"] - made["surface_m2"] * 50.0 * 0.4
    assert free == pytest.approx(39.6, abs=0.01)
    assert made["net_l"] / 54.0 == pytest.approx(0.80, abs=0.005)


# -- D8 top-up, D9 creep --------------------------------------------------------------


def test_d8_topping_up_doubles_the_salts_in_v_over_e_weeks() -> None:
    """26 L that lose 1.4 L a week to the air: 26 / 1.4 = 18.6, about 19 weeks."""
    assert weeks_to_double(26.0, 1.4, 100.0, 100.0) == pytest.approx(19.0, abs=0.5)


def test_d8_the_model_gathers_chloride_at_that_pace() -> None:
    """Chloride only gathers: after four weeks it has grown by 4 / (weeks to double)."""
    ahead = dry_weeks()
    litres, (before, after) = poured(ahead, "water"), held(ahead, "chloride")
    volume = ahead.belief.case.tank.net_l
    weeks = [
        weeks_to_double(volume, float(e) / 4.0, float(m) / volume, 40.0)
        for e, m in zip(litres, before, strict=True)
    ]
    assert np.median(litres) > 1.0
    assert after / before - 1.0 == pytest.approx(4.0 / np.array(weeks), rel=1e-3)


def test_d8_a_blend_of_hard_and_soft_meets_its_hardness_by_shares() -> None:
    """12 dH and 1 dH to 5 dH: the hard one's share is (5 - 1) / (12 - 1) = 36 %."""
    made = belief()
    waters = [w for w in sources(made.case, made.at) if w.name in ("hard", "soft")]
    found = recipe(waters, (), {"kh": 5.0})
    assert found.shares["hard"] == pytest.approx(4.0 / 11.0, abs=0.01)
    assert found.shares["soft"] == pytest.approx(7.0 / 11.0, abs=0.01)


def test_d9_evaporation_concentrates_what_only_gathers_alike() -> None:
    """Creep by evaporation: sodium, chloride and sulfate rise by what the litres brought.

    What the plants and scale take falls behind: potassium and calcium rise by less than what
    was poured in and what the bed gave beyond what it took.
    """
    ahead = dry_weeks()
    for ion in ("sodium", "chloride"):
        before, after = held(ahead, ion)
        assert after - before == pytest.approx(poured(ahead, ion), rel=1e-6)
    for ion in ("potassium", "calcium"):
        before, after = held(ahead, ion)
        given = went(ahead, f"release_{ion}_from_soil") - went(ahead, f"sorb_{ion}_to_soil")
        assert np.median(after - before) < np.median(poured(ahead, ion) + given)


def test_d9_creep_is_told_with_its_cause_and_a_cure() -> None:
    """The act names the water that brings the salts, and changes over by top-ups alone."""
    drawn = Drawn(0.01, 0.01, 5.0, 0.001, 7.4, 6.0, 9.0, 420.0, 7.0, 24.0, 0.97, 0.3, 0.05, 1, 1.3,
                  plan=_now())  # fmt: skip
    (act,) = salts(fake_view(drawn, "hard"))
    assert (act.act, act.what) == ("change_top_up", "half")
    assert "hard brings" in act.reason
    assert "top-ups alone" in act.reason
    assert salts(fake_view(replace(drawn, drift=1.0), "hard")) == []


def _now():  # type: ignore[no-untyped-def]
    from pleuston.planning.plan import Plan

    return Plan("as now")


# -- D10 steps, D19 dilution, D20 doses -----------------------------------------------


def test_d10_a_correction_is_as_big_as_its_step() -> None:
    """400 to 100 uS/cm is a gap of 75 %: a step of 10 % allows 10 / 75 = 13.3 % of the water."""
    assert share_within_step(400.0, 100.0, CAPS.ec) == pytest.approx(0.1333, abs=1e-4)


def test_d10_hardness_may_bind_before_salts_do() -> None:
    """KH 10 dH against none: a step of one degree allows a tenth of the water, salts 11 %."""
    pure = Source("pure", dict.fromkeys(
        ("alkalinity", "carbon_inorganic", "calcium", "magnesium", "sodium", "potassium",
         "chloride", "sulfate", "nitrate", "phosphate"), 0.0), ())  # fmt: skip
    hard = Standing(ec25=400.0, kh=10.0, gh=8.0, carbon=45.0, kelvin=297.15, stored=False)
    assert share_within_steps(hard, pure, Caps(0.11, 0.3, 2.0)) == pytest.approx(0.10, abs=1e-6)
    soft = replace(hard, kh=2.0, gh=3.0, carbon=9.0)
    assert share_within_steps(soft, pure, CAPS) == pytest.approx(0.10, abs=1e-3)


@pytest.mark.parametrize(
    ("now", "limit", "new", "share"),
    [(40.0, 20.0, 0.0, 0.5), (40.0, 20.0, 5.0, 0.5714), (1.0, 0.25, 0.0, 0.75),
     (10.0, 20.0, 0.0, 0.0)],
)  # fmt: skip
def test_d19_the_share_that_dilutes(now: float, limit: float, new: float, share: float) -> None:
    """1 - (limit - new) / (now - new): 40 to 20 with a water of 5 takes 20 / 35 = 57 %."""
    found = needed_share(now, limit, new)
    assert found == pytest.approx(share, abs=1e-4)
    assert (1.0 - found) * now + found * new == pytest.approx(min(now, limit))


def test_d20_a_dose_is_rise_times_net_litres_over_content() -> None:
    """5 mg/L of potassium in 43 L: 215 mg of K; K2SO4 holds 78.2 / 174.26 = 44.9 %: 479 mg.

    By the label's 54 L it would be 602 mg, a quarter too much; a powder of 98 % takes 489 mg.
    """
    mass = dose_mass("potassium sulfate", "potassium", 5.0, 43.0, 1.0)
    assert mass == pytest.approx(215.0 / 0.4487, rel=1e-3)
    label = dose_mass("potassium sulfate", "potassium", 5.0, 54.0, 1.0)
    assert label / mass == pytest.approx(1.256, abs=1e-3)
    assert dose_mass("potassium sulfate", "potassium", 5.0, 43.0, 0.98) == pytest.approx(489, abs=1)


# -- D11 carbonate hardness -----------------------------------------------------------


def bought(*rows: tuple[str, float]) -> float:
    """Alkalinity [meq] that a mg of nitrogen takes on its way through rows of the model."""
    found = {r["name"]: r["coefficients"] for r in tank_table().data["rows"]}
    return sum(share * float(Fraction(found[name].get("alkalinity", "0"))) for name, share in rows)


NITROGEN = 10.0 / 62.004 * 14.007
"""Nitrogen [mg/L] of 10 mg/L of nitrate."""


def test_d11_nitrate_made_of_ammonium_costs_nine_tenths_of_a_degree() -> None:
    """10 mg/L of nitrate are 0.161 mmol/L: two acids each, 0.323 meq/L, 0.90 dKH."""
    cost = -NITROGEN * bought(("oxidise_ammonium", 1.0), ("oxidise_nitrite", 1.0)) * DKH
    assert cost == pytest.approx(0.90, abs=0.005)


def test_d11_nitrate_made_of_food_costs_half_of_that() -> None:
    """Protein gives one base back when its nitrogen turns to ammonium: 0.45 dKH are left."""
    way = (("excrete_ammonium_fish", 1.0), ("oxidise_ammonium", 1.0), ("oxidise_nitrite", 1.0))
    assert -NITROGEN * bought(*way) * DKH == pytest.approx(0.45, abs=0.003)


def test_d11_plants_give_a_base_for_nitrate_and_take_one_for_ammonium() -> None:
    """Food nitrogen that ends in plants costs nothing, whichever form they take it up in."""
    food = ("excrete_ammonium_fish", 1.0)
    by_nitrate = (food, ("oxidise_ammonium", 1.0), ("oxidise_nitrite", 1.0),
                  ("take_up_nitrate_floater1", 1.0))  # fmt: skip
    assert bought(*by_nitrate) == pytest.approx(0.0, abs=1e-9)
    assert bought(food, ("take_up_ammonium_floater1", 1.0)) == pytest.approx(0.0, abs=1e-9)


# -- D12 copper -----------------------------------------------------------------------


def test_d12_copper_of_the_top_up_never_gathers_beyond_what_was_brought() -> None:
    """C <= C0 + E C_in / V; what soil and plants hold back is the rest: steady E C_in / V / k.

    With the loss rate that the last two weeks show, the closed form of a steady inflow and a
    loss in proportion tells where four weeks end.
    """
    ahead = dry_weeks()
    litres, copper_in = poured(ahead, "water"), poured(ahead, "copper")
    before, after = held(ahead, "copper")
    assert np.all(after <= before + copper_in + 1e-9)
    water = ahead.run.values[:, ahead.run.outputs.index("copper_concentration")]
    volume = ahead.belief.case.tank.net_l
    inflow = copper_in / 28.0 / volume
    assert np.all(litres > 0.0)
    half = water[13]
    loss = (inflow - (water[13] - water[0]) / 13.0) / ((water[13] + water[0]) / 2.0)
    steady = inflow / np.maximum(loss, 1e-9)
    told = steady + (half - steady) * np.exp(-loss * 14.0)
    assert np.median(np.abs(told / water[27] - 1.0)) < 0.15


@pytest.mark.parametrize(
    ("micrograms", "gh", "acts"),
    [(8.0, 4.0, []), (16.0, 4.0, ["check_source"]), (16.0, 12.0, []),
     (24.0, 12.0, ["check_source"])],
)  # fmt: skip
def test_d12_shrimp_stand_ten_micrograms_soft_and_twenty_hard(
    micrograms: float, gh: float, acts: list[str]
) -> None:
    """The rule of the trade for tanks with invertebrates: act from 10 ug/L, 20 in hard water."""
    drawn = Drawn(0.01, 0.01, 5.0, micrograms / 1000.0, 7.4, 6.0, gh, 420.0, 7.0, 24.0, 0.99, 0.3,
                  0.02, 1, 1.0, plan=_now())  # fmt: skip
    found = copper(fake_view(drawn))
    assert [a.act for a in found if a.act == "check_source"] == acts
