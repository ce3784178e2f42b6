"""Decisions on handing on: what may leave the house, by law notices and metal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pleuston.records.library import library
from pleuston.records.record import Water
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.slips import metal_flag, slips

from .rack import START, entry, record, usual

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
