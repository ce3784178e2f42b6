"""Source waters: published analyses come out sound, and seeded slips are named."""

from __future__ import annotations

import json
import random
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from tests.verification.compare import table

from pleuston.base.references import load as references
from pleuston.base.units import normalise
from pleuston.chemistry.conductivity import conductivity_warming
from pleuston.records.record import Water
from pleuston.services import water_sums as sums
from pleuston.services.water_slips import disturbed, likely_slips, witnesses
from pleuston.services.water_words import WORDS
from pleuston.services.waters import EC_ERROR, judge, judge_waters
from pleuston.store.exchange import ImportRefused

BICARBONATE = 61.016
HARD = Water(
    "hard", "tap", 92.0, 11.0, 25.5, 3.0, 268.0, 48.0, 38.0, 14.0, 0.3, 0.02, 9.0, 40.0,
    7.5, 12.0, 15.0, 670.0,
)  # fmt: skip
SOFT = Water(
    "soft", "tap", 22.0, 3.2, 10.5, 1.2, 68.0, 16.0, 12.0, 4.0, 0.05, 0.02, 8.0, 30.0,
    7.4, 3.0, 4.0, 200.0,
)  # fmt: skip
OF_AMMONIUM = 73.5
"""Conductivity by ammonium, for which analyses have no column [uS/cm per mmol/L]."""
AS_CACO3 = 100.087 / 2.0 / BICARBONATE
HEADER = (
    "water,kind,calcium_mg_l,magnesium_mg_l,sodium_mg_l,potassium_mg_l,bicarbonate_mg_l,"
    "sulfate_mg_l,chloride_mg_l,nitrate_mg_l,phosphate_mg_l,iron_mg_l,copper_ug_l,zinc_ug_l,"
    "ph,kh_dh,gh_dh,ec25_us_cm,from,note\n"
)
ROW = "kitchen,tap,48,6,12,2,150,22,18,9,,,25,40,7.7,6.9,8.1,370,2026-01-01,\n"


def measured() -> list[Water]:
    """Fresh waters with their measured conductivity, brought from 20 to 25 degC."""
    found = []
    for row in table("conductivity_stuyfzand1987_measured"):
        of = {name: float(value) for name, value in row.items() if value}
        if of["k20_measured"] >= 1700.0:
            continue
        total = of["HCO3"] + 2.0 * of["CO3"] / 60.008 * BICARBONATE
        ammonium = OF_AMMONIUM * of["NH4"] / 18.039
        shown = of["k20_measured"] / float(conductivity_warming(293.15))
        found.append(
            Water(
                row["no"], "well", of["Ca"], of["Mg"], of["Na"], of["K"], total, of["SO4"],
                of["Cl"], of["NO3"], ph=of["pH"],
                ec25_us_cm=shown - ammonium,
            )
        )  # fmt: skip
    return found


def computed() -> list[tuple[Water, dict[str, str]]]:
    """Thirty made-up waters whose species and conductivity a speciation program gave."""
    found = []
    for row in table("phreeqc_waters30"):
        of = {k: float(row[k]) for k in ("Ca", "Mg", "Na", "K", "Cl", "SO4", "NO3", "PO4")}
        water = Water(
            row["name"], "well", of["Ca"] * 40.078, of["Mg"] * 24.305, of["Na"] * 22.990,
            of["K"] * 39.098, float(row["alk_meq"]) * BICARBONATE, of["SO4"] * 96.056,
            of["Cl"] * 35.45, of["NO3"] * 62.004, of["PO4"] * 94.970,
            ph=float(row["pH_at25_closed"]), gh_dh=float(row["GH_dGH"]),
            ec25_us_cm=float(row["SC25_uScm"]) - OF_AMMONIUM * float(row["NH4"]),
        )  # fmt: skip
        found.append((water, row))
    return found


def of(answer: dict[str, Any], what: str) -> dict[str, Any]:
    """The one finding about something."""
    (found,) = [f for f in answer["findings"] if f["what"] == what]
    return dict(found)


def test_measured_waters_conduct_as_their_ions_say() -> None:
    waters = measured()
    assert len(waters) == 19
    for water in waters:
        ratio = sums.ec25(water) / float(water.ec25_us_cm or 0.0)
        assert 0.99 <= ratio <= 1.22, water.name


def test_measured_waters_balance_and_show_no_slip() -> None:
    for water in measured():
        if (water.bicarbonate_mg_l or 0.0) > 0.0:
            assert abs(sums.charge_of(water).percent) < 5.0, water.name
            assert not likely_slips(water), water.name


