"""Back-ups of a database file: written whole or not at all, and read through before they count."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from pleuston.store.session import HEAD, Database, StoreError

PART = ".part"


def copy_whole(db: Database, target: Path) -> dict[str, Any]:
    """Copy a database while it is used; checked, then put in place under its name."""
    part = target.with_name(f".{target.name}-{os.getpid()}{PART}")
    part.unlink(missing_ok=True)
    try:
        with db.engine.connect() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            try:
                driver.execute("VACUUM INTO ?", (str(part),)).close()
            except sqlite3.Error as fault:
                raise _failed(fault, target) from fault
        found = check_file(part)
        settle(part)
        part.replace(target)
        settle(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return found


def _failed(fault: sqlite3.Error, target: Path) -> StoreError:
    said = str(fault)
    full = "full" in said or "disk I/O" in said
    return StoreError(
        what="the disk is full; no back-up was made" if full else f"no back-up was made ({said})",
        where=str(target.parent),
        remedy="make room, or name another folder" if full else "check the folder",
    )


def settle(path: Path) -> None:
    """Wait until a file or folder is on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def check_file(file: Path) -> dict[str, Any]:
    """Read a database file through; gives its schema and counts, refuses what is not sound."""
    if not file.is_file():
        raise StoreError("there is no such file", str(file), "check the path")
    with file.open("rb") as opened:
        head = opened.read(100)
    if head[:16] != b"SQLite format 3\0":
        raise StoreError("this file is not a rack's database", str(file), "name a back-up")
    page = int.from_bytes(head[16:18], "big")
    wanted = int.from_bytes(head[28:32], "big") * (65536 if page == 1 else page)
    live = file.with_name(file.name + "-wal").exists()
    if not live and file.stat().st_size < wanted:
        raise _unsound(file, f"it is cut off: {file.stat().st_size} bytes of {wanted}")
    mode = "mode=ro" if live else "immutable=1"
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?{mode}", uri=True)) as opened_db:
            return _read_through(opened_db, file)
    except sqlite3.Error as fault:
        raise _unsound(file, str(fault)) from fault


def _read_through(db: sqlite3.Connection, file: Path) -> dict[str, Any]:
    flaws = [row[0] for row in db.execute("PRAGMA integrity_check(5)")]
    if flaws != ["ok"]:
        raise _unsound(file, str(flaws[0]))
    if db.execute("PRAGMA foreign_key_check").fetchone():
        raise _unsound(file, "rows point at nothing")
    try:
        schema = db.execute("SELECT version_num FROM alembic_version").fetchone()[0]
        counts = {
            what: db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for what, table in (("tanks", "tank"), ("entries", "entry"), ("photos", "photo"))
        }
        last = db.execute("SELECT max(recorded_at) FROM entry").fetchone()[0]
    except (sqlite3.OperationalError, TypeError):
        raise StoreError(
            "this is a database of another program", str(file), "name a back-up of a rack"
        ) from None
    if schema > HEAD:
        raise StoreError(
            what=f"it has the schema {schema}, newer than this program's {HEAD}",
            where=str(file),
            remedy="use the newer program",
        )
    return {"file": str(file), "sound": True, "schema": schema, **counts, "last_entry": last}


def _unsound(file: Path, why: str) -> StoreError:
    return StoreError(f"this file is damaged ({why})", str(file), "take another back-up")


def put_in_place(source: Path, target: Path, now: datetime) -> Path | None:
    """Put a checked back-up where the rack is; gives where the old one was put aside."""
    part = target.with_name(f".{target.name}-{os.getpid()}{PART}")
    aside: Path | None = None
    try:
        shutil.copyfile(source, part)
        check_file(part)
        settle(part)
        if target.exists():
            _nobody_has(target)
            aside = free_name(target.with_name(f"{target.stem}.replaced-{now:%Y%m%dT%H%M%SZ}.db"))
            target.rename(aside)
            for end in ("-wal", "-shm"):
                beside = target.with_name(target.name + end)
                if beside.exists():
                    beside.rename(aside.with_name(aside.name + end))
        part.replace(target)
        settle(target.parent)
    except OSError as fault:
        if aside is not None and not target.exists():
            aside.rename(target)
        raise StoreError(
            what=f"the back-up could not be put in place ({fault.strerror})",
            where=str(target),
            remedy="what was there is as it was; make room and try again",
        ) from fault
    finally:
        part.unlink(missing_ok=True)
    return aside


def _nobody_has(target: Path) -> None:
    """Refuse while another program has the database open; a damaged one can be replaced."""
    try:
        with closing(sqlite3.connect(target, timeout=1, isolation_level=None)) as db:
            mode = db.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except sqlite3.OperationalError as fault:
        if "locked" not in str(fault):
            return
        mode = "wal"
    except sqlite3.DatabaseError:
        return
    if mode != "delete":
        raise StoreError(
            what="a program has this rack open", where=str(target), remedy="stop it first"
        )


def free_name(path: Path) -> Path:
    """A name like this one that no file has."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free
