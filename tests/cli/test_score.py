"""`pleuston score`: words for people, numbers for programs, refusals."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import pytest

from pleuston.cli.main import run_command
from pleuston.records.record import Record
from pleuston.services import score as services

RACK = str(Path(str(resources.files("pleuston") / "demo_rack")))


def test_a_short_record_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command(["score", RACK, "Alder", "--at", "2026-03-20T22:00"]) == 2
    assert "too few to score a forecast" in capsys.readouterr().err


def test_an_unknown_tank_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command(["score", RACK, "Aldr"]) == 2
    assert "Aldr" in capsys.readouterr().err


def test_every_short_tank_of_a_rack_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command(["score", RACK, "--at", "2026-03-20T22:00", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told) > 1
    assert all("too few" in one["error"] for one in told)


def test_scores_are_said_in_words(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def made(_record: Record, tank: str, *_: object, **__: object) -> dict[str, object]:
        row = {"n": 20, "bands": {"90": 0.9}, "skill_last": 0.4, "skill_line": 0.0}
        return {**row, "tank": tank, "starts": ["a", "b"], "skipped": ["a"],
                "quantities": [{**row, "quantity": "ec25"}]}  # fmt: skip

    monkeypatch.setattr(services, "hindcast", made)
    assert run_command(["score", RACK, "Alder"]) == 0
    text = capsys.readouterr().out
    assert "Of 20 readings 18 fell in the band that should hold 18." in text
    assert "from 1 moment of" in text
    assert "40 % closer than the last reading; about as close as a straight line." in text
