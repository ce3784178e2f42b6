"""What was changed in the rack besides entries noted: who, when, before and after."""

from __future__ import annotations

from typing import Any

from pleuston.store import audit
from pleuston.store.session import Database


def changes_made(db: Database, limit: int = 60, before: int | None = None) -> list[dict[str, Any]]:
    """The last changes, newest first; before: the `sequence` to go on from."""
    with db.read() as connection:
        return audit.notes_of(connection, limit=limit, before=before)
