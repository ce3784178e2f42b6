"""What animals tell of oxygen and copper: gasping, deaths, or weeks of calm, as coarse readings.

Nearly all fishes that can't breathe air come to the surface when oxygen falls to 0.3 to
2.1 mg/L (kramer1982). Gasping therefore reads as little oxygen at that hour, and weeks
without gasping or deaths read as enough of it before the lamp.

Shrimp and snails die of copper long before fish or plants show anything: half of a river
shrimp's adults died within four days at 31 ug/L, and 8 to 15 ug/L were the most that pond
snails and amphipods bore for six weeks (arthur1970). Several of them dead within two weeks
may therefore be a sign of copper, if a weak one, and young ones or a month without any
death one that there is little.
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
POISONED = 0.01
"""Copper that kills several shrimp or snails within two weeks, at least [mg/L]."""
BORNE = 0.03
"""Copper that shrimp live and breed in, at most [mg/L]."""
SEVERAL = 3.0
"""Deaths within two weeks that call for a cause."""
QUIET = 28.0
"""Days without a death, of shrimp or snails, that speak of little copper."""
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


def poison_readings(case: Case, until: float) -> list[ReadingInterval]:
    """Readings of copper that the lives and deaths of shrimp and snails stand for."""
    entries = [e for e in case.record.entries_of(case.tank.name) if e.tank == case.tank.name]
    lives = [e for e in entries if e.kind in ("stock_in", "birth") and _shelled(e)]
    if not lives:
        return []
    deaths = [(case.clock.day(e.at), e.amount or 1.0) for e in _of_kind(tuple(entries), "death")
              if _shelled(e)]  # fmt: skip
    since = min(case.clock.day(e.at) for e in lives)
    found: list[ReadingInterval] = []
    day = since + APART
    while day <= until:
        lately = sum(n for t, n in deaths if day - APART < t <= day)
        quiet = day - since >= QUIET and not any(day - QUIET < t <= day for t, _ in deaths)
        if day > 0.0 and lately >= SEVERAL:
            found.append(ReadingInterval("copper", POISONED, None, day, "deaths"))
        elif day > 0.0 and quiet:
            found.append(ReadingInterval("copper", None, BORNE, day, "alive"))
        day += APART
    return found


def _shelled(entry: Entry) -> bool:
    return library().find_species(entry.what).group in ("shrimp", "snails")


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
