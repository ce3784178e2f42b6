"""Readings as charts show them: intervals over time, in the unit a quantity is written in."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from typing import Any

from pleuston.base.errors import InputError
from pleuston.base.units import convert
from pleuston.records.composition import element_share
from pleuston.records.kinds import READINGS
from pleuston.records.readings import interval
from pleuston.records.record import Entry
from pleuston.store.catalogue import zone_of
from pleuston.store.entries import entries_in_force, entry_of
from pleuston.store.session import Database

IONS = ("ammonium_ion", "nitrite_ion", "nitrate_ion", "phosphate_ion")
OTHERWISE = ("pen_ppm",)
"""Readings shown as the quantity they stand for, not as they are written."""


def chart_readings(
    db: Database, tank: str, since: datetime | None = None, until: datetime | None = None
) -> dict[str, list[dict[str, Any]]]:
    """A tank's readings by the quantities that charts show them under, oldest first.

    One reading stands under each way its quantity is written (nitrate as N and as the ion).
    A bound that is open is None. Each holds its entry's id and what was written.
    """
    with db.read() as connection:
        zone = zone_of(connection) or UTC
        found = [
            entry_of(row) for row in entries_in_force(
                connection, tank=tank, kind="reading", since=since, until=until, rack_wide=False
            )
        ]  # fmt: skip
    shown: dict[str, list[dict[str, Any]]] = {}
    for entry in sorted(found, key=lambda e: e.at):
        for name, told in as_shown(entry).items():
            at = entry.at.astimezone(zone).isoformat(timespec="minutes")
            shown.setdefault(name, []).append({"at": at, **told})
    return shown


def as_shown(entry: Entry) -> dict[str, dict[str, Any]]:
    """A reading under every name its quantity is shown by; none where it can't be read."""
    try:
        read = interval(entry)
    except InputError:
        return {}
    told = {
        "id": entry.id, "method": entry.method, "by": entry.by,
        "written": {"what": entry.what, "low": _plain(entry.low), "high": _plain(entry.high),
                    "unit": entry.unit},
    }  # fmt: skip
    return {
        name: {"low": _bound(read.low, turn), "high": _bound(read.high, turn), "unit": unit, **told}
        for name, unit, turn in ways(read.quantity)
    }


@cache
def ways(quantity: str) -> tuple[tuple[str, str, Callable[[float], float]], ...]:
    """Each way a quantity is written: its name, its unit, and how to get there from inside."""
    made = []
    for reading in READINGS.values():
        if reading.quantity == quantity and reading.name not in OTHERWISE:
            made.append((reading.name, reading.unit, _turn(reading.name)))
    return tuple(made)


def _turn(name: str) -> Callable[[float], float]:
    reading = READINGS[name]
    if not reading.unit:
        return float
    share = float(element_share(name.removesuffix("_ion"))) if name in IONS else 1.0
    return lambda value: convert(value, reading.canonical, reading.unit) / share


def _bound(value: float, turn: Callable[[float], float]) -> float | None:
    return round(turn(value), 6) if math.isfinite(value) else None


def _plain(value: float | None) -> float | None:
    return None if value is None else float(value)
