"""Trust: asked for, shown in words, refused where there is too little."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from pleuston.planning.hindcast import Held, scores
from pleuston.services.kept import ask_old_scores
from pleuston.services.model_stamp import model_now
from pleuston.services.score import worded
from pleuston.store import jobs
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.record_hash import record_hash
from pleuston.store.session import Database

from .clients import client_on
from .racks import NOW


def _score(db: Database, days_ago: float = 1.0) -> None:
    """Scores of 20 conductivities, of which half lie far off, and 3 pH."""
    held = [Held("ec25", 1.0 + i, 0.5 if i % 2 else 0.999, 0.5 if i % 2 else 0.999, 1.0, 2.0, 0.8)
            for i in range(20)]  # fmt: skip
    held += [Held("ph", 5.0, 0.1, 0.9, 0.0, None, None)] * 3
    made = worded({"tank": "Alder", "starts": ["2026-03-01T00:00"], "skipped": [],
                   **scores(held)})  # fmt: skip
    at = NOW - timedelta(days=days_ago)
    with db.write() as connection:
        about = MadeFrom(at, model_now(), 1, record_hash(connection, "Alder"), "{}", at)
        put_answers(connection, "Alder", about, [("score", made)])


def test_scores_are_asked_for_on_the_pages(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        assert "have not been scored" in c.get("/t/Alder/trust").text
        assert c.submit("/t/Alder/trust").status_code == 303
        assert [j["kind"] for j in c.get("/api/v1/jobs").json()] == ["score"]
        assert c.submit("/trust").status_code == 303
        assert len(c.get("/api/v1/jobs").json()) == 3
        assert c.get("/t/Nowhere/trust").status_code == 404
        assert c.submit("/t/Nowhere/trust").status_code == 404
        c.db.close()


def test_the_pages_say_in_words_how_it_did(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        _score(c.db)
        text = c.get("/t/Alder/trust").text
        assert "Of 20 readings 10 fell in the band that should hold 18." in text
        assert "50 % closer than the last reading; 25 % further off than a straight line." in text
        assert "3 readings: too few to tell." in text
        assert "Of 23 readings 13 fell" in c.get("/trust").text
        c.db.close()


def test_scores_are_had_as_data_and_asked_for(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        at = "/api/v1/tanks/Alder/score"
        assert c.get(at).json() == {"answer": None, "due": True}
        asked = c.post(at)
        assert asked.status_code == 202
        assert c.get(f"/api/v1/jobs/{asked.json()['job']}").json()["kind"] == "score"
        _score(c.db)
        got = c.get(at).json()
        assert (got["answer"]["n"], got["due"]) == (23, False)
        assert c.get("/api/v1/tanks/Nowhere/score").status_code == 404
        assert c.post("/api/v1/tanks/Nowhere/score").status_code == 404
        c.db.close()


@pytest.mark.parametrize(("days", "asked"), [(27.0, []), (28.5, ["score"])])
def test_scores_of_four_weeks_ago_are_made_anew(
    tmp_path: Path, days: float, asked: list[str]
) -> None:
    with client_on(tmp_path) as c:
        _score(c.db, days)
        ask_old_scores(c.db, NOW)
        ask_old_scores(c.db, NOW)
        with c.db.read() as connection:
            assert [r.kind for r in jobs.open_jobs(connection)] == asked
        c.db.close()
