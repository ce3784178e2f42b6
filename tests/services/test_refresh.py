"""Answers made in the foreground: what no longer holds, one tank, all; by the command line too."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pleuston.base.errors import InputError
from pleuston.cli.main import run_command
from pleuston.services import refresh as service
from pleuston.services.kept import kept_answer
from pleuston.services.refresh import refresh
from pleuston.store.session import Database

from .jobs_rack import FEW, NOW, new_database, record


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    made = new_database(tmp_path / "rack.db", record(("Fern",)))
    yield made
    made.close()


def test_what_holds_is_not_made_again(db: Database) -> None:
    heard: list[dict[str, Any]] = []
    at = NOW.isoformat()
    made = refresh(db.address, at=at, processes=1, told=heard.append, effort=FEW)
    assert [(t["tank"], t["ended"], t["why"]) for t in made["tanks"]] == [("Fern", "done", "")]
    assert heard[-1]["progress"] == 1.0
    kept = kept_answer(db, "Fern", "outlook", NOW)
    assert kept is not None
    assert (kept.at, kept.stale) == (NOW, False)
    assert refresh(db.address, at=at, effort=FEW)["tanks"] == []


def test_a_bad_time_or_tank_is_refused(db: Database) -> None:
    with pytest.raises(InputError, match="Ferm"):
        refresh(db.address, "Ferm", NOW.isoformat())
    with pytest.raises(InputError, match="not a time"):
        refresh(db.address, at="soon")


def test_the_command_tells_each_tank_and_fails_when_one_did(
    db: Database, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def done(_db: Database, asked: dict[str, str], *_: Any) -> list[dict[str, Any]]:
        return [{"tank": t, "job": j, "ended": "failed", "why": "no"} for j, t in asked.items()]

    monkeypatch.setattr(service, "_done", done)
    assert run_command(["refresh", db.address, "Fern", "--at", "2026-03-18", "--json"]) == 3
    out, err = capsys.readouterr()
    assert json.loads(out)["tanks"][0]["ended"] == "failed"
    assert "not every tank" in err
