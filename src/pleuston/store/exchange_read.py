"""Read a rack folder: everything or nothing, with every problem told at once."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pleuston.records.library import library
from pleuston.records.near import near, near_names
from pleuston.records.record import Blend, Entry, Feed, Rack, Record, Soil, Tank, Water
from pleuston.store.exchange_cells import Findings, Row
from pleuston.store.exchange_csv import Line, parse, text_of
from pleuston.store.exchange_entries import EntryReader
from pleuston.store.exchange_layout import (
    BLENDS,
    ENTRIES,
    FEEDS,
    FILES,
    PACKAGE_FILE,
    RACK,
    RACK_SETTINGS,
    SOILS,
    TABLES,
    TANKS,
    WATERS,
    Table,
)
from pleuston.store.exchange_problems import Change, ImportRefused, Problem

SHARES_WITHIN = 5e-4
"""How far the shares of a blend may be from one together."""
LEAST_DEPTH, MOST_DEPTH = 0.02, 2.0
"""Depths of water a shelf aquarium can have [m]."""


@dataclass(frozen=True)
class Taken:
    """A record that was read, and what was taken in another form than written."""

    record: Record
    changes: tuple[Change, ...]


def read_rack(folder: Path) -> Record:
    """Read a rack folder, or raise `ImportRefused` with every problem in it."""
    return read_rack_report(folder).record


def read_rack_report(folder: Path) -> Taken:
    """Read a rack folder and tell also which cells were taken in another form."""
    folder = Path(folder)
    findings = Findings()
    if not folder.is_dir():
        what = "this is a file, not a folder" if folder.exists() else "there is no such folder"
        remedy = "name the folder that holds rack.csv, tanks.csv and entries.csv"
        raise ImportRefused(str(folder), [Problem(folder.name, 0, "", what, remedy)])
    record = _Reader(folder, findings).read()
    if findings.problems:
        raise ImportRefused(str(folder), findings.problems)
    return Taken(record, tuple(findings.changes))


class _Reader:
    """Reads one folder; what is wrong goes to the findings."""

    def __init__(self, folder: Path, findings: Findings) -> None:
        self.folder = folder
        self.findings = findings
        self.sizes: dict[str, int] = {}
        self.zone: tzinfo | None = None
        self.names: dict[str, set[str]] = {table.file: set() for table in TABLES}

    def read(self) -> Record:
        self._stray_files()
        self.sizes = self._package()
        rack = self._rack()
        waters = tuple(Water(**given) for _, given in self._fields(WATERS))
        blends = self._blends()
        feeds = tuple(Feed(**given) for _, given in self._fields(FEEDS))
        soils = tuple(Soil(**given) for _, given in self._fields(SOILS))
        tanks = self._tanks()
        entries = self._entries(tanks)
        return Record(rack, waters, blends, feeds, soils, tanks, entries)

    # files

    def _stray_files(self) -> None:
        for path in sorted(self.folder.iterdir()):
            if path.suffix == ".csv" and path.name not in FILES:
                hits = near(path.name, FILES, most=1)
                hint = f"not read (is {hits[0]} meant?)" if hits else "not read"
                self.findings.changes.append(Change(path.name, 0, "", path.name, hint))

    def _package(self) -> dict[str, int]:
        """The files that `datapackage.json` lists, with their bytes (-1 where it says none)."""
        path = self.folder / PACKAGE_FILE
        if not path.is_file():
            return {}
        try:
            package = json.loads(path.read_bytes().decode("utf-8"))
            return {str(item["path"]): int(item.get("bytes", -1)) for item in package["resources"]}
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
            line = fault.lineno if isinstance(fault, json.JSONDecodeError) else 0
            what = f"the description of the folder cannot be read ({type(fault).__name__}: {fault})"
            self.findings.refuse(PACKAGE_FILE, line, "", what, "mend it or take the file away")
            return {}

    def _rows(self, table: Table) -> Iterator[Row]:
        path = self.folder / table.file
        if not path.is_file():
            if table.required or table.file in self.sizes:
                listed = "" if table.required else f", though {PACKAGE_FILE} lists it"
                self.findings.refuse(
                    table.file, 0, "", f"the file is missing{listed}", "add the file"
                )
            return
        data = path.read_bytes()
        text, flaws = text_of(data)
        lines, broken = parse(text)
        for flaw in (*flaws, *broken):
            self.findings.refuse(table.file, flaw.line, "", flaw.what, flaw.remedy)
        if not lines:
            if not flaws and not broken:
                remedy = "begin it with the row of column names: " + ",".join(table.names)
                self.findings.refuse(table.file, 1, "", "the file is empty", remedy)
            return
        self._whole(table, data, lines)
        yield from self._unique(table, self._named(table, lines))

    def _whole(self, table: Table, data: bytes, lines: Sequence[Line]) -> None:
        """Refuse a file that is shorter than described and does not end with a line break."""
        described = self.sizes.get(table.file, -1)
        if len(data) < described and not lines[-1].ended:
            self.findings.refuse(
                table.file,
                lines[-1].number,
                "",
                f"the file is cut off: it has {len(data)} bytes and had {described} "
                "when it was written",
                "take a whole copy; if the last row is whole, end it with a line break",
            )

    def _named(self, table: Table, lines: Sequence[Line]) -> Iterator[Row]:
        header = [cell.strip() for cell in lines[0].cells]
        self._header(table, header, lines[0].number)
        for line in lines[1:]:
            if len(line.cells) == len(header):
                cells = dict(zip(header, line.cells, strict=True))
                yield Row(table.file, line.number, cells, self.findings)
                continue
            few = len(line.cells) < len(header)
            what = f"the row has {len(line.cells)} cells and the header {len(header)}"
            remedy = (
                "the row is cut short: fill it up with the missing cells"
                if few
                else "write numbers with a decimal point, and put a cell with a comma in quotes"
            )
            self.findings.refuse(table.file, line.number, "", what, remedy)

    def _header(self, table: Table, header: Sequence[str], line: int) -> None:
        if len(header) == 1 and ";" in header[0]:
            what = "the columns are parted by semicolons"
            self.findings.refuse(table.file, line, "", what, "part them by commas")
            return
        for name in table.names:
            if name not in header:
                what = f"the column {name!r} is missing"
                self.findings.refuse(table.file, line, name, what, "add it, empty if unknown")
        for place, name in enumerate(header):
            if name not in table.names:
                remedy = "take it out, or rename it; " + near_names(name, table.names)
                what = f"the column {name!r} is not known"
                self.findings.refuse(table.file, line, name, what, remedy)
            elif name in header[:place]:
                what = f"the column {name!r} stands twice"
                self.findings.refuse(table.file, line, name, what, "keep one of them")

    def _unique(self, table: Table, rows: Iterator[Row]) -> Iterator[Row]:
        """Pass rows on; note the names in their first key column, and refuse a key twice."""
        seen: dict[tuple[str, ...], int] = {}
        names = self.names[table.file]
        for row in rows:
            key = tuple(row.word(column) for column in table.key)
            names.add(key[0])
            if table is ENTRIES:
                yield row
                continue
            if key in seen:
                what = f"{' '.join(filter(None, key))!r} stands twice, first on line {seen[key]}"
                row.refuse(table.key[0], what, "keep one of the rows or rename one")
                continue
            seen[key] = row.line
            yield row

    def _fields(self, table: Table) -> Iterator[tuple[Row, dict[str, Any]]]:
        """Give the rows without a flaw, each with the fields of its record."""
        for row in self._rows(table):
            before = len(self.findings.problems)
            given = fields_of(row, table, self.zone)
            if table is FEEDS or table is SOILS:
                _shares_fit(row, given)
            if len(self.findings.problems) == before:
                yield row, given

    # tables

    def _rack(self) -> Rack:
        given: dict[str, Any] = {}
        known = {item.name for item in fields(Rack)}
        for row in self._rows(RACK):
            key = row.word("key")
            if key not in known:
                row.refuse("key", f"the setting {key!r} is not known", near_names(key, known))
                continue
            column = RACK_SETTINGS[key]
            if column.type == "number":
                cell = Row(row.file, row.line, {key: row.text("value")}, self.findings)
                given[key] = cell.number(column)
            else:
                given[key] = row.word("value")
        zone = given.get("timezone", "")
        try:
            self.zone = ZoneInfo(zone) if zone else None
        except (ValueError, OSError, KeyError):
            what = f"the time zone {zone!r} is not known"
            remedy = "write it as in the IANA list, such as Etc/UTC or Etc/GMT-1"
            self.findings.refuse(RACK.file, 0, "timezone", what, remedy)
            return Rack()
        return Rack(**given)

    def _blends(self) -> tuple[Blend, ...]:
        parts: dict[str, list[tuple[str, float]]] = {}
        first: dict[str, Row] = {}
        known = self.names[WATERS.file] | set(library().waters)
        for row in self._rows(BLENDS):
            blend, share = row.word("blend"), row.number(BLENDS.columns[2])
            if not blend:
                row.refuse("blend", "the cell is empty", "name the blend")
                continue
            part = row.known("part", known, "water")
            first.setdefault(blend, row)
            parts.setdefault(blend, []).append((part, -1.0 if share is None else share))
        for blend, shares in parts.items():
            if blend in self.names[WATERS.file]:
                what = f"{blend!r} is a water and a blend"
                first[blend].refuse("blend", what, "give the blend another name")
            total = sum(share for _, share in shares)
            if min(share for _, share in shares) >= 0 and abs(total - 1) > SHARES_WITHIN:
                what = f"the shares of {blend!r} sum to {total:g}"
                first[blend].refuse("share", what, "make them sum to 1")
        return tuple(Blend(name, tuple(shares)) for name, shares in parts.items())

    def _tanks(self) -> tuple[Tank, ...]:
        shelf = library()
        soils = self.names[SOILS.file] | set(shelf.soils)
        tanks: list[Tank] = []
        for row, given in self._fields(TANKS):
            before = len(self.findings.problems)
            if given["soil"]:
                given["soil"] = row.known("soil", soils, "soil")
            if given["top_up_water"]:
                given["top_up_water"] = row.known("top_up_water", self._waters(), "water")
            _geometry_fits(row, given)
            if len(self.findings.problems) == before:
                tanks.append(Tank(**given))
        return tuple(tanks)

    def _waters(self) -> set[str]:
        return self.names[WATERS.file] | self.names[BLENDS.file] | set(library().waters)

    def _entries(self, tanks: Sequence[Tank]) -> tuple[Entry, ...]:
        reader = EntryReader(
            zone=self.zone,
            tanks={tank.name: tank for tank in tanks},
            tank_names=self.names[TANKS.file],
            waters=self._waters(),
            feeds=self.names[FEEDS.file] | set(library().feeds),
        )
        found = (reader.entry(row) for row in self._rows(ENTRIES))
        return tuple(entry for entry in found if entry is not None)


def fields_of(row: Row, table: Table, zone: tzinfo | None) -> dict[str, Any]:
    """Read the cells of a row by the columns of its table; flaws go to the findings."""
    given: dict[str, Any] = {}
    for column in table.columns:
        if column.type == "number":
            given[column.attribute] = row.number(column)
        elif column.type in ("day", "time"):
            time: datetime | None = row.time(column.name, zone)
            given[column.attribute] = time
            given[f"{column.attribute}_text"] = row.word(column.name)
        elif column.choices:
            given[column.attribute] = row.choice(column)
        elif column.name == "note":
            given[column.attribute] = row.text(column.name)
        else:
            given[column.attribute] = row.word(column.name)
            if column.required and not given[column.attribute]:
                row.refuse(column.name, "the cell is empty", "give a name")
    return given


def _shares_fit(row: Row, given: dict[str, Any]) -> None:
    shares = [value for key, value in given.items() if key.endswith("_pct") and value is not None]
    if sum(shares) > 100:
        row.refuse("", f"the shares sum to {sum(shares):g} %", "check them: together at most 100")


def _geometry_fits(row: Row, given: dict[str, Any]) -> None:
    litres, surface = given["net_l"], given["surface_m2"]
    if litres <= 0:
        row.refuse("net_l", f"a tank cannot hold {litres:g} L", "give the litres at its mark")
    if surface <= 0:
        row.refuse("surface_m2", f"the surface is {surface:g} m2", "give length times width in m2")
    if litres <= 0 or surface <= 0:
        return
    depth = litres / 1000 / surface
    if not LEAST_DEPTH <= depth <= MOST_DEPTH:
        row.refuse(
            "surface_m2",
            f"{litres:g} L over {surface:g} m2 would stand {depth * 1000:.4g} mm deep",
            "check litres and square metres (0.1 m2 is 1000 cm2)",
        )
        return
    bed = ((given["soil_mm"] or 0.0) + (given["cap_mm"] or 0.0)) / 1000
    if bed >= depth:
        row.refuse(
            "soil_mm",
            f"soil and cap are {bed * 1000:g} mm deep and the water {depth * 1000:.4g} mm",
            "check the millimetres of soil and cap",
        )
    if given["soil_mm"] and not given["soil"]:
        row.refuse("soil", "there is a depth of soil and no soil", "name the soil")
