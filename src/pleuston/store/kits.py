"""Rows of test kits, in the order they were added."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from pleuston.store.tables import KITS


def kits_of(connection: Connection) -> list[dict[str, Any]]:
    """All kits of the rack."""
    query = select(KITS).order_by(KITS.c.row_id)
    return [
        {key: row[key] for key in row if key != "row_id"}
        for row in connection.execute(query).mappings()
    ]


def put_kit(connection: Connection, kit: dict[str, Any]) -> None:
    """Write a kit in place of the one of its name, or add it."""
    same = KITS.c.kit == kit["kit"]
    if not connection.execute(update(KITS).where(same).values(**kit)).rowcount:
        connection.execute(insert(KITS).values(**kit))


def remove_kit(connection: Connection, name: str) -> int:
    """Take a kit out; gives how many there were."""
    return connection.execute(delete(KITS).where(KITS.c.kit == name)).rowcount
