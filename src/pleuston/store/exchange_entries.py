"""Read the rows of `entries.csv`: what happened, checked against the rest of the rack."""

from __future__ import annotations

import re
import uuid
from collections import Counter
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from datetime import tzinfo

from pleuston.base.errors import PleustonError
from pleuston.records.kinds import (
    KINDS,
    LIMIT_KINDS,
    LIMITED,
    READINGS,
    SETTINGS,
    SIGNS,
    Kind,
)
from pleuston.records.library import ANIMAL_GROUPS, PLANT_GROUPS, library
from pleuston.records.near import near, near_names
from pleuston.records.readings import FACTOR_LEAST, FACTOR_MOST, pen_factor
from pleuston.records.record import Entry, Tank
from pleuston.store.exchange_cells import Row
from pleuston.store.exchange_layout import ENTRIES
from pleuston.store.exchange_limits import limit_amount, limit_method
from pleuston.store.exchange_units import (
    Amount,
    BadUnitError,
    count_amount,
    in_unit,
    reading_amount,
    volume_amount,
)

_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)
_NAMESPACE = uuid.UUID("5d1c3c1e-6d5f-5b5e-9c0e-1b8f1f0f4a77")
_COLUMN = {column.name: column for column in ENTRIES.columns}


@dataclass
class EntryReader:
    """Reads entries one by one; what is wrong goes to the findings of the row."""

    zone: tzinfo | None
    tanks: Mapping[str, Tank]
    tank_names: AbstractSet[str]
    waters: AbstractSet[str]
    feeds: AbstractSet[str]
    _ids: dict[str, int] = field(default_factory=dict)
    _alike: Counter[tuple[str, ...]] = field(default_factory=Counter)

    def entry(self, row: Row) -> Entry | None:
        """Give the entry of a row; None when anything in it is refused."""
        before = len(row.findings.problems)
        name = self._id(row)
        at = row.time("at", self.zone)
        if not row.word("at"):
            row.refuse("at", "the time is missing", "say when it happened")
        if at is not None and ":" not in row.word("at"):
            row.changed("at", row.word("at"), "the first moment of that day")
        kind = KINDS.get(row.choice(_COLUMN["kind"]))
        if kind is None:
            self._tank(row, KINDS["note"])
            for column in ("low", "high"):
                row.number(_COLUMN[column])
            return None
        tank = self._tank(row, kind)
        what = self._what(row, kind)
        amount = self._amount(row, kind, what, self.tanks.get(tank))
        limit = kind.name in LIMIT_KINDS
        method = limit_method(row, kind.name) if limit else row.text("method")
        setup = self.tanks.get(tank)
        if at is not None and setup is not None and setup.started and at < setup.started:
            started = setup.started_text or setup.started.isoformat()
            row.refuse("at", f"the entry is before {tank!r} was started ({started})", "check both")
        if len(row.findings.problems) > before or at is None or amount is None:
            return None
        return Entry(
            id=name,
            at=at,
            tank=tank,
            kind=kind.name,
            what=what,
            low=amount.low,
            high=amount.high,
            unit=amount.unit,
            by=row.text("by"),
            method=method,
            note=row.text("note"),
            at_text=row.word("at"),
        )

    def _id(self, row: Row) -> str:
        text = row.word("id")
        if not text:
            return self._made_id(row)
        name = text.lower()
        if not _UUID.fullmatch(name):
            row.refuse("id", f"{text!r} is not a UUID", "leave the cell empty to have one made")
            return ""
        if name in self._ids:
            remedy = "give one of the two another id, or empty its cell"
            row.refuse("id", f"the id stands twice, first on line {self._ids[name]}", remedy)
        self._ids.setdefault(name, row.line)
        if name != text:
            row.changed("id", text, name)
        return name

    def _made_id(self, row: Row) -> str:
        """The same row gets the same id each time it is imported; a repeated row gets its own."""
        content = tuple(row.text(column) for column in ENTRIES.names[1:])
        self._alike[content] += 1
        name = str(uuid.uuid5(_NAMESPACE, "\x1f".join((*content, str(self._alike[content])))))
        row.changed("id", "", name)
        return name

    def _tank(self, row: Row, kind: Kind) -> str:
        wide = kind.rack_wide
        if kind.name == "reading":
            reading = READINGS.get(row.word("what"))
            wide = reading is not None and reading.rack_wide
        if not row.word("tank"):
            if not wide:
                row.refuse("tank", "the tank is missing", "name the tank")
            return ""
        return row.known("tank", self.tank_names, "tank")

    def _what(self, row: Row, kind: Kind) -> str:
        match kind.what:
            case "reading":
                return row.known("what", READINGS, "reading")
            case "feed":
                return row.known("what", self.feeds, "feed")
            case "water":
                return row.known("what", self.waters, "water")
            case "setting":
                return row.known("what", SETTINGS, "setting")
            case "limited":
                return row.known("what", LIMITED, "limit")
            case "animal":
                return _species(row, ANIMAL_GROUPS)
            case "plant":
                return _species(row, PLANT_GROUPS)
            case "substance":
                return _substance(row)
            case "sign":
                return _sign(row)
            case _:
                return row.text("what")

    def _amount(self, row: Row, kind: Kind, what: str, tank: Tank | None) -> Amount | None:
        """Give low, high and unit as the record holds them; None when refused."""
        before = len(row.findings.problems)
        given = Amount(row.number(_COLUMN["low"]), row.number(_COLUMN["high"]), row.word("unit"))
        if len(row.findings.problems) > before:
            return None
        try:
            taken = self._in_unit(row, kind, what, tank, given)
        except BadUnitError as fault:
            row.refuse("unit", fault.what, fault.remedy)
            return None
        if taken.low is not None and taken.high is not None and taken.low > taken.high:
            row.refuse(
                "low", f"low is above high ({taken.low.text} > {taken.high.text})", "swap them"
            )
        for column, old, new in (("low", given.low, taken.low), ("high", given.high, taken.high)):
            if old is not None and new is not None and old.text != new.text:
                old_text = f"{old.text} {given.unit}".strip()
                row.changed(column, old_text, f"{new.text} {taken.unit}".strip())
        if given.unit != taken.unit:
            row.changed("unit", given.unit, taken.unit)
        return taken

    def _in_unit(self, row: Row, kind: Kind, what: str, tank: Tank | None, given: Amount) -> Amount:
        if kind.name == "reading":
            return _reading(row, what, given)
        if kind.name == "setting":
            return self._setting(row, what, given)
        if kind.name in LIMIT_KINDS:
            return limit_amount(row, kind.name, what, given)
        if given.low is None and given.high is None and not given.unit:
            return given
        match kind.quantity:
            case "mass":
                taken = in_unit(given, kind.unit)
            case "volume":
                taken = volume_amount(given, tank.surface_m2 if tank else None)
            case "count":
                taken = count_amount(given)
            case "time":
                taken = in_unit(replace(given, unit=given.unit or kind.unit), kind.unit)
            case _:
                return given
        _not_negative(row, taken)
        return taken

    def _setting(self, row: Row, what: str, given: Amount) -> Amount:
        setting = SETTINGS.get(what)
        if setting is None:
            return given
        if setting.is_number:
            if given.low is None and given.high is None:
                if what != "heater_c":
                    row.refuse("low", f"the new value of {what} is missing", "give it")
                return replace(given, unit=setting.unit)
            taken = in_unit(replace(given, unit=given.unit or setting.unit), setting.unit)
            _within(row, taken, what, setting.least, setting.most)
            return taken
        word = row.word("note")
        if setting.choices and row.text("note") not in setting.choices:
            remedy = "write one word: " + ", ".join(setting.choices)
            row.refuse("note", f"{word!r} is not a value of {what}", remedy)
        if what == "top_up_water" and row.text("note") not in self.waters:
            row.refuse("note", f"the water {word!r} is not known", near_names(word, self.waters))
        return given


