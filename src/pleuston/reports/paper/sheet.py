"""A sheet ready to be set: its kind, its title and what it says, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pleuston.reports.paper.words import clean

PAPERS: Mapping[str, str] = {
    "round": "a4", "holiday": "a4", "water-record": "a4", "vet": "a4", "slip": "a4",
    "labels": "a4-bare", "tank-card": "a5", "incidents": "a5",
}  # fmt: skip
"""The paper each kind of sheet is set on."""


DRAWN = "qr"
"""The field of a drawing: made here, not by a keeper, and never cut."""


@dataclass(frozen=True)
class Sheet:
    """What a sheet says; made holds no character that paper or page can't take."""

    kind: str
    title: str
    made: datetime
    data: Mapping[str, Any]

    @property
    def paper(self) -> str:
        """a4, a5, or a4-bare without margins."""
        return PAPERS[self.kind]


def sheet_of(kind: str, title: str, made: datetime, data: Mapping[str, Any]) -> Sheet:
    """Make a sheet, all its texts cleaned."""
    return Sheet(kind, clean(title, 120), made, cleaned(data))


def cleaned(value: Any) -> Any:
    """The same data with every text of a keeper cleaned."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, Mapping):
        return {key: v if key == DRAWN else cleaned(v) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [cleaned(inner) for inner in value]
    return value
