"""Rows of the catalogue checked by the same reader as a rack folder's, one thing at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from pleuston.records.given import number_text
from pleuston.records.record import Feed, Soil, Water
from pleuston.store import catalogue
from pleuston.store import exchange_layout as layout
from pleuston.store.exchange_cells import Findings, Row
from pleuston.store.exchange_problems import ImportRefused
from pleuston.store.exchange_read import _Reader
from pleuston.store.rows import text_problem

Cells = Mapping[str, str | float | None]


class CatalogueReader(_Reader):
    """Reads rows that are given, beside the names that the rack has."""

    def __init__(self, connection: Connection, kind: str, rows: list[Cells]) -> None:
        super().__init__(Path(kind), Findings())
        self.kind = kind
        self.table = catalogue.ROWS[kind][0]
        self.given = [self._cells(row, line) for line, row in enumerate(rows, start=1)]
        self.zone = catalogue.zone_of(connection)
        for other in ("water", "blend", "feed", "soil", "tank"):
            self.names[catalogue.ROWS[other][0].file] = set(catalogue.names_of(connection, other))

    def _cells(self, row: Cells, line: int) -> dict[str, str]:
        for name in row:
            if name not in self.table.names:
                what = f"the column {name!r} is not known"
                remedy = "use " + ", ".join(self.table.names)
                self.findings.refuse(self.kind, line, str(name), what, remedy)
        cells = {}
        for name in self.table.names:
            value = row.get(name)
            try:
                text = value if isinstance(value, str) else number_text(value)
            except (TypeError, ValueError):
                self.findings.refuse(self.kind, line, name, f"{value!r} is no number", "mend it")
                text = ""
            bad = text_problem(name, text)
            if bad:
                self.findings.refuse(self.kind, line, name, *bad)
                text = ""
            cells[name] = text
        return cells

    def _rows(self, table: layout.Table) -> Iterator[Row]:
        if table is self.table:
            rows = (Row(self.kind, i, c, self.findings) for i, c in enumerate(self.given, start=1))
            yield from self._unique(table, rows)

    def item(self) -> Any:
        """The one thing that the rows describe; `ImportRefused` with every problem."""
        made = self._made()
        if self.findings.problems:
            raise ImportRefused(self.kind, self.findings.problems, failed="not saved")
        return made

    def _made(self) -> Any:
        match self.kind:
            case "rack":
                return self._rack()
            case "blend":
                found: tuple[Any, ...] = self._blends()
            case "tank":
                found = self._tanks()
            case _:
                makes = {"water": Water, "feed": Feed, "soil": Soil}[self.kind]
                found = tuple(makes(**given) for _, given in self._fields(self.table))
        return found[0] if found else None

