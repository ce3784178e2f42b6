"""Take in a table that a keeper has kept: look, map, try, take. Nothing is lost in silence.

Every cell is taken, refused with its reason, empty, or of a column that the mapping leaves
out; the report counts them. Taking the same file in again adds nothing; what was taken
back meanwhile counts again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from typing import Any

from sqlalchemy import Connection

from pleuston.base.errors import InputError
from pleuston.records.kinds import KINDS
from pleuston.records.near import near_names
from pleuston.records.record import Entry
from pleuston.services import messy_guess
from pleuston.services.entries import told
from pleuston.services.log import reader_of
from pleuston.services.messy_lines import Lines, Refused
from pleuston.services.messy_words import ROLES
from pleuston.services.who import Who, require
from pleuston.store import audit, catalogue, entries
from pleuston.store.exchange_cells import Findings, Row
from pleuston.store.exchange_entries import EntryReader
from pleuston.store.rows import text_problem
from pleuston.store.session import Database
from pleuston.store.sheets import Sheet, csv_for_spreadsheets, read_sheet

SHOWN = 20
"""Lines and entries that a preview or a report shows."""
TAKEN_IN = "take in"
MOST_BYTES = 30_000_000
_KEYS = ("header", "delimiter", "decimal", "sheet", "date_order", "date_order_sure", "tank",
         "time", "kind", "columns", "words")  # fmt: skip
_COLUMN_KEYS = ("column", "as", "kind", "what", "unit", "method", "steps", "sure", "why")


def preview(
    data: bytes, name: str, db: Database | None = None, sheet: str = ""
) -> dict[str, Any]:
    """What a file holds, and a guess of what its columns are; nothing is written."""
    _not_too_big(data, name)
    found = read_sheet(data, name, sheet=sheet)
    if not found.lines:
        raise InputError("the file holds no lines", name, "take another file")
    tanks: list[str] = []
    waters: dict[str, str] = {}
    if db is not None:
        with db.read() as connection:
            tanks = catalogue.names_of(connection, "tank")
            waters = {r["tank"]: r["top_up_water"] for r in catalogue.rows_of(connection, "tank")}
    mapping = {**messy_guess.guess(found, tanks, waters), "sheet": sheet}
    body = [line for line in found.lines if line.number > mapping["header"]]
    return {
        "file": name, "mapping": mapping, "lines": len(body), "sheets": list(found.sheets),
        "above": [
            {"line": line.number, "cells": list(line.cells)}
            for line in found.lines if line.number < mapping["header"]
        ],
        "rows": [{"line": line.number, "cells": list(line.cells)} for line in body[:SHOWN]],
        "notes": [*found.notes, *_doubts(mapping)], "roles": list(ROLES),
    }  # fmt: skip


def _doubts(mapping: Mapping[str, Any]) -> list[str]:
    notes = [
        f"{column['column']}: {column['why']}"
        for column in mapping["columns"]
        if column.get("why") and not column.get("sure")
    ]
    if not mapping["date_order_sure"]:
        notes.append(
            f"day and month can't be told apart: read as {mapping['date_order']} (d day, m month)"
        )
    if not mapping["tank"] and not any(c["as"] == "tank" for c in mapping["columns"]):
        notes.append("no column names the tank: choose one")
    return notes


def dry_run(
    db: Database, data: bytes, name: str, mapping: Mapping[str, Any], who: Who, now: datetime
) -> dict[str, Any]:
    """What taking a file in would do, row by row; nothing is written."""
    require(who, "keep")
    sheet = _sheet(data, name, mapping)
    with db.read() as connection:
        found = _read(reader_of(connection), sheet, mapping, who)
        return _taken(connection, found, who, now, keep=False)


def take_in(
    db: Database, data: bytes, name: str, mapping: Mapping[str, Any], who: Who, now: datetime
) -> dict[str, Any]:
    """Take in all rows that can be, at once; the report lists those refused with reasons."""
    require(who, "keep")
    sheet = _sheet(data, name, mapping)
    with db.read() as connection:
        reader = reader_of(connection)
    found = _read(reader, sheet, mapping, who)
    with db.write() as connection:
        newest = reader_of(connection)
        if _names(newest) != _names(reader):
            found = _read(newest, sheet, mapping, who)
        return _taken(connection, found, who, now, keep=True)


def _names(reader: EntryReader) -> tuple[object, ...]:
    """What of the rack the reading of a table rests on."""
    return (reader.zone, reader.tanks, reader.tank_names, reader.waters, reader.feeds)


def _not_too_big(data: bytes, name: str) -> None:
    if len(data) > MOST_BYTES:
        raise InputError(f"the file has {len(data)} bytes", name, "take it in in parts")


def _sheet(data: bytes, name: str, mapping: Mapping[str, Any]) -> Sheet:
    _not_too_big(data, name)
    check_mapping(mapping)
    return read_sheet(
        data, name, mapping.get("delimiter", ""), mapping.get("sheet", ""),
        mapping.get("decimal", ""),
    )  # fmt: skip


def check_mapping(mapping: Mapping[str, Any]) -> None:
    """Refuse a mapping that says what can't be."""

    def refuse(what: str, where: str, remedy: str) -> None:
        raise InputError(what, f"mapping, {where}", remedy)

    for key in mapping:
        if key not in _KEYS:
            refuse(f"{key!r} is not known", str(key), near_names(str(key), _KEYS))
    columns = mapping.get("columns")
    if not isinstance(columns, list) or not all(isinstance(c, Mapping) for c in columns):
        refuse("the columns are missing", "columns", "begin with the guess of a preview")
    assert isinstance(columns, list)
    for place, column in enumerate(columns, start=1):
        where = f"column {place}"
        for key in column:
            if key not in _COLUMN_KEYS:
                refuse(f"{key!r} is not known", where, near_names(str(key), _COLUMN_KEYS))
        role = column.get("as")
        if role not in ROLES:
            refuse(f"{role!r} is not known", where, "use " + ", ".join(ROLES))
        if role == "amount" and column.get("kind") not in KINDS:
            refuse(f"the kind {column.get('kind')!r} is not known", where,
                   near_names(str(column.get("kind")), KINDS))  # fmt: skip
    roles = [c["as"] for c in columns if c["as"] not in ("amount", "ignore")]
    for role in roles:
        if roles.count(role) > 1:
            refuse(f"two columns are {role!r}", "columns", "let one of them be ignored")
    if "at" not in roles:
        refuse("no column tells the day", "columns", "let one be `at`")
    if not mapping.get("decimal", ".") or mapping.get("decimal", ".") not in ".,":
        refuse("the decimal mark is neither . nor ,", "decimal", "choose one")
    if mapping.get("date_order", "ymd") not in ("dmy", "mdy", "ymd"):
        refuse("the order of the date is not known", "date_order", "use dmy, mdy or ymd")


