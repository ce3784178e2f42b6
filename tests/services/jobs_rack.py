"""A small rack of two tanks in a database, and work on it with few members."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from pleuston.records.record import Entry, Rack, Record, Tank, Water
from pleuston.services.job_work import work
from pleuston.services.kinds import Effort
from pleuston.store import jobs as rows
from pleuston.store.entries import add_entries
from pleuston.store.session import Database, open_database
from pleuston.store.whole import put_record

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
"""A Monday."""
NOW = START + timedelta(days=16)
FEW = Effort(members=16, learning=64)
"""As few as can be learned with."""


def entry(
    tank: str, day: float, kind: str, what: str = "", low: float | None = None,
    high: float | None = None, unit: str = "", method: str = "",
) -> Entry:  # fmt: skip
    """A thing that happened, days after the start."""
    return Entry(
        f"{tank}-{day}-{kind}-{what}", START + timedelta(days=day), tank, kind, what, low,
        low if high is None else high, unit, method=method,
    )  # fmt: skip


def entries_of(tank: str) -> list[Entry]:
    """Two weeks of a tank with shrimp, a floating plant and three readings."""
    return [
        entry(tank, 0.0, "plant_in", "Lemna minor", 6.0, unit="g"),
        entry(tank, 0.0, "stock_in", "Neocaridina davidi", 10, method="0.2 g"),
        *(entry(tank, d + 0.4, "feed", "flake", 0.03, unit="g") for d in range(0, 15, 2)),
        entry(tank, 6.9, "reading", "nitrate_ion", 5.0, 10.0, "mg/L", "chart"),
        entry(tank, 7.0, "harvest", "Lemna minor", 3.0, unit="g"),
        entry(tank, 7.1, "top_up", "soft", 1.0, unit="L"),
        entry(tank, 13.9, "reading", "temperature", 23.5, 24.5, "C"),
        entry(tank, 14.0, "reading", "ph", 7.0, 7.5, "", "chart"),
    ]


def record(tanks: Sequence[str] = ("Fern", "Iris"), entries: Sequence[Entry] = ()) -> Record:
    """The rack as a record."""
    fern = Tank(
        "Fern", 25.0, 0.1, lid="partial", heater_c=24.0, light_hours=9.0, light_ppfd=80.0,
        soil_mm=20.0, cap_mm=20.0, top_up_water="soft", cover_target_pct=40.0,
        started=datetime(2025, 3, 2, tzinfo=UTC), started_text="2025-03-02",
    )  # fmt: skip
    return Record(
        Rack("Test", "Etc/UTC", room_c=22.0, room_humidity_pct=50.0),
        (Water("soft", "rain", ph=6.5, kh_dh=1.0, gh_dh=2.0, chloride_mg_l=5.0),),
        tanks=tuple(replace(fern, name=name) for name in tanks),
        entries=tuple(entries) or tuple(e for t in tanks for e in entries_of(t)),
    )


def new_database(address: str | Path, held: Record | None = None) -> Database:
    """A new database that holds the rack."""
    db = open_database(address, create=True)
    with db.write() as connection:
        put_record(connection, record() if held is None else held, NOW)
    return db


def add(db: Database, *entries: Entry) -> None:
    """Note further entries."""
    with db.write() as connection:
        add_entries(connection, entries, NOW)


def do_next(db: Database, effort: Effort = FEW) -> tuple[str, str]:
    """Do the job that waits first in this process; gives it and how it ended."""
    with db.write() as connection:
        row = rows.claim(connection, os.getpid(), datetime.now(UTC))
    assert row is not None
    return row.job, work(db.address, row.job, effort)
