"""The report card is good as things are, and tells what is wrong when something is."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from pleuston.engine.kernel import tank_kernel, tank_table
from pleuston.services import check


@pytest.fixture(scope="module")
def card() -> dict[str, Any]:
    return check.report_card()


def test_card_is_good_and_plain_data(card: dict[str, Any]) -> None:
    assert card["good"], json.dumps(card, indent=1)
    assert json.loads(json.dumps(card)) == card


def test_card_counts_laws(card: dict[str, Any]) -> None:
    data = tank_table().data
    both = len(data["rows"]) + len(data["moves"])
    assert card["laws"]["checked"] > both * len(data["conserved"]) + len(data["rows"])
    assert set(card["laws"]["by_kind"]) == {
        "balance", "empty_store", "never_negative", "jump_leaves_no_debt"
    }  # fmt: skip
    assert card["books"]["things"] == len(data["conserved"])
    assert sum(card["parameters"]["share_by_grade"].values()) == pytest.approx(1.0, abs=0.01)
    assert card["kernel"]["model"] == tank_kernel().table.hash


def test_a_lost_coefficient_is_told() -> None:
    data = copy.deepcopy(dict(tank_table().data))
    row = next(r for r in data["rows"] if r["name"] == "oxidise_ammonium")
    del row["coefficients"]["oxygen"]
    count, broken = check.balances(data)
    assert broken == ["oxidise_ammonium makes -3.42686 oxygen_demand"]
    assert count > 1000


def test_a_lost_source_is_told() -> None:
    data = copy.deepcopy(dict(tank_table().data))
    data["rows"][3]["source"] = ""
    assert check.sourced(data)["without_source"] == [data["rows"][3]["name"]]


def test_a_number_that_is_off_is_told() -> None:
    item = {
        "equation": "pleuston.chemistry.carbonate:henry_log", "arguments": {"temperature": 298.15},
        "printed": "-1.464", "unit": "1", "source": "plummer1982", "where": "a misprint",
    }  # fmt: skip
    assert not check._number(item)["agrees"]
    assert check._number(item | {"printed": "-1.468"})["agrees"]
