"""A small rack for the pages: three tanks, one with a name that tries to be more."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.records.record import Blend, Entry, Rack, Record, Tank, Water
from pleuston.store.session import Database, open_database
from pleuston.store.whole import put_record

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
HOSTILE = "<img src=x onerror=alert(1)> & \"Co\" ..\\ %41 ?#;= ۱"
TANKS = ("Alder", "Birch", HOSTILE)


def small_record(now: datetime = NOW) -> Record:
    """A rack whose first tank has a little history."""

    def entry(n: int, days: float, tank: str, kind: str, what: str, **more: Any) -> Entry:
        name = f"00000000-0000-4000-8000-{n:012d}"
        return Entry(name, now - timedelta(days=days), tank, kind, what, **more)

    tanks = tuple(
        Tank(
            name, net_l=24.0, surface_m2=0.08, lid="partial", light_hours=9.0, flow="still",
            top_up_water="rain butt", started=now - timedelta(days=300),
        )
        for name in TANKS
    )  # fmt: skip
    entries = (
        entry(1, 90, "Alder", "plant_in", "Lemna minor", low=9.0, high=9.0, unit="g"),
        entry(2, 90, "Alder", "stock_in", "Neocaridina davidi", low=12.0, high=12.0),
        entry(3, 9, "Alder", "reading", "nitrate_ion", low=3.0, high=7.5, unit="mg/L"),
        entry(4, 9, "Alder", "reading", "temperature", low=21.75, high=22.25, unit="C",
              method="thermometer"),
        entry(5, 8, "Alder", "reading", "pen_ppm", low=133.5, high=134.5, unit="ppm",
              method="pen factor 0.5"),
        entry(6, 3, "Alder", "feed", "flake", low=0.06, high=0.06, unit="g"),
        entry(7, 2, "Alder", "top_up", "rain butt", low=1.5, high=1.5, unit="L"),
        entry(8, 2, "Alder", "harvest", "Lemna minor", low=5.0, high=5.0, unit="g",
              method="scale, drained 5 min, container 12 g"),
    )  # fmt: skip
    return Record(
        rack=Rack(name="Invented rack", timezone="Etc/GMT-1"),
        waters=(Water("hard tap", calcium_mg_l=92.0), Water("rain butt", "rain", calcium_mg_l=1.0)),
        blends=(Blend("half rain", (("hard tap", 0.5), ("rain butt", 0.5))),),
        tanks=tanks,
        entries=entries,
    )


def small_database(file: Path, now: datetime = NOW) -> Database:
    """The small rack in a database."""
    db = open_database(file, create=True)
    with db.write() as connection:
        put_record(connection, small_record(now), now)
    return db
