"""Look up what was noted: the last entries, one tank's, and the history of one entry."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime, tzinfo
from typing import Any

from pleuston.base.errors import UnknownNameError
from pleuston.records.near import near_names
from pleuston.records.record import Entry
from pleuston.store import audit, catalogue, entries
from pleuston.store.session import Database

MOST = 1000


def told(entry: Entry, zone: tzinfo | None) -> dict[str, Any]:
    """An entry as plain data, its time on the rack's clock."""
    found = asdict(entry)
    del found["at_text"]
    local = entry.at if zone is None else entry.at.astimezone(zone)
    return {**found, "at": local.isoformat(), "low": _float(entry.low), "high": _float(entry.high)}


def _float(value: float | None) -> float | None:
    return None if value is None else float(value)


def entries_of_tank(
    db: Database, tank: str, *, since: datetime | None = None, until: datetime | None = None,
    kind: str = "", limit: int | None = None,
) -> list[Entry]:  # fmt: skip
    """Entries that count of a tank and of the whole rack, newest first."""
    with db.read() as connection:
        found = entries.entries_in_force(
            connection, tank=tank, kind=kind, since=since, until=until, limit=limit,
            newest_first=True,
        )  # fmt: skip
    return [entries.entry_of(row) for row in found]


def entries_since(db: Database, since: datetime) -> list[Entry]:
    """Entries that count of all tanks from a moment on, in the order they were noted."""
    with db.read() as connection:
        found = entries.entries_in_force(connection, since=since)
    return [entries.entry_of(row) for row in found]


def recent_entries(
    db: Database, tank: str = "", limit: int = 50, before: int | None = None, kind: str = ""
) -> list[dict[str, Any]]:
    """The last entries that count, newest first; before: the `sequence` to go on from."""
    with db.read() as connection:
        zone = catalogue.zone_of(connection)
        found = entries.entries_in_force(
            connection, tank=tank, kind=kind, limit=max(1, min(limit, MOST)), before=before,
            newest_first=True, rack_wide=False,
        )  # fmt: skip
    return [
        {
            "sequence": row.sequence, **told(entries.entry_of(row), zone),
            "recorded_at": row.recorded_at.isoformat(),
            "person": row.person, "device": row.device,
        }
        for row in found
    ]  # fmt: skip


def entry_history(db: Database, name: str) -> dict[str, Any]:
    """Everything that became of an entry: what was noted, corrected, withdrawn, put back."""
    with db.read() as connection:
        zone = catalogue.zone_of(connection)
        rows, changes = entries.history_of(connection, name.lower())
        if not rows:
            raise UnknownNameError(
                f"there is no entry {name!r}", "entries", "look it up in the log"
            )
        counts = [r.id for r in rows if entries.change_of(connection, r.id) is None]
    return {
        "counts": counts[0] if counts else None,
        "entries": [
            {
                **told(entries.entry_of(row), zone), "recorded_at": row.recorded_at.isoformat(),
                "person": row.person, "device": row.device, "counts": row.id in counts,
            }
            for row in rows
        ],
        "changes": [
            {
                "entry": change.entry, "replacement": change.replacement,
                "reason": change.reason, "at": change.recorded_at.isoformat(),
                "person": change.person, "device": change.device,
                "undone_at": change.undone_at.isoformat() if change.undone_at else None,
            }
            for change in changes
        ],
    }  # fmt: skip


def same_as_last(db: Database, tank: str, kind: str, what: str = "") -> dict[str, Any] | None:
    """The last entry of a kind, ready to be noted again: without id and time; None if none."""
    with db.read() as connection:
        names = catalogue.names_of(connection, "tank")
        if tank not in names:
            raise UnknownNameError(
                f"there is no tank named {tank!r}", "log", near_names(tank, names)
            )
        found = entries.entries_in_force(
            connection, tank=tank, kind=kind, limit=1 if not what else None,
            newest_first=True, rack_wide=False,
        )  # fmt: skip
    row = next((r for r in found if not what or r.what == what), None)
    if row is None:
        return None
    kept = told(entries.entry_of(row), None)
    return {key: value for key, value in kept.items() if key not in ("id", "at", "by")}


def changes_made(db: Database, before: int = 0, limit: int = 100) -> list[dict[str, Any]]:
    """Who changed what, newest first; before: the `sequence` to go on from."""
    with db.read() as connection:
        return audit.notes_of(connection, min(limit, MOST), before or None)
