"""Open, import and export racks, and list what stands in them."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.library import library
from pleuston.records.record import Entry, Record, Tank
from pleuston.store.exchange import Change, ImportRefused, read_rack_report, write_rack
from pleuston.store.exchange_cells import BadTimeError, time_of
from pleuston.store.exchange_layout import PACKAGE_FILE
from pleuston.store.session import is_address, is_database, open_database, remove_file, shown
from pleuston.store.whole import put_record, record_of, state_of

_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
IN, OUT = ("stock_in", "birth"), ("stock_out", "death")
PLANTS_IN, PLANTS_OUT = ("plant_in",), ("plant_out", "harvest")
SECONDS_PER_DAY = 86400.0


Source = Path | str
"""A rack: its folder, its database file (`rack.db`), or its database's address."""


def open_rack(path: Source) -> Record:
    """Read the record of a rack: a folder, a database file, or a database's address.

    Raises `ImportRefused` with every problem of a folder, `StoreError` for a database.
    """
    if is_database(path):
        db = open_database(path)
        try:
            with db.read() as connection:
                return record_of(connection)
        finally:
            db.close()
    try:
        return read_rack_report(Path(path)).record
    except ImportRefused as refused:
        raise ImportRefused(str(path), refused.problems, failed="not opened") from None


def fingerprint(rack: Source) -> str:
    """Hash of all that a rack's record holds; it changes when anything of it does."""
    digest = hashlib.sha256()
    if not is_database(rack):
        for file in sorted(Path(rack).glob("*.csv")):
            digest.update(file.name.encode() + file.read_bytes())
        return digest.hexdigest()
    db = open_database(rack)
    try:
        with db.read() as connection:
            for part in state_of(connection):
                digest.update(repr(part).encode())
    finally:
        db.close()
    return digest.hexdigest()


def import_rack(
    source: Source, target: Source | None, now: datetime | None = None
) -> dict[str, Any]:
    """Check a rack and write it whole to the target: a new folder or an empty database.

    Without a target it is only checked. Raises `ImportRefused` with every problem; then
    nothing is written.
    """
    changes: tuple[Change, ...] = ()
    if is_database(source):
        record = open_rack(source)
    else:
        taken = read_rack_report(Path(source))
        record, changes = taken.record, taken.changes
    if target is not None:
        write_record(record, target, now or datetime.now(UTC))
    return {
        "source": shown(str(source)),
        "written": None if target is None else shown(str(target)),
        "rack": record.rack.name,
        **_counts(record),
        "changes": [
            {
                "where": ":".join(str(p) for p in (c.file, c.line, c.column) if p),
                "given": c.given,
                "taken": c.taken,
            }
            for c in changes
        ],
    }


def write_record(record: Record, target: Source, now: datetime) -> None:
    """Write a record whole to a new folder or an empty database, or leave nothing behind."""
    if not is_database(target):
        _must_be_free(Path(target))
        write_rack(record, Path(target))
        return
    fresh = None if is_address(target) else Path(str(target).removeprefix("sqlite:///"))
    fresh = None if fresh is None or fresh.exists() else fresh
    db = open_database(target, create=True)
    try:
        with db.write() as connection:
            put_record(connection, record, now)
    except BaseException:
        db.close()
        if fresh is not None:
            remove_file(fresh)
        raise
    db.close()


def export_rack(rack: Source, target: Path) -> dict[str, Any]:
    """Write a rack as a folder of plain CSV with its description."""
    record = open_rack(rack)
    if not is_database(rack) and Path(target).resolve() == Path(rack).resolve():
        raise InputError(
            "a rack can't be exported into itself", where=str(target), remedy="Name another folder"
        )
    write_rack(record, Path(target))
    return {
        "written": str(target),
        "description": PACKAGE_FILE,
        "rack": record.rack.name,
        **_counts(record),
    }


def _must_be_free(target: Path) -> None:
    """Refuse to import over a record that is there already."""
    if target.is_dir() and any(target.iterdir()):
        raise InputError(
            what="the folder is not empty", where=str(target), remedy="Name a new or empty folder"
        )


