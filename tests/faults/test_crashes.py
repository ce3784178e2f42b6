"""Killed programs, several writers, jumping clocks, failed migrations: nothing lost or doubled."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from tests.store.databases import KIM, NOW, UUID, ph, two_tanks

from pleuston.services import people
from pleuston.services.log import log_entries, recent_entries, undo_last
from pleuston.services.who import Who
from pleuston.store import migrate
from pleuston.store.session import HEAD, Database, StoreError, open_database, revision_of
from pleuston.store.whole import record_of

ROOT = Path(__file__).parents[2]


def numbers(db: Database) -> list[int]:
    with db.read() as connection:
        return [int(entry.id.rpartition("-")[2]) for entry in record_of(connection).entries]


def killed_while_writing(address: str, most: int, kills: int) -> tuple[list[int], int]:
    """Write up to `most` entries, killed `kills` times; gives those acknowledged, and kills."""
    dice = random.Random(7)
    kept: list[int] = []
    killed = 0
    while not kept or kept[-1] < most:
        first = kept[-1] + 1 if kept else 1
        writer = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.writer", address, str(first), str(most)],
            cwd=ROOT, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert writer.stdout is not None
        left = dice.randrange(most // (kills + 1)) + 1 if killed < kills else most
        for line in writer.stdout:
            kept.append(int(line))
            left -= 1
            if left == 0 and kept[-1] < most:
                os.kill(writer.pid, signal.SIGKILL)
                killed += 1
                break
        kept += [int(line) for line in writer.stdout if line.endswith("\n")]
        writer.stdout.close()
        assert writer.wait(30) in (0, -signal.SIGKILL)
    return kept, killed


@pytest.mark.parametrize("most", [40, pytest.param(1000, marks=pytest.mark.slow)])
def test_killed_while_writing_nothing_is_lost_or_doubled(address: str, most: int) -> None:
    db = open_database(address, create=True)
    two_tanks(db)
    kept, killed = killed_while_writing(address, most, kills=3 if most < 100 else 20)
    assert killed >= (2 if most < 100 else 15)
    assert kept == list(range(1, most + 1))
    assert numbers(db) == kept
    if db.is_sqlite:
        with db.read() as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
    db.close()


def test_two_phones_write_the_same_tank(db: Database) -> None:
    """Each logs its own readings; ten ids are sent by all of them, as by a queue sent twice."""
    faults: list[Exception] = []

    def write(phone: int) -> None:
        own = open_database(db.address)
        try:
            for i in range(25):
                log_entries(own, [ph(7.0, 1000 * phone + i, at="2026-05-01")], KIM, NOW)
                log_entries(own, [ph(6.5, i % 10, at="2026-05-01")], KIM, NOW)
        except Exception as fault:
            faults.append(fault)
        finally:
            own.close()

    phones = [threading.Thread(target=write, args=(phone,)) for phone in (1, 2, 3)]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    assert faults == []
    wanted = [1000 * phone + i for phone in (1, 2, 3) for i in range(25)] + list(range(10))
    assert sorted(numbers(db)) == sorted(wanted)


def test_fifty_threads_write_at_once_and_none_is_turned_away(db: Database) -> None:
    faults: list[Exception] = []

    def write(number: int) -> None:
        try:
            for i in range(4):
                log_entries(db, [ph(7.0, 100 * number + i, at="2026-05-01")], KIM, NOW)
                recent_entries(db, "Fern", 5)
        except Exception as fault:
            faults.append(fault)

    clients = [threading.Thread(target=write, args=(number,)) for number in range(50)]
    for client in clients:
        client.start()
    for client in clients:
        client.join()
    assert faults == []
    assert sorted(numbers(db)) == sorted(100 * n + i for n in range(50) for i in range(4))


def locked_by_another(db: Database) -> Callable[[], None]:
    """Hold the database as another program that does not let go; gives how to let go."""
    if db.is_sqlite:
        other = sqlite3.connect(db.address, isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")
        return other.close
    holder = db.write()
    holder.__enter__()
    return lambda: holder.__exit__(None, None, None)


def test_a_locked_database_is_told_and_nothing_is_written(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pleuston.store.session.BUSY_MS", 200)
    db = open_database(address, create=True)
    two_tanks(db)
    let_go = locked_by_another(db)
    try:
        with pytest.raises(StoreError, match="another program is writing") as refused:
            log_entries(db, [ph(7.0, 1)], KIM, NOW)
        assert "try again" in refused.value.remedy
        assert numbers(db) == []
    finally:
        let_go()
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    assert numbers(db) == [1]
    db.close()


def test_a_clock_that_jumps_back_loses_no_order(db: Database) -> None:
    back = NOW - timedelta(days=400)
    people.add_person(db, "kim", "keeper", "long enough a word", Who(), NOW)
    token = people.sign_in(db, "kim", "long enough a word", "phone", NOW)
    log_entries(db, [ph(7.0, 1, at="2026-05-01")], KIM, NOW)
    log_entries(db, [ph(7.1, 2, at="2026-05-01")], KIM, back)
    assert people.who_of_token(db, token, back) is not None
    assert undo_last(db, KIM, back)["id"] == UUID.format(2)
    assert undo_last(db, KIM, NOW)["id"] == UUID.format(1)
    assert recent_entries(db) == []
    log_entries(db, [ph(7.1, 2, at="2026-05-01")], KIM, back)
    assert recent_entries(db) == []


def with_another_step(folder: Path, body: str) -> Path:
    """The migrations with one more, whose steps are given."""
    with migrate.steps() as script:
        shutil.copytree(script.dir, folder, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "versions" / "9001_further.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision = '9001'\ndown_revision = '{HEAD}'\n\n\ndef upgrade():\n{body}"
    )
    return folder


FAILS = """
    op.create_table("shelf", sa.Column("name", sa.Text, primary_key=True))
    op.execute("DELETE FROM entry")
    with op.batch_alter_table("tank") as batch:
        batch.add_column(sa.Column("shelf", sa.Text))
    op.execute("INSERT INTO nowhere VALUES (1)")
