"""What the screens of the quick log show, put together from what is usual for a tank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any

from pleuston.records.kinds import READINGS, Reading
from pleuston.records.record import Entry
from pleuston.services.kits import Kit, Step, steps_of
from pleuston.services.usual import INSTRUMENTS, Stop, Usual, half_step
from pleuston.web.words import Units, number, quantity, unit_shown

SCREENS = {
    "reading": "reading", "kits": "kit_round", "feed": "feed", "harvest": "harvest",
    "top_up": "top_up", "water_change": "top_up", "seen": "seen", "animals": "animals",
    "stock_in": "animals", "stock_out": "animals", "death": "animals", "birth": "animals",
    "plants": "plants", "plant_in": "plants", "plant_out": "plants", "dose": "dose",
    "setting": "setting", "note": "note",
}  # fmt: skip
"""What a log page is asked for -> its screen."""
TILES = (
    ("reading", "Reading", "flask"), ("kits", "Several readings", "round"),
    ("feed", "Feed", "feed"), ("harvest", "Taken out", "harvest"), ("top_up", "Water", "drop"),
    ("seen", "Seen", "eye"), ("animals", "Animals", "fish"), ("plants", "Plants", "sprout"),
    ("dose", "Dose", "dose"), ("setting", "Setting", "sliders"), ("note", "Note", "note"),
)  # fmt: skip
PEN_FACTORS = ("pen factor 0.5", "pen factor 0.64", "pen factor 0.7")
MORNING, EVENING = 8, 20


@dataclass(frozen=True)
class Choice:
    """A time to back-date to, by one tap."""

    value: str
    label: str


def times(now: datetime, zone: tzinfo | None) -> list[Choice]:
    """Now, this morning, yesterday evening and yesterday morning, as far as they are past."""
    here = now.astimezone(zone) if zone else now
    found = [Choice("", "now")]
    days = ((0, "this", MORNING), (-1, "yesterday", EVENING), (-1, "yesterday", MORNING))
    for day, word, hour in days:
        at = (here + timedelta(days=day)).replace(hour=hour, minute=0, second=0, microsecond=0)
        if at < here:
            part = "morning" if hour == MORNING else "evening"
            text = at.isoformat(timespec="minutes") if zone is None else f"{at:%Y-%m-%dT%H:%M}"
            found.append(Choice(text, f"{word} {part}, {at:%a %H:%M}"))
    return found


@dataclass(frozen=True)
class Scale:
    """How an instrument's reading is typed: its unit, last value and smallest step."""

    unit: str
    shown: str
    last: str
    half: str
    step: str
    least: str
    most: str


def scale(units: Units, reading: Reading, last: Entry | None, half: float) -> Scale:
    """The scale of an instrument in the units of the person who reads it."""
    unit = units.unit(reading.unit) if reading.unit else ""
    value = last.amount if last is not None else None

    def here(amount: float) -> float:
        return units.convert(amount, reading.unit) if reading.unit else amount

    least, most = here(reading.least), here(reading.most)
    span = here(half) - here(0.0)
    digits = max(0, 2 if span < 0.2 else 1 if span < 2 else 0)
    return Scale(
        unit=unit, shown=unit_shown(unit),
        last="" if value is None else f"{here(value):.{digits}f}",
        half=f"{span:.3g}", step=f"{2 * span:.3g}", least=f"{least:g}", most=f"{most:g}",
    )  # fmt: skip


@dataclass(frozen=True)
class ReadingForm:
    """The ways to note one reading: the steps of kits, an instrument, tens of a percent."""

    reading: Reading
    name: str
    kits: list[tuple[Kit, list[Step]]]
    scale: Scale
    instrument: bool
    last: Entry | None
    method: str
    by_kit: bool
    """True where a kit, not an instrument, is what this tank is read with."""


def reading_form(use: Usual, what: str, kits: Sequence[Kit], units: Units) -> ReadingForm:
    """Put together how a reading is noted in this tank."""
    reading = READINGS[what]
    last = use.last.get(("reading", what))
    half = use.half_step(what) or 0.0
    own = [(kit, steps_of(kit)) for kit in kits if kit.reading == what]
    shown = use.by_instrument(what)
    method = shown.method if shown is not None else INSTRUMENTS.get(what, "")
    return ReadingForm(
        reading=reading, name=quantity(what), kits=own, last=last, method=method,
        scale=scale(units, reading, shown, half),
        instrument=what in INSTRUMENTS and what != "cover",
        by_kit=bool(own) and (what not in INSTRUMENTS or shown is None),
    )  # fmt: skip


def covers() -> list[tuple[str, str]]:
    """Tens of a percent of cover as the eye tells them: label and interval."""
    found = [("none", "0|2")]
    found += [(f"{ten} %", f"{ten - 5}|{ten + 5}") for ten in range(10, 100, 10)]
    return [*found, ("all", "95|100")]


def kit_round(use: Usual, kits: Sequence[Kit], units: Units) -> list[ReadingForm]:
    """The usual readings of a tank on one page."""
    wanted = dict.fromkeys(use.readings)
    return [reading_form(use, what, kits, units) for what in wanted]


def stop_forms(stops: Sequence[Stop], units: Units) -> list[dict[str, Any]]:
    """The round with pen and thermometer: scales of each tank."""
    found = []
    for stop in stops:
        scales = {}
        for what in ("temperature", stop.pen):
            last = stop.last.get(what)
            scales[what] = scale(units, READINGS[what], last, half_step(what, last))
        found.append({"tank": stop.tank, "pen": stop.pen, "method": stop.method, "scales": scales})
    return found


def preset_label(units: Units, what: str, low: float | None, high: float | None, unit: str) -> str:
    """Say a preset: how much of what."""
    if low is None or high is None or low == high:
        much = units.amount(low if high is None else high, unit) if unit else number(high)
    else:
        much = units.range(low, high, unit)
    return f"{much} {what.replace('_', ' ')}".strip()
