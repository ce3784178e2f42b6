"""A probe's file: which column is what, its times, its numbers, and what was assumed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from pleuston.base.errors import InputError
from pleuston.services.messy_cells import CellError, date_order, day_and_clock, is_none, number
from pleuston.store.sheets import Sheet, SheetLine, read_sheet

Array = NDArray[np.float64]
MOST_BYTES = 30_000_000
MOST_READINGS = 20_000
SEARCHED = 40
_OXYGEN = r"(?:\bodo\b|\bl?rdo\b|\bldo\b|\bdo2?\b|\bo2\b|oxygen|sauerstoff|oxyg)"
_PERCENT = r"(?:%|percent|pct|\bsat|s[äa]ttigung)"
ROLES: dict[str, str] = {
    "when": r"date.?time|time.?stamp|datum.*(zeit|uhr)|date.*\btime|zeitpunkt",
    "date": r"^\s*(date|datum|day|tag)\b",
    "time": r"^\s*(time|uhrzeit|zeit|clock)\b(?!.*fract)",
    "percent": rf"{_OXYGEN}.*{_PERCENT}|{_PERCENT}.*{_OXYGEN}",
    "oxygen": _OXYGEN,
    "celsius": r"^\s*(water\s*)?temp|wassertemp|°\s*c|\bdeg\s*c",
    "hectopascal": r"baro|pressure|luftdruck|\bpress\b",
    "light": r"light|\bpar\b|ppfd|\blux\b|licht|lamp",
    "salinity": r"^\s*sal",
    "ph": r"^\s*ph\b(?!.*mv)",
}
PRESSURES = {"mmhg": 1.3332239, "torr": 1.3332239, "hpa": 1.0, "mbar": 1.0, "kpa": 10.0,
             "atm": 1013.25, "inhg": 33.86389}  # fmt: skip


@dataclass(frozen=True)
class LoggerFile:
    """Readings in order of their lines; days count from `start`."""

    name: str
    start: datetime
    days: Array
    columns: dict[str, Array]
    headers: dict[str, str]
    notes: tuple[str, ...]
    unread: int = 0
    zone: str = ""
    sources: Mapping[str, str] = field(default_factory=dict)


def read_logger(
    data: bytes, name: str, zone: tzinfo | None, zone_word: str, given: Mapping[str, str]
) -> LoggerFile:
    """Read a probe's table; given: headers by role, before what is guessed."""
    if len(data) > MOST_BYTES:
        raise InputError("the file is larger than 30 MB", name, "give some nights of it")
    sheet = read_sheet(data, name)
    place, headers = _header(sheet, given)
    body = sheet.lines[place + 1 :]
    if len(body) > MOST_READINGS:
        raise InputError(
            f"the file has more than {MOST_READINGS} readings", name, "give some nights of it"
        )
    names = sheet.lines[place].cells
    at = {role: names.index(header) for role, header in headers.items()}
    moments, notes, said = _moments(body, at, zone, headers)
    columns = {
        role: _numbers(body, column, sheet.decimal)
        for role, column in at.items()
        if role not in ("when", "date", "time")
    }
    kept = [n for n, moment in enumerate(moments) if moment is not None]
    if not kept:
        raise InputError("no line has a time that can be read", name, "name its time column")
    start = next(m for m in moments if m is not None)
    days = np.array([(moments[n] - start).total_seconds() / 86400.0 for n in kept])  # type: ignore[operator]
    found = {role: values[kept] for role, values in columns.items()}
    notes += _in_units(found, headers)
    return LoggerFile(
        name, start, days, found, headers, tuple(notes), len(body) - len(kept), said or zone_word
    )


def _header(sheet: Sheet, given: Mapping[str, str]) -> tuple[int, dict[str, str]]:
    unknown = sorted(set(given) - set(ROLES))
    if unknown:
        raise InputError(f"no column can be {unknown[0]!r}", "--column", "use " + ", ".join(ROLES))
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        found = _roles(line, given)
        timed = "when" in found or "date" in found
        if timed and ("oxygen" in found or "percent" in found):
            return place, found
    raise InputError(
        what="no line names a column of time and one of oxygen",
        where=sheet.name,
        remedy="name them: --column when=HEADER --column oxygen=HEADER (mg/L) or percent=HEADER",
    )


