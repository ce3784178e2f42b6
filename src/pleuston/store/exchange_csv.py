"""Strict CSV: rows with their line numbers, and every flaw of a file by its place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

_BREAK = re.compile(r"\r\n|\n|\r")
_QUOTED = re.compile(r'"((?:[^"]|"")*)"')
_BARE = re.compile(r"[^,\r\n]*")


@dataclass(frozen=True, slots=True)
class Flaw:
    """Something wrong with the text of a file, not with what it says."""

    line: int
    what: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Line:
    """A row of cells and the line of the file it begins on."""

    number: int
    cells: tuple[str, ...]
    ended: bool = True
    """False for a last row without a line break after it."""


def text_of(data: bytes) -> tuple[str, list[Flaw]]:
    """Decode UTF-8, with a flaw for every line that is not, and for every NUL byte."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "", [Flaw(1, "the file is UTF-16", "save it as UTF-8")]
    flaws: list[Flaw] = []
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        flaws += _undecodable(data)
        text = data.decode("utf-8-sig", errors="replace")
    if "\0" in text:
        for number, line in enumerate(_BREAK.split(text), start=1):
            if "\0" in line:
                flaws.append(Flaw(number, "the line holds a NUL byte", "take the byte out"))
        text = text.replace("\0", "")
    return text, flaws


def _undecodable(data: bytes) -> Iterator[Flaw]:
    for number, line in enumerate(re.split(rb"\r\n|\n|\r", data), start=1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as fault:
            byte = line[fault.start]
            yield Flaw(
                number,
                f"byte {byte:#04x} at place {fault.start + 1} of the line is not UTF-8",
                "save the file as UTF-8",
            )


def parse(text: str) -> tuple[list[Line], list[Flaw]]:
    """Split a text into rows of cells; empty lines are passed over."""
    lines: list[Line] = []
    flaws: list[Flaw] = []
    place, number = 0, 1
    while place < len(text):
        begin, end = place, _line_end(text, place)
        flaw: Flaw | None = None
        if text.find('"', place, end) < 0:
            cells, place = text[place:end].split(","), end
        else:
            cells, flaw, place = _cells(text, place, number)
        stop = _BREAK.match(text, place)
        if flaw is not None:
            flaws.append(flaw)
        elif cells != [""]:
            lines.append(Line(number, tuple(cells), ended=stop is not None))
        number += 1 + len(_BREAK.findall(text, begin, place))
        place = stop.end() if stop else len(text)
    return lines, flaws


def _cells(text: str, place: int, number: int) -> tuple[list[str], Flaw | None, int]:
    """Read one row that holds a quote; give its cells, its flaw and where it ends."""
    cells: list[str] = []
    begin = place
    while True:
        if text.startswith('"', place):
            match = _QUOTED.match(text, place)
            if match is None:
                flaw = Flaw(number, "a quote is opened and never closed", "close the quote")
                return [], flaw, _line_end(text, begin)
            cell, place = match.group(1).replace('""', '"'), match.end()
            if place < len(text) and text[place] not in ",\r\n":
                flaw = Flaw(
                    number,
                    "text follows a closing quote",
                    "put the whole cell in quotes and write a quote inside it twice",
                )
                return [], flaw, _line_end(text, place)
        else:
            match = _BARE.match(text, place)
            cell, place = (match.group(), match.end()) if match else ("", place)
        cells.append(cell)
        if not text.startswith(",", place):
            return cells, None, place
        place += 1


def _line_end(text: str, place: int) -> int:
    stop = _BREAK.search(text, place)
    return stop.start() if stop else len(text)


def format_rows(rows: Iterable[Sequence[str]]) -> str:
    """Write rows of cells as CSV with a line feed after each."""
    return "".join(",".join(map(_quoted, row)) + "\n" for row in rows)


def _quoted(cell: str) -> str:
    if any(mark in cell for mark in ',"\r\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell
