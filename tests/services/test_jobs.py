"""Jobs from asking to answers, worked on in this process and in others."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pleuston.base.errors import InputError
from pleuston.cli.main import run_command
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.services import jobs
from pleuston.services.belief_store import kept_belief
from pleuston.services.carry import carried_over
from pleuston.services.jobs import Workers, ask, cancel, progress, progress_events, running
from pleuston.services.kept import kept_answer, kept_answers, kept_round
from pleuston.services.kinds import KINDS
from pleuston.store import jobs as rows
from pleuston.store.record_hash import record_about, record_hash
from pleuston.store.session import Database

from .jobs_rack import FEW, NOW, START, add, do_next, entry, new_database, record


@pytest.fixture
def db(address: str) -> Iterator[Database]:
    made = new_database(address)
    yield made
    made.close()


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """A rack whose Fern has been answered."""
    made = new_database(tmp_path_factory.mktemp("answered") / "rack.db")
    ask(made, "tank", "Fern", NOW)
    assert do_next(made)[1] == "done"
    yield made
    made.close()


def test_a_job_makes_and_keeps_every_answer(answered: Database) -> None:
    found = kept_answers(answered, "Fern", KINDS, NOW)
    for kind, kept in found.items():
        assert kept is not None, kind
        assert (kept.at, kept.stale, kept.why_stale) == (NOW, False, "")
        assert kept.answer["tank"] == "Fern"
        assert sum(json.loads(kept.grades).values()) > 100
    assert kept_answer(answered, "Iris", "now", NOW) is None
    spelt = kept_answer(answered, "Fern", "ledger:oxygen", NOW)
    assert spelt is not None
    assert spelt.answer["element"] == "O2"


def test_kept_answers_are_those_of_the_kept_belief(answered: Database) -> None:
    with answered.read() as connection:
        told, hashed = record_about(connection, "Fern"), record_hash(connection, "Fern")
    belief = kept_belief(answered, told, "Fern", NOW, hashed, FEW)
    assert belief is not None
    kept = kept_answer(answered, "Fern", "round", NOW)
    assert kept is not None
    made = carried_over(tank_round(view_of(belief, 1)), None, told, NOW)
    assert json.loads(json.dumps(made)) == kept.answer


def test_ledgers_of_another_period_come_all_at_once(answered: Database) -> None:
    ask(answered, "ledger:p:2026-03-03:2026-03-09", "Fern", NOW)
    assert do_next(answered)[1] == "done"
    for element in ("P", "N", "water"):
        kept = kept_answer(answered, "Fern", f"ledger:{element}:2026-03-03:2026-03-09", NOW)
        assert kept is not None
        answer = kept.answer
        assert (answer["from"][:16], answer["to"][:16]) == ("2026-03-03T00:00", "2026-03-10T00:00")
        moved = sum(answer["in"].values()) - sum(answer["out"].values())
        assert moved == pytest.approx(sum(answer["stored"].values()), abs=1e-6)


def test_a_period_outside_the_record_fails_with_words(answered: Database) -> None:
    job = ask(answered, "ledger:N:2025-01-01:2025-01-31", "Fern", NOW)
    assert do_next(answered) == (job, "failed")
    assert "outside the record" in progress(answered, job)["message"]


def test_a_tank_that_cannot_be_answered_says_so_in_the_round(tmp_path: Path) -> None:
    made = new_database(tmp_path / "rack.db", record(entries=[entry("Iris", 1.0, "note")]))
    try:
        job = ask(made, "tank", "Fern", NOW)
        assert do_next(made) == (job, "failed")
        part = next(t for t in kept_round(made, NOW)["tanks"] if t["tank"] == "Fern")
        assert part["state"] == "watch"
        assert not part["stale"]
        assert "nothing is recorded" in part["error"]
    finally:
        made.close()


def test_unknown_things_are_refused(db: Database) -> None:
    with pytest.raises(InputError, match="Ferm"):
        ask(db, "tank", "Ferm", NOW)
    for kind in ("tanks", "ledger:gold", "ledger:N:2026-03-09:2026-03-03", "ledger:N:soon:later"):
        with pytest.raises(InputError):
            ask(db, kind, "Fern", NOW)
    for asked in (progress, lambda d, j: cancel(d, j, NOW)):
        with pytest.raises(InputError, match="no such job"):
            asked(db, "none")


def test_a_cancelled_job_stops_and_keeps_nothing(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = ask(db, "tank", "Fern", NOW)
    begun = rows.beat
    asked: list[str] = []

    def beat_and_cancel(connection: object, *given: object, **named: object) -> str:
        if not asked:
            asked.append(job)
            rows.cancel(connection, job, NOW)  # type: ignore[arg-type]
        return begun(connection, *given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(rows, "beat", beat_and_cancel)
    assert do_next(db) == (job, "cancelled")
    assert kept_answers(db, "Fern", KINDS, NOW) == dict.fromkeys(KINDS)


def test_a_job_given_to_another_keeps_nothing(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = ask(db, "tank", "Fern", NOW)
    monkeypatch.setattr(rows, "beat", lambda *_given, **_named: "gone")
    monkeypatch.setattr(rows, "finish", lambda *_given: False)
    assert do_next(db) == (job, "gone")
    assert kept_answers(db, "Fern", KINDS, NOW) == dict.fromkeys(KINDS)


def test_progress_is_told_as_one_whole(db: Database) -> None:
    assert running(db) is None
    ask(db, "tank", "Fern", NOW)
    job = ask(db, "tank", "Iris", NOW)
    told = running(db)
    assert told is not None
    assert (told["progress"], told["waiting"], told["running"]) == (0.0, 2, 0)
    with db.write() as connection:
        row = rows.claim(connection, 7, datetime.now(UTC))
        assert row is not None
        rows.finish(connection, row.job, 7, "done", "Done", datetime.now(UTC))
        row = rows.claim(connection, 7, datetime.now(UTC))
        assert row is not None
        rows.beat(connection, row.job, 7, datetime.now(UTC), 0.5, "Learning")
    told = running(db)
    assert told is not None
    assert (told["progress"], told["message"], told["tanks"]) == (0.75, "Learning", ["Iris"])
    assert progress(db, job)["state"] == "running"


def test_events_end_with_the_work(db: Database) -> None:
    before = datetime.now(UTC) - timedelta(seconds=1)
    job = ask(db, "tank", "Fern", NOW)
    stream = progress_events(db, before, every=0.0)
    assert next(stream)["state"] == "waiting"
    cancel(db, job, datetime.now(UTC))
    assert [event["state"] for event in stream] == ["cancelled"]
    assert [e["job"] for e in progress_events(db, before)] == [job]
    assert list(progress_events(db, datetime.now(UTC) + timedelta(hours=1))) == []


def test_a_lost_job_names_the_one_in_its_place(db: Database) -> None:
    job, now = ask(db, "tank", "Fern", NOW), datetime.now(UTC)
    with db.write() as connection:
        rows.claim(connection, 2**22 + 1, now)  # no process has so high a number
    later = now if db.is_sqlite else now + timedelta(minutes=1)
    assert jobs.recover(db, later) == [job], "on another machine only silence tells"
    again = progress(db, job)["again"]
    assert progress(db, job)["state"] == "lost"
    assert progress(db, again)["attempts"] == 1
    assert jobs.recover(db, datetime.now(UTC)) == []


def test_a_silent_process_counts_as_dead_whatever_its_number(db: Database) -> None:
    import os

    job = ask(db, "tank", "Fern", NOW)
    now = datetime.now(UTC)
    with db.write() as connection:
        rows.claim(connection, os.getpid(), now)
    assert jobs.recover(db, now + timedelta(seconds=jobs.LIMIT - 1)) == []
    assert jobs.recover(db, now + timedelta(hours=1)) == [job], "the clock may have jumped, too"


def test_processes_do_all_jobs_and_leave_nothing_behind(
    db: Database, capfd: pytest.CaptureFixture[str]
) -> None:
    workers = Workers(db.address, 1, effort=FEW, upkeep=True, clock=lambda: NOW)
    workers.start()
    try:
        until = time.monotonic() + 120.0
        while time.monotonic() < until and len(_answered(db)) < 2:
            time.sleep(0.1)
        assert _answered(db) == {"Fern", "Iris"}, "asked by itself, as nothing was kept"
        assert {e["state"] for e in progress_events(db, START)} == {"done"}
        add(db, entry("Fern", 15.5, "reading", "ph", 7.0, 7.5))
        ask(db, "tank", "Fern", NOW)
        numbers = workers.processes()
    finally:
        workers.stop()
    assert len(numbers) == 1
    assert not jobs.is_alive(numbers[0])
    states = [j["state"] for j in jobs.list_jobs(db)]
    assert sorted(states) == ["done", "done", "waiting"], "what was stopped waits"
    assert capfd.readouterr() == ("", "")


def _answered(db: Database) -> set[str]:
    with db.read() as connection:
        open_for = {r.tank for r in rows.open_jobs(connection)}
    return {t["tank"] for t in kept_round(db, NOW)["tanks"] if not t["stale"]} - open_for


def test_the_command_line_lists_and_cancels(
    db: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    job = ask(db, "tank", "Fern", NOW)
    assert run_command(["jobs", db.address, "--json"]) == 0
    assert [j["job"] for j in json.loads(capsys.readouterr().out)["jobs"]] == [job]
    assert run_command(["jobs", db.address, "--cancel", job]) == 0
    assert "cancelled" in capsys.readouterr().out
    assert run_command(["jobs", db.address, "--cancel", job]) == 2
    assert "has ended" in capsys.readouterr().err
