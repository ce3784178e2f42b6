"""Tables of other programs as plain cells with their lines: CSV of any shape, and XLSX."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from pleuston.base.errors import InputError
from pleuston.records.given import number_text

MOST_LINES, MOST_COLUMNS = 200_000, 300
MOST_UNPACKED = 300_000_000
"""Bytes a spreadsheet may have once it is unpacked."""
DELIMITERS = (";", ",", "\t", "|")
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_POINT = re.compile(r"[+-]?\d+\.\d+", re.ASCII)


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of a table: its number in the file, and its cells."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A table as it was found; empty lines are passed over and counted."""

    name: str
    lines: tuple[SheetLine, ...]
    delimiter: str
    """Empty for a spreadsheet."""
    decimal: str
    """`.` or `,`"""
    empty_lines: int
    sheets: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def width(self) -> int:
        """Cells of the widest line."""
        return max((len(line.cells) for line in self.lines), default=0)


def read_sheet(
    data: bytes, name: str, delimiter: str = "", sheet: str = "", decimal: str = ""
) -> Sheet:
    """Read a table; what is not given is told from the data."""
    if not data:
        raise InputError("the file is empty", name, "take another file")
    if data[:4] == b"PK\x03\x04":
        return _spreadsheet(data, name, sheet, decimal)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise InputError("this is an old spreadsheet (.xls)", name, "save it as .xlsx or CSV")
    text, notes = _decoded(data, name)
    found = delimiter or _delimiter(text)
    lines, empty = _parsed(text, found, name)
    return Sheet(name, lines, found, decimal or _decimal(lines), empty, (), tuple(notes))


def _decoded(data: bytes, name: str) -> tuple[str, list[str]]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16"), ["the file is UTF-16"]
        except UnicodeDecodeError:
            raise InputError("the file can't be read as text", name, "save it as CSV") from None
    if b"\0" in data:
        raise InputError("this is not a table of text", name, "save it as CSV or .xlsx")
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        note = "the file is not UTF-8: read as Windows-1252; look at letters with accents"
        return data.decode("cp1252", errors="replace"), [note]


def _delimiter(text: str) -> str:
    """The mark that parts most of the first lines into the same number of cells."""
    head = "\n".join(text.splitlines()[:60])
    best, score = ",", 0.0
    for mark in DELIMITERS:
        try:
            rows = [row for row in csv.reader(io.StringIO(head), delimiter=mark) if any(row)]
        except csv.Error:
            continue
        wide = [len(row) for row in rows if len(row) > 1]
        if not wide:
            continue
        width, often = Counter(wide).most_common(1)[0]
        share = often / len(rows) + 0.01 * min(width, 20)
        if share > score:
            best, score = mark, share
    return best


def _parsed(text: str, delimiter: str, name: str) -> tuple[tuple[SheetLine, ...], int]:
    lines: list[SheetLine] = []
    empty = before = 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for row in reader:
            first, before = before + 1, reader.line_num
            cells = tuple(cell.strip() for cell in row)
            if any(cells):
                lines.append(SheetLine(first, cells))
            else:
                empty += 1
            _not_too_big(len(lines), len(cells), name)
    except csv.Error as fault:
        raise InputError(f"line {before + 1} can't be read ({fault})", name, "mend it") from None
    return tuple(lines), empty


def _not_too_big(lines: int, columns: int, name: str) -> None:
    if lines > MOST_LINES or columns > MOST_COLUMNS:
        raise InputError(
            what=f"the table has more than {MOST_LINES} lines or {MOST_COLUMNS} columns",
            where=name,
            remedy="take it in in parts",
        )


def _decimal(lines: Iterable[SheetLine]) -> str:
    cells = [cell for line in lines for cell in line.cells]
    commas = sum(bool(_COMMA.fullmatch(cell)) for cell in cells)
    points = sum(bool(_POINT.fullmatch(cell)) for cell in cells)
    return "," if commas > points else "."


def _spreadsheet(data: bytes, name: str, sheet: str, decimal: str) -> Sheet:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(item.file_size for item in packed.infolist()) > MOST_UNPACKED:
                raise InputError("the spreadsheet is too big", name, "save it as CSV")
        import openpyxl  # type: ignore[import-untyped]

        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, SyntaxError) as fault:
        raise InputError(
            f"the spreadsheet can't be read ({fault})", name, "save it again, or as CSV"
        ) from fault
    try:
        names = tuple(page.title for page in book.worksheets)
        lines: tuple[SheetLine, ...]
        if sheet and sheet not in names:
            raise InputError(f"there is no sheet {sheet!r}", name, "use " + ", ".join(names))
        read, lines, empty = names[0], (), 0
        for title in [sheet] if sheet else names:
            read = title
            lines, empty = _cells_of(book[title], name)
            if lines:
                break
    finally:
        book.close()
    others = [title for title in names if title != read]
    notes = [f"not read: the sheets {', '.join(others)}"] if others else []
    return Sheet(name, lines, "", decimal or _decimal(lines), empty, names, tuple(notes))


def _cells_of(page: Any, name: str) -> tuple[tuple[SheetLine, ...], int]:
    lines: list[SheetLine] = []
    empty = 0
    for number, row in enumerate(page.iter_rows(values_only=True), start=1):
        cells = tuple(cell_text(value) for value in row)
        while cells and not cells[-1]:
            cells = cells[:-1]
        if cells:
            lines.append(SheetLine(number, cells))
        else:
            empty += 1
        _not_too_big(len(lines), len(cells), name)
    last = lines[-1].number if lines else 0
    return tuple(lines), last - len(lines)


def cell_text(value: Any) -> str:
    """A cell of a spreadsheet as text: times in ISO form, numbers with a point.

    >>> cell_text(datetime(2024, 2, 25)), cell_text(7.50), cell_text(None), cell_text(True)
    ('2024-02-25', '7.5', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        bare = value.replace(microsecond=0)
        return bare.date().isoformat() if bare.time() == time() else bare.isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    if isinstance(value, int | float):
        return number_text(float(value)) if value == value and abs(value) < 1e300 else str(value)
    return str(value).strip()


def harmless(cell: str) -> str:
    """A text that no spreadsheet takes for a formula; numbers stay as they are.

    >>> harmless("=1+1"), harmless("-4.5"), harmless("@x"), harmless("pH 7")
    ("'=1+1", '-4.5', "'@x", 'pH 7')
    """
    if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not _POINT.fullmatch(cell):
        try:
            float(cell)
        except ValueError:
            return "'" + cell
    return cell


def csv_for_spreadsheets(rows: Iterable[Sequence[str]], delimiter: str = ",") -> bytes:
    """Rows as CSV that spreadsheets open rightly: with byte order mark, formulas neutral."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def xlsx_of(pages: Iterable[tuple[str, Iterable[Sequence[Any]]]]) -> bytes:
    """Pages of rows as a spreadsheet; texts stay texts, also those that begin like formulas."""
    import openpyxl
    from openpyxl.cell import WriteOnlyCell  # type: ignore[import-untyped]
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE  # type: ignore[import-untyped]

    book = openpyxl.Workbook(write_only=True)
    for title, rows in pages:
        page = book.create_sheet(title[:31])
        for row in rows:
            cells: list[Any] = []
            for value in row:
                if isinstance(value, str):
                    clean = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)[:32_767]
                    value = WriteOnlyCell(page, harmless(clean))
                    value.data_type = "s"
                cells.append(value)
            page.append(cells)
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()
