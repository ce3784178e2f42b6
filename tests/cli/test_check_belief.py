"""`pleuston check-belief`: two methods side by side, for people and for programs."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import pytest

from pleuston.cli.main import run_command

RACK = str(Path(str(resources.files("pleuston") / "demo_rack")))
ASKED = ["check-belief", RACK, "Iris", "--at", "2026-03-15T22:00"]


def test_both_methods_are_told_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command([*ASKED, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["tank"] == "Iris"
    assert answer["first"]["method"] == "smoother and re-weighting"
    assert answer["second"]["method"] == "map and laplace"
    assert answer["agree"] == (not answer["apart"])
    names = {row["name"]: row for row in answer["numbers"]}
    assert {"evaporation_factor", "light_factor", "initial_nitrate"} <= set(names)
    assert all(row["shift_sd"] >= 0.0 and row["ratio_of_sd"] > 0.0 for row in names.values())
    for row in names.values():
        for way in ("first", "second"):
            assert row[way]["low"] < row[way]["middle"] < row[way]["high"]


def test_an_unknown_tank_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command(["check-belief", RACK, "Irys"]) == 2
    assert "Irys" in capsys.readouterr().err
