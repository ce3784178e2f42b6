"""Rows of jobs: asked once, begun in order, held by one process, lost, put back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from pleuston.store import jobs
from pleuston.store.session import Database

from .jobs_rack import NOW, new_database

HOUR = timedelta(hours=1)


@pytest.fixture
def db(address: str) -> Iterator[Database]:
    made = new_database(address)
    yield made
    made.close()


def ask(
    db: Database, tank: str, hours: int = 0, *, urgent: bool = False, kind: str = "tank"
) -> str:
    with db.write() as connection:
        return jobs.ask(connection, kind, tank, NOW + hours * HOUR, urgent=urgent)


def begin(db: Database, process: int = 11) -> str:
    with db.write() as connection:
        row = jobs.claim(connection, process, NOW)
    return "" if row is None else str(row.job)


def state(db: Database, job: str) -> str:
    with db.read() as connection:
        row = jobs.row_of(connection, job)
    assert row is not None
    return str(row.state)


def test_the_same_waits_once_and_moves_on(db: Database) -> None:
    first = ask(db, "Fern")
    assert ask(db, "Fern", 2, urgent=True) == first
    assert ask(db, "Fern", 1) == first
    assert ask(db, "Iris") != first
    assert ask(db, "Fern", kind="ledger:N:2026-03-02:2026-03-09") != first
    with db.read() as connection:
        row = jobs.row_of(connection, first)
    assert row is not None
    assert (row.at, row.urgent, row.asked_at) == (NOW + 2 * HOUR, 1, NOW)


def test_what_runs_can_be_asked_for_again(db: Database) -> None:
    first = ask(db, "Fern")
    assert begin(db) == first
    second = ask(db, "Fern", 1)
    assert second != first
    assert begin(db, 12) == "", "two processes would work on one tank"
    with db.write() as connection:
        assert jobs.finish(connection, first, 11, "done", "Done", NOW)
    assert begin(db, 12) == second


def test_the_urgent_come_first_then_the_oldest(db: Database) -> None:
    late, early = ask(db, "Fern", 1), ask(db, "Iris")
    assert begin(db) == early
    with db.write() as connection:
        jobs.finish(connection, early, 11, "done", "Done", NOW)
    ask(db, "Fern", 1, urgent=True)
    ask(db, "Iris", -5)
    assert begin(db) == late


def test_only_the_process_that_holds_a_job_changes_it(db: Database) -> None:
    job = ask(db, "Fern")
    begin(db)
    with db.write() as connection:
        assert jobs.beat(connection, job, 99, NOW, 0.9) == "gone"
        assert not jobs.finish(connection, job, 99, "done", "Done", NOW)
        assert jobs.beat(connection, job, 11, NOW, 0.5, "half") == "go on"
        assert jobs.cancel(connection, job, NOW)
        assert jobs.beat(connection, job, 11, NOW) == "cancel"
        assert jobs.finish(connection, job, 11, "cancelled", "Cancelled", NOW)
        assert not jobs.cancel(connection, job, NOW)
    assert state(db, job) == "cancelled"


def test_what_waits_is_cancelled_at_once(db: Database) -> None:
    job = ask(db, "Fern")
    with db.write() as connection:
        assert jobs.cancel(connection, job, NOW)
    assert state(db, job) == "cancelled"
    assert begin(db) == ""


def test_lost_work_is_asked_again_until_it_is_given_up(db: Database) -> None:
    seen = [ask(db, "Fern")]
    for turn in range(1, jobs.ATTEMPTS + 1):
        assert begin(db) == seen[-1]
        with db.write() as connection:
            assert jobs.lose(connection, NOW, lambda r: r.process == 11, "it died") == [seen[-1]]
            lost = jobs.row_of(connection, seen[-1])
            assert lost is not None
            again = jobs.row_of(connection, jobs.in_place_of(connection, lost))
        if turn < jobs.ATTEMPTS:
            assert lost.state == "lost"
            assert again is not None
            assert (again.asked_at, again.attempts) == (NOW, turn), "it keeps its place"
            seen.append(again.job)
        else:
            assert again is None
    assert state(db, seen[-1]) == "failed"
    with db.read() as connection:
        assert jobs.given_up(connection, "tank", NOW - HOUR) == {"Fern"}
        assert jobs.given_up(connection, "tank", NOW + HOUR) == set()


def test_lost_work_joins_what_waits_already(db: Database) -> None:
    lost = ask(db, "Fern")
    begin(db)
    waiting = ask(db, "Fern", 1)
    with db.write() as connection:
        jobs.lose(connection, NOW, lambda _: True, "it died")
        assert [r.job for r in jobs.open_jobs(connection)] == [waiting]
    assert state(db, lost) == "lost"


def test_what_is_put_back_counts_as_not_begun(db: Database) -> None:
    job = ask(db, "Fern")
    begin(db)
    with db.write() as connection:
        assert not jobs.put_back(connection, job, 12)
        assert jobs.put_back(connection, job, 11)
        row = jobs.row_of(connection, job)
        assert row is not None
        assert (row.state, row.attempts, row.process) == ("waiting", 0, 0)
        assert jobs.beat(connection, job, 11, NOW) == "gone"


def test_what_was_asked_again_or_cancelled_is_not_put_back(db: Database) -> None:
    first, other = ask(db, "Fern"), ask(db, "Iris")
    begin(db)
    begin(db, 12)
    ask(db, "Fern", 1)
    with db.write() as connection:
        jobs.cancel(connection, other, NOW)
        assert jobs.put_back(connection, first, 11)
        assert jobs.put_back(connection, other, 12)
        waiting = [r.tank for r in jobs.open_jobs(connection)]
    assert (state(db, first), state(db, other), waiting) == ("cancelled", "cancelled", ["Fern"])


def test_ended_rows_are_forgotten_and_open_ones_are_not(db: Database) -> None:
    old = ask(db, "Fern")
    begin(db)
    with db.write() as connection:
        jobs.finish(connection, old, 11, "done", "Done", NOW)
    waiting = ask(db, "Fern")
    with db.write() as connection:
        assert jobs.forget(connection, NOW + HOUR) == 1
        assert [r.job for r in jobs.recent_jobs(connection)] == [waiting]