def _roles(line: SheetLine, given: Mapping[str, str]) -> dict[str, str]:
    found = {role: header for role, header in given.items() if header in line.cells}
    if len(found) < len(given):
        return {}
    for header in line.cells:
        if not header or header in found.values() or re.fullmatch(r"[\d\s.,:/-]+", header):
            continue
        for role, pattern in ROLES.items():
            if re.search(pattern, header.casefold()):
                if role not in found:
                    found[role] = header
                break
    return found


def _moments(
    body: tuple[SheetLine, ...], at: Mapping[str, int], zone: tzinfo | None,
    headers: Mapping[str, str],
) -> tuple[list[datetime | None], list[str], str]:  # fmt: skip
    """The time of each line, what was assumed, and the zone that the file itself names."""
    day_column = at.get("when", at.get("date", 0))
    texts = [_cell(line, day_column) for line in body]
    order, sure = date_order([t for t in texts if t])
    if not sure and "mm/dd" in _clock_headers(headers):
        order, sure = "mdy", True
    notes = [] if sure else [f"the order of day and month is not certain: read as {order}"]
    named = "UTC" if re.search(r"\b(utc|gmt)\b", _clock_headers(headers)) else ""
    use = UTC if named else zone or UTC
    found: list[datetime | None] = []
    for line, text in zip(body, texts, strict=True):
        clock = _cell(line, at["time"]) if "time" in at and "when" not in at else ""
        try:
            day, inside = day_and_clock(text, order)
            found.append(_moment(day, _clock(clock) or inside or "00:00", use))
        except (CellError, ValueError):
            found.append(None)
    if not named and zone is None:
        notes.append("times are taken as UTC, since no time zone is known")
    return found, notes, named


def _clock_headers(headers: Mapping[str, str]) -> str:
    """The headers of day and time in one."""
    return " ".join(headers.get(r, "") for r in ("when", "date", "time")).casefold()


def _clock(text: str) -> str:
    return day_and_clock(f"2000-01-01 {text}", "ymd")[1] if text else ""


def _moment(day: str, clock: str, zone: tzinfo) -> datetime:
    found = datetime.fromisoformat(f"{day}T{clock.replace('z', 'Z')}")
    return (found if found.tzinfo else found.replace(tzinfo=zone)).astimezone(UTC)


def _cell(line: SheetLine, column: int) -> str:
    return line.cells[column] if column < len(line.cells) else ""


def _numbers(body: tuple[SheetLine, ...], column: int, decimal: str) -> Array:
    found = np.full(len(body), np.nan)
    for n, line in enumerate(body):
        text = _cell(line, column)
        if is_none(text):
            continue
        try:
            found[n] = float(number(text.rstrip(" %"), decimal))
        except CellError:
            continue
    return found


def _in_units(columns: dict[str, Array], headers: Mapping[str, str]) -> list[str]:
    """Bring columns to degC, hPa and mg/L by their headers and sizes; gives what was assumed."""
    notes: list[str] = []
    if "celsius" in columns and re.search(r"°?\s*\bf\b|fahrenheit", headers["celsius"].casefold()):
        columns["celsius"] = (columns["celsius"] - 32.0) / 1.8
        notes.append("temperature is in degrees Fahrenheit by its header")
    if "oxygen" in columns and "percent" not in columns:
        told = "mg" in headers["oxygen"].casefold() or "ppm" in headers["oxygen"].casefold()
        if not told and float(np.nanmedian(columns["oxygen"])) > 20.0:
            columns["percent"] = columns.pop("oxygen")
            notes.append("the oxygen column names no unit: by its size it is % of saturation")
        elif not told:
            notes.append("the oxygen column names no unit: by its size it is mg/L")
    if "hectopascal" in columns:
        notes += _pressures(columns, headers["hectopascal"].casefold())
    return notes


def _pressures(columns: dict[str, Array], header: str) -> list[str]:
    factor = next((f for unit, f in PRESSURES.items() if unit in header), None)
    if factor is None:
        size = float(np.nanmedian(columns["hectopascal"]))
        units = (("kPa", 10.0, 50.0, 110.0), ("mmHg", 1.3332239, 400.0, 820.0),
                 ("atm", 1013.25, 0.5, 1.2))  # fmt: skip
        unit, factor = next(
            ((u, f) for u, f, low, high in units if low <= size <= high), ("hPa", 1.0)
        )
        columns["hectopascal"] = columns["hectopascal"] * factor
        return [f"the pressure column names no unit: by its size it is {unit}"]
    columns["hectopascal"] = columns["hectopascal"] * factor
    return []