def _reading(row: Row, what: str, given: Amount) -> Amount:
    reading = READINGS.get(what)
    if reading is None:
        return given
    if given.low is None and given.high is None:
        row.refuse("low", "the reading has neither low nor high", "give at least one of them")
        return given
    taken = reading_amount(what, reading.unit, given)
    _within(row, taken, what, reading.least, reading.most)
    if what == "pen_ppm":
        try:
            pen_factor(row.text("method"))
        except ValueError:
            row.refuse(
                "method",
                f"{row.text('method')!r} holds no possible factor of a pen",
                f"write the factor, {FACTOR_LEAST:g} to {FACTOR_MOST:g}, such as 0.5; "
                "leave the cell empty when it is unknown",
            )
    return taken


def _within(row: Row, amount: Amount, what: str, least: float, most: float) -> None:
    for column, value in (("low", amount.low), ("high", amount.high)):
        if value is not None and not least <= value <= most:
            taken = f"{value.text} {amount.unit}".strip()
            what_is_wrong = f"{what} cannot be {taken}"
            row.refuse(column, what_is_wrong, f"it lies between {least:g} and {most:g}")


def _not_negative(row: Row, amount: Amount) -> None:
    for column, value in (("low", amount.low), ("high", amount.high)):
        if value is not None and value < 0:
            row.refuse(column, f"an amount cannot be negative ({value.text})", "check the sign")


def _species(row: Row, groups: tuple[str, ...]) -> str:
    given = row.word("what")
    try:
        name = library().find_species(given, groups).name
    except PleustonError as fault:
        row.refuse("what", fault.what, fault.remedy)
        return ""
    if name != given:
        row.changed("what", given, name)
    return name


def _substance(row: Row) -> str:
    given = row.word("what")
    try:
        name = library().find_substance(given).name
    except PleustonError as fault:
        row.refuse("what", fault.what, fault.remedy)
        return ""
    if name != given:
        row.changed("what", given, name)
    return name


def _sign(row: Row) -> str:
    word = row.word("what")
    if not word:
        row.refuse("what", "the sign that was seen is missing", "write it, such as film")
    elif word not in SIGNS:
        hits = near(word, SIGNS)
        hint = f"kept, but nothing follows from it; known: {', '.join(hits) or ', '.join(SIGNS)}"
        row.changed("what", word, hint)
    return word
