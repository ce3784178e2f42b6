"""What kills work in the background: processes, the app, cancelling; nothing is lost for good."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from tests.services.jobs_rack import FEW, NOW, new_database

from pleuston.services.jobs import Workers, ask, cancel, is_alive, list_jobs, progress
from pleuston.services.kept import kept_answers
from pleuston.services.kinds import KINDS
from pleuston.store import jobs as rows
from pleuston.store.session import Database

ROOT = Path(__file__).resolve().parents[2]
MOST = 120.0
"""Seconds that anything may take on a busy machine."""


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    made = new_database(tmp_path / "rack.db")
    yield made
    made.close()


@pytest.fixture
def workers(db: Database) -> Iterator[Workers]:
    made = Workers(db.address, 1, effort=FEW, upkeep=False)
    made.start()
    yield made
    made.stop()


def until(asked: Callable[[], Any], what: str) -> Any:
    """Wait until something holds."""
    end = time.monotonic() + MOST
    while time.monotonic() < end:
        found = asked()
        if found:
            return found
        time.sleep(0.01)
    raise AssertionError(f"it never came to this: {what}")


def under_way(db: Database, job: str) -> int:
    """The process that works on a job, once it has begun to learn."""

    def begun() -> int:
        with db.read() as connection:
            row = rows.row_of(connection, job)
        assert row is not None
        return int(row.process) if row.state == "running" and row.progress > 0.0 else 0

    return int(until(begun, "the job is under way"))


def ended(db: Database, job: str) -> str:
    """How a job ended, or the one asked in its place."""

    def state() -> str:
        now = progress(db, job)
        return str(now["state"]) if now["state"] in rows.ENDED else ""

    return str(until(state, "the job has ended"))


def answered(db: Database, tank: str = "Fern") -> bool:
    return None not in kept_answers(db, tank, KINDS, NOW).values()


def test_a_killed_process_takes_nothing_down(db: Database, workers: Workers) -> None:
    job = ask(db, "tank", "Fern", NOW)
    process = under_way(db, job)
    os.kill(process, signal.SIGKILL)
    assert ended(db, job) == "lost"
    again = progress(db, job)["again"]
    assert again
    assert again != job
    assert ended(db, again) == "done"
    assert answered(db)
    assert workers.processes()[0] != process


def test_a_killed_process_takes_nothing_down_on_a_server(server_address: str) -> None:
    db = new_database(server_address)
    workers = Workers(server_address, 1, effort=FEW, upkeep=False)
    workers.start()
    try:
        job = ask(db, "tank", "Fern", NOW)
        os.kill(under_way(db, job), signal.SIGKILL)
        assert ended(db, job) == "lost"
        assert ended(db, progress(db, job)["again"]) == "done"
        assert answered(db)
    finally:
        workers.stop()
        db.close()


@pytest.mark.slow
def test_what_kills_its_process_every_time_is_given_up(db: Database, workers: Workers) -> None:
    job = ask(db, "tank", "Fern", NOW)
    for turn in range(1, rows.ATTEMPTS + 1):
        os.kill(under_way(db, job), signal.SIGKILL)
        state = ended(db, job)
        if turn < rows.ATTEMPTS:
            assert state == "lost"
            job = progress(db, job)["again"]
    assert state == "failed"
    assert "3 times" in progress(db, job)["message"]
    other = ask(db, "tank", "Iris", NOW)
    workers.wake()
    assert ended(db, other) == "done", "the others still work"


def test_a_process_that_died_at_rest_is_replaced(db: Database, workers: Workers) -> None:
    first = until(workers.processes, "a process is ready")[0]
    os.kill(first, signal.SIGKILL)
    until(lambda: not is_alive(first), "it is gone")
    job = ask(db, "tank", "Fern", NOW)
    state = ended(db, job)
    while state == "lost":  # it was given to the dead one before anybody knew
        job = progress(db, job)["again"]
        state = ended(db, job)
    assert state == "done"


def test_a_cancelled_job_stops_soon(db: Database, workers: Workers) -> None:
    job = ask(db, "tank", "Fern", NOW)
    process = under_way(db, job)
    begun = time.monotonic()
    assert cancel(db, job, datetime.now(UTC))
    assert ended(db, job) == "cancelled"
    assert time.monotonic() - begun < 10.0
    assert is_alive(process), "the process goes on to the next job"
    assert workers.processes() == [process]
    assert not answered(db)


def test_two_asks_at_once_are_one_job(db: Database) -> None:
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(8) as pool:
        asked = list(pool.map(lambda _: ask(db, "tank", "Fern", NOW), range(40)))
    assert len(set(asked)) == 1
    assert len(list_jobs(db)) == 1


@pytest.fixture
def app(db: Database) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", "tests.faults.app_with_workers", db.address]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as made:
        yield made
        made.kill()


def test_an_app_killed_at_work_goes_on_when_it_is_started_again(
    db: Database, app: subprocess.Popen[str]
) -> None:
    job = ask(db, "tank", "Fern", NOW)
    process = under_way(db, job)
    app.kill()
    app.wait()
    until(lambda: not is_alive(process), "its process ends with it")
    assert progress(db, job)["state"] == "running", "nobody is there to tell"
    workers = Workers(db.address, 1, effort=FEW, upkeep=False)
    workers.start()
    try:
        assert ended(db, job) == "lost"
        assert ended(db, progress(db, job)["again"]) == "done"
    finally:
        workers.stop()
    assert answered(db)


def test_an_app_stopped_at_work_lets_the_work_wait(db: Database) -> None:
    workers = Workers(db.address, 1, effort=FEW, upkeep=False)
    workers.start()
    job = ask(db, "tank", "Fern", NOW)
    process = under_way(db, job)
    begun = time.monotonic()
    workers.stop()
    assert time.monotonic() - begun < 10.0
    assert not is_alive(process)
    told = progress(db, job)
    assert (told["state"], told["attempts"]) == ("waiting", 0)


def test_ending_an_app_ends_its_processes_in_silence(
    db: Database, app: subprocess.Popen[str]
) -> None:
    process = under_way(db, ask(db, "tank", "Fern", NOW))
    os.kill(process, signal.SIGINT)
    time.sleep(0.2)
    assert is_alive(process), "Ctrl-C is for the app alone"
    app.terminate()
    _, said = app.communicate()
    until(lambda: not is_alive(process), "its process ends with it")
    assert said == ""


@pytest.mark.slow
def test_a_database_that_is_gone_for_a_moment_ends_no_workers(
    db: Database, workers: Workers, caplog: pytest.LogCaptureFixture
) -> None:
    until(workers.processes, "a process is ready")
    with db.write():  # nobody else can write
        time.sleep(1.5)
    job = ask(db, "tank", "Fern", NOW)
    assert ended(db, job) == "done"
    assert "Traceback" not in caplog.text
