"""What of the record one tank's answers rest on, and a hash that changes when that does.

That is the catalogue, the tank's own entries, those of the whole rack, and readings of the
room wherever they were noted. The water temperature of unheated tanks tells of the room
too, but with every reading of one tank all others would be out of date: it is used, and
not counted; answers are made again after a day in any case.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

from sqlalchemy import ColumnElement, Connection, select

from pleuston.records.record import Record
from pleuston.store import catalogue
from pleuston.store.entries import entry_of, in_force
from pleuston.store.tables import ENTRIES

E = ENTRIES.c
ROOM = ("room_temperature", "humidity")
_READ = (E.id, E.at, E.tank, E.kind, E.what, E.low, E.high, E.unit, E.method, E.note)


def record_about(connection: Connection, tank: str) -> Record:
    """The record as far as answers about one tank rest on it: other tanks' entries left out."""
    rack = catalogue.rack_of(connection)
    of_room = (E.kind == "reading") & E.what.in_([*ROOM, "temperature"])
    wanted = select(ENTRIES).where(in_force(), E.tank.in_([tank, ""]) | of_room)
    return Record(
        rack=rack,
        waters=catalogue.waters_of(connection, rack.zone),
        blends=catalogue.blends_of(connection),
        feeds=catalogue.feeds_of(connection),
        soils=catalogue.soils_of(connection),
        tanks=catalogue.tanks_of(connection, rack.zone),
        entries=tuple(entry_of(row) for row in connection.execute(wanted.order_by(E.sequence))),
    )


def record_hash(connection: Connection, tank: str) -> str:
    """The hash of what one tank's answers rest on."""
    counts = E.tank.in_([tank, ""]) | _of_room()
    return _hashes(connection, [tank], counts)[tank]


def record_hashes(connection: Connection) -> dict[str, str]:
    """The hash of every tank, in the order of the tanks."""
    return _hashes(connection, catalogue.names_of(connection, "tank"), None)


def _of_room() -> ColumnElement[bool]:
    return (E.kind == "reading") & E.what.in_(ROOM)


def _hashes(
    connection: Connection, tanks: Iterable[str], counts: ColumnElement[bool] | None
) -> dict[str, str]:
    rest = hashlib.sha256()
    rows: dict[str, list[Any]] = {}
    for kind in ("rack", "water", "blend", "feed", "soil", "tank"):
        for item in catalogue.rows_of(connection, kind):
            values = tuple(v for k, v in item.items() if k not in ("row_id", "as_written"))
            if kind == "rack" and item["key"] == "round_minutes":
                continue
            if kind == "tank":
                rows[item["tank"]] = [values]
            else:
                rest.update(f"{kind} {values!r}\n".encode())
    query = select(*_READ).where(in_force())
    if counts is not None:
        query = query.where(counts)
    for row in connection.execute(query.order_by(E.at, E.id)):
        told = tuple(row)
        if row.tank in rows:
            rows[row.tank].append(told)
        if not row.tank or (row.kind == "reading" and row.what in ROOM):
            rest.update(f"{told!r}\n".encode())
    shared = rest.hexdigest()
    return {
        tank: hashlib.sha256(f"{shared}{rows.get(tank, [])!r}".encode()).hexdigest()[:32]
        for tank in tanks
    }
