"""What is known of a tank when a sheet is made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from pleuston.base.errors import UnknownNameError
from pleuston.records.library import Species, library
from pleuston.records.record import Entry, Record, Tank
from pleuston.reports.paper.words import number, short_name

FEED_DAYS = 28


@dataclass(frozen=True)
class Facts:
    """A tank as it stands at a moment, by its record alone."""

    record: Record
    tank: Tank
    moment: datetime
    animals: Mapping[str, float]
    floating: Sequence[str]
    rooted: Sequence[str]
    address: str
    """Where its log page is."""

    @property
    def name(self) -> str:
        """Its name, short enough for a heading."""
        return short_name(self.tank.name)

    @property
    def local(self) -> datetime:
        """The moment on the rack's clock."""
        return self.record.local(self.moment)

    def entries(self, days: float) -> list[Entry]:
        """Its own entries of the last days, oldest first."""
        since = self.moment - timedelta(days=days)
        found = self.record.entries_of(self.tank.name, until=self.moment)
        return [e for e in found if e.tank == self.tank.name and e.at > since]

    @property
    def feed_per_day(self) -> float | None:
        """Grams of all feeds a day over the last four weeks; None when none was noted."""
        meals = [e for e in self.entries(FEED_DAYS) if e.kind == "feed"]
        if not meals:
            return None
        first = min(e.at for e in self.record.entries if e.tank == self.tank.name)
        span = max(7.0, min(FEED_DAYS, (self.moment - first).total_seconds() / 86400.0))
        return sum(e.amount or 0.0 for e in meals) / span

    @property
    def feeds(self) -> list[str]:
        """The feeds of the last four weeks."""
        return list(dict.fromkeys(e.what for e in self.entries(FEED_DAYS) if e.kind == "feed"))


def species_of(name: str) -> Species | None:
    """What the library knows of a species; None for one it doesn't know."""
    try:
        return library().find_species(name)
    except UnknownNameError:
        return None


def both_names(name: str) -> dict[str, str]:
    """Scientific and common name; a name that is not known stands alone."""
    known = species_of(name)
    if known is None:
        return {"name": short_name(name), "common": ""}
    return {"name": known.name, "common": known.common[0] if known.common else ""}


def animals_said(facts: Facts) -> list[dict[str, str]]:
    """Animals with their number, most first."""
    ordered = sorted(facts.animals.items(), key=lambda pair: -pair[1])
    return [{"count": number(n), **both_names(name)} for name, n in ordered]