def test_computed_waters_conduct_and_hold_the_carbon_of_the_program() -> None:
    waters = computed()
    assert len(waters) == 30
    for water, row in waters:
        shown = float(water.ec25_us_cm or 0.0)
        assert sums.ec25(water) == pytest.approx(shown, rel=EC_ERROR), water.name
        if float(row["alk_meq"]) > 0.18 and float(row["PO4"]) == 0.0:
            here = sums.carbon(water, float(water.ph or 0.0)) / 12.011
            assert here == pytest.approx(float(row["DIC_mmol"]), rel=0.03), water.name
            expected = float(row["tds_ions_mgkg"])
            assert sums.solids(water)[0] == pytest.approx(expected, rel=0.03, abs=2.0), water.name


def test_computed_waters_have_no_slip() -> None:
    named = {w.name: [f.slip.what for f in likely_slips(w)] for w, r in computed()
             if float(r["NH4"]) < 0.02}  # fmt: skip
    assert len(named) > 20
    assert not {name: slips for name, slips in named.items() if slips}


SEEDED = [
    ("alkalinity as mg/L CaCO3, not bicarbonate", "bicarbonate_mg_l", AS_CACO3),
    ("alkalinity in dH, not bicarbonate in mg/L", "bicarbonate_mg_l", 1.0 / 21.762),
    ("alkalinity in meq/L, not bicarbonate in mg/L", "bicarbonate_mg_l", 1.0 / BICARBONATE),
    ("calcium as mg/L CaCO3, not as the ion", "calcium_mg_l", 100.087 / 40.078),
    ("hardness in mg/L CaCO3, not in dH", "gh_dh", 17.848),
    ("hardness in French degrees, not in dH", "gh_dh", 1.7848),
    ("hardness in meq/L, not in dH", "gh_dh", 0.35665),
    ("alkalinity in mg/L CaCO3, not in dH", "kh_dh", 17.848),
    ("conductivity in mS/cm, not in uS/cm", "ec25_us_cm", 1e-3),
    ("conductivity in mS/m, not in uS/cm", "ec25_us_cm", 0.1),
    ("a pen's ppm (factor 0.5), not conductivity", "ec25_us_cm", 0.5),
    ("the decimal point of sodium slipped one place to the right", "sodium_mg_l", 10.0),
    ("the decimal point of chloride slipped one place to the right", "chloride_mg_l", 10.0),
    ("the decimal point of calcium slipped one place to the left", "calcium_mg_l", 0.1),
    ("the decimal point of calcium slipped one place to the right", "calcium_mg_l", 10.0),
    ("the decimal point of sulfate slipped one place to the right", "sulfate_mg_l", 10.0),
]


@pytest.mark.parametrize("base", [HARD, SOFT], ids=lambda w: w.name)
@pytest.mark.parametrize(("what", "column", "factor"), SEEDED, ids=[s[0] for s in SEEDED])
def test_a_seeded_slip_is_named_first(base: Water, what: str, column: str, factor: float) -> None:
    true = float(getattr(base, column))
    spoilt = replace(base, **{column: true * factor})  # type: ignore[arg-type]
    first = likely_slips(spoilt)[0]
    assert first.slip.what == what
    assert first.slip.meant == pytest.approx(true, rel=0.01)
    assert disturbed(first.before) > disturbed(first.after)


def test_nitrate_as_nitrogen_is_named_where_it_shows() -> None:
    rich = replace(HARD, nitrate_mg_l=49.0, sodium_mg_l=38.5, ec25_us_cm=None)
    assert not likely_slips(rich)
    spoilt = replace(rich, nitrate_mg_l=49.0 * 14.007 / 62.004, bicarbonate_mg_l=260.0)
    assert "nitrate as N, not as the ion" in [f.slip.what for f in likely_slips(spoilt)]


def test_sound_waters_disturb_no_witness() -> None:
    for water in (HARD, SOFT):
        assert not disturbed(witnesses(water))
        assert {f["word"] for f in judge(water)["findings"]} <= {"fine", "look"}


def test_alkalinity_slip_is_a_finding_with_what_was_meant() -> None:
    answer = judge(replace(HARD, bicarbonate_mg_l=268.0 * AS_CACO3))
    assert of(answer, "charge_balance")["word"] == "slip"
    slip = next(f for f in answer["findings"] if f["what"] == "likely_slip_bicarbonate")
    assert slip["value"] == pytest.approx(268.0, rel=1e-3)
    assert slip["unit"] == "mg/L"


def test_copper_in_milligrams_and_copper_that_harms() -> None:
    spoilt = judge(replace(HARD, copper_ug_l=0.009))
    assert of(spoilt, "likely_slip_copper")["value"] == pytest.approx(9.0)
    harmful = of(judge(replace(SOFT, copper_ug_l=40.0, note="first draw")), "copper")
    assert harmful["word"] == "act"
    assert "first draw" in harmful["reason"]
    assert of(judge(replace(HARD, copper_ug_l=3.0)), "copper")["word"] == "fine"
    assert of(judge(replace(HARD, copper_ug_l=None)), "copper")["value"] is None


