"""Texts of the sheets: harmless, short enough, and with units as they are printed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from datetime import datetime
from typing import Any

LONGEST = 2000
"""A text longer than this is cut: a sheet is no place for it."""
NAME_LONGEST = 48
_SPELLINGS = (
    (re.compile(r"\buS/cm\b"), "µS/cm"),
    (re.compile(r"\bug/L\b"), "µg/L"),
    (re.compile(r"(?<=\d) ?dH\b"), " °dH"),
    (re.compile(r"\bNH3\b"), "NH₃"),
    (re.compile(r"\bmg/d\b"), "mg a day"),
    (re.compile(r"\bumol/m2/s\b"), "µmol/m²/s"),
)
UNITS: Mapping[str, str] = {
    "dH": "°dH", "C": "°C", "uS/cm": "µS/cm", "ug/L": "µg/L", "K": "°C",
    "umol/m2/s": "µmol/m²/s", "g/day": "g a day", "1": "",
}  # fmt: skip
READINGS: Mapping[str, str] = {
    "ammonium": "Ammonia, as N", "ammonium_ion": "Ammonia, as NH₄⁺", "nitrite": "Nitrite, as N",
    "nitrite_ion": "Nitrite, as NO₂⁻", "nitrate": "Nitrate, as N",
    "nitrate_ion": "Nitrate, as NO₃⁻", "phosphate_ion": "Phosphate, as PO₄³⁻", "ph": "pH",
    "kh": "KH", "gh": "GH", "ec25": "Conductivity, 25 °C", "pen_ppm": "Dissolved solids (pen)",
    "temperature": "Temperature", "oxygen": "Oxygen", "oxygen_pct": "Oxygen, of saturation",
    "cover": "Floating cover", "level_drop": "Level below mark",
    "room_temperature": "Room temperature", "light_ppfd": "Light at the surface",
}  # fmt: skip
PHRASES: Mapping[str, str] = {
    "thin": "Take out {amount} of {what}, drained",
    "open_surface": "Keep {amount} of the surface open",
    "feed_less": "Feed {amount}",
    "feed_more": "Feed a little more: {amount}",
    "stop_feeding": "Stop feeding",
    "top_up": "Top up {amount} with {what}",
    "change_top_up": "Top up with {what} from now on",
    "water_change": "Change {amount}, with {what}",
    "dose": "Dose {amount} of {what}",
    "test": "Test {what}",
    "look": "Look at it: {what}",
    "remove_dead": "Find and take out the dead",
    "no_new_animals": "No new animals",
    "check_source": "Have {what} tested",
    "check_kit": "Check the kit: {what}",
    "cool": "Cool the water",
}
STIR = {"film": "Draw the film off", "surface": "Move the surface at night"}


def clean(text: str, longest: int = LONGEST) -> str:
    """A text without control characters and turners of direction, in one line, not too long.

    >>> clean("a" + chr(0x202E) + "b" + chr(10) + "c" + chr(7)), clean("x" * 9, 4)
    ('ab c', 'xxx…')
    """
    kept = "".join(
        " " if c in "\t\n\r\v\f\u2028\u2029" else c
        for c in str(text)[: 4 * longest]
        if c in "\t\n\r\v\f\u2028\u2029" or unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co")
        or c in "\u200c\u200d"
    )  # fmt: skip
    one = " ".join(kept.split(" ")).strip()
    return one if len(one) <= longest else one[: longest - 1].rstrip() + "…"


def short_name(text: str) -> str:
    """A name that fits a heading; names without a letter to print say so.

    >>> short_name("Fern"), short_name(chr(0x202E))
    ('Fern', '(no name)')
    """
    return clean(text, NAME_LONGEST) or "(no name)"


def pretty(text: str) -> str:
    """Units and formulas as they are printed.

    >>> pretty("KH 4 dH and 450 uS/cm, NH3")
    'KH 4 °dH and 450 µS/cm, NH₃'
    """
    for spelling, printed in _SPELLINGS:
        text = spelling.sub(printed, text)
    return text


def unit_of(unit: str) -> str:
    """A unit as it is printed."""
    return UNITS.get(unit, unit)


def number(value: float) -> str:
    """A number of three figures, without exponent.

    >>> number(24.141), number(312.012), number(0.0321), number(1234.5), number(0.0)
    ('24.1', '312', '0.0321', '1234', '0')
    """
    if abs(value) >= 100:
        return f"{value:.0f}"
    text = f"{value:.3g}"
    return text if "e" not in text else f"{value:.6f}".rstrip("0").rstrip(".")


def rounded(value: float) -> str:
    """A number of two figures, for acts: nobody weighs the third.

    >>> rounded(24.141), rounded(86.655), rounded(312.0), rounded(4.218)
    ('24', '87', '310', '4.2')
    """
    if abs(value) >= 100:
        return f"{round(value, -1):.0f}"
    return number(float(f"{value:.2g}"))


def with_unit(value: float | None, unit: str, write: Any = rounded) -> str:
    """A number with its unit; nothing for nothing."""
    return "" if value is None else f"{write(value)} {unit_of(unit)}".strip()


def span(low: float | None, high: float | None, unit: str = "") -> str:
    """A reading as the interval that it stands for.

    >>> span(0.1, 0.25, "mg/L"), span(None, 0.05, "mg/L"), span(7.5, 7.5), span(5, None, "dH")
    ('0.1 to 0.25 mg/L', 'below 0.05 mg/L', '7.5', 'above 5 °dH')
    """
    if low is None and high is None:
        return "not given"
    if low is None or high is None:
        side, end = ("below", high) if low is None else ("above", low)
        return f"{side} {with_unit(end, unit, number)}"
    first, last = number(low), number(high)
    return f"{first if first == last else f'{first} to {last}'} {unit_of(unit)}".strip()


def phrase(act: Mapping[str, Any]) -> str:
    """An act in the words of a round sheet.

    >>> phrase({"act": "thin", "what": "Lemna minor", "amount": 24.1, "unit": "g"})
    'Take out 24 g of Lemna minor, drained'
    """
    what = short_name(READINGS.get(act["what"], act["what"]).replace("_", " "))
    if act["act"] == "test" and act["what"] in READINGS:
        what = READINGS[act["what"]].split(",")[0]
        what = what if what.isupper() or what == "pH" else what.lower()
    amount = with_unit(act["amount"], act["unit"])
    if act["act"] == "stir_surface":
        return STIR.get(act["what"], "Move the surface")
    made = PHRASES.get(act["act"])
    if made is None:
        return " ".join(w for w in (act["act"].replace("_", " ").capitalize(), what, amount) if w)
    if "{amount}" in made and not amount:
        return made.replace("{amount} of ", "").replace("{amount}", "less").format(what=what)
    return made.format(what=what, amount=amount)


def day_of(moment: datetime) -> str:
    """A date as it is printed.

    >>> day_of(datetime(2026, 7, 20))
    'Mon 20 July 2026'
    """
    return f"{DAYS[moment.weekday()]} {moment.day} {MONTHS[moment.month - 1]} {moment.year}"


def short_day(moment: datetime) -> str:
    """A date without its year.

    >>> short_day(datetime(2026, 7, 20))
    '20 Jul'
    """
    return f"{moment.day} {MONTHS[moment.month - 1][:3]}"


DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
