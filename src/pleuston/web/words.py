"""How pages say things: names of quantities, amounts in the reader's units, ages, states."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from types import MappingProxyType
from typing import Any

from pleuston.base.units import convert, find
from pleuston.records.kinds import LIMIT_KINDS
from pleuston.records.record import Entry
from pleuston.services.people import units_of
from pleuston.services.who import Who
from pleuston.web.site import Site

STATES = MappingProxyType({
    "danger": ("danger", "Danger", "alert"),
    "act": ("act", "Act", "hand"),
    "watch": ("watch", "Watch", "eye"),
    "well": ("well", "Well", "leaf"),
    "unknown": ("unknown", "Not worked out yet", "clock"),
})  # fmt: skip
"""State of a tank -> style, word, icon."""

QUANTITIES = MappingProxyType({
    "ammonium": "Ammonium (as N)", "ammonium_ion": "Ammonium (as NH₄)",
    "nitrite": "Nitrite (as N)", "nitrite_ion": "Nitrite (as NO₂)",
    "nitrate": "Nitrate (as N)", "nitrate_ion": "Nitrate (as NO₃)",
    "phosphate_ion": "Phosphate (as PO₄)", "potassium": "Potassium", "iron": "Iron",
    "copper": "Copper", "ph": "pH", "kh": "Carbonate hardness", "gh": "General hardness",
    "ec25": "Conductivity at 25 °C", "pen_ppm": "Dissolved-solids pen",
    "temperature": "Water temperature", "oxygen": "Oxygen", "oxygen_pct": "Oxygen saturation",
    "oxygen_dawn": "Oxygen at dawn", "cover": "Cover", "level_drop": "Below the mark",
    "ammonia_nh3": "Toxic ammonia (NH₃ as N)", "dissolved_solids": "Dissolved solids",
    "room_temperature": "Room temperature", "humidity": "Room humidity",
    "light_ppfd": "Light at the surface", "ec_step": "Change of conductivity in a day",
    "ph_step": "Change of pH in a day", "temperature_step": "Change of temperature in a day",
})  # fmt: skip
KINDS = MappingProxyType({
    "reading": "Reading", "feed": "Feed", "harvest": "Taken out", "top_up": "Top-up",
    "water_change": "Water change", "dose": "Dose", "stock_in": "Animals in",
    "stock_out": "Animals out", "death": "Deaths", "birth": "Births", "plant_in": "Plants in",
    "plant_out": "Plants out", "seen": "Seen", "setting": "Setting",
    "soil_disturbed": "Soil disturbed", "power_off": "Power off", "power_on": "Power back",
    "holiday": "Holiday", "note": "Note", "photo": "Photo", "limit": "Own limit",
    "limit_end": "Own limit ended",
})  # fmt: skip
ACTS = MappingProxyType({
    "thin": "Thin", "open_surface": "Open the surface", "feed_less": "Feed less",
    "feed_more": "Feed more", "stop_feeding": "Stop feeding", "top_up": "Top up",
    "change_top_up": "Change the top-up water", "water_change": "Change water", "dose": "Dose",
    "test": "Test", "look": "Look", "remove_dead": "Remove the dead",
    "stir_surface": "Stir the surface", "light_more": "More light", "light_less": "Less light",
    "lid": "Lid", "cool": "Cool", "flow_less": "Less flow", "flow_more": "More flow",
    "add_plants": "Add plants", "no_new_animals": "No new animals",
    "move_animals": "Move animals", "check_source": "Check the source",
    "check_kit": "Check the kit",
})  # fmt: skip
LINES = MappingProxyType({
    ("thin", ""): "Thin {what} by {much}", ("stir_surface", "film"): "Take the film off",
    ("stir_surface", ""): "Stir the surface", ("feed_less", ""): "Feed less: {much}",
    ("feed_more", ""): "Feed more: {much}", ("stop_feeding", ""): "Stop feeding",
    ("top_up", ""): "Top up {much} of {what}", ("dose", ""): "Dose {much} of {what}",
    ("water_change", ""): "Change {much} of water for {what}", ("test", ""): "Test {what}",
    ("change_top_up", ""): "Top up with {what} from now on",
    ("no_new_animals", ""): "No new animals", ("remove_dead", ""): "Remove the dead",
    ("check_source", ""): "Check the source: {what}", ("look", ""): "Look: {what}",
})  # fmt: skip
"""(act, what) -> the line that says it; an empty what stands for any."""
CHOICES = MappingProxyType({
    "volume": ("L", "US gal", "imp gal"), "temperature": ("degC", "degF"),
    "equivalents": ("dH", "mg/L CaCO3", "meq/L", "°e", "°f"), "mass": ("g", "oz"),
    "length": ("mm", "in"),
})  # fmt: skip
"""What a person may read and write in, by dimension; the first is the default."""
SHOWN = MappingProxyType({
    "degC": "°C", "degF": "°F", "C": "°C", "dH": "°dH", "uS/cm": "µS/cm", "ug/L": "µg/L",
    "umol/m2/s": "µmol/m²/s", "mg/L CaCO3": "mg/L CaCO₃",
})  # fmt: skip


ELEMENTS = MappingProxyType({
    "N": "Nitrogen", "P": "Phosphorus", "K": "Potassium", "Ca": "Calcium", "Mg": "Magnesium",
    "C": "Carbon", "Cu": "Copper", "Fe": "Iron", "Zn": "Zinc", "water": "Water",
    "O2": "Oxygen", "dissolved_solids": "Dissolved solids",
})  # fmt: skip


@dataclass(frozen=True)
class Units:
    """The units of the person who reads, by dimension."""

    chosen: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, site: Site, who: Who | None) -> Units:
        """Give the units that a person chose, or the usual ones."""
        return cls(units_of(site.db, who.person) if who is not None else {})

    def unit(self, unit: str) -> str:
        """Give the unit that an amount in `unit` is shown in."""
        if not unit or unit in ("ppm", "%"):
            return unit
        dimension = find("degC" if unit == "C" else unit).dimension
        chosen = self.chosen.get(dimension, "")
        rough = unit in ("L", "g", "mm", "C", "degC", "dH")
        return chosen if chosen and rough else unit

    def convert(self, value: float, unit: str) -> float:
        """Turn a value in `unit` into the unit it is shown in."""
        to = self.unit(unit)
        return value if to == unit else convert(value, "degC" if unit == "C" else unit, to)

    def amount(self, value: float | None, unit: str, digits: int = 3) -> str:
        """Write an amount with its unit, as this person reads it."""
        if value is None:
            return ""
        return amount(self.convert(value, unit), self.unit(unit), digits)

    def range(self, low: float | None, high: float | None, unit: str) -> str:
        """Write an interval: open ends in words, equal ends once."""
        shown = unit_shown(self.unit(unit))
        if low is None and high is None:
            return "not known"
        if low is None or high is None:
            value = self.amount(low if high is None else high, unit)
            return f"above {value}" if high is None else f"below {value}"
        a, b = number(self.convert(low, unit)), number(self.convert(high, unit))
        return f"{a if a == b else f'{a} to {b}'} {shown}".strip()


def unit_shown(unit: str) -> str:
    """Give a unit as people write it.

    >>> unit_shown("uS/cm"), unit_shown("g")
    ('µS/cm', 'g')
    """
    return SHOWN.get(unit, unit)


def number(value: float | None, digits: int = 3) -> str:
    """Write a number with as many digits as mean something to a keeper.

    >>> number(0.03214), number(312.14), number(24.141), number(0.0), number(1234.0)
    ('0.032', '312', '24.1', '0', '1230')
    """
    if value is None:
        return ""
    if not math.isfinite(value):
        return "?"
    if value == 0.0 or abs(value) < 1e-6:
        return "0"
    digits = min(digits, 2) if abs(value) < 1.0 else digits
    places = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float | None, unit: str = "", digits: int = 3) -> str:
    """Write an amount with its unit."""
    text = number(value, digits)
    return f"{text} {unit_shown(unit)}".strip() if text else ""


def plural(count: float, one: str, many: str = "") -> str:
    """Write a count with its noun.

    >>> plural(1, "act"), plural(3, "act"), plural(2, "loss", "losses")
    ('1 act', '3 acts', '2 losses')
    """
    return f"{number(count)} {one if count == 1 else many or one + 's'}"


def age(then: datetime | None, now: datetime) -> str:
    """Say how long ago something was.

    >>> noon = datetime(2026, 5, 1, 12, tzinfo=UTC)
    >>> age(noon.replace(hour=11), noon), age(noon, noon), age(None, noon)
    ('60 min ago', 'just now', 'never')
    """
    if then is None:
        return "never"
    minutes = (now - then).total_seconds() / 60.0
    if minutes < -1.0:
        return "in " + _span(-minutes)
    return "just now" if minutes < 1.0 else f"{_span(minutes)} ago"


def _span(minutes: float) -> str:
    if minutes < 90:
        return f"{minutes:.0f} min"
    hours = minutes / 60.0
    if hours < 36:
        return f"{hours:.0f} h"
    days = hours / 24.0
    if days < 21:
        return f"{days:.0f} days"
    return f"{days / 7.0:.0f} weeks"


def local(time: datetime, zone: tzinfo | None, form: str = "%a %d %b %Y, %H:%M") -> str:
    """Write a time on the rack's own clock."""
    return time.astimezone(zone or UTC).strftime(form)