@dataclass(frozen=True)
class _Found:
    """A table as it was read: its lines, the entries with their columns, what was changed."""

    lines: Lines
    read: list[tuple[Entry, str]]
    changes: list[str]
    zone: tzinfo | None


def _taken(
    connection: Connection, found: _Found, who: Who, now: datetime, keep: bool
) -> dict[str, Any]:
    lines, read, changes, sheet = found.lines, found.read, found.changes, found.lines.sheet
    stored = entries.rows_by_id(connection, [entry.id for entry, _ in read])
    fresh = [entry for entry, _ in read if entry.id not in stored]
    again = entries.taken_back(connection, stored)
    batch = None
    if keep:
        entries.put_back(connection, again, now)
        batch = _kept(connection, sheet, lines, read, fresh, who, now)
    return {
        "file": sheet.name, "written": keep, "batch": batch, "lines": lines.count,
        "entries": len(read), "new": len(fresh), "put_back": len(again),
        "already_there": len(read) - len(fresh) - len(again),
        "refused": [refused.told() for refused in lines.refused],
        "ignored_columns": lines.ignored_columns(), "above": lines.above,
        "empty_lines": sheet.empty_lines, "cells": lines.tally(),
        "changes": changes[:200], "changes_more": max(0, len(changes) - 200),
        "first": [
            {**told(entry, found.zone), "column": header, "new": entry.id not in stored}
            for entry, header in read[:SHOWN]
        ],
        "notes": list(sheet.notes),
    }  # fmt: skip


