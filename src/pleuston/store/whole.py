"""The whole record of a rack, out of its database and into an empty one."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, func, select

from pleuston.records.record import Record
from pleuston.store import catalogue
from pleuston.store import exchange_layout as layout
from pleuston.store.entries import add_entries, entries_in_force, entry_of, last_sequence
from pleuston.store.exchange_problems import ImportRefused, Problem
from pleuston.store.rows import text_problems
from pleuston.store.session import StoreError
from pleuston.store.tables import CHANGES, ENTRIES


def record_of(connection: Connection, until: datetime | None = None) -> Record:
    """The record as it counts: without entries that were corrected or withdrawn."""
    rack = catalogue.rack_of(connection)
    return Record(
        rack=rack,
        waters=catalogue.waters_of(connection, rack.zone),
        blends=catalogue.blends_of(connection),
        feeds=catalogue.feeds_of(connection),
        soils=catalogue.soils_of(connection),
        tanks=catalogue.tanks_of(connection, rack.zone),
        entries=tuple(entry_of(row) for row in entries_in_force(connection, until=until)),
    )


def put_record(connection: Connection, record: Record, now: datetime) -> None:
    """Put a whole record into an empty database; refuse texts that can't be stored."""
    if not is_empty(connection):
        raise StoreError(
            what="the database holds a rack already",
            where="import",
            remedy="name a new database, or take single files in with: pleuston take-in",
        )
    storable(record)
    zone = record.rack.zone
    catalogue.put_rack(connection, record.rack)
    for kind, items in (
        ("water", record.waters), ("blend", record.blends), ("feed", record.feeds),
        ("soil", record.soils), ("tank", record.tanks),
    ):  # fmt: skip
        catalogue.add_items(connection, kind, items, zone)
    add_entries(connection, record.entries, now, device="import")


def is_empty(connection: Connection) -> bool:
    """Say whether a database holds no tank and no entry yet."""
    held = sum(len(catalogue.names_of(connection, k)) for k in ("tank", "water", "feed", "soil"))
    entries = connection.execute(select(func.count()).select_from(ENTRIES)).scalar() or 0
    return held + int(entries) == 0


def state_of(connection: Connection) -> list[object]:
    """What changes whenever the record does: the last entry, the changes, the catalogue."""
    changes = select(CHANGES.c.sequence, CHANGES.c.undone_at).order_by(CHANGES.c.sequence)
    return [
        last_sequence(connection),
        connection.execute(changes).all(),
        *(tuple(row.values()) for kind in catalogue.ROWS
          for row in catalogue.rows_of(connection, kind)),
    ]  # fmt: skip


def storable(record: Record) -> None:
    """Refuse a record that holds texts no database can keep, with every place of them."""
    problems: list[Problem] = []
    for table, items in (
        (layout.WATERS, record.waters), (layout.FEEDS, record.feeds), (layout.SOILS, record.soils),
        (layout.TANKS, record.tanks), (layout.ENTRIES, record.entries),
    ):  # fmt: skip
        rows = [{c.name: getattr(item, c.attribute) for c in table.columns} for item in items]
        problems += text_problems(table, rows)
    blends = [
        {"blend": blend.name, "part": part} for blend in record.blends for part, _ in blend.parts
    ]
    problems += text_problems(layout.BLENDS, blends)
    if problems:
        raise ImportRefused(record.rack.name or "rack", problems)


