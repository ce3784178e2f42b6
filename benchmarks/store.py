"""Times of a rack's database: made, filled with a hundred thousand entries, read, logged to."""

from __future__ import annotations

import random
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.records.record import Entry, Rack, Record, Tank
from pleuston.services.backup import backup
from pleuston.services.log import log_entries, recent_entries
from pleuston.services.tanks import tank_sheet, tanks_glance
from pleuston.services.who import Who
from pleuston.store.session import Database, open_database
from pleuston.store.whole import put_record, record_of

NOW = datetime(2026, 6, 1, tzinfo=UTC)
READINGS = ("temperature", "ph", "ec25", "nitrate_ion", "cover")
UNITS = {"temperature": "C", "ec25": "uS/cm", "nitrate_ion": "mg/L", "cover": "%"}
TANKS = 300


def big_rack(entries: int) -> Record:
    """A rack of three hundred tanks with readings every two minutes."""
    dice = random.Random(1)
    tanks = tuple(Tank(f"T{i:03}", 30.0, 0.12) for i in range(TANKS))
    made = []
    for i in range(entries):
        what = dice.choice(READINGS)
        name = str(uuid.UUID(int=dice.getrandbits(128), version=4))
        at = NOW - timedelta(minutes=2 * (entries - i))
        tank = f"T{dice.randrange(TANKS):03}"
        made.append(Entry(name, at, tank, "reading", what, 7.0, 7.5, UNITS.get(what, "")))
    return Record(Rack("Big rack", "Etc/GMT-1"), tanks=tanks, entries=tuple(made))


def milliseconds(act: Callable[[], Any], times: int = 1) -> float:
    """Wall time of an act, the median of some times [ms]."""
    found = []
    for _ in range(times):
        begun = time.perf_counter()
        act()
        found.append(1e3 * (time.perf_counter() - begun))
    return statistics.median(found)


def store(quick: bool) -> dict[str, Any]:
    """A database file of three hundred tanks, all in milliseconds of wall time."""
    record = big_rack(10_000 if quick else 100_000)
    who = Who("", "bench")
    row = {"tank": "T001", "kind": "reading", "what": "ph", "low": 7.0, "high": 7.2}
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        db = open_database(Path(folder) / "rack.db", create=True)
        made = 1e3 * (time.perf_counter() - begun)
        found = {
            "entries": len(record.entries), "tanks": TANKS, "make_ms": made,
            "import_ms": milliseconds(lambda: _put(db, record)),
            "tank_list_ms": milliseconds(lambda: tanks_glance(db, NOW), 9),
            "tank_sheet_ms": milliseconds(lambda: tank_sheet(db, "T001", NOW), 9),
            "last_entries_ms": milliseconds(lambda: recent_entries(db, "T001"), 9),
            "log_ms": milliseconds(lambda: log_entries(db, [row], who, NOW), 49),
            "whole_record_ms": milliseconds(lambda: _read(db)),
            "backup_ms": milliseconds(lambda: backup(db, Path(folder) / "kept", NOW)),
        }  # fmt: skip
        db.close()
        again = milliseconds(lambda: open_database(Path(folder) / "rack.db").close(), 5)
    return {"store": {**found, "open_ms": again}}


def _put(db: Database, record: Record) -> None:
    with db.write() as connection:
        put_record(connection, record, NOW)


def _read(db: Database) -> Record:
    with db.read() as connection:
        return record_of(connection)