def _counts(record: Record) -> dict[str, int]:
    return {
        "tanks": len(record.tanks),
        "entries": len(record.entries),
        "waters": len(record.waters),
        "blends": len(record.blends),
        "feeds": len(record.feeds),
        "soils": len(record.soils),
    }


def parse_moment(text: str, record: Record) -> datetime:
    """Read a time: ISO 8601, on the rack's own clock when it has no offset.

    A day alone means its end; an empty text the time of the last entry.
    """
    text = text.strip()
    if not text:
        if not record.entries:
            raise InputError(
                "the record has no entries yet, so no time to answer for",
                where="--at",
                remedy="Give a time with --at",
            )
        return max(entry.at for entry in record.entries)
    try:
        if not _DAY.fullmatch(text):
            return time_of(text, record.rack.zone)
        time_of(text, record.rack.zone)
        after = date.fromisoformat(text) + timedelta(days=1)
        return time_of(after.isoformat(), record.rack.zone) - timedelta(microseconds=1)
    except BadTimeError as bad:
        raise InputError(bad.what, where="--at", remedy=bad.remedy) from None


def list_tanks(rack: Source, at: str = "") -> dict[str, Any]:
    """List the tanks as they stood at a time: litres, plants, animals, last reading."""
    record = open_rack(rack)
    moment = parse_moment(at, record)
    known = record.until(moment)
    return {
        "rack": record.rack.name,
        "at": record.local(moment).isoformat(),
        "tanks": [tank_line(known, tank.name, moment) for tank in known.tanks],
    }


def tank_line(record: Record, name: str, moment: datetime) -> dict[str, Any]:
    """One tank as it stood at a moment, from its record alone."""
    tank: Tank = record.tank_at(name, moment)
    entries = record.entries_of(name, until=moment)
    own = [entry for entry in entries if entry.tank == name]
    readings = [entry for entry in own if entry.kind == "reading"]
    return {
        "tank": name,
        "net_l": float(tank.net_l),
        "surface_m2": float(tank.surface_m2),
        "lid": tank.lid,
        "heater_c": tank.heater_c,
        "flow": tank.flow,
        "top_up_water": tank.top_up_water,
        "animals": counts(own),
        "floating_plants": plants(own, "floating"),
        "rooted_plants": plants(own, "rooted"),
        "last_reading": _reading(record, readings[-1], moment) if readings else None,
        "entries": len(own),
    }


def _reading(record: Record, entry: Entry, moment: datetime) -> dict[str, Any]:
    return {
        "what": entry.what,
        "low": entry.low,
        "high": entry.high,
        "unit": entry.unit,
        "at": record.local(entry.at).isoformat(),
        "age_days": (moment - entry.at).total_seconds() / SECONDS_PER_DAY,
    }


def counts(entries: Iterable[Entry]) -> dict[str, float]:
    """Animals by species: put in and born, less taken out and dead, never below none."""
    total: dict[str, float] = {}
    for entry in entries:
        sign = (entry.kind in IN) - (entry.kind in OUT)
        if sign:
            before = total.get(entry.what, 0.0)
            total[entry.what] = max(0.0, before + sign * (entry.amount or 0.0))
    return {name: number for name, number in total.items() if number > 0.0}


def plants(entries: Iterable[Entry], group: str) -> list[dict[str, Any]]:
    """Plants of a group: grams put in and taken out so far; what grew is not guessed here."""
    found: dict[str, dict[str, Any]] = {}
    for entry in entries:
        if entry.kind not in (*PLANTS_IN, *PLANTS_OUT) or _group(entry.what) != group:
            continue
        item = found.setdefault(
            entry.what, {"species": entry.what, "put_in_g": 0.0, "taken_out_g": 0.0}
        )
        item["put_in_g" if entry.kind in PLANTS_IN else "taken_out_g"] += entry.amount or 0.0
    return list(found.values())


def _group(name: str) -> str:
    try:
        return library().find_species(name).group
    except UnknownNameError:
        return ""
