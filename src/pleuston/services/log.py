"""Note what happened, put it right, take it back, and look it up. One function, one use.

Sending the same entries again adds nothing: an entry is known by the id its maker gave it.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.given import number_text
from pleuston.records.kinds import LIMIT_KINDS
from pleuston.records.library import library
from pleuston.records.record import Entry
from pleuston.services.entries import (
    changes_made,
    entries_of_tank,
    entries_since,
    entry_history,
    recent_entries,
    same_as_last,
    told,
)
from pleuston.services.who import Who, require
from pleuston.store import audit, catalogue, entries
from pleuston.store.exchange_cells import Findings, Row
from pleuston.store.exchange_entries import EntryReader
from pleuston.store.exchange_layout import ENTRIES
from pleuston.store.exchange_problems import ImportRefused, Problem
from pleuston.store.exchange_write import time_text
from pleuston.store.rows import text_problem
from pleuston.store.session import Database

__all__ = [
    "changes_made",
    "correct_entry",
    "entries_of_tank",
    "entries_since",
    "entry_history",
    "log_entries",
    "reader_of",
    "recent_entries",
    "same_as_last",
    "undo_last",
    "withdraw_entry",
]

Cells = Mapping[str, str | float | None]
FILE = "entry"
MOST_ROWS = 1000
"""Entries that may be logged at once; more are taken in as a file."""
AHEAD = timedelta(days=1)
"""An entry dated later than this is kept, with a word about it."""
_COMPARED = ("at", "tank", "kind", "what", "low", "high", "unit", "by", "method", "note")


def reader_of(connection: Connection) -> EntryReader:
    """The reader of entries that the importer uses, with the names of this rack."""
    zone = catalogue.zone_of(connection)
    tanks = catalogue.tanks_of(connection, zone)
    shelf = library()
    waters = {*catalogue.names_of(connection, "water"), *catalogue.names_of(connection, "blend")}
    return EntryReader(
        zone=zone,
        tanks={tank.name: tank for tank in tanks},
        tank_names={tank.name for tank in tanks},
        waters=waters | set(shelf.waters),
        feeds={*catalogue.names_of(connection, "feed"), *shelf.feeds},
    )


def log_entries(
    db: Database, rows: Sequence[Cells], who: Who, now: datetime, dry_run: bool = False
) -> dict[str, Any]:
    """Note entries, all or none; rows have the columns of `entries.csv`.

    Without an id one is made; without a time it is now. Raises `ImportRefused` with every
    problem. The same id with the same content is not new; with other content it is refused.
    """
    require(who, "log")
    if not 1 <= len(rows) <= MOST_ROWS:
        raise InputError(
            what=f"{len(rows)} entries were sent",
            where="log",
            remedy=f"send 1 to {MOST_ROWS}; take more in as a file",
        )
    if dry_run:
        with db.read() as connection:
            return _logged(connection, rows, who, now, keep=False)
    with db.write() as connection:
        return _logged(connection, rows, who, now, keep=True)


def log_in(
    connection: Connection, rows: Sequence[Cells], who: Who, now: datetime
) -> dict[str, Any]:
    """Note entries within a unit of writing that does more than this."""
    require(who, "log")
    return _logged(connection, rows, who, now, keep=True)


def _logged(
    connection: Connection, rows: Sequence[Cells], who: Who, now: datetime, keep: bool
) -> dict[str, Any]:
    findings = Findings()
    reader = reader_of(connection)
    cells = [_cells(row, line, who, findings) for line, row in enumerate(rows, start=1)]
    stored = entries.rows_by_id(connection, {c["id"].lower() for c in cells})
    read: list[Entry] = []
    sent: dict[str, dict[str, str]] = {}
    for line, cell in enumerate(cells, start=1):
        name = cell["id"].lower()
        if not cell["at"]:
            known = stored.get(name)
            cell["at"] = (known.at if known else now).isoformat()
        if sent.setdefault(name, cell) == cell and sent[name] is not cell:
            continue
        entry = reader.entry(Row(FILE, line, cell, findings))
        if entry is not None:
            read.append(entry)
            if name in stored and not same(entry, entries.entry_of(stored[name])):
                what = "another entry has this id already"
                findings.refuse(FILE, line, "id", what, "give a new id, or correct that entry")
    fresh = [entry for entry in read if entry.id not in stored]
    _check_limits(connection, fresh, cells, who, findings, now)
    if findings.problems:
        raise ImportRefused("log", findings.problems, failed="not logged")
    if keep:
        entries.add_entries(connection, fresh, now, who.person, who.device)
    return {
        "entries": [
            {"new": entry.id not in stored, **told(entry, reader.zone)} for entry in read
        ],
        "changes": [str(change) for change in findings.changes],
        "notes": [
            f"{_name(entry)} is dated {time_text(entry.at, '', reader.zone)}, in the future: "
            "it counts from then on"
            for entry in fresh
            if entry.at > now + AHEAD
        ],
    }  # fmt: skip


def _check_limits(
    connection: Connection, fresh: Sequence[Entry], cells: Sequence[Mapping[str, str]], who: Who,
    findings: Findings, now: datetime,
) -> None:  # fmt: skip
    """Only who may keep the rack moves its limits, and not those that guard life."""
    lines = {cell["id"].lower(): line for line, cell in enumerate(cells, start=1)}
    asked = [(lines[entry.id], entry) for entry in fresh if entry.kind in LIMIT_KINDS]
    if asked:
        require(who, "keep")
        from pleuston.services.limits import refuse_limits

        refuse_limits(connection, asked, findings, now)


def _name(entry: Entry) -> str:
    return f"{entry.kind} {entry.what}".strip()


def _cells(row: Cells, line: int, who: Who, findings: Findings) -> dict[str, str]:
    """The cells of a row as text, each column there; what can't be stored is refused."""
    for name in row:
        if name not in ENTRIES.names:
            what = f"the column {name!r} is not known"
            findings.refuse(FILE, line, str(name), what, "use " + ", ".join(ENTRIES.names))
    cells: dict[str, str] = {}
    for name in ENTRIES.names:
        value = row.get(name)
        try:
            text = value if isinstance(value, str) else number_text(value)
        except (TypeError, ValueError):
            findings.refuse(FILE, line, name, f"{value!r} is not a number", "give a number")
            text = ""
        bad = text_problem(name, text)
        if bad:
            findings.refuse(FILE, line, name, *bad)
            text = ""
        cells[name] = text
    cells["id"] = cells["id"].strip() or str(uuid.uuid4())
    cells["by"] = cells["by"] or who.person
    return cells


