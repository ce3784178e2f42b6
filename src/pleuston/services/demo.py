"""The demo rack: nine invented tanks over twenty weeks, kept as data of the package."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from importlib.resources import as_file, files
from pathlib import Path

from pleuston.base.errors import InputError
from pleuston.records.record import Record
from pleuston.services.racks import write_record
from pleuston.store.exchange import read_rack
from pleuston.store.exchange_layout import FILES
from pleuston.store.session import is_database

FOLDER = "demo_rack"


def write_demo(target: Path, force: bool = False, now: datetime | None = None) -> Path:
    """Write the demo rack into a new or empty folder, or a new database; gives the target.

    force: write into a folder that holds other things too; its own files of the
    same names are replaced, all others stay. now: move it by whole weeks to end before now.
    """
    target = Path(target)
    if is_database(target) or now is not None:
        if target.is_file():
            raise InputError("there is a file of this name", str(target), "name another file")
        write_record(demo_record(now), target, now or datetime.now(UTC))
        return target
    if target.exists() and not target.is_dir():
        raise InputError(
            what="there is a file of this name", where=str(target), remedy="name another folder"
        )
    if not force and target.is_dir() and any(target.iterdir()):
        raise InputError(
            what="the folder is not empty",
            where=str(target),
            remedy="name a new or an empty folder for the demo rack",
        )
    source = files("pleuston") / FOLDER
    target.mkdir(parents=True, exist_ok=True)
    for name in FILES:
        (target / name).write_bytes((source / name).read_bytes())
    return target


def demo_record(now: datetime | None = None) -> Record:
    """The demo rack; with `now`, moved by whole weeks so that it ends in the week before."""
    with as_file(files("pleuston") / FOLDER) as folder:
        record = read_rack(folder)
    if now is None:
        return record
    last = max(entry.at for entry in record.entries)
    weeks = math.floor((now - last) / timedelta(days=7))
    return moved(record, timedelta(days=7 * weeks))


def moved(record: Record, by: timedelta) -> Record:
    """The same record, everything in it happening later by whole days."""

    def day(text: str) -> str:
        return (date.fromisoformat(text) + by).isoformat() if text else ""

    tanks = tuple(
        replace(
            tank, started=_later(tank.started, by), started_text=day(tank.started_text),
            soil_since=_later(tank.soil_since, by), soil_since_text=day(tank.soil_since_text),
        )
        for tank in record.tanks
    )  # fmt: skip
    waters = tuple(
        replace(
            water, valid_from=_later(water.valid_from, by),
            valid_from_text=day(water.valid_from_text),
        )
        for water in record.waters
    )  # fmt: skip
    entries = tuple(replace(entry, at=entry.at + by, at_text="") for entry in record.entries)
    return replace(record, tanks=tanks, waters=waters, entries=entries)


def _later(time: datetime | None, by: timedelta) -> datetime | None:
    return None if time is None else time + by
