"""Rows of the audit: who changed what, with what was there before and after."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from pleuston.store.tables import AUDIT


def note(
    connection: Connection, action: str, subject: str, now: datetime, *,
    person: str = "", device: str = "", before: Any = None, after: Any = None,
) -> int:  # fmt: skip
    """Note a change; gives its number."""
    made = connection.execute(
        insert(AUDIT).values(
            at=now, person=person, device=device, action=action, subject=subject,
            before=_json(before), after=_json(after),
        )
    )  # fmt: skip
    assert made.inserted_primary_key is not None
    return int(made.inserted_primary_key[0])


def note_of(connection: Connection, sequence: int) -> dict[str, Any] | None:
    """One change by its number."""
    row = connection.execute(select(AUDIT).where(AUDIT.c.sequence == sequence)).first()
    return None if row is None else _told(row)


def _told(row: Any) -> dict[str, Any]:
    return {
        **row._mapping,
        "before": json.loads(row.before) if row.before else None,
        "after": json.loads(row.after) if row.after else None,
    }


def _json(value: Any) -> str:
    return "" if value is None else json.dumps(value, ensure_ascii=False, default=str)


def notes_of(
    connection: Connection, limit: int = 100, before: int | None = None, subject: str = ""
) -> list[dict[str, Any]]:
    """The last changes, newest first; before: a sequence number to go on from."""
    query = select(AUDIT).order_by(AUDIT.c.sequence.desc()).limit(limit)
    if before is not None:
        query = query.where(AUDIT.c.sequence < before)
    if subject:
        query = query.where(AUDIT.c.subject == subject)
    return [_told(row) for row in connection.execute(query)]
