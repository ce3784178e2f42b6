"""A few entries of the invented keeper are plainly wrong; the truth is kept beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from demo.keeper import Note, text


@dataclass(frozen=True)
class Slip:
    """A wrong entry and what was true."""

    id: str
    at: str
    tank: str
    entry: str
    kind: str
    truth: str


Wrong = Callable[[Note], str]


def _ten_times(note: Note) -> str:
    truth = f"{note.low} {note.unit}"
    note.low = note.high = text(10.0 * float(note.low))
    return truth


def _a_tenth(note: Note) -> str:
    truth = f"{note.low} to {note.high} {note.unit}"
    note.low, note.high = text(float(note.low) / 10.0, 2), text(float(note.high) / 10.0, 2)
    return truth


def _as_nitrogen(note: Note) -> str:
    note.what = note.what.removesuffix("_ion")
    return f"the numbers are of the ion ({note.what}_ion)"


def _other_tank(name: str) -> Wrong:
    def change(note: Note) -> str:
        truth = f"it was {note.tank}"
        note.tank = name
        return truth

    return change


SLIPS: tuple[tuple[str, str, str, str, str, Wrong], ...] = (
    ("Birch", "harvest", "Spirodela polyrhiza", "2026-04-05", "decimal slip", _ten_times),
    ("Hazel", "reading", "ec25", "2026-05-17", "decimal slip", _a_tenth),
    ("Alder", "feed", "flake", "2026-06-02", "decimal slip", _ten_times),
    ("Fern", "reading", "nitrate_ion", "2026-04-05", "N and ion mixed up", _as_nitrogen),
    ("Iris", "reading", "nitrite_ion", "2026-03-29", "N and ion mixed up", _as_nitrogen),
    ("Elder", "reading", "pen_ppm", "2026-06-07", "wrong tank", _other_tank("Dogwood")),
    ("Gorse", "harvest", "Lemna minor", "2026-04-26", "wrong tank", _other_tank("Hazel")),
)
"""Tank, kind, what, first day it may be, sort of slip, and the change."""


def slip_up(notes: list[Note]) -> list[Slip]:
    """Spoil the first fitting entry of each slip; give what was true."""
    slips = []
    for tank, kind, what, day, sort, change in SLIPS:
        note = next(
            n for n in notes
            if (n.tank, n.kind, n.what) == (tank, kind, what) and n.at.date().isoformat() >= day
        )  # fmt: skip
        entry = f"{kind} {what}"
        truth = change(note)
        when = note.at.isoformat(timespec="minutes")
        slips.append(Slip(note.id, when, note.tank, entry, sort, truth))
    return slips