def same(one: Entry, other: Entry) -> bool:
    """Say whether two entries of one id say the same; low and high by value."""
    return all(getattr(one, name) == getattr(other, name) for name in _COMPARED)


def _existing(connection: Connection, name: str, who: Who) -> Any:
    row = entries.rows_by_id(connection, [name.lower()]).get(name.lower())
    if row is None:
        raise UnknownNameError(
            what=f"there is no entry {name!r}", where="entries", remedy="look it up in the log"
        )
    if row.kind in LIMIT_KINDS:
        require(who, "keep")
    change = entries.change_of(connection, row.id)
    if change is not None:
        how = "was withdrawn" if change.replacement is None else "was corrected"
        if change.undone_at is not None:
            how = "was taken back"
        raise InputError(
            what=f"this entry {how} already",
            where=f"entry {row.id}",
            remedy="look at its history; change the one that counts",
        )
    return row


def correct_entry(
    db: Database, name: str, changes: Cells, reason: str, who: Who, now: datetime,
    new_id: str = "",
) -> dict[str, Any]:  # fmt: skip
    """Put another entry in place of one; both are kept. Gives the one that counts now.

    new_id: the id of the correction, given by its maker so that sending it again is safe.
    """
    require(who, "log")
    with db.write() as connection:
        zone = catalogue.zone_of(connection)
        if new_id and (done := _done(connection, name, new_id)) is not None:
            return {"new": False, **told(entries.entry_of(done), zone)}
        row = _existing(connection, name, who)
        old = entries.entry_of(row)
        cells: dict[str, str | float | None] = {
            column: getattr(old, column) for column in _COMPARED if column != "at"
        }
        cells["at"] = time_text(old.at, old.at_text, zone)
        cells.update({key: value for key, value in changes.items() if key != "id"})
        cells["id"] = new_id or str(uuid.uuid4())
        _storable("reason", reason)
        made = _logged(connection, [cells], who, now, keep=True)["entries"][0]
        entries.add_change(connection, row.id, made["id"], reason, now, who.person, who.device)
        audit.note(
            connection, "correct entry", row.id, now, person=who.person, device=who.device,
            before=told(old, zone), after={**made, "reason": reason},
        )  # fmt: skip
        return dict(made)


