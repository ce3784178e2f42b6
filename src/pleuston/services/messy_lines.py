"""Lines of a kept table turned into rows of entries by a mapping, every cell accounted for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pleuston.services.messy_cells import CellError, Typed, amount, around, clock, is_none
from pleuston.services.messy_cells import day_and_clock as day_of
from pleuston.store.exchange_problems import Problem
from pleuston.store.sheets import Sheet, SheetLine

TAKEN, REFUSED, EMPTY, IGNORED = "taken", "refused", "empty", "ignored"
_LONG = ("kind", "what", "value", "low", "high", "unit")
_WORDS = ("lid", "flow", "top_up_water")
"""Settings whose new value is a word."""
_SHARED = ("at", "time", "tank", "by", "method", "id")


@dataclass(frozen=True)
class Refused:
    """A cell or a line that was not taken, and why."""

    line: int
    column: str
    cell: str
    what: str
    remedy: str

    def told(self) -> dict[str, Any]:
        """As plain data."""
        return dict(self.__dict__)


@dataclass(frozen=True)
class Made:
    """A row for the reader of entries, and the cells it was made from."""

    line: int
    cells: dict[str, str]
    places: tuple[int, ...]
    """Columns whose cells are in this entry alone."""
    header: str
    sources: dict[str, int] = field(default_factory=dict)
    """Column of the entry -> column of the table."""


class Lines:
    """The lines of a table under a mapping, with what became of each cell."""

    def __init__(self, sheet: Sheet, mapping: Mapping[str, Any]) -> None:
        self.sheet = sheet
        self.mapping = mapping
        self.columns: Sequence[Mapping[str, Any]] = mapping["columns"]
        self.header = int(mapping.get("header", 0))
        self.decimal = mapping.get("decimal", ".") or "."
        self.words: Mapping[str, Mapping[str, str]] = mapping.get("words", {})
        self.refused: list[Refused] = []
        self.fate: dict[tuple[int, int], str] = {}
        self.body = [line for line in sheet.lines if line.number > self.header]
        self.above = [
            {"line": line.number, "cells": list(line.cells)}
            for line in sheet.lines
            if line.number < self.header
        ]
        self.by_number = {line.number: line for line in self.body}
        self.count = len(self.body)
        self.place = {c["as"]: i for i, c in enumerate(self.columns) if c["as"] not in
                      ("amount", "ignore")}  # fmt: skip

    def entries(self) -> Iterator[Made]:
        """Rows for the reader, line by line."""
        for line in self.body:
            self._begin(line)
            try:
                shared = self._shared(line)
            except CellError as fault:
                self._refuse_line(line, fault)
                continue
            if any(role in self.place for role in _LONG):
                yield from self._long(line, shared)
            yield from self._wide(line, shared)

    def _begin(self, line: SheetLine) -> None:
        """Settle what becomes of the cells that make no entry."""
        for i, cell in enumerate(line.cells):
            role = self.columns[i]["as"] if i < len(self.columns) else "beyond"
            if is_none(cell):
                self.fate[line.number, i] = EMPTY
            elif role == "ignore":
                self.fate[line.number, i] = IGNORED
            elif role == "beyond":
                what = "the line has more cells than the mapping has columns"
                self._refuse(line, i, what, "mend the line, or map the column")

    def _cell(self, line: SheetLine, role: str) -> str:
        i = self.place.get(role, -1)
        cell = line.cells[i] if 0 <= i < len(line.cells) else ""
        if is_none(cell):
            return ""
        return self.words.get(role, {}).get(cell, cell)

    def _shared(self, line: SheetLine) -> dict[str, str]:
        """The parts that all entries of a line have."""
        day = self._cell(line, "at")
        if not day:
            raise CellError("the day is missing", "say when it happened")
        date, hour = day_of(day, self.mapping.get("date_order", "ymd"))
        if self._cell(line, "time"):
            hour = clock(self._cell(line, "time"))
        hour = hour or (clock(self.mapping["time"]) if self.mapping.get("time") else "")
        cells = {role: self._cell(line, role) for role in ("tank", "by", "method", "id")}
        cells["tank"] = cells["tank"] or str(self.mapping.get("tank", ""))
        return {**cells, "at": f"{date}T{hour}" if hour else date}

    def _long(self, line: SheetLine, shared: Mapping[str, str]) -> Iterator[Made]:
        """The one entry of a line that names its kind or what it measures."""
        used = tuple(i for role, i in self.place.items() if role not in _SHARED)
        filled = [i for i in used if (line.number, i) not in self.fate and i < len(line.cells)]
        if not filled:
            return
        cells = {**shared, "note": self._cell(line, "note")}
        cells["kind"] = self._cell(line, "kind") or str(self.mapping.get("kind", ""))
        cells["what"] = self._cell(line, "what")
        unit = self._cell(line, "unit")
        try:
            typed = self._typed_long(line)
        except CellError as fault:
            at = next((self.place[r] for r in ("value", "low", "high") if r in self.place), 0)
            for i in filled:
                self.fate[line.number, i] = REFUSED
            self._refuse(line, at, fault.what, fault.remedy)
            return
        cells.update(low=typed.low, high=typed.high, unit=typed.unit or unit)
        yield Made(line.number, cells, tuple(filled), "", dict(self.place))

    def _typed_long(self, line: SheetLine) -> Typed:
        if value := self._cell(line, "value"):
            return amount(value, self.decimal)
        ends = {}
        for role in ("low", "high"):
            cell = self._cell(line, role)
            ends[role] = amount(cell, self.decimal) if cell else Typed("", "", "")
        return Typed(
            ends["low"].low, ends["high"].high, ends["low"].unit or ends["high"].unit
        )

    def _wide(self, line: SheetLine, shared: Mapping[str, str]) -> Iterator[Made]:
        """An entry for each filled cell of the columns that are amounts; notes on their own."""
        for i, column in enumerate(self.columns):
            if i >= len(line.cells) or (line.number, i) in self.fate:
                continue
            if column["as"] == "amount":
                made = self._amount(line, i, column, shared)
                if made is not None:
                    yield made
            elif column["as"] == "note" and not any(role in self.place for role in _LONG):
                cells = {**shared, "id": "", "kind": "note", "note": line.cells[i]}
                yield Made(line.number, cells, (i,), column["column"], {**self.place, "note": i})

    def _amount(
        self, line: SheetLine, i: int, column: Mapping[str, Any], shared: Mapping[str, str]
    ) -> Made | None:
        kind, cell = str(column["kind"]), line.cells[i]
        cells = {
            **shared, "id": "", "kind": kind, "what": str(column.get("what") or ""),
            "method": shared["method"] or str(column.get("method") or ""),
        }  # fmt: skip
        if kind == "seen" and not cells["what"]:
            cells["what"] = cell
        elif kind in ("note", "photo") or (kind == "setting" and cells["what"] in _WORDS):
            cells["note"] = cell
        else:
            try:
                typed = around(amount(cell, self.decimal), column.get("steps") or ())
            except CellError as fault:
                self._refuse(line, i, fault.what, fault.remedy)
                return None
            unit = typed.unit or str(column.get("unit") or "")
            cells.update(low=typed.low, high=typed.high, unit=unit)
        sources = {**self.place, **dict.fromkeys(("low", "high", "unit", "what", "kind"), i)}
        return Made(line.number, cells, (i,), column["column"], sources)

    def take(self, made: Made) -> None:
        """Note that an entry was made of its cells, and of those it shares with others."""
        for i in (*made.places, *self._shared_places(made)):
            self.fate[made.line, i] = TAKEN

    def _shared_places(self, made: Made) -> list[int]:
        """The filled cells that entries of a line have in common."""
        found = [self.place[role] for role in _SHARED if role in self.place]
        return [i for i in found if self.fate.get((made.line, i)) != EMPTY]

    def refuse(self, made: Made, problems: Sequence[Problem]) -> None:
        """Note why an entry was not made."""
        line = self.by_number[made.line]
        for i in made.places:
            self.fate[made.line, i] = REFUSED
        for i in self._shared_places(made):
            self.fate.setdefault((made.line, i), REFUSED)
        for problem in problems:
            i = made.sources.get(problem.column, made.places[0] if made.places else 0)
            header = self.name(i) if problem.column in made.sources else problem.column
            cell = line.cells[i] if i < len(line.cells) else ""
            found = Refused(made.line, header, cell, problem.what, problem.remedy)
            if found not in self.refused[-2:]:
                self.refused.append(found)

    def name(self, i: int) -> str:
        """The name of a column of the table."""
        return str(self.columns[i]["column"]) if i < len(self.columns) else f"column {i + 1}"

    def _refuse(self, line: SheetLine, i: int, what: str, remedy: str) -> None:
        cell = line.cells[i] if i < len(line.cells) else ""
        self.fate[line.number, i] = REFUSED
        self.refused.append(Refused(line.number, self.name(i), cell, what, remedy))

    def _refuse_line(self, line: SheetLine, fault: CellError) -> None:
        """Refuse a line whose day or hour can't be read; all its filled cells go with it."""
        for i in range(len(line.cells)):
            self.fate.setdefault((line.number, i), REFUSED)
        i = self.place.get("at", 0)
        cell = line.cells[i] if i < len(line.cells) else ""
        self.refused.append(
            Refused(line.number, self.name(i), cell, fault.what, fault.remedy)
        )

    def ignored_columns(self) -> list[dict[str, Any]]:
        """The columns that the mapping leaves out, with how many cells they hold."""
        found = []
        for i, column in enumerate(self.columns):
            if column["as"] == "ignore":
                held = sum((line.number, i) in self.fate and
                           self.fate[line.number, i] == IGNORED for line in self.body)  # fmt: skip
                found.append({"column": column["column"], "cells": held})
        return found

    def tally(self) -> dict[str, int]:
        """How many cells there were, and what became of them."""
        found = {TAKEN: 0, REFUSED: 0, EMPTY: 0, IGNORED: 0, "without_use": 0}
        for line in self.body:
            for i in range(len(line.cells)):
                found[self.fate.get((line.number, i), "without_use")] += 1
        return {"all": sum(len(line.cells) for line in self.body), **found}

