"""What happened is noted once, put right, taken back, and found again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from tests.store.databases import GUEST, KIM, LEE, NOW, UUID, ph

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.services.log import (
    changes_made,
    correct_entry,
    entries_of_tank,
    entries_since,
    entry_history,
    log_entries,
    recent_entries,
    same_as_last,
    undo_last,
    withdraw_entry,
)
from pleuston.store.exchange import ImportRefused
from pleuston.store.session import Database


def count(db: Database) -> int:
    return len(recent_entries(db, limit=1000))


def refused(db: Database, *rows: dict[str, Any]) -> dict[tuple[int, str], str]:
    with pytest.raises(ImportRefused) as caught:
        log_entries(db, list(rows), KIM, NOW)
    return {(p.line, p.column): f"{p.what}. {p.remedy}" for p in caught.value.problems}


def test_an_entry_is_stored_as_the_importer_would(db: Database) -> None:
    row = {"tank": "fern", "kind": "Reading", "what": "temperature", "low": "75.2", "high": 75.2,
           "unit": "°F", "note": "at the <glass>"}  # fmt: skip
    (entry,) = log_entries(db, [row], KIM, NOW)["entries"]
    assert entry["new"]
    assert (entry["tank"], entry["what"], entry["unit"]) == ("Fern", "temperature", "C")
    assert entry["low"] == pytest.approx(24.0, abs=1e-9)
    assert entry["by"] == "kim"
    assert entry["at"] == "2026-05-02T11:00:00+02:00"
    assert recent_entries(db)[0]["id"] == entry["id"]
    assert recent_entries(db)[0]["device"] == "phone of kim"


def test_the_same_entry_again_is_not_new(db: Database) -> None:
    row = ph(7.0, 1, at="")
    assert log_entries(db, [row], KIM, NOW)["entries"][0]["new"]
    again = log_entries(db, [row], KIM, NOW + timedelta(hours=3))["entries"][0]
    assert not again["new"]
    assert again["at"] == "2026-05-02T11:00:00+02:00"
    assert not log_entries(db, [{**row, "id": row["id"].upper()}], KIM, NOW)["entries"][0]["new"]
    assert count(db) == 1
    both = log_entries(db, [ph(7.1, 2), ph(7.1, 2)], KIM, NOW)["entries"]
    assert [entry["new"] for entry in both] == [True]
    assert count(db) == 2


def test_the_same_id_with_other_content_is_refused(db: Database) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    assert "another entry has this id" in refused(db, ph(7.1, 1))[1, "id"]
    assert "twice" in refused(db, ph(7.3, 5), ph(7.4, 5))[2, "id"]
    assert count(db) == 1


def test_two_entries_without_id_are_two(db: Database) -> None:
    row = {"tank": "Fern", "kind": "feed", "what": "flake", "low": 0.1, "high": 0.1, "unit": "g"}
    log_entries(db, [row], KIM, NOW)
    log_entries(db, [row, row], KIM, NOW)
    assert count(db) == 3


def test_every_problem_is_told_at_once_and_nothing_is_kept(db: Database) -> None:
    told = refused(
        db,
        ph(7.0, 1),
        ph(15.0, 2),
        {"id": "no uuid", "tank": "Ferm", "kind": "reading", "what": "nitrit", "low": "1,5",
         "wat": "x"},
        {"tank": "Fern", "kind": "harvest", "what": "Lemna mino", "low": float("nan")},
        {"tank": "Fern", "kind": "note", "note": "a\0b"},
        {"tank": "Fern", "kind": "note", "note": "half \ud800"},
        {"tank": "Fern", "kind": "note", "note": "x" * 10_001},
        {"tank": "T" * 201, "kind": "note"},
    )  # fmt: skip
    assert "ph cannot be" in told[2, "low"]
    assert "UUID" in told[3, "id"]
    assert "Fern" in told[3, "tank"]
    assert "nitrite" in told[3, "what"]
    assert "1.5" in told[3, "low"]
    assert "wat" in told[3, "wat"]
    assert "Lemna minor" in told[4, "what"]
    assert (4, "low") in told
    assert "NUL" in told[5, "note"]
    assert "half a character" in told[6, "note"]
    assert "at most 10000" in told[7, "note"]
    assert "at most 200" in told[8, "tank"]
    assert count(db) == 0


def test_trying_keeps_nothing(db: Database) -> None:
    made = log_entries(db, [ph(7.0, 1)], KIM, NOW, dry_run=True)
    assert made["entries"][0]["new"]
    assert count(db) == 0


def test_too_many_and_none_are_refused(db: Database) -> None:
    for rows in ([], [ph(7.0)] * 1001):
        with pytest.raises(InputError, match="1 to 1000"):
            log_entries(db, rows, KIM, NOW)


def test_who_may_not_log_changes_nothing(db: Database) -> None:
    log_entries(db, [ph(7.0, 1)], LEE, NOW)
    name = ph(7.0, 1)["id"]
    for act in (
        lambda: log_entries(db, [ph(7.0)], GUEST, NOW),
        lambda: correct_entry(db, name, {"low": "1"}, "", GUEST, NOW),
        lambda: withdraw_entry(db, name, "", GUEST, NOW),
        lambda: undo_last(db, GUEST, NOW),
    ):
        with pytest.raises(InputError, match="viewer may not"):
            act()
    assert count(db) == 1


def test_a_correction_counts_and_the_old_entry_stays(db: Database) -> None:
    log_entries(db, [ph(7.0, 1, at="2026-05-01T08:00", note="chart")], KIM, NOW)
    name = ph(7.0, 1)["id"]
    made = correct_entry(db, name, {"low": "7.4", "high": "7.6"}, "misread", LEE, NOW)
    assert (made["low"], made["high"], made["note"], made["by"]) == (7.4, 7.6, "chart", "kim")
    assert made["at"] == "2026-05-01T08:00:00+02:00"
    assert [entry["id"] for entry in recent_entries(db)] == [made["id"]]
    told = entry_history(db, name)
    assert told["counts"] == made["id"]
    assert [entry["low"] for entry in told["entries"]] == [7.0, 7.4]
    assert told["changes"][0]["reason"] == "misread"
    assert told["changes"][0]["person"] == "lee"
    assert entry_history(db, made["id"]) == told
    with pytest.raises(InputError, match="corrected already"):
        correct_entry(db, name, {"low": "8"}, "", KIM, NOW)
    assert [c["action"] for c in changes_made(db)] == ["correct entry"]


def test_a_correction_may_be_sent_twice(db: Database) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    for new in (True, False):
        made = correct_entry(db, ph(7.0, 1)["id"], {"low": "6", "high": "6"}, "", KIM, NOW,
                             new_id=UUID.format(2))  # fmt: skip
        assert made["new"] is new
    assert [(entry["id"], entry["low"]) for entry in recent_entries(db)] == [(UUID.format(2), 6.0)]


def test_a_wrong_correction_changes_nothing(db: Database) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    with pytest.raises(ImportRefused, match="ph cannot be"):
        correct_entry(db, ph(7.0, 1)["id"], {"low": "70", "high": "70"}, "", KIM, NOW)
    with pytest.raises(UnknownNameError):
        correct_entry(db, UUID.format(9), {"low": "7"}, "", KIM, NOW)
    assert recent_entries(db)[0]["low"] == 7.0


def test_undo_takes_back_step_by_step(db: Database) -> None:
    first, second = ph(7.0, 1)["id"], ph(7.1, 2)["id"]
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    made = correct_entry(db, first, {"low": "6", "high": "6"}, "", KIM, NOW)
    withdraw_entry(db, made["id"], "wrong tank", KIM, NOW)
    log_entries(db, [ph(7.1, 2)], KIM, NOW)

    def undone() -> tuple[str, list[str]]:
        what = undo_last(db, KIM, NOW)["undone"]
        return what, [entry["id"] for entry in recent_entries(db)]

    assert [entry["id"] for entry in recent_entries(db)] == [second]
    assert undone() == ("entry", [])
    assert undone() == ("withdrawal", [made["id"]])
    assert undone() == ("correction", [first])
    assert undone() == ("entry", [])
    with pytest.raises(InputError, match="nothing to take back"):
        undo_last(db, KIM, NOW)


def test_undo_is_of_ones_own(db: Database) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    log_entries(db, [ph(7.1, 2)], LEE, NOW)
    undo_last(db, KIM, NOW)
    assert [entry["low"] for entry in recent_entries(db)] == [7.1]
    with pytest.raises(InputError, match="nothing to take back"):
        undo_last(db, KIM, NOW)


def test_entries_are_found_by_tank_kind_and_time(db: Database) -> None:
    rows = [ph(7 + i / 10, i + 1, at=f"2026-05-0{i + 1}T08:00") for i in range(5)]
    log_entries(db, rows, KIM, NOW)
    log_entries(db, [{"kind": "power_off", "at": "2026-05-03T12:00"},
                     {"kind": "note", "tank": "Moss", "note": "hi"}], KIM, NOW)  # fmt: skip
    assert [e.kind for e in entries_of_tank(db, "Fern", limit=3)] == [
        "reading", "reading", "power_off",
    ]  # fmt: skip
    since = datetime(2026, 5, 3, tzinfo=UTC)
    assert len(entries_of_tank(db, "Fern", since=since, kind="reading")) == 3
    assert len(entries_since(db, since)) == 4
    page = recent_entries(db, "Fern", limit=2)
    assert [entry["low"] for entry in page] == [7.4, 7.3]
    older = recent_entries(db, "Fern", limit=2, before=page[-1]["sequence"])
    assert [entry["low"] for entry in older] == [7.2, 7.1]


def test_the_last_of_a_kind_can_be_noted_again(db: Database) -> None:
    row = {"tank": "Fern", "kind": "feed", "what": "flake", "low": "0.10", "high": "0.2",
           "unit": "g"}  # fmt: skip
    log_entries(db, [row], KIM, NOW)
    again = same_as_last(db, "Fern", "feed", "flake")
    assert again is not None
    assert log_entries(db, [again], LEE, NOW)["entries"][0]["low"] == 0.1
    assert same_as_last(db, "Moss", "feed") is None
    with pytest.raises(UnknownNameError, match="Ferm"):
        same_as_last(db, "Ferm", "feed")


def test_an_entry_from_the_future_is_kept_with_a_word(db: Database) -> None:
    made = log_entries(db, [ph(7.0, 1, at="2027-01-01T08:00")], KIM, NOW)
    assert made["entries"][0]["new"]
    assert "in the future" in made["notes"][0]
