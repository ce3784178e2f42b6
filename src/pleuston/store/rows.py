"""Rows of the database to and from the things of a record, digits kept as they were written."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from typing import Any

from pleuston.records.given import Given, number_text
from pleuston.store.exchange_cells import BadTimeError, time_of
from pleuston.store.exchange_layout import Column, Table
from pleuston.store.exchange_problems import Problem
from pleuston.store.exchange_write import time_text

NAME_LENGTH, TEXT_LENGTH = 200, 10_000
"""Characters a name or a word, and a free text, may have."""
_FREE = ("note", "value")


def digits(values: Mapping[str, float | None]) -> str:
    """JSON of the numbers whose text is not their shortest one; empty where all are.

    >>> digits({"low": Given("4.50"), "high": Given("5")})
    '{"low": "4.50"}'
    """
    kept = {
        name: value.text
        for name, value in values.items()
        if isinstance(value, Given) and value.text != number_text(float(value))
    }
    return json.dumps(kept) if kept else ""


def number(value: float | None, name: str, as_written: str) -> float | None:
    """The number of a column with the digits it was written with."""
    if value is None:
        return None
    if as_written:
        text = json.loads(as_written).get(name)
        if text is not None:
            return Given(text)
    return float(value)


def values_of(table: Table, item: Any, zone: tzinfo | None) -> dict[str, Any]:
    """The row of a thing of the catalogue."""
    row: dict[str, Any] = {}
    for column in table.columns:
        value = getattr(item, column.attribute)
        if column.type == "number":
            row[column.name] = None if value is None else float(value)
        elif column.type in ("day", "time"):
            row[column.name] = time_text(value, getattr(item, f"{column.attribute}_text"), zone)
        else:
            row[column.name] = value
    numbers = {c.name: getattr(item, c.attribute) for c in table.columns if c.type == "number"}
    return {**row, "as_written": digits(numbers)}


def fields_of_row(table: Table, row: Mapping[str, Any], zone: tzinfo | None) -> dict[str, Any]:
    """The fields of a thing of the catalogue, from its row."""
    found: dict[str, Any] = {}
    for column in table.columns:
        value = row[column.name]
        if column.type == "number":
            found[column.attribute] = number(value, column.name, row["as_written"])
        elif column.type in ("day", "time"):
            found[column.attribute] = _day(value, zone)
            found[f"{column.attribute}_text"] = value
        else:
            found[column.attribute] = value
    return found


def _day(text: str, zone: tzinfo | None) -> datetime | None:
    """A day on the rack's clock; by UTC where the rack's clock has changed and skips it."""
    if not text:
        return None
    try:
        return time_of(text, zone)
    except BadTimeError:
        return time_of(text, UTC)


def text_problem(column: str, text: str) -> tuple[str, str] | None:
    """What keeps a text from being stored, and the remedy; None when nothing does."""
    most = TEXT_LENGTH if column in _FREE else NAME_LENGTH
    if len(text) > most:
        return f"the text has {len(text)} characters", f"write at most {most}"
    if "\0" in text:
        return "the text holds a NUL byte", "take it out"
    if column == "tank" and ("/" in text or text in (".", "..")):
        return "a tank of this name would have no page of its own", "write it without / and dots"
    try:
        text.encode()
    except UnicodeEncodeError:
        return "the text holds half a character", "write it again"
    return None


def text_problems(table: Table, rows: Sequence[Mapping[str, Any]]) -> list[Problem]:
    """The texts of rows that can't be stored, by file, line and column."""
    columns: list[Column] = [column for column in table.columns if column.type != "number"]
    found = []
    for line, row in enumerate(rows, start=2):
        for column in columns:
            value = row.get(column.name)
            if isinstance(value, str) and (bad := text_problem(column.name, value)):
                found.append(Problem(table.file, line, column.name, *bad))
    return found
