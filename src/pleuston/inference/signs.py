"""What animals tell of the oxygen: gasping, or weeks of calm, as coarse readings.

Nearly all fishes that can't breathe air come to the surface when oxygen falls to 0.3 to
2.1 mg/L (kramer1982). Gasping therefore reads as little oxygen at that hour, and weeks
without gasping or deaths read as enough of it before the lamp.
"""

from __future__ import annotations

from pleuston.engine.case import Case
from pleuston.inference.readings import ReadingInterval
from pleuston.records.library import library
from pleuston.records.record import Entry

GASPING = 2.5
"""Oxygen that gasping animals have at most [mg/L]: the highest threshold and some doubt."""
CALM = 2.5
"""Oxygen that calm animals have at least [mg/L], before the lamp."""
APART = 14.0
"""Days between two readings of calm: they tell nearly the same thing."""
DISTURBED = 7.0
"""Days around gasping or a death that are not calm."""
DAWN = 7.0
"""Local hour before the lamp."""


def breathing_readings(case: Case, until: float) -> list[ReadingInterval]:
    """Readings of oxygen that the animals' behaviour stands for, up to a day."""
    entries = case.record.entries_of(case.tank.name)
    gasps = [e for e in entries if e.kind == "seen" and e.what == "gasping"]
    found = [
        ReadingInterval("oxygen", None, GASPING, case.clock.day(e.at))
        for e in gasps
        if 0.0 < case.clock.day(e.at) <= until
    ]
    troubled = [case.clock.day(e.at) for e in (*gasps, *_of_kind(entries, "death"))]
    stocked = [case.clock.day(e.at) for e in _of_kind(entries, "stock_in") if _gilled(e)]
    if not stocked:
        return found
    last = -APART
    for day in _rounds(case, entries):
        if day < min(stocked) + DISTURBED or day > until or day - last < APART:
            continue
        if any(abs(day - t) <= DISTURBED for t in troubled):
            continue
        dawn = case.clock.day(case.clock.local_hour(case.clock.moment(day), DAWN))
        if 0.0 < dawn <= until:
            found.append(ReadingInterval("oxygen", CALM, None, dawn))
            last = day
    return found


def _of_kind(entries: tuple[Entry, ...], kind: str) -> list[Entry]:
    return [e for e in entries if e.kind == kind]


def _gilled(entry: Entry) -> bool:
    """Whether the animals of an entry have gills alone: fish and shrimp that breathe no air."""
    species = library().find_species(entry.what)
    return species.group in ("fish", "shrimp") and not species.breathes_air


def _rounds(case: Case, entries: tuple[Entry, ...]) -> list[float]:
    """Days on which the keeper looked at the tank long enough to thin, fill or test it."""
    looked = (e for e in entries if e.kind in ("harvest", "top_up", "reading") and e.tank)
    return sorted({round(case.clock.day(e.at), 3) for e in looked})