def test_softened_water_shows() -> None:
    sodium = 25.5 + 22.990 * (92.0 / 20.039 + 11.0 / 12.1525 - 0.05)
    soft = replace(HARD, calcium_mg_l=0.7, magnesium_mg_l=0.18, sodium_mg_l=sodium, gh_dh=0.1)
    answer = judge(soft)
    assert of(answer, "charge_balance")["word"] == "fine"
    assert of(answer, "softened")["word"] == "act"
    assert of(judge(HARD), "softened")["word"] == "fine"


def test_tap_gasses_out_and_its_ph_rises() -> None:
    answer = judge(HARD)
    assert of(answer, "co2")["value"] == pytest.approx(12.3, abs=0.5)
    standing = of(answer, "ph_after_standing")
    assert 8.5 < standing["value"] < 8.9
    assert standing["low"] == pytest.approx(standing["value"] - 0.35, abs=0.05)


def test_salts_pile_up_with_hard_top_up_only() -> None:
    assert of(judge(HARD), "salts_double")["word"] == "look"
    rain = Water("rain", "rain", 0.6, 0.1, 0.7, 0.2, 0.8, 1.0, 0.9, 0.9, 0.02, ph=5.75)
    assert of(judge(rain), "salts_double")["word"] == "fine"


def test_impossible_ph_is_told_and_left_out() -> None:
    answer = judge(replace(HARD, ph=13.5))
    assert of(answer, "ph")["word"] == "slip"
    assert "co2" not in [f["what"] for f in answer["findings"]]


def test_what_lacks_is_told() -> None:
    found = of(judge(replace(HARD, sodium_mg_l=None)), "missing_ions")
    assert "25." in found["reason"]
    empty = judge(Water("bare", "tap"))
    assert of(empty, "missing_ions")["value"] == 6
    assert all(f["word"] == "look" for f in empty["findings"])


def test_pure_water_is_judged_without_fault() -> None:
    nothing = Water("pure", "ro", 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, ph=7.0,
                    ec25_us_cm=1.0)  # fmt: skip
    assert {f["word"] for f in judge(nothing)["findings"]} == {"fine"}


@pytest.mark.parametrize("water", [HARD, SOFT, Water("bare", "tap")], ids=lambda w: w.name)
def test_every_finding_is_whole(water: Water) -> None:
    for one in judge(water)["findings"]:
        assert set(one) == {"what", "value", "unit", "low", "high", "word", "reason", "source"}
        assert one["word"] in WORDS
        assert one["source"] in references()
        assert one["reason"]
        normalise(one["unit"])


def test_any_analysis_is_judged_without_fault() -> None:
    """Absurd numbers too: each finding stays finite."""
    chance = random.Random(7)
    columns = [f.name for f in fields(Water) if f.name.endswith(("_l", "_dh", "_cm"))]
    for _ in range(400):
        given = {
            name: chance.choice((None, 0.0, *(10.0 ** chance.uniform(-3, 5) for _ in range(5))))
            for name in columns
        }
        kind = chance.choice(("tap", "rain", "ro", "well", "bottle"))
        water = Water("x", kind, ph=chance.uniform(0.0, 14.0), **given)
        json.dumps(judge(water), allow_nan=False)


def test_brackish_water_is_told() -> None:
    found = of(judge(replace(HARD, sodium_mg_l=9000.0, chloride_mg_l=14000.0)), "ionic_strength")
    assert found["word"] == "slip"


def test_a_file_is_read_or_every_problem_told(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(HEADER + ROW, encoding="utf-8")
    (answer,) = judge_waters(path)
    assert (answer["water"], answer["kind"], answer["from"]) == ("kitchen", "tap", "2026-01-01")
    path.write_text(
        HEADER
        + ROW.replace(",48,", ",-48,")
        + ROW.replace("kitchen,tap", "cellar,sea").replace("7.7", "16"),
        encoding="utf-8",
    )
    with pytest.raises(ImportRefused) as refused:
        judge_waters(path)
    places = [problem.where for problem in refused.value.problems]
    assert "mine.csv:2:calcium_mg_l" in places
    assert "mine.csv:3:kind" in places
    assert "mine.csv:3:ph" in places


@pytest.mark.parametrize("text", ["", HEADER, "water,kind\nx,tap\n"])
def test_a_file_without_waters_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "waters.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ImportRefused):
        judge_waters(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(ImportRefused, match="columns of waters"):
            judge_waters(path)
