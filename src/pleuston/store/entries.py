"""Rows of entries: added once, never changed; corrections and withdrawals beside them."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, func, insert, or_, select, update

from pleuston.records.record import Entry
from pleuston.store.rows import digits, number
from pleuston.store.tables import CHANGES, ENTRIES

E, C = ENTRIES.c, CHANGES.c
_AT_ONCE = 500
"""Ids asked for in one query."""


def add_entries(
    connection: Connection, entries: Sequence[Entry], now: datetime,
    person: str = "", device: str = "",
) -> None:  # fmt: skip
    """Add entries whose ids are not there yet, in their order."""
    if not entries:
        return
    values = [
        {
            "id": entry.id, "at": entry.at, "at_text": entry.at_text, "tank": entry.tank,
            "kind": entry.kind, "what": entry.what,
            "low": None if entry.low is None else float(entry.low),
            "high": None if entry.high is None else float(entry.high),
            "unit": entry.unit, "by": entry.by, "method": entry.method, "note": entry.note,
            "as_written": digits({"low": entry.low, "high": entry.high}),
            "recorded_at": now, "person": person, "device": device,
        }
        for entry in entries
    ]  # fmt: skip
    connection.execute(insert(ENTRIES), values)


def entry_of(row: Any) -> Entry:
    """The entry of a row."""
    return Entry(
        id=row.id, at=row.at, tank=row.tank, kind=row.kind, what=row.what,
        low=number(row.low, "low", row.as_written), high=number(row.high, "high", row.as_written),
        unit=row.unit, by=row.by, method=row.method, note=row.note, at_text=row.at_text,
    )  # fmt: skip


def rows_by_id(connection: Connection, ids: Iterable[str]) -> dict[str, Any]:
    """The rows of those ids that are there, changed ones among them."""
    wanted = list(ids)
    found: dict[str, Any] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        part = wanted[start : start + _AT_ONCE]
        for row in connection.execute(select(ENTRIES).where(E.id.in_(part))):
            found[row.id] = row
    return found


def rows_by_sequence(
    connection: Connection, numbers: Iterable[int], columns: Sequence[Any]
) -> list[Any]:
    """Columns of entries by the numbers they were noted under."""
    wanted, found = list(numbers), list[Any]()
    for start in range(0, len(wanted), _AT_ONCE):
        part = E.sequence.in_(wanted[start : start + _AT_ONCE])
        found += connection.execute(select(*columns).where(part)).all()
    return found


def in_force() -> ColumnElement[bool]:
    """The entries that count: not corrected, not withdrawn, and not a correction taken back."""
    replaced = select(C.entry).where(C.undone_at.is_(None))
    taken_back = select(C.replacement).where(
        C.undone_at.is_not(None), C.replacement.is_not(None)
    )
    return E.id.not_in(replaced) & E.id.not_in(taken_back)


def entries_in_force(
    connection: Connection, *, tank: str = "", kind: str = "", since: datetime | None = None,
    until: datetime | None = None, limit: int | None = None, before: int | None = None,
    newest_first: bool = False, rack_wide: bool = True,
) -> list[Any]:  # fmt: skip
    """Rows of entries that count, oldest noted first, or by time with the newest first.

    tank: one tank's (and the whole rack's, where rack_wide); before: a sequence number.
    """
    query: Select[Any] = select(ENTRIES).where(in_force())
    if tank:
        query = query.where(E.tank.in_([tank, ""]) if rack_wide else E.tank == tank)
    if kind:
        query = query.where(E.kind == kind)
    if since is not None:
        query = query.where(E.at >= since)
    if until is not None:
        query = query.where(E.at <= until)
    if before is not None:
        mark = select(E.at).where(E.sequence == before).scalar_subquery()
        query = query.where(or_(E.at < mark, (E.at == mark) & (E.sequence < before)))
    if newest_first:
        query = query.order_by(E.at.desc(), E.sequence.desc())
    else:
        query = query.order_by(E.sequence)
    if limit is not None:
        query = query.limit(limit)
    return list(connection.execute(query))


def last_sequence(connection: Connection) -> int:
    """The number of the entry noted last; 0 where there is none."""
    return int(connection.execute(select(func.max(E.sequence))).scalar() or 0)


def add_change(
    connection: Connection, entry: str, replacement: str | None, reason: str, now: datetime,
    person: str = "", device: str = "", by_undo: bool = False,
) -> str:  # fmt: skip
    """Note that an entry is corrected, or withdrawn when there is no replacement; gives its id."""
    name = str(uuid.uuid4())
    connection.execute(
        insert(CHANGES).values(
            id=name, entry=entry, replacement=replacement, reason=reason,
            after_entry=last_sequence(connection), by_undo=int(by_undo), recorded_at=now,
            person=person, device=device,
        )
    )  # fmt: skip
    return name


def entries_between(connection: Connection, first: int, last: int) -> list[Any]:
    """Rows of entries that count, by the numbers they were noted under."""
    query = select(ENTRIES).where(E.sequence.between(first, last), in_force())
    return list(connection.execute(query.order_by(E.sequence)))


def withdraw_all(
    connection: Connection, ids: Sequence[str], reason: str, now: datetime,
    person: str = "", device: str = "",
) -> None:  # fmt: skip
    """Note that entries are withdrawn."""
    last = last_sequence(connection)
    values = [
        {
            "id": str(uuid.uuid4()), "entry": name, "reason": reason, "after_entry": last,
            "by_undo": 1, "recorded_at": now, "person": person, "device": device,
        }
        for name in ids
    ]  # fmt: skip
    if values:
        connection.execute(insert(CHANGES), values)


def taken_back(connection: Connection, ids: Iterable[str]) -> list[str]:
    """Those of some entries that their maker took back."""
    wanted, found = list(ids), []
    for start in range(0, len(wanted), _AT_ONCE):
        part = C.entry.in_(wanted[start : start + _AT_ONCE])
        query = select(C.entry).where(part, C.by_undo == 1, C.undone_at.is_(None))
        found += list(connection.execute(query).scalars())
    return found


def put_back(connection: Connection, ids: Sequence[str], now: datetime) -> None:
    """Let entries that their maker took back count again."""
    for start in range(0, len(ids), _AT_ONCE):
        part = C.entry.in_(ids[start : start + _AT_ONCE])
        again = update(CHANGES).where(part, C.by_undo == 1, C.undone_at.is_(None))
        connection.execute(again.values(undone_at=now))


def change_of(connection: Connection, entry: str) -> Any | None:
    """The change that keeps an entry from counting; None where it counts."""
    query = select(CHANGES).where(
        or_(
            (C.entry == entry) & C.undone_at.is_(None),
            (C.replacement == entry) & C.undone_at.is_not(None),
        )
    )
    return connection.execute(query).first()


def undo_change(connection: Connection, change: str, now: datetime) -> None:
    """Take a correction or withdrawal back."""
    connection.execute(update(CHANGES).where(C.id == change).values(undone_at=now))


def last_own(connection: Connection, person: str, device: str) -> tuple[Any | None, Any | None]:
    """The last entry that counts and the last change not taken back, of a person or device."""
    own = (E.person == person) if person else ((E.person == "") & (E.device == device))
    made = select(C.replacement).where(C.replacement.is_not(None))
    entry = connection.execute(
        select(ENTRIES).where(own, in_force(), E.id.not_in(made))
        .order_by(E.sequence.desc()).limit(1)
    ).first()  # fmt: skip
    theirs = (C.person == person) if person else ((C.person == "") & (C.device == device))
    change = connection.execute(
        select(CHANGES).where(theirs, C.undone_at.is_(None), C.by_undo == 0)
        .order_by(C.sequence.desc()).limit(1)
    ).first()  # fmt: skip
    return entry, change


def history_of(connection: Connection, entry: str) -> tuple[list[Any], list[Any]]:
    """All entries that are linked to one by corrections, and the changes that link them."""
    names, changes = {entry}, dict[str, Any]()
    while True:
        found = connection.execute(
            select(CHANGES).where(or_(C.entry.in_(names), C.replacement.in_(names)))
        ).all()
        changes.update({row.id: row for row in found})
        linked = {row.entry for row in found} | {r.replacement for r in found if r.replacement}
        if linked <= names:
            break
        names |= linked
    rows: Mapping[str, Any] = rows_by_id(connection, sorted(names))
    return (
        sorted(rows.values(), key=lambda row: row.sequence),
        sorted(changes.values(), key=lambda row: row.sequence),
    )
