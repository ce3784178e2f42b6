"""Write a rack folder: whole or not at all."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import fields
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

from pleuston.base.errors import InputError
from pleuston.records.given import number_text
from pleuston.records.record import Rack, Record
from pleuston.store.datapackage import describe
from pleuston.store.exchange_cells import BadTimeError, time_of
from pleuston.store.exchange_csv import format_rows
from pleuston.store.exchange_layout import (
    BLENDS,
    ENTRIES,
    FEEDS,
    FILES,
    PACKAGE_FILE,
    RACK,
    SOILS,
    TANKS,
    WATERS,
    Table,
)
from pleuston.store.exchange_problems import ImportRefused
from pleuston.store.exchange_read import read_rack


def write_rack(record: Record, folder: Path, check: bool = True) -> None:
    """Write a record as a rack folder, replacing an older rack folder of that name.

    Everything is written beside the folder and put in place in one move, so that a
    failure leaves what was there. With `check`, the written files are read back and
    must give the same record. A folder that holds other things is left alone.
    """
    folder = Path(folder)
    _may_be_replaced(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        fresh = work / "new"
        fresh.mkdir()
        for name, data in files_of(record).items():
            (fresh / name).write_bytes(data)
        if check:
            _reads_back(record, fresh, folder)
        _swap(fresh, folder, work / "old")
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _reads_back(record: Record, fresh: Path, folder: Path) -> None:
    try:
        same = read_rack(fresh) == record
    except ImportRefused as refused:
        raise ImportRefused(str(folder), refused.problems, failed="not written") from None
    if not same:
        raise InputError(
            what="the record does not read back as it was written",
            where=str(folder),
            remedy="look for names with blanks at their ends",
        )


def files_of(record: Record) -> dict[str, bytes]:
    """Give every file of the rack folder as bytes."""
    zone = record.rack.zone
    rows: dict[str, Iterator[Sequence[str]]] = {
        RACK.file: _rack_rows(record.rack),
        WATERS.file: _plain_rows(WATERS, record.waters, zone),
        BLENDS.file: (
            (blend.name, part, number_text(share))
            for blend in record.blends
            for part, share in blend.parts
        ),
        FEEDS.file: _plain_rows(FEEDS, record.feeds, zone),
        SOILS.file: _plain_rows(SOILS, record.soils, zone),
        TANKS.file: _plain_rows(TANKS, record.tanks, zone),
        ENTRIES.file: _plain_rows(ENTRIES, record.entries, zone),
    }
    headers = {table.file: table.names for table in (RACK, WATERS, BLENDS, FEEDS, SOILS, TANKS)}
    headers[ENTRIES.file] = ENTRIES.names
    texts = {
        name: format_rows([headers[name], *found]).encode("utf-8") for name, found in rows.items()
    }
    return {**texts, PACKAGE_FILE: describe(record.rack.name, texts)}


def _rack_rows(rack: Rack) -> Iterator[Sequence[str]]:
    for item in fields(rack):
        if item.name == "round_minutes" and rack.round_minutes is None:
            continue
        yield item.name, _cell(getattr(rack, item.name))


def _plain_rows(table: Table, items: Sequence[Any], zone: tzinfo | None) -> Iterator[Sequence[str]]:
    for item in items:
        yield tuple(
            time_text(
                getattr(item, column.attribute), getattr(item, f"{column.attribute}_text"), zone
            )
            if column.type in ("day", "time")
            else _cell(getattr(item, column.attribute))
            for column in table.columns
        )


def _cell(value: str | float | None) -> str:
    return value if isinstance(value, str) else number_text(value)


def time_text(time: datetime | None, given: str, zone: tzinfo | None) -> str:
    """Write a time as it was given when that still means the same, else with its offset."""
    if time is None:
        return ""
    with suppress(BadTimeError):
        if given and time_of(given, zone) == time:
            return given
    local = time.astimezone(zone or UTC)
    offset = local.utcoffset()
    if offset is None or offset.total_seconds() % 60:
        local = time.astimezone(UTC)
    return local.isoformat()


def _may_be_replaced(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise InputError(
            what="there is a file of this name", where=str(folder), remedy="name another folder"
        )
    others = sorted(path.name for path in folder.iterdir() if path.name not in FILES)
    if others:
        raise InputError(
            what=f"the folder holds other things ({', '.join(others[:3])})",
            where=str(folder),
            remedy="name an empty or a new folder",
        )


def _swap(fresh: Path, folder: Path, aside: Path) -> None:
    """Put the fresh folder in place; the old one comes back if that fails."""
    if not folder.exists():
        fresh.rename(folder)
        return
    folder.rename(aside)
    try:
        fresh.rename(folder)
    except OSError:
        aside.rename(folder)
        raise