def quantity(name: str) -> str:
    """Give a quantity's name as a heading."""
    if name.startswith("harvestable_g "):
        return f"Could be taken out: {name.removeprefix('harvestable_g ')}"
    return QUANTITIES.get(name, sentence(name.replace("_", " ")))


def kind(name: str) -> str:
    """Give the word for a kind of entry."""
    return KINDS.get(name, name)


def act(name: str) -> str:
    """Give the word for an act."""
    return ACTS.get(name, sentence(name.replace("_", " ")))


def sentence(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]


def state(name: str | None) -> tuple[str, str, str]:
    """Give style, word and icon of a tank's state."""
    return STATES.get(name or "unknown", STATES["unknown"])


def act_line(item: Mapping[str, Any], units: Units) -> str:
    """Say an act in a few words: what, and how much."""
    what, unit = str(item["what"]), str(item["unit"])
    if "/" in unit and unit.split("/")[0] in ("g", "mg"):
        much = amount(item["amount"], unit)
    else:
        much = units.amount(item["amount"], unit, digits=2)
    form = LINES.get((item["act"], what)) or LINES.get((item["act"], ""))
    if form is None:
        return " ".join(part for part in (act(item["act"]), what, much) if part)
    said = form.format(what=lower(quantity(what)) if item["act"] == "test" else what, much=much)
    return " ".join(said.replace(" of  ", " ").split()).removesuffix(" by").removesuffix(" to")


