"""Causes asked of all tanks are told by tanks that borrow from each other."""

from __future__ import annotations

from pathlib import Path

import pytest

import pleuston
from pleuston.base.errors import EngineError
from pleuston.services import why

RACK = Path(pleuston.__file__).with_name("demo_rack")
AT = "2026-08-16T20:00"


@pytest.mark.parametrize(("tank", "borrowed"), [("", True), ("Iris", False)])
def test_all_tanks_borrow_and_one_by_itself_is_quick(
    tank: str, borrowed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bool] = []
    learned: list[bool] = []

    def belief_of(*given: object) -> None:
        asked.append(bool(given[-1]))
        raise EngineError("not now", "here", "wait")

    monkeypatch.setattr(why, "belief_of", belief_of)
    monkeypatch.setattr(why, "learn_all", lambda *_: learned.append(True))
    found = why.why_answer(RACK, tank, AT)
    assert set(asked) == {borrowed}
    assert bool(learned) == borrowed
    answers = found if borrowed else [found]
    assert len(answers) == (9 if borrowed else 1)
    assert all(answer["causes"] for answer in answers), "the signs tell where it can't be run"
