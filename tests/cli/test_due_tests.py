"""`pleuston tests`, and the minutes of `pleuston round`, as text and as data."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pleuston.cli.main import run_command
from pleuston.services import answers, due_tests

TEST = {
    "tank": "Fern", "what": "nitrite", "kit": "drops", "value": 4.2, "pays": True, "minutes": 3.0,
    "coins": 0.3, "per_minute": 1.4, "per_coin": 14.0, "last_days": None, "now": "as now",
    "turns": [{"shows": "above 0.15 mg/L", "chance": 0.2, "then": "50 % of the usual food"}],
}  # fmt: skip
ACT = {
    "act": "thin", "what": "Lemna minor", "amount": 12.0, "unit": "g", "reason": "Leave 40 %.",
    "confidence": "good", "if_skipped": "The mat closes.", "binds": "The cover wished for.",
    "would_change": "It would change if the plants grew more slowly.", "minutes": 0.6,
    "since": "Advised 2 weeks ago and not done.",
}  # fmt: skip


def answered(tests: list[dict[str, Any]]) -> Any:
    def answer(rack: str, at: str, minutes: float | None, seed: int) -> dict[str, Any]:
        assert (rack, at, seed) == ("shelf", "2026-07-20", 1)
        made = due_tests.due_data([{"tests": tests}], at, 10.0 if minutes is None else minutes)
        return {**made, "failed": []}

    return answer


def test_tests_are_told_with_what_they_would_change(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(due_tests, "due_answer", answered([TEST]))
    assert run_command(["tests", "shelf", "--at", "2026-07-20", "--minutes", "6"]) == 0
    said = capsys.readouterr().out
    assert "3 of 6 minutes, 0.3 coins" in said
    assert "* Fern: nitrite with drops, worth 4.2 min a week for 3 min" in said
    assert "if it shows above 0.15 mg/L (20%): 50 % of the usual food" in said
    assert run_command(["tests", "shelf", "--at", "2026-07-20", "--minutes", "6", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["tests"] == [TEST]


def test_no_test_is_told_where_none_would_change_anything(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(due_tests, "due_answer", answered([{**TEST, "value": 0.01}]))
    assert run_command(["tests", "shelf", "--at", "2026-07-20"]) == 0
    assert "No reading would change what is done." in capsys.readouterr().out
    assert run_command(["tests", "shelf", "--minutes", "-1"]) == 2


def test_a_round_tells_its_minutes_what_binds_and_what_is_left(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def answer(rack: str, at: str, seed: int, report: None, minutes: float) -> dict[str, Any]:
        assert (rack, seed, report, minutes) == ("shelf", 1, None, 6.0)
        tank = {"tank": "Fern", "state": "watch", "acts": [ACT]}
        left = [{"tank": "Fern", **ACT, "act": "dose", "what": "potassium sulfate", "unit": "mg"}]
        return {"at": at, "minutes": 0.8, "minutes_given": minutes, "tanks": [tank], "left": left}

    monkeypatch.setattr(answers, "round_answer", answer)
    assert run_command(["round", "shelf", "--at", "2026-07-20", "--minutes", "6"]) == 0
    said = capsys.readouterr().out
    assert "about 0.8 of 6 minutes" in said
    for part in ("since: Advised 2 weeks ago", "binds: The cover wished for.",
                 "It would change if the plants", "Left for next week, for want of minutes",
                 "dose: potassium sulfate, 12 mg (Fern): The mat closes."):  # fmt: skip
        assert part in said