def _kept(
    connection: Connection, sheet: Sheet, lines: Lines, read: Sequence[tuple[Entry, str]],
    fresh: Sequence[Entry], who: Who, now: datetime,
) -> int:  # fmt: skip
    """Write the new entries, and note in the audit which they are; gives its number."""
    before = entries.last_sequence(connection)
    entries.add_entries(connection, fresh, now, who.person, who.device)
    return audit.note(
        connection, TAKEN_IN, sheet.name, now, person=who.person, device=who.device,
        after={"entries": len(fresh), "already there": len(read) - len(fresh),
               "refused": len(lines.refused), "first": before + 1,
               "last": entries.last_sequence(connection)},
    )  # fmt: skip


def take_back(db: Database, batch: int, who: Who, now: datetime) -> dict[str, Any]:
    """Withdraw all entries that one taking in added; batch: the number its report gave."""
    require(who, "keep")
    with db.write() as connection:
        noted = audit.note_of(connection, batch)
        if noted is None or noted["action"] != TAKEN_IN:
            raise InputError(
                f"nothing was taken in under the number {batch}", "take back", "see the changes"
            )
        span = noted["after"]
        found = entries.entries_between(connection, span["first"], span["last"])
        ids = [row.id for row in found]
        reason = f"taking in {noted['subject']} was taken back"[:500]
        entries.withdraw_all(connection, ids, reason, now, who.person, who.device)
        audit.note(
            connection, "take back a taking in", noted["subject"], now, person=who.person,
            device=who.device, before={"batch": batch}, after={"withdrawn": len(ids)},
        )  # fmt: skip
    return {"file": noted["subject"], "batch": batch, "withdrawn": len(ids)}


def _read(reader: EntryReader, sheet: Sheet, mapping: Mapping[str, Any], who: Who) -> _Found:
    """The entries that can be taken, each with its column, and what was changed in them."""
    lines = Lines(sheet, mapping)
    read: list[tuple[Entry, str]] = []
    changes: list[str] = []
    for made in lines.entries():
        findings = Findings()
        for column, text in made.cells.items():
            if bad := text_problem(column, text):
                findings.refuse(lines.sheet.name, made.line, column, *bad)
        entry = None
        if not findings.problems:
            entry = reader.entry(Row(lines.sheet.name, made.line, made.cells, findings))
        if entry is None:
            lines.refuse(made, findings.problems)
            continue
        lines.take(made)
        read.append((replace(entry, by=entry.by or who.person), made.header))
        changes += [
            str(change) for change in findings.changes
            if change.column not in ("id", "unit") and "first moment" not in change.taken
        ]  # fmt: skip
    return _Found(lines, read, changes, reader.zone)


def refused_rows(
    data: bytes, name: str, mapping: Mapping[str, Any], report: Mapping[str, Any]
) -> bytes:
    """The lines that were refused, wholly or in part, as CSV with the reasons behind them."""
    sheet = _sheet(data, name, mapping)
    why: dict[int, list[str]] = {}
    for item in report["refused"]:
        why.setdefault(item["line"], []).append(f"{item['column']}: {item['what']}")
    header = next((n.cells for n in sheet.lines if n.number == mapping.get("header", 0)), ())
    rows = [[*header, *[""] * (sheet.width - len(header)), "line", "refused because"]]
    for line in sheet.lines:
        if line.number in why:
            spare = [""] * (sheet.width - len(line.cells))
            rows.append([*line.cells, *spare, str(line.number), "; ".join(why[line.number])])
    return csv_for_spreadsheets(rows)


__all__ = ["Refused", "check_mapping", "dry_run", "preview", "refused_rows", "take_back", "take_in"]