def _done(connection: Connection, name: str, new_id: str) -> Any | None:
    """The correction of that id, where it was made of this entry before."""
    rows, changes = entries.history_of(connection, name.lower())
    made = {(change.entry, change.replacement) for change in changes}
    if (name.lower(), new_id.lower()) not in made:
        return None
    return next(row for row in rows if row.id == new_id.lower())


def _storable(column: str, text: str) -> None:
    bad = text_problem("note", text)
    if bad:
        raise ImportRefused("log", [Problem(FILE, 0, column, *bad)], failed="not changed")


def withdraw_entry(
    db: Database, name: str, reason: str, who: Who, now: datetime
) -> dict[str, Any]:
    """Let an entry count no longer; it stays in the history."""
    require(who, "log")
    _storable("reason", reason)
    with db.write() as connection:
        row = _existing(connection, name, who)
        entries.add_change(connection, row.id, None, reason, now, who.person, who.device)
        old = told(entries.entry_of(row), catalogue.zone_of(connection))
        audit.note(
            connection, "withdraw entry", row.id, now, person=who.person, device=who.device,
            before=old, after={"reason": reason},
        )  # fmt: skip
        return {"withdrawn": row.id, "entry": old}


def undo_last(db: Database, who: Who, now: datetime) -> dict[str, Any]:
    """Take back the last entry, correction or withdrawal that this person made."""
    require(who, "log")
    with db.write() as connection:
        zone = catalogue.zone_of(connection)
        entry, change = entries.last_own(connection, who.person, who.device)
        if change is not None and (entry is None or change.after_entry >= entry.sequence):
            return _undo_change(connection, change, who, now)
        if entry is None:
            raise InputError("there is nothing to take back", "undo", "log something first")
        entries.add_change(
            connection, entry.id, None, "taken back", now, who.person, who.device, by_undo=True
        )
        old = told(entries.entry_of(entry), zone)
        audit.note(
            connection, "take back entry", entry.id, now, person=who.person, device=who.device,
            before=old,
        )  # fmt: skip
        return {"undone": "entry", "id": entry.id, "entry": old}


def _undo_change(
    connection: Connection, change: Any, who: Who, now: datetime
) -> dict[str, Any]:
    if change.replacement and entries.change_of(connection, change.replacement) is not None:
        raise InputError(
            what="the correction was corrected by somebody else since",
            where=f"entry {change.replacement}",
            remedy="correct the entry that counts now",
        )
    entries.undo_change(connection, change.id, now)
    kind = "withdrawal" if change.replacement is None else "correction"
    row = entries.rows_by_id(connection, [change.entry])[change.entry]
    audit.note(
        connection, f"take back {kind}", change.entry, now,
        person=who.person, device=who.device, before={"change": change.id},
    )  # fmt: skip
    entry = told(entries.entry_of(row), catalogue.zone_of(connection))
    return {"undone": kind, "id": change.entry, "entry": entry}
