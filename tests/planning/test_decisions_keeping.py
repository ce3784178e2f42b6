"""Decisions on keeping and handing on: is the soil worn out, what may leave the house."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from pleuston.base import parameters
from pleuston.planning.give_away import law_said
from pleuston.planning.habits import habits_of
from pleuston.planning.moving import flags_of_record, metals_in
from pleuston.planning.outlook import run_ahead
from pleuston.planning.soil_age import verdict, years_left
from pleuston.records.library import library
from pleuston.records.record import Water
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.slips import metal_flag, slips

from .rack import START, belief, entry, record, usual

# -- D16 soil or water ----------------------------------------------------------------

SOIL = ("soil_nitrogen", "soil_phosphorus", "soil_carbon", "ammonium_soil", "phosphate_soil",
        "potassium_soil", "iron_soil", "rooted_nitrogen", "rooted_phosphorus")  # fmt: skip
WATER = ("potassium", "floater1_potassium")


def growths(emptied: tuple[str, ...]) -> tuple[float, float]:
    """Growth [1/d] of rooted and floating plants over three weeks with some stores emptied."""
    made = belief(extra=(entry(0.01, "plant_in", "Vallisneria spiralis", 40.0),))
    table, end = made.case.table, made.end.copy()
    for state in emptied:
        end[:, table.at("state", state)] *= 0.01
    habits = replace(habits_of(made.case, made.at), thinning={})
    run = run_ahead(replace(made, end=end), 21, habits, threads=1).run
    at = [table.at("state", s) for s in ("rooted_carbon", "floater1_carbon")]
    rooted, floating = np.median(np.log(run.end[:, at] / end[:, at]), axis=0) / 21.0
    return float(rooted), float(floating)


def test_d16_floaters_that_stall_beside_sound_rooted_plants_tell_of_the_water() -> None:
    """The rule of the trade: floaters stall, rooted fine: the water's potassium, not the soil.

    Soil and the rooted plants' own stores emptied: it is the rooted ones that lose most of theirs.
    """
    usual_rooted, usual_floating = growths(())
    rooted, floating = growths(WATER)
    assert usual_floating - floating > 0.2 * usual_floating
    assert abs(usual_rooted - rooted) < 0.05 * usual_floating
    worn_rooted, worn_floating = growths(SOIL)
    assert usual_rooted - worn_rooted > 5.0 * abs(usual_rooted - rooted)
    assert (usual_rooted - worn_rooted) / abs(usual_rooted) > (
        usual_floating - worn_floating) / usual_floating  # fmt: skip


def test_d16_the_store_runs_down_by_halves() -> None:
    """Half is left after two years: a quarter, the worn share, after two more.

    A tenth left: worn already. Nothing lost: for longer than anyone plans.
    """
    found = years_left(np.array([0.5, 0.1]), 2.0)
    assert found[0] == pytest.approx(2.0)
    assert found[1] == 0.0
    assert years_left(np.array([1.0]), 3.0)[0] >= 30.0


@pytest.mark.parametrize(
    ("worn", "rooted", "floating", "said"),
    [(0.9, 0.0, 0.08, "worn"), (0.1, 0.03, 0.0, "water"), (0.1, 0.03, 0.08, "neither"),
     (0.9, 0.0, 0.0, "both"), (0.1, 0.0, 0.08, "suspect")],
)  # fmt: skip
def test_d16_soil_or_water_by_what_stalls(
    worn: float, rooted: float, floating: float, said: str
) -> None:
    """Rooted stall, floaters fine, store low: soil. Floaters stall, rooted fine: the water."""
    assert verdict(worn, rooted, floating) == said


# -- D24 giving away ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "ask"),
    [("Pistia stratiotes", True), ("Salvinia molesta", True), ("Azolla filiculoides", True),
     ("Hygrophila polysperma", True), ("Limnophila sessiliflora", True), ("Egeria densa", True),
     ("Pomacea diffusa", True), ("Lemna minor", False), ("Spirodela polyrhiza", False),
     ("Planorbella duryi", False)],
)  # fmt: skip
def test_d24_what_is_restricted_somewhere_is_asked_about_first(name: str, ask: bool) -> None:
    """Lists of invasive plants and snails as leads, not law: native duckweeds are on none."""
    assert library().find_species(name).check_law is ask


def facts(copper: float, *more: object) -> tuple[Facts, list[Water]]:
    """A tank topped up with water of some copper [ug/L]."""
    made = record([*usual(), *more], top_up_water="hard")  # type: ignore[list-item]
    waters = [replace(w, copper_ug_l=copper) if w.name == "hard" else w for w in made.waters]
    moment = START.replace(month=4, day=6)
    floating = ["Lemna minor", "Salvinia molesta"]
    tank = made.tank_at("Fern", moment)
    return Facts(made, tank, moment, {}, floating, [], ""), waters


def test_d24_duckweed_gathers_copper_a_thousandfold_so_its_water_flags_it() -> None:
    """1 to 2 g/kg dry in water of 1 mg/L: a thousand times. 9 ug/L may mean 10 to 20 mg/kg dry."""
    assert metal_flag(*facts(9.0)).startswith("METAL SUSPECTED: topped up with water of 9")
    assert metal_flag(*facts(1.0)).startswith("METAL: not known")
    read = entry(30.0, "reading", "copper", 0.05, high=0.1, unit="mg/L")
    assert "copper read at" in metal_flag(*facts(1.0, read))


def test_d24_the_copper_in_a_handful_is_dry_mass_times_its_share() -> None:
    """20 g drained at 5.5 % hold 1.1 g dry; at 1.5 g/kg, as in water of 1 mg/L, 1.65 mg."""
    made = belief()
    table, end = made.case.table, made.end.copy()
    dry = end[:, table.at("state", "floater1_carbon")] / 378.0
    end[:, table.at("state", "floater1_copper")] = dry * 1.5
    share = parameters.load()["lemna_dry_share"].value
    found = metals_in(replace(made, end=end), "Lemna minor", 20.0)["copper"]
    assert found == pytest.approx([20.0 * share * 1.5] * 3)
    assert found[1] == pytest.approx(1.65, rel=0.15)


def test_d24_deaths_without_a_reason_hold_every_move_back() -> None:
    """The trade's rule: nothing leaves a tank of unexplained deaths, medicine or copper."""
    lost = record([*usual(), entry(30.0, "death", "Neocaridina davidi", 3)])
    now = START.replace(month=4, day=6)
    held = [f.text for f in flags_of_record(lost, "Fern", now) if f.block]
    assert len(held) == 1
    assert held[0].startswith("3 deaths without a reason noted")
    assert not any(f.block for f in flags_of_record(record(usual()), "Fern", now))
    dosed = record([*usual(), entry(30.0, "note", "medicine against worms")])
    assert any(f.block for f in flags_of_record(dosed, "Fern", now))


