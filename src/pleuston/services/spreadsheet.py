"""A rack as a spreadsheet: one page for each file of the rack folder, formulas neutral."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from pleuston.base.errors import InputError
from pleuston.records.record import Record
from pleuston.services.racks import Source, open_rack
from pleuston.store.exchange import files_of
from pleuston.store.exchange_csv import parse
from pleuston.store.exchange_layout import TABLES, Table
from pleuston.store.sheets import csv_for_spreadsheets, xlsx_of


def rows_of(record: Record, table: Table) -> Iterator[Sequence[Any]]:
    """The header and rows of a file of the rack folder, numbers as numbers."""
    lines, _ = parse(files_of(record)[table.file].decode())
    yield table.names
    number = [column.type == "number" for column in table.columns]
    for line in lines[1:]:
        yield [
            float(cell) if is_number and cell else cell
            for cell, is_number in zip(line.cells, number, strict=True)
        ]


def xlsx_rack(record: Record) -> bytes:
    """The whole rack as XLSX."""
    return xlsx_of((table.file.removesuffix(".csv"), rows_of(record, table)) for table in TABLES)


def csv_table(record: Record, file: str = "entries.csv", delimiter: str = ",") -> bytes:
    """One file of the rack folder as CSV for spreadsheets, with byte order mark."""
    table = next((table for table in TABLES if table.file == file), None)
    if table is None:
        names = ", ".join(table.file for table in TABLES)
        raise InputError(f"a rack has no file {file!r}", "export", f"use {names}")
    lines, _ = parse(files_of(record)[file].decode())
    return csv_for_spreadsheets((line.cells for line in lines), delimiter)


def export_spreadsheet(rack: Source, target: Path) -> dict[str, Any]:
    """Write a rack as .xlsx, or its entries as .csv for spreadsheets."""
    record = open_rack(rack)
    target = Path(target)
    if target.exists():
        raise InputError("there is a file of this name", str(target), "name another")
    data = xlsx_rack(record) if target.suffix.lower() == ".xlsx" else csv_table(record)
    target.write_bytes(data)
    return {"written": str(target), "bytes": len(data), "entries": len(record.entries)}
