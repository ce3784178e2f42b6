"""Where numbers come from: every name of the model has an answer that leads to a source."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pleuston.base.errors import UnknownNameError
from pleuston.base.parameters import GRADES
from pleuston.base.parameters import load as parameters
from pleuston.base.references import load as references
from pleuston.cli.show import as_data
from pleuston.engine.kernel import tank_table
from pleuston.records.kinds import READINGS
from pleuston.services import explain
from pleuston.services.explain import (
    PROCESSES,
    formula_of,
    names,
    parameters_answer,
    table_answer,
    where_answer,
)

SOURCE = Path(explain.__file__).parents[2]
DATA = tank_table().data


def records_in(answer: dict[str, Any]) -> set[str]:
    """Names of all parameter records anywhere in an answer."""
    found = {record["name"] for record in answer.get("parameters", [])}
    for key in ("behind", "moves", "members"):
        for part in answer.get(key, []):
            found |= records_in(part)
    return found


def test_nitrification_shows_formula_source_and_graded_parameters() -> None:
    answer = where_answer("nitrify")
    assert [m["name"] for m in answer["members"]] == ["oxidise_ammonium", "oxidise_nitrite"]
    first = answer["members"][0]
    assert first["unit"] == "mg/d"
    assert first["source_key"] in references()
    assert first["coefficients"]["ammonium"] == "-1"
    assert any("saturating(oxygen_concentration" in b["formula"] for b in first["behind"])
    assert "nitrification_capacity" in records_in(first)
    for part in first["behind"]:
        for record in part["parameters"]:
            assert record["grade"] in GRADES
            assert record["low"] <= record["value"] <= record["high"]


@pytest.mark.parametrize("row", [r["name"] for r in DATA["rows"]])
def test_every_row_leads_to_its_code_and_source(row: str) -> None:
    answer = where_answer(row)
    assert answer["kind"] == "row"
    path, _, line = answer["place"].partition(":")
    text = (SOURCE / path).read_text("utf-8").splitlines()
    near = "\n".join(text[int(line) - 1 : int(line) + 30])
    function = next(r["function"] for r in DATA["rows"] if r["name"] == row)
    assert f"def {function}(" in near
    assert answer["formula"].splitlines()[0].strip() in near
    assert answer["source_key"] in references()
    assert answer["meaning"]


def test_every_name_has_an_answer_that_is_plain_data() -> None:
    every = names()
    assert len(every) > 500
    for name in every:
        answer = where_answer(name)
        assert answer["name"] == name
        if answer["kind"] in ("row", "quantity", "state", "jump", "reading"):
            assert answer["meaning"], name
            assert answer["unit"], name
        json.dumps(as_data(answer), allow_nan=False)


def test_everyday_names_stand_for_what_the_model_has() -> None:
    known = {r["name"] for r in DATA["rows"]} | set(DATA["jumps"])
    assert {m for members in PROCESSES.values() for m in members} <= known
    assert [m["name"] for m in where_answer("denitrify")["members"]] == [
        "denitrify_dissolved", "denitrify_in_soil",
    ]  # fmt: skip


def test_state_tells_what_changes_it_and_what_it_holds() -> None:
    answer = where_answer("nitrate")
    assert answer["kind"] == "state"
    assert answer["holds"]["N"] == "1"
    assert {"oxidise_nitrite", "take_up_nitrate_floater1"} <= set(answer["changed_by"])
    assert "nitrate_concentration" in answer["used_by"]
    assert answer["limits"]


def test_quantity_shows_the_limits_of_its_reading() -> None:
    assert where_answer("nitrate_concentration")["limits"] == where_answer("nitrate")["limits"]


def test_parameter_tells_its_record_and_what_uses_it() -> None:
    answer = where_answer("lemna_growth_max")
    (record,) = answer["parameters"]
    assert record["name"] == "lemna_growth_max"
    assert any("floater1" in user for user in answer["used_by"])
    every = where_answer("floater1_growth_max")
    assert {"lemna_growth_max", "pistia_growth_max"} <= records_in(every)


def test_jump_lists_its_moves() -> None:
    answer = where_answer("top_up")
    assert answer["kind"] == "jump"
    assert "top_up_water" in [move["name"] for move in answer["moves"]]


@pytest.mark.parametrize("reading", [r for r in READINGS if r not in ("ph", "gh", "temperature")])
def test_readings_lead_to_what_the_model_computes(reading: str) -> None:
    answer = where_answer(reading)
    assert answer["meaning"]
    inner = answer.get("inputs") or [reading]
    known = {*DATA["quantities"], *DATA["forcings"], *(s["name"] for s in DATA["states"])}
    assert answer["kind"] in ("state", "forcing", "quantity") or set(inner) <= known


def test_limit_by_its_own_name() -> None:
    answer = where_answer("limit_copper_day")
    assert answer["kind"] == "limit"
    assert all(limit["source"] in references() for limit in answer["limits"])


@pytest.mark.parametrize(
    ("name", "near"), [("oxidise_amonium", "oxidise_ammonium"), ("lemna_growth_mx", "lemna_growth")]
)
def test_unknown_name_gets_near_ones(name: str, near: str) -> None:
    with pytest.raises(UnknownNameError) as refused:
        where_answer(name)
    assert near in refused.value.remedy
    assert refused.value.exit_code == 2


def test_formula_is_the_body_without_docstring_and_marks() -> None:
    source = "def f(a):\n    '''Doc.'''\n    b = (\n        a\n    )  # fmt: skip\n    return b\n"
    assert formula_of(source) == "b = (\n    a\n)\nreturn b"
    assert formula_of("def g(a):\n    return a\n") == "return a"


def test_table_has_every_row_once_with_solved_coefficients() -> None:
    answer = table_answer()
    assert [r["name"] for r in answer["rows"]] == [r["name"] for r in DATA["rows"]]
    assert all(row["coefficients"] and row["source"] for row in answer["rows"])
    assert sum(len(table_answer(t)["rows"]) for t in answer["themes"]) == len(DATA["rows"])
    with pytest.raises(UnknownNameError, match="nitrogen"):
        table_answer("nitrogn")


def test_parameters_by_prefix_with_their_grades() -> None:
    answer = parameters_answer("lemna_")
    listed = answer["parameters"]
    assert {p["name"] for p in listed} == {n for n in parameters() if n.startswith("lemna_")}
    assert sum(answer["grades"].values()) == len(listed)
    assert len(parameters_answer()["parameters"]) == len(parameters())
    with pytest.raises(UnknownNameError):
        parameters_answer("zzz")
