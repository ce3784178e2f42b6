"""What was just saved, in words, for the strip with its undo."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from pleuston.records.record import Entry
from pleuston.services.who import Who
from pleuston.store.entries import change_of, entry_of, rows_by_id
from pleuston.web.site import Site
from pleuston.web.words import Units, entry_line, time

_FIELDS = {item.name for item in fields(Entry)}


@dataclass(frozen=True)
class Said:
    """An entry that was saved: its id, its tank and its line."""

    id: str
    tank: str
    line: str


def entries_said(site: Site, who: Who, ids: str) -> list[Said]:
    """The entries of those ids that still count, each as a line."""
    wanted = [name for name in ids.split(",") if name]
    if not wanted:
        return []
    units = Units.of(site, who)
    with site.db.read() as connection:
        rows = rows_by_id(connection, wanted)
        counting = [n for n in wanted if n in rows and change_of(connection, n) is None]
    entries = [entry_of(rows[name]) for name in counting]
    return [Said(entry.id, entry.tank, entry_line(entry, units)) for entry in entries]


def told_line(told: Mapping[str, Any], units: Units) -> str:
    """Say an entry that is given as data in one line."""
    known = {key: value for key, value in told.items() if key in _FIELDS}
    return entry_line(Entry(**{**known, "at": time(told["at"])}), units)
