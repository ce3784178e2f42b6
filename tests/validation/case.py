"""What a validation case is: inputs, a published value, the model's own, and a tolerance."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

OPEN_DATA = Path(__file__).parents[2].parent / "shared" / "data"
"""Open data of others, beside the project's folder; none of it belongs to the project."""


class MissingDataError(Exception):
    """A file of open data is not there."""


@dataclass(frozen=True)
class Finding:
    """One number of the model beside a published one.

    `low` to `high` is the band that a match must lie in; where the model is known to miss
    it, `held` is the band it does reach and `because` says why it misses.
    """

    what: str
    unit: str
    published: tuple[float, float] | None
    predicted: float
    low: float
    high: float
    reason: str
    held: tuple[float, float] | None = None
    because: str = ""

    @property
    def meets(self) -> bool:
        """Whether the model lies in the band."""
        return self.low <= self.predicted <= self.high

    @property
    def holds(self) -> bool:
        """Whether the model lies in the band, or in the one it is known to reach."""
        low, high = self.held or (self.low, self.high)
        return self.meets or low <= self.predicted <= high

    @property
    def error(self) -> float | None:
        """Distance from the published range: points for per cent, else a share of its end."""
        if self.published is None:
            return None
        low, high = self.published
        end = min(max(self.predicted, low), high)
        if self.unit == "%":
            return self.predicted - end
        return (self.predicted - end) / abs(end) if end else None


@dataclass(frozen=True)
class Case:
    """An experiment run again."""

    name: str
    title: str
    source: str
    where: str
    assumed: str
    run: Callable[[], list[Finding]]
    slow: bool = False


def one(value: float) -> tuple[float, float]:
    """A published value that is not a range."""
    return value, value


def within(value: float, factor: float) -> tuple[float, float]:
    """The band from a value over a factor to the value times it."""
    return value / factor, value * factor


def open_data(name: str) -> Path:
    """A file of the open data. Raises MissingDataError when it is not there."""
    path = OPEN_DATA / name
    if not path.is_file():
        raise MissingDataError(name)
    return path


def open_rows(name: str) -> list[dict[str, str]]:
    """The rows of a file of the open data, by column."""
    with open_data(name).open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))
