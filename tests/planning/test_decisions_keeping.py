"""Decisions on keeping and handing on: is the soil worn out, what may leave the house."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pleuston.planning.habits import habits_of
from pleuston.planning.outlook import run_ahead
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
    assert "Ask the authority" in found.data["law"]
    assert "Not food" in duckweed["food"]
