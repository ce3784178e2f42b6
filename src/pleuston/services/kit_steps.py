"""A rack's own kits as ways to read a quantity: where their steps part."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pleuston.planning.gauges import ASKED, Gauge, gauge, usual_gauges
from pleuston.planning.outlook import SHOWN
from pleuston.records.given import converted
from pleuston.records.kinds import READINGS
from pleuston.services.kits import Kit, kits, steps_of
from pleuston.store.exchange_units import Amount, reading_amount
from pleuston.store.session import Database, is_database, open_database

Source = Path | str


def gauges_of(rack: Source | Database) -> tuple[Gauge, ...]:
    """How the keeper of a rack reads each quantity: own kits where there are, else the usual."""
    if isinstance(rack, Database):
        return gauges_with(kits(rack))
    if not is_database(rack):
        return usual_gauges()
    db = open_database(rack)
    try:
        return gauges_with(kits(db))
    finally:
        db.close()


def gauges_with(found: Iterable[Kit]) -> tuple[Gauge, ...]:
    """The usual ways to read, the keeper's own kits in their place; examples count for nothing."""
    own: dict[str, Gauge] = {}
    for kit in found:
        plain = kit.reading.removesuffix("_ion")
        if kit.own and plain in ASKED and plain not in own:
            own[plain] = _gauge(kit, plain)
    return tuple(own.get(g.reading, g) for g in usual_gauges())


def _gauge(kit: Kit, plain: str) -> Gauge:
    """A kit's gauge; its steps part in the unit that the quantity is shown in."""
    given = {e for step in steps_of(kit) for e in (step.low, step.high) if e is not None}
    scale = SHOWN[kit.reading].scale / SHOWN[plain].scale if kit.reading in SHOWN else 1.0
    reading = READINGS[kit.reading]
    edges = []
    for edge in sorted(given):
        number = converted(edge)
        amount = reading_amount(reading.name, reading.unit, Amount(number, number, kit.unit))
        if amount.low is not None and amount.low > 0.0:
            edges.append(float(amount.low) / scale)
    return gauge(plain, edges, kit.name, kit.way)
