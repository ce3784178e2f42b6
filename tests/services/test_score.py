"""Scores as a job makes them, and what the learning says of itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pleuston.inference.belief import Diagnostics
from pleuston.inference.tank import learn_tank, tank_readings
from pleuston.planning import hindcast
from pleuston.services.diagnostics import diagnostics_of
from pleuston.services.jobs import ask, progress
from pleuston.services.kept import kept_answer
from pleuston.services.score import kept_score

from .jobs_rack import NOW, START, do_next, new_database, record


def test_a_job_scores_a_tank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hindcast, "LEAST_KNOWN", 8.0)
    db = new_database(tmp_path / "rack.db")
    ask(db, "score", "Fern", NOW)
    assert do_next(db)[1] == "done"
    kept, due = kept_score(db, "Fern", NOW)
    assert kept is not None
    assert not due
    assert kept.answer["n"] == 2
    assert {r["quantity"] for r in kept.answer["quantities"]} == {"ph", "temperature"}
    assert kept.answer["words"] == "2 readings: too few to tell."
    db.close()


def test_a_job_on_too_short_a_record_fails_and_says_why(tmp_path: Path) -> None:
    db = new_database(tmp_path / "rack.db")
    ask(db, "score", "Fern", NOW)
    job, state = do_next(db)
    assert state == "failed"
    told = progress(db, job)["message"]
    assert "too few to score a forecast" in told
    assert kept_answer(db, "Fern", "score") is None
    db.close()


def test_doubted_readings_are_named_and_groups_hold_every_number() -> None:
    belief = learn_tank(record(), "Fern", NOW, members=16, from_prior=True)
    pairs, _ = tank_readings(belief.case, belief.at)
    count = len([n for n in belief.names if not n.startswith("error_")])
    at = next(i for i, (r, _) in enumerate(pairs) if r.quantity == "nitrate")
    told = Diagnostics(
        "smoother", 100, 20, 0, 40.0, tempered=0.5, shift=0.1,
        misread=tuple(0.9 if i == at else 0.1 for i in range(len(pairs))),
        informed=tuple([0.9, 0.3] + [0.0] * (count - 2)),
    )  # fmt: skip
    made = diagnostics_of(replace(belief, diagnostics=told, readings=len(pairs)))
    assert [(d["quantity"], d["entry"]) for d in made["doubted"]] == [
        ("nitrate", "Fern-6.9-reading-nitrate_ion")]
    assert [len(g["names"]) for g in made["told"]] == [1, 1, count - 2]
    assert made["doubtful"]
    assert len(made["why_doubtful"]) == 3
    assert (belief.case.clock.moment(0.0) - START).days == 0


def test_a_belief_without_readings_says_so() -> None:
    belief = learn_tank(record(), "Fern", NOW, members=16, from_prior=True)
    assert diagnostics_of(belief)["words"].startswith("Nothing was read yet")


def test_a_doubted_harvest_is_named_as_it_was_noted() -> None:
    belief = learn_tank(record(), "Fern", NOW, members=16, from_prior=True)
    pairs, _ = tank_readings(belief.case, belief.at)
    misread = tuple(0.9 * (r.quantity == "harvest") for r, _ in pairs)
    told = Diagnostics("smoother", 100, 0, 0, 90.0, misread=misread)
    made = diagnostics_of(replace(belief, diagnostics=told, readings=len(pairs)))
    assert [(d["value"], d["entry"]) for d in made["doubted"]] == [
        ("harvest of Lemna minor 3 g", "Fern-7.0-harvest-Lemna minor")]
