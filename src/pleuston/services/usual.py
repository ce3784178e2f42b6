"""What is usual for a tank: the readings it gets, the last amounts, what lives in it.

The quick log offers this first, so that most entries are one tap.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any

from pleuston.records.kinds import READINGS
from pleuston.records.library import ANIMAL_GROUPS, library
from pleuston.records.record import Entry
from pleuston.services.tanks import tank_sheet
from pleuston.store import catalogue
from pleuston.store.entries import entries_in_force, entry_of
from pleuston.store.session import Database
from pleuston.store.usual import last_readings, whats_of

LATELY = timedelta(days=120)
MOST_PRESETS = 6
_CONTAINER = re.compile(r"container (\d+(?:\.\d+)?) g", re.ASCII)
HALF_STEPS = {
    "temperature": 0.25, "room_temperature": 0.25, "ec25": 5.0, "pen_ppm": 0.5, "humidity": 2.5,
    "level_drop": 0.5, "cover": 5.0, "ph": 0.05, "oxygen": 0.1, "oxygen_pct": 1.0,
    "light_ppfd": 5.0,
}  # fmt: skip
"""Half the smallest step that the usual instrument shows, where no reading tells it yet."""
INSTRUMENTS = MappingProxyType({
    "temperature": "thermometer", "room_temperature": "thermometer", "ec25": "pen",
    "pen_ppm": "", "humidity": "dial", "level_drop": "ruler", "cover": "eye", "ph": "meter",
    "oxygen": "meter", "oxygen_pct": "meter", "light_ppfd": "meter",
})  # fmt: skip
"""Readings that an instrument shows, and the word for it where none was noted yet."""
KIT_WORDS = frozenset({"chart", "titration", "drops"})
ALWAYS = ("temperature", "ec25", "cover", "nitrate_ion", "ph", "kh", "gh")
"""Readings offered to a tank that has none yet."""


def by_kit(method: str) -> bool:
    """Say whether a reading's method names a kit.

    >>> by_kit("blue box (titration)"), by_kit("thermometer")
    (True, False)
    """
    return bool(KIT_WORDS & set(re.findall("[a-z]+", method.casefold())))


def half_step(reading: str, last: Entry | None) -> float:
    """Half the step of an instrument, as its last reading tells it; else the usual one."""
    usual = HALF_STEPS.get(reading, 0.0)
    if last is not None and last.low is not None and last.high is not None:
        half = round((last.high - last.low) / 2.0, 6)
        if 0.0 < half <= 10.0 * usual:
            return half
    return usual


@dataclass(frozen=True)
class Preset:
    """An amount noted lately, ready to be noted again."""

    what: str
    low: float | None
    high: float | None
    unit: str
    times: int


@dataclass(frozen=True)
class Usual:
    """What the forms of one tank offer first."""

    sheet: dict[str, Any]
    whats: dict[str, list[str]]
    """What was noted by kind, most often first."""
    last: dict[tuple[str, str], Entry]
    """The last entry by kind and what."""
    lately: list[Entry]
    waters: list[str]
    feeds: list[str]

    @property
    def readings(self) -> list[str]:
        """The readings this tank gets, most often first."""
        own = [what for what in self.whats.get("reading", ()) if what in READINGS]
        return own or list(ALWAYS)

    def first(self, kind: str, others: Iterable[str]) -> list[str]:
        """Names of a kind: those noted before, then the others by name."""
        own = self.whats.get(kind, [])
        return [*own, *sorted(set(others) - set(own))]

    def presets(self, kind: str) -> list[Preset]:
        """The amounts of a kind noted most often lately."""
        found: Counter[tuple[Any, ...]] = Counter()
        for entry in self.lately:
            if entry.kind == kind and entry.amount:
                found[entry.what, entry.low, entry.high, entry.unit] += 1
        best = found.most_common(MOST_PRESETS)
        best.sort(key=lambda item: item[0][1] or 0.0)
        return [Preset(what, low, high, unit, n) for (what, low, high, unit), n in best]

    def last_of(self, kind: str) -> Entry | None:
        """The last entry of a kind."""
        return next((entry for entry in self.lately if entry.kind == kind), None)

    def by_instrument(self, reading: str) -> Entry | None:
        """The last reading, where an instrument and not a kit gave it."""
        last = self.last.get(("reading", reading))
        return None if last is None or by_kit(last.method) else last

    def half_step(self, reading: str) -> float:
        """Half the step of the instrument, as the last such reading tells it."""
        return half_step(reading, self.by_instrument(reading))

    def container_g(self) -> float | None:
        """What the container weighed at the last harvest."""
        for entry in self.lately:
            match = _CONTAINER.search(entry.method) if entry.kind == "harvest" else None
            if match:
                return float(match[1])
        return None

    def species(self, kinds: Sequence[str], here: Iterable[str]) -> tuple[list[str], list[str]]:
        """Species in the tank first, then all others of the library that fit."""
        animals = kinds[0] in ("death", "birth", "stock_in", "stock_out")
        present = list(here)
        known = [
            item.name for item in library().species.values()
            if (item.group in ANIMAL_GROUPS) == animals
        ]  # fmt: skip
        return present, sorted(set(known) - set(present))


def usual(db: Database, tank: str, now: datetime) -> Usual:
    """Give what is usual for a tank; an unknown name is refused."""
    sheet = tank_sheet(db, tank, now)
    with db.read() as connection:
        counted = whats_of(connection, tank)
        rows = entries_in_force(
            connection, tank=tank, since=now - LATELY, newest_first=True, rack_wide=False
        )
        waters = catalogue.names_of(connection, "water")
        waters += catalogue.names_of(connection, "blend")
        feeds = catalogue.names_of(connection, "feed")
    whats: dict[str, list[str]] = {}
    for row in counted:
        whats.setdefault(row.kind, []).append(row.what)
    lately = [entry_of(row) for row in rows]
    last: dict[tuple[str, str], Entry] = {}
    for entry in lately:
        last.setdefault((entry.kind, entry.what), entry)
    shelf = library()
    return Usual(
        sheet=sheet, whats=whats, last=last, lately=lately,
        waters=[*waters, *sorted(set(shelf.waters) - set(waters))],
        feeds=[*feeds, *sorted(set(shelf.feeds) - set(feeds))],
    )  # fmt: skip


def walk(db: Database) -> list[str]:
    """The tanks in walking order."""
    with db.read() as connection:
        return catalogue.names_of(connection, "tank")


PENS = ("ec25", "pen_ppm")


@dataclass(frozen=True)
class Stop:
    """A tank of the round with pen and thermometer, and what it showed last."""

    tank: str
    pen: str
    method: str
    last: dict[str, Entry]


def stops(db: Database, now: datetime) -> list[Stop]:
    """Every tank in walking order with its usual pen and last values."""
    with db.read() as connection:
        tanks = catalogue.names_of(connection, "tank")
        rows = last_readings(connection, (*PENS, "temperature"), now - LATELY)
    last: dict[str, dict[str, Entry]] = {tank: {} for tank in tanks}
    for row in rows:
        if row.tank in last:
            last[row.tank][row.what] = entry_of(row)
    rack = Counter(what for seen in last.values() for what in seen)
    usual_pen = max(PENS, key=lambda pen: rack[pen])
    found = []
    for tank, seen in last.items():
        own = sorted((e for e in seen.values() if e.what in PENS), key=lambda e: e.at)
        pen = own[-1].what if own else usual_pen
        method = own[-1].method if own else "pen"
        found.append(Stop(tank, pen, method, seen))
    return found