def test_d24_the_law_is_a_lead_to_the_authority_never_a_fact() -> None:
    """What a list once named is checked first; what none named is still asked about."""
    listed = " ".join(law_said(library().find_species("Pistia stratiotes"), "EU"))
    native = " ".join(law_said(library().find_species("Lemna minor"), "EU"))
    assert listed.startswith("CHECK FIRST")
    assert "CHECK FIRST" not in native
    for said in (listed, native):
        assert "authority" in said.lower()
        assert not re.search(r"\b(is|are) (legal|allowed|permitted)\b", said)


def test_d24_a_kit_s_nothing_never_says_that_there_is_none() -> None:
    nothing = entry(30.0, "reading", "copper", None, high=0.05, unit="mg/L")
    said = metal_flag(*facts(1.0, nothing))
    assert said.startswith("METAL: not known")
    assert "no test was made that could rule it out" in said


def test_d24_a_slip_blocks_what_is_restricted_and_never_lets_any_go() -> None:
    found = slips(*facts(9.0))
    duckweed, salvinia = found.data["slips"]
    assert not duckweed["restricted"]
    assert "CHECK FIRST" in salvinia["restricted"]
    assert "Never release" in found.data["never"]
    assert all("Ask the authority" in s["law"] for s in found.data["slips"])
    assert "Not food" in duckweed["food"]