"""
WORKS = """
    with op.batch_alter_table("entry") as batch:
        batch.add_column(sa.Column("mood", sa.Text, nullable=False, server_default="calm"))
        batch.alter_column("unit", type_=sa.String(40))
"""


def test_a_migration_that_fails_midway_leaves_all_as_it_was(db: Database, tmp_path: Path) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    with db.read() as connection:
        before = record_of(connection)
    folder = with_another_step(tmp_path / "steps", FAILS)
    with pytest.raises(Exception, match="nowhere"):
        migrate.upgrade(db, HEAD, "9001", folder)
    again = open_database(db.address)
    with again.read() as connection:
        assert revision_of(connection) == HEAD
        assert record_of(connection) == before
        assert migrate.differences(connection) == []
    log_entries(again, [ph(7.1, 2)], KIM, NOW)
    again.close()
    if db.is_sqlite:
        copy = open_database(tmp_path / f"rack.before-{HEAD}.db")
        with copy.read() as connection:
            assert record_of(connection) == before
        copy.close()


def test_a_migration_keeps_every_row_and_key(db: Database, tmp_path: Path) -> None:
    log_entries(db, [ph(7.0, 1), ph(7.1, 2)], KIM, NOW)
    undo_last(db, KIM, NOW)
    migrate.upgrade(db, HEAD, "9001", with_another_step(tmp_path / "steps", WORKS))
    with db.read() as connection:
        moods = connection.execute(text("SELECT id, mood FROM entry ORDER BY sequence")).all()
        assert moods == [(UUID.format(1), "calm"), (UUID.format(2), "calm")]
        assert len(connection.execute(text("SELECT * FROM entry_change")).all()) == 1
        assert revision_of(connection) == "9001"
    if db.is_sqlite:
        assert (tmp_path / f"rack.before-{HEAD}.db").is_file()
        with closing(sqlite3.connect(db.address)) as plain:
            assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
