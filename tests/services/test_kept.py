"""Kept answers say whether they still hold, and only what does not is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from pleuston.services import kept
from pleuston.services.chart_readings import chart_readings
from pleuston.services.kept import ask_stale, kept_answer, kept_round
from pleuston.services.kinds import KINDS
from pleuston.services.model_stamp import model_now
from pleuston.store import jobs
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.entries import add_change, add_entries, undo_change
from pleuston.store.record_hash import record_about, record_hash, record_hashes
from pleuston.store.session import Database
from pleuston.store.tables import WATERS
from pleuston.store.whole import record_of

from .jobs_rack import NOW, add, entries_of, entry, new_database

DAY = timedelta(days=1)


@pytest.fixture
def db(address: str) -> Iterator[Database]:
    """A rack with answers that say nothing but their tank."""
    made = new_database(address)
    for tank, state in (("Fern", "well"), ("Iris", "act")):
        keep(made, tank, state)
    yield made
    made.close()


def keep(db: Database, tank: str, state: str = "well") -> None:
    part = {"tank": tank, "state": state, "acts": [], "minutes": 2.0}
    with db.write() as connection:
        made = MadeFrom(NOW, model_now(), 1, record_hash(connection, tank), "{}", NOW)
        put_answers(connection, tank, made, [(kind, part) for kind in KINDS])


def why(db: Database, tank: str = "Fern") -> str:
    found = kept_answer(db, tank, "now", NOW)
    assert found is not None
    assert found.stale == bool(found.why_stale)
    return found.why_stale


def test_an_answer_holds_until_its_own_record_changes(db: Database) -> None:
    assert why(db) == ""
    add(db, entry("Iris", 15.0, "reading", "ph", 7.0, 7.5))
    assert (why(db), why(db, "Iris")) == ("", "the record has changed since")
    add(db, entry("", 15.0, "reading", "room_temperature", 25.0, unit="C"))
    assert why(db) == "the record has changed since"


def test_the_room_read_at_another_tank_counts_too(db: Database) -> None:
    add(db, entry("Iris", 15.0, "reading", "humidity", 60.0, unit="%"))
    assert why(db) == "the record has changed since"


def test_a_change_of_the_waters_counts_for_all(db: Database) -> None:
    with db.write() as connection:
        connection.execute(WATERS.update().values(ph=7.1))
    assert why(db) == why(db, "Iris") == "the record has changed since"


def test_what_is_taken_back_leaves_the_answer_as_good_as_before(db: Database) -> None:
    wrong = entries_of("Fern")[-1]
    right = entry("Fern", 14.0, "reading", "ph", 6.5, 7.0)
    with db.write() as connection:
        add_entries(connection, [right.__class__(**{**_fields(right), "id": "right"})], NOW)
        change = add_change(connection, wrong.id, "right", "slip", NOW)
    assert why(db) == "the record has changed since"
    with db.write() as connection:
        undo_change(connection, change, NOW)
    assert why(db) == ""


def _fields(made: object) -> dict[str, object]:
    return {name: getattr(made, name) for name in made.__dataclass_fields__}  # type: ignore[attr-defined]


def test_a_new_model_makes_answers_old(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "model_now", lambda: "another")
    assert why(db) == "the model has changed since"
    assert set(ask_stale(db, NOW)) == {"Fern", "Iris"}


def test_age_is_judged_by_the_time_asked_at(db: Database) -> None:
    def at(days: float) -> str:
        found = kept_answer(db, "Fern", "now", NOW + days * DAY)
        assert found is not None
        return found.why_stale

    assert (at(0.9), at(1.5), at(3.0)) == ("", "it is 1 day old", "it is 3 days old")
    timeless = kept_answer(db, "Fern", "now")
    assert timeless is not None
    assert not timeless.stale


def test_the_round_is_put_together_in_both_orders(db: Database) -> None:
    made = kept_round(db, NOW)
    assert [t["tank"] for t in made["tanks"]] == ["Iris", "Fern"]
    assert (made["at"], made["minutes"]) == (NOW, 4.0)
    with db.write() as connection:
        jobs.ask(connection, "tank", "Fern", NOW)
    walked = kept_round(db, NOW, order="walk")["tanks"]
    assert [(t["tank"], t["pending"]) for t in walked] == [("Fern", "waiting"), ("Iris", "")]


def test_a_round_without_answers_says_so(tmp_path: Path) -> None:
    made = new_database(tmp_path / "rack.db")
    try:
        found = kept_round(made, NOW)
        assert found["at"] is None
        assert {(t["state"], t["stale"]) for t in found["tanks"]} == {("unknown", True)}
    finally:
        made.close()


def test_only_what_no_longer_holds_is_asked_for_and_once(db: Database) -> None:
    assert ask_stale(db, NOW) == {}
    add(db, entry("Fern", 15.0, "reading", "ph", 7.0, 7.5))
    asked = ask_stale(db, NOW)
    assert list(asked) == ["Fern"]
    assert ask_stale(db, NOW) == {}, "it is asked for already"
    with db.write() as connection:
        jobs.cancel(connection, asked["Fern"], NOW)
    assert ask_stale(db, NOW) == {}, "what a keeper cancelled is left alone"
    assert set(ask_stale(db, NOW + 2 * DAY)) == {"Fern", "Iris"}


def test_answers_that_were_broken_off_are_asked_for_again(db: Database) -> None:
    with db.write() as connection:
        made = MadeFrom(NOW, model_now(), 1, "before", "{}", NOW)
        put_answers(connection, "Fern", made, [(kept.LAST_MADE, {"tank": "Fern"})])
    assert list(ask_stale(db, NOW)) == ["Fern"]


def test_the_hash_of_one_tank_is_that_among_all(db: Database) -> None:
    with db.read() as connection:
        every = record_hashes(connection)
        assert every == {t: record_hash(connection, t) for t in ("Fern", "Iris")}
        whole, about = record_of(connection), record_about(connection, "Fern")
    assert len(set(every.values())) == 2
    assert about.entries_of("Fern") == whole.entries_of("Fern")
    assert {e.tank for e in about.entries if e.what != "temperature"} == {"Fern"}
    assert (about.tanks, about.waters, about.rack) == (whole.tanks, whole.waters, whole.rack)


def test_readings_for_charts_are_intervals_in_the_written_unit(db: Database) -> None:
    add(
        db, entry("Fern", 15.0, "reading", "nitrate_ion", None, 2.5, "mg/L", "chart"),
        entry("Fern", 15.1, "reading", "pen_ppm", 200.0, unit="ppm", method="factor 0.5"),
        entry("Iris", 15.2, "reading", "kh", 4.0, 5.0, "dH"),
    )  # fmt: skip
    shown = chart_readings(db, "Fern")
    assert "kh" not in shown
    assert [(r["low"], r["high"]) for r in shown["nitrate_ion"]] == [(5.0, 10.0), (None, 2.5)]
    as_nitrogen = shown["nitrate"][0]
    assert as_nitrogen["low"] == pytest.approx(5.0 * 14.007 / 62.004, rel=1e-3)
    assert [(r["low"], r["unit"]) for r in shown["ec25"]] == [(400.0, "uS/cm")]
    assert [(r["low"], r["high"]) for r in shown["temperature"]] == [(23.5, 24.5)]
    late = chart_readings(db, "Fern", since=NOW - DAY)
    assert set(late) == {"nitrate", "nitrate_ion", "ec25"}
    assert late["ec25"][0]["written"] == {"what": "pen_ppm", "low": 200.0, "high": 200.0,
                                          "unit": "ppm"}  # fmt: skip
