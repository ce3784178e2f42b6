"""Answers of `log`, `entries`, `history`, `people` and `take-in` as plain text."""

from __future__ import annotations

import json
from typing import Any

from pleuston.cli.layout import Page, between
from pleuston.records.kinds import LIMIT_KINDS

Answer = Any


def _amount(entry: Answer) -> str:
    if entry["low"] is None and entry["high"] is None:
        return ""
    said = between(entry["low"], entry["high"], 4)
    if entry["kind"] in LIMIT_KINDS:
        said = said.replace("below", "at most").replace("above", "at least")
    return f"{said} {entry['unit']}".strip()


def lay_log(answer: Answer, page: Page) -> None:
    """Entries that were noted."""
    for entry in answer["entries"]:
        state = "Noted" if entry["new"] else "There already"
        said = f"{entry['tank']} {entry['kind']} {entry['what']} {_amount(entry)}"
        page.line(f"{state}: {' '.join(said.split())} at {entry['at']} ({entry['id']})")
    for note in answer["notes"]:
        page.line(f"Note: {note}")


def lay_entries(answer: Answer, page: Page) -> None:
    """Entries, newest first."""
    page.table(
        ("at", "tank", "kind", "what", "amount", "by", "note", "id"),
        [
            (e["at"], e["tank"], e["kind"], e["what"], _amount(e), e["by"], e["note"][:40],
             e["id"])
            for e in answer["entries"]
        ],
    )  # fmt: skip


def lay_history(answer: Answer, page: Page) -> None:
    """What became of an entry."""
    for entry in answer["entries"]:
        state = "counts" if entry["counts"] else "counts no longer"
        page.line(
            f"{entry['recorded_at']} {entry['person']}: {entry['kind']} {entry['what']} "
            f"{_amount(entry)} ({entry['id']}, {state})"
        )
    for change in answer["changes"]:
        how = "corrected" if change["replacement"] else "withdrawn"
        back = f", taken back {change['undone_at']}" if change["undone_at"] else ""
        page.line(f"{change['at']} {change['person']}: {how}, {change['reason']}{back}")


def lay_people(answer: Answer, page: Page) -> None:
    """People and devices."""
    page.table(
        ("person", "role", "password"),
        [(p["person"], p["role"], p["can_sign_in"]) for p in answer["people"]],
    )
    page.table(
        ("device", "person", "name", "last seen", "signed out"),
        [
            (d["device"], d["person"], d["name"], d["seen_at"], d["revoked_at"] or "no")
            for d in answer["devices"]
        ],
    )


def lay_preview(answer: Answer, page: Page) -> None:
    """A kept table, and the guess of its columns."""
    page.line(f"{answer['file']}: {answer['lines']} lines")
    page.table(
        ("column", "as", "kind", "what", "unit", "first cell"),
        [
            (c["column"], c["as"], c.get("kind", ""), c.get("what", ""), c.get("unit", ""),
             next((r["cells"][i] for r in answer["rows"]
                   if i < len(r["cells"]) and r["cells"][i]), ""))
            for i, c in enumerate(answer["mapping"]["columns"])
        ],
    )  # fmt: skip
    for note in answer["notes"]:
        page.line(f"Look at: {note}")
    page.line()
    page.line("Save this, put it right, and give it with --map; or take it as it is with --guess:")
    page.line(json.dumps(answer["mapping"], indent=1, ensure_ascii=False))


def lay_take_in(answer: Answer, page: Page) -> None:
    """What taking in a table did, or would do."""
    did = "taken in" if answer["written"] else "would be taken in"
    page.line(
        f"{answer['file']}: {answer['lines']} lines, {answer['new']} entries {did}, "
        f"{answer['already_there']} there already, {len(answer['refused'])} refused"
        + (f", {answer['put_back']} put back" if answer["put_back"] else "")
    )
    if answer["batch"] and answer["new"]:
        page.line(f"To take all of it back: pleuston undo RACK --batch {answer['batch']}")
    cells = answer["cells"]
    page.line(
        f"Cells: {cells['all']}; {cells['taken']} taken, {cells['refused']} refused, "
        f"{cells['empty']} empty, {cells['ignored']} of columns left out, "
        f"{cells['without_use']} beside nothing"
    )
    page.table(
        ("column left out", "cells"),
        [(c["column"], c["cells"]) for c in answer["ignored_columns"] if c["cells"]],
    )
    page.table(
        ("line", "column", "cell", "refused because", "remedy"),
        [(r["line"], r["column"], r["cell"], r["what"], r["remedy"]) for r in answer["refused"]],
    )


LAYOUTS = {
    "log": lay_log, "entries": lay_entries, "history": lay_history, "people": lay_people,
    "preview": lay_preview, "take-in": lay_take_in,
}  # fmt: skip
