"""Compare two floaters by a rack's record."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from pleuston.base.errors import InputError
from pleuston.planning.compare import comparison, floaters_in
from pleuston.records.library import library
from pleuston.records.record import Record
from pleuston.services.racks import Source, open_rack, parse_moment

WEEKS = 26


def compare_floaters(
    record: Record, a: str, b: str, tanks: tuple[str, ...] = (), start: str = "", end: str = ""
) -> dict[str, Any]:
    """Pair two floaters by place and week; without times the last half year."""
    names = [_floater(name) for name in (a, b)]
    if names[0] == names[1]:
        raise InputError("a floater can't be compared with itself", "compare", "name two")
    for name in tanks:
        record.tank(name)
    to = parse_moment(end, record)
    since = _since(start, record, to)
    if since >= to:
        raise InputError("the time ends before it begins", "compare", "put from before to")
    known = record.until(to)
    chosen = tanks or tuple(tank.name for tank in known.tanks)
    return comparison(known, names[0], names[1], chosen, since, to)


def _since(start: str, record: Record, to: datetime) -> datetime:
    if not start:
        return to - timedelta(weeks=WEEKS)
    text = f"{start}T00:00" if len(start) == len("2026-01-01") else start
    return parse_moment(text, record)


def _floater(name: str) -> str:
    found = library().find_species(name)
    if found.group != "floating":
        raise InputError(f"{found.name} is no floating plant", "compare", "name two floaters")
    return found.name


def compare_in(
    rack: Source, a: str, b: str, tanks: tuple[str, ...] = (), start: str = "", end: str = ""
) -> dict[str, Any]:
    """Compare two floaters in a rack: a folder, a database file, or an address."""
    return compare_floaters(open_rack(rack), a, b, tanks, start, end)


def floaters_of(record: Record) -> list[str]:
    """Floaters that were ever harvested in a rack."""
    if not record.entries:
        return []
    times = [entry.at for entry in record.entries]
    ends = min(times), max(times)
    return sorted({f for tank in record.tanks for f in floaters_in(record, tank.name, *ends)})
