"""What a tank's record usually holds: counted by the database, not row by row."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from pleuston.store.entries import in_force
from pleuston.store.tables import ENTRIES

E = ENTRIES.c


def whats_of(connection: Connection, tank: str) -> list[Any]:
    """What was noted of a tank: kind, what, how often, when last; most often first."""
    query = (
        select(E.kind, E.what, func.count().label("times"), func.max(E.at).label("last"))
        .where(E.tank == tank, in_force())
        .group_by(E.kind, E.what)
        .order_by(func.count().desc(), E.what)
    )
    return list(connection.execute(query))


def last_readings(
    connection: Connection, whats: Sequence[str], since: datetime
) -> list[Any]:
    """Each tank's last reading of each of those since a moment; as rows of entries."""
    place = func.row_number().over(
        partition_by=(E.tank, E.what), order_by=(E.at.desc(), E.sequence.desc())
    )
    numbered = (
        select(ENTRIES, place.label("place"))
        .where(E.kind == "reading", E.what.in_(whats), E.at >= since, in_force())
        .subquery()
    )
    return list(connection.execute(select(numbered).where(numbered.c.place == 1)))
