"""Tanks at a glance, and what is known of one without working anything out."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, literal, select, union_all

from pleuston.base.errors import UnknownNameError
from pleuston.records.near import near_names
from pleuston.records.record import Record
from pleuston.services.racks import tank_line
from pleuston.store import beliefs, catalogue
from pleuston.store.entries import entries_in_force, entry_of, in_force, rows_by_sequence
from pleuston.store.session import Database
from pleuston.store.tables import ENTRIES, TANKS

OLD = timedelta(days=1)
LOOKED_AT = (
    "temperature", "ph", "ec25", "pen_ppm", "nitrate_ion", "nitrate", "ammonium", "cover",
    "level_drop",
)  # fmt: skip
"""The readings whose last values are listed."""
E = ENTRIES.c


def tanks_glance(db: Database, now: datetime) -> list[dict[str, Any]]:
    """One row a tank in their order: state, reasons, next act, last readings, last seen.

    state is None where nothing was worked out yet; stale: it is a day old, or something was
    noted since.
    """
    with db.read() as connection:
        tanks = connection.execute(
            select(TANKS.c.tank, TANKS.c.net_l).order_by(TANKS.c.row_id)
        ).all()  # fmt: skip
        answers = beliefs.answers_of_kind(connection, "round")
        seen = _last_seen(connection, now)
        readings = _last_readings(connection, now)
    rows = []
    for tank, litres in tanks:
        answer = answers.get(tank)
        found = {} if answer is None else beliefs.unpack(answer.answer)
        at, noted = seen.get(tank, (None, None))
        acts = found.get("acts", [])
        rows.append({
            "tank": tank, "net_l": litres, "state": found.get("state"),
            "because": found.get("because", []), "error": found.get("error"),
            "next": acts[0] if acts else None, "acts": len(acts),
            "answered_for": None if answer is None else answer.at,
            "made_at": None if answer is None else answer.made_at,
            "stale": answer is None or now - answer.at > OLD
            or (noted is not None and noted > answer.made_at),
            "seen_at": at, "readings": readings.get(tank, []),
        })  # fmt: skip
    return rows


def _last_seen(connection: Connection, now: datetime) -> dict[str, tuple[datetime, datetime]]:
    """When each tank's last entry was, and when it was noted."""
    last = (
        select(E.sequence).where(E.tank == TANKS.c.tank, E.at <= now, in_force())
        .order_by(E.at.desc()).limit(1).correlate(TANKS).scalar_subquery()
    )  # fmt: skip
    numbers = connection.execute(select(last).select_from(TANKS)).scalars()
    known = (number for number in numbers if number is not None)
    rows = rows_by_sequence(connection, known, (E.tank, E.at, E.recorded_at))
    return {tank: (at, noted) for tank, at, noted in rows}


def _last_readings(connection: Connection, now: datetime) -> dict[str, list[dict[str, Any]]]:
    """The last values of the readings that are looked at."""
    what = union_all(*(
        select(literal(name).label("what"), literal(place).label("place"))
        for place, name in enumerate(LOOKED_AT)
    )).subquery("looked_at")  # fmt: skip
    last = (
        select(E.sequence)
        .where(E.tank == TANKS.c.tank, E.kind == "reading", E.what == what.c.what,
               E.at <= now, in_force())
        .order_by(E.at.desc()).limit(1).correlate(TANKS, what).scalar_subquery()
    )  # fmt: skip
    numbers = connection.execute(
        select(last).select_from(TANKS).join(what, what.c.place >= 0)
    ).scalars()  # fmt: skip
    known = (number for number in numbers if number is not None)
    columns = (E.tank, E.what, E.low, E.high, E.unit, E.at)
    found: dict[str, list[dict[str, Any]]] = {}
    rows = rows_by_sequence(connection, known, columns)
    for tank, *row in sorted(rows, key=lambda row: LOOKED_AT.index(row[1])):
        told = dict(zip(("what", "low", "high", "unit", "at"), row, strict=True))
        found.setdefault(tank, []).append(told)
    return found


def record_of_tank(connection: Connection, tank: str, until: datetime | None = None) -> Record:
    """One tank with the entries of it and of the whole rack; an unknown name is refused."""
    rack = catalogue.rack_of(connection)
    tanks = catalogue.tanks_of(connection, rack.zone, tank)
    if not tanks:
        names = catalogue.names_of(connection, "tank")
        raise UnknownNameError(
            f"there is no tank named {tank!r}", f"rack {rack.name}".strip(), near_names(tank, names)
        )
    found = entries_in_force(connection, tank=tank, until=until)
    return Record(rack=rack, tanks=tanks, entries=tuple(entry_of(row) for row in found))


def tank_sheet(db: Database, tank: str, now: datetime) -> dict[str, Any]:
    """A tank as it stands by its record: set-up, plants, animals, last reading."""
    with db.read() as connection:
        record = record_of_tank(connection, tank, now)
    setup = record.tank_at(tank, now)
    return {
        **tank_line(record, tank, now),
        "light_hours": setup.light_hours, "light_ppfd": setup.light_ppfd, "soil": setup.soil,
        "soil_mm": setup.soil_mm, "cap_mm": setup.cap_mm, "started": setup.started,
        "cover_target_pct": setup.cover_target_pct, "note": setup.note,
    }  # fmt: skip