def lower(text: str) -> str:
    """Begin a name within a sentence: small, unless it is written otherwise, as pH is.

    >>> lower("Oxygen at dawn"), lower("pH")
    ('oxygen at dawn', 'pH')
    """
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def element(name: str) -> str:
    """Give the word for what a ledger is kept of."""
    return ELEMENTS.get(name, name)


def time(text: str) -> datetime:
    """Read a time of an answer."""
    return datetime.fromisoformat(text)


def entry_line(entry: Entry, units: Units) -> str:
    """Say an entry in one line: kind, what, how much, note."""
    if entry.kind == "reading":
        return f"{quantity(entry.what)}: {units.range(entry.low, entry.high, entry.unit)}"
    much = units.range(entry.low, entry.high, entry.unit) if entry.amount is not None else ""
    if entry.kind in LIMIT_KINDS:
        return _limit_line(entry, units)
    if entry.kind == "seen":
        much = ""
    words = [kind(entry.kind), entry.what.replace("_", " "), much]
    line = " ".join(word for word in words if word)
    return f"{line}: {entry.note}" if entry.note else line


def _limit_line(entry: Entry, units: Units) -> str:
    """Say an own limit: of what, at least and at most, how bad beyond it, and why."""
    sides = (("at least", entry.low), ("at most", entry.high))
    said = [f"{word} {units.amount(v, entry.unit)}" for word, v in sides if v is not None]
    line = f"{kind(entry.kind)}: {lower(quantity(entry.what))} {' and '.join(said)}".strip()
    return f"{line} ({entry.method}): {entry.note}"


PAIRED = ("ammonium", "nitrite", "nitrate")


def standing(quantities: Mapping[str, Any]) -> dict[str, Any]:
    """Leave one way of writing each quantity: as the tank's own kit writes it, else as the ion."""
    kept = dict(quantities)
    for name in PAIRED:
        last = kept.get(name, {}).get("last")
        as_element = bool(last) and last["what"] == name
        kept.pop(f"{name}_ion" if as_element else name, None)
    return kept


def lines(value: Any) -> str:
    """Write stored data as lines of name and value, leaving out what is empty."""
    if isinstance(value, Mapping):
        return "\n".join(f"{k}: {v}" for k, v in value.items() if v not in (None, ""))
    if isinstance(value, list):
        return "\n\n".join(lines(item) for item in value)
    return "" if value is None else str(value)


def plain(value: Any) -> str:
    """Write a value of the library as text."""
    if isinstance(value, float | int) and not isinstance(value, bool):
        return number(value)
    if isinstance(value, Mapping):
        return ", ".join(f"{k} {plain(v)}" for k, v in value.items())
    if isinstance(value, list | tuple | frozenset | set):
        return ", ".join(plain(v) for v in value)
    return str(value)


def typed(value: Any) -> str:
    """Write a value as it would be typed into a form.

    >>> typed(24.0), typed(0.135), typed(None)
    ('24', '0.135', '')
    """
    if value is None:
        return ""
    return f"{value:.15g}" if isinstance(value, float) else str(value)
