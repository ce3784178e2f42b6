"""`pleuston log` and its like: note, put right, take back, look up, back up, restore, take in."""

from __future__ import annotations

import json as as_json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pleuston.base.errors import InputError
from pleuston.cli.show import emit

if TYPE_CHECKING:
    from pleuston.services.who import Who
    from pleuston.store.session import Database

DatabaseArg = Annotated[str, typer.Argument(metavar="RACK", help="A database file or address.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]
ByOption = Annotated[str, typer.Option("--by", help="Who notes it.")]
IdArg = Annotated[str, typer.Argument(metavar="ID", help="The id of an entry.")]


@contextmanager
def opened(rack: str, create: bool = False) -> Iterator[Database]:
    """The database of a rack, closed again at the end."""
    from pleuston.store.session import open_database

    db = open_database(rack, create=create)
    try:
        yield db
    finally:
        db.close()


def me(by: str = "") -> Who:
    """Who works at the command line."""
    from pleuston.services.who import Who

    return Who(person=by, device="command line")


def now() -> datetime:
    """The time now."""
    return datetime.now(UTC)


def said(line: str, answer: Any, json: bool, kind: str) -> None:
    """Print JSON, or one line for people."""
    if json:
        emit(answer, True, kind)
    else:
        typer.echo(line)


def log(
    rack: DatabaseArg,
    tank: Annotated[str, typer.Argument(help='The tank; "" for the whole rack.')] = "",
    kind: Annotated[str, typer.Argument(help="reading, feed, harvest, top_up, ...")] = "",
    what: Annotated[str, typer.Argument(help="ph, flake, Lemna minor, tap, ...")] = "",
    amount: Annotated[str, typer.Argument(help='5, 10-20, "<0.25" or ">80".')] = "",
    unit: Annotated[str, typer.Argument(help="mg/L, g, L, ...; usual units may be left out.")] = "",
    at: Annotated[str, typer.Option("--at", help="When (ISO 8601); now without it.")] = "",
    method: Annotated[str, typer.Option("--method", help="Kit, instrument, factor.")] = "",
    note: Annotated[str, typer.Option("--note", help="Free text.")] = "",
    by: ByOption = "",
    entry_id: Annotated[str, typer.Option("--id", help="Its UUID: safe to send again.")] = "",
    rows: Annotated[str, typer.Option("--rows", help="JSON list of entries; - is input.")] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only check.")] = False,
    json: JsonOption = False,
) -> None:
    """Note what happened: pleuston log rack.db Fern reading ph 7.2"""
    from pleuston.services.log import log_entries
    from pleuston.services.log_words import usual_row

    if rows:
        given = _rows(rows)
    else:
        given = [usual_row(tank, kind, what, amount, unit)]
        told = {"at": at, "method": method, "note": note, "id": entry_id}
        given[0].update({name: text for name, text in told.items() if text})
    with opened(rack) as db:
        answer = log_entries(db, given, me(by), now(), dry_run)
    emit(answer, json, "log")


def _rows(place: str) -> list[dict[str, Any]]:
    """Entries as JSON from a file or from standard input."""
    text = sys.stdin.read() if place == "-" else Path(place).read_text(encoding="utf-8")
    try:
        found = as_json.loads(text)
    except ValueError as fault:
        raise InputError(f"this is no JSON ({fault})", place, "send a list of entries") from None
    found = [found] if isinstance(found, dict) else found
    if not isinstance(found, list) or not all(isinstance(row, dict) for row in found):
        raise InputError("this is no list of entries", place, "send a list of objects")
    return found


def entries(
    rack: DatabaseArg,
    tank: Annotated[str, typer.Argument(metavar="[TANK]", help="One tank; else all.")] = "",
    kind: Annotated[str, typer.Option("--kind", help="Only entries of this kind.")] = "",
    limit: Annotated[int, typer.Option("--limit", min=1, max=1000, help="How many.")] = 20,
    json: JsonOption = False,
) -> None:
    """List the last entries that count, newest first."""
    from pleuston.services.log import recent_entries

    with opened(rack) as db:
        emit({"entries": recent_entries(db, tank, limit, kind=kind)}, json, "entries")


def correct(
    rack: DatabaseArg,
    entry: IdArg,
    changes: Annotated[list[str], typer.Argument(help="low=5 high=10 what=nitrate_ion ...")],
    reason: Annotated[str, typer.Option("--reason", help="Why.")] = "",
    by: ByOption = "",
    json: JsonOption = False,
) -> None:
    """Put a corrected entry in place of one; both are kept."""
    from pleuston.services.log import correct_entry

    given: dict[str, str | float | None] = {}
    for change in changes:
        name, mark, value = change.partition("=")
        if not mark:
            raise InputError(f"{change!r} has no =", "correct", "write it as low=5")
        given[name] = value
    with opened(rack) as db:
        answer = correct_entry(db, entry, given, reason, me(by), now())
    said(f"Corrected: {answer['id']} counts now.", answer, json, "entry")


def withdraw(
    rack: DatabaseArg,
    entry: IdArg,
    reason: Annotated[str, typer.Option("--reason", help="Why.")] = "",
    by: ByOption = "",
    json: JsonOption = False,
) -> None:
    """Let an entry count no longer; it stays in the history."""
    from pleuston.services.log import withdraw_entry

    with opened(rack) as db:
        answer = withdraw_entry(db, entry, reason, me(by), now())
    said(f"Withdrawn: {answer['withdrawn']}.", answer, json, "entry")


def undo(
    rack: DatabaseArg,
    by: ByOption = "",
    batch: Annotated[
        int, typer.Option("--batch", help="Take back all that one take-in added.")
    ] = 0,
    json: JsonOption = False,
) -> None:
    """Take back the last entry or change made here (or by the person named)."""
    from pleuston.services.log import undo_last
    from pleuston.services.messy import take_back

    with opened(rack) as db:
        if batch:
            gone = take_back(db, batch, me(by), now())
            said(f"Taken back: {gone['withdrawn']} entries of {gone['file']}.", gone, json, "entry")
            return
        answer = undo_last(db, me(by), now())
    entry = answer["entry"]
    line = f"Taken back: {answer['undone']} of {entry['kind']} {entry['what']} {entry['tank']}"
    said(f"{line.strip()}.", answer, json, "entry")


def history(rack: DatabaseArg, entry: IdArg, json: JsonOption = False) -> None:
    """Show what became of an entry: corrections, withdrawals, who and why."""
    from pleuston.services.log import entry_history

    with opened(rack) as db:
        emit(entry_history(db, entry), json, "history")


def backup(
    rack: DatabaseArg,
    folder: Annotated[str, typer.Argument(help="Where to; without it RACK-backups.")] = "",
    daily: Annotated[int, typer.Option("--daily", min=1, help="Days to keep one of.")] = 7,
    weekly: Annotated[int, typer.Option("--weekly", min=0, help="Weeks to keep one of.")] = 8,
    json: JsonOption = False,
) -> None:
    """Write a back-up while the rack is used, read it through, and let old ones go."""
    from pleuston.services.backup import backup as make

    with opened(rack) as db:
        answer = make(db, Path(folder) if folder else None, now(), daily, weekly)
    line = f"{answer['file']}: {answer['tanks']} tanks, {answer['entries']} entries, sound."
    said(line, answer, json, "backup")


def restore(
    file: Annotated[Path, typer.Argument(metavar="BACKUP", help="The back-up.")],
    target: Annotated[str, typer.Argument(metavar="[RACK.db]", help="Where to put it.")] = "",
    check: Annotated[bool, typer.Option("--check", help="Only read the back-up through.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace; the old is kept.")] = False,
    json: JsonOption = False,
) -> None:
    """Check a back-up, and put it in the place of a rack."""
    from pleuston.services.backup import check_backup
    from pleuston.services.backup import restore as put_back

    if check or not target:
        answer = check_backup(file)
        line = f"{file}: sound, {answer['tanks']} tanks, {answer['entries']} entries."
        said(line if check else f"{line} Name RACK.db to restore it.", answer, json, "backup")
        return
    answer = put_back(file, target, now(), force)
    aside = f" The old one is {answer['kept_aside']}." if answer["kept_aside"] else ""
    said(f"Restored to {target}: {answer['entries']} entries.{aside}", answer, json, "backup")


def take_in(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV or XLSX as it was kept.")],
    rack: DatabaseArg,
    mapping: Annotated[
        Path | None, typer.Option("--map", help="What the columns are (JSON).")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Try it, write nothing.")] = False,
    guess: Annotated[bool, typer.Option("--guess", help="Take the columns as guessed.")] = False,
    page: Annotated[str, typer.Option("--sheet", help="The sheet of a spreadsheet.")] = "",
    refused: Annotated[
        Path | None, typer.Option("--refused", help="Write refused lines here (CSV).")
    ] = None,
    json: JsonOption = False,
) -> None:
    """Take in a kept table. Without --map or --guess: show it, with a guess to save as MAP."""
    from pleuston.services import messy

    data = file.read_bytes()
    with opened(rack) as db:
        if mapping is None:
            shown = messy.preview(data, file.name, db, page)
            if not guess:
                emit(shown, json, "preview")
                return
            chosen = shown["mapping"]
        else:
            chosen = _mapping(mapping)
        take = messy.dry_run if dry_run else messy.take_in
        answer = take(db, data, file.name, chosen, me(), now())
    if refused is not None and answer["refused"]:
        refused.write_bytes(messy.refused_rows(data, file.name, chosen, answer))
    emit(answer, json, "take-in")
    if answer["refused"]:
        raise typer.Exit(1)


def _mapping(file: Path) -> dict[str, Any]:
    """A mapping from JSON: the guess alone, or a whole preview that holds it."""
    try:
        found = as_json.loads(file.read_text(encoding="utf-8"))
    except ValueError as fault:
        raise InputError(f"this is no JSON ({fault})", str(file), "mend it") from None
    found = found.get("mapping", found) if isinstance(found, dict) else None
    if not isinstance(found, dict):
        raise InputError("this is no mapping", str(file), "begin with the guess of a preview")
    return found


def register(app: typer.Typer) -> None:
    """Add these commands to the program."""
    from pleuston.cli.people import people

    for command in (log, entries, correct, withdraw, undo, history, backup, restore):
        app.command()(command)
    app.command(name="take-in")(take_in)
    app.add_typer(people, name="people")
