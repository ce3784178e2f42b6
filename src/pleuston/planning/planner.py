"""What planners share: the fields they ask for, and the shape that their answers have.

An answer is data: a headline, sentences, steps and tables, with the numbers they rest on. Cells
of tables are text, or amounts with their unit, so that pages show them in the reader's units.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.library import library
from pleuston.records.near import near_names

MOST_ANIMALS = 8
"""Species that one wish may name."""


@dataclass(frozen=True)
class Field:
    """One thing that a planner asks for.

    kind: number, text, choice, yes, many (names between slashes) or animals (species and
    number, between slashes). source: the list of the rack that a choice is made from.
    """

    name: str
    word: str
    kind: str = "number"
    unit: str = ""
    hint: str = ""
    default: str = ""
    low: float = 0.0
    high: float = 1e6
    choices: tuple[str, ...] = ()
    source: str = ""
    required: bool = False

    def read(self, text: str) -> Any:
        """What was typed, as a value; raises InputError, which names the field."""
        text = text.strip() or self.default
        if not text:
            return {"many": (), "animals": (), "yes": False}.get(self.kind)
        try:
            return _READERS[self.kind](self, text)
        except ValueError as error:
            raise InputError(str(error), where=self.word, remedy=self._remedy) from error

    @property
    def _remedy(self) -> str:
        if self.kind == "number":
            return f"give a number from {self.low:g} to {self.high:g} {self.unit}".strip()
        if self.choices:
            return f"use one of {', '.join(self.choices)}"
        return self.hint or "correct it"


def _number(field: Field, text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None
    if not (math.isfinite(value) and field.low <= value <= field.high):
        raise ValueError(f"{value:g} can't be meant")
    return value


def _choice(field: Field, text: str) -> str:
    if field.choices and text not in field.choices:
        raise ValueError(f"{text!r} is none of the choices")
    return text


def _many(field: Field, text: str) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(part.strip() for part in text.split("/") if part.strip()))
    for name in names:
        _choice(field, name)
    return names


def _animals(field: Field, text: str) -> tuple[tuple[str, int], ...]:
    """Species and number, between slashes; each species once."""
    del field
    made: dict[str, int] = {}
    for part in (p.strip() for p in text.split("/")):
        name, _, number = part.rpartition(" ")
        if not number.isdecimal() or not 1 <= int(number) <= 500:
            raise ValueError(f"{part!r} is no species with a number from 1 to 500")
        species = library().find_species(name, ("fish", "shrimp", "snails"))
        made[species.name] = made.get(species.name, 0) + int(number)
    if len(made) > MOST_ANIMALS:
        raise ValueError(f"{len(made)} species at once; at most {MOST_ANIMALS}")
    return tuple(made.items())


def _yes(field: Field, text: str) -> bool:
    del field
    if text not in ("yes", "no"):
        raise ValueError(f"{text!r} is neither yes nor no")
    return text == "yes"


_READERS = {
    "number": _number, "text": lambda _, text: text, "choice": _choice, "many": _many,
    "animals": _animals, "yes": _yes,
}  # fmt: skip


@dataclass(frozen=True)
class Planner:
    """A planner: its name in addresses and commands, title, one line, and what it asks for.

    tank: whether it must, may or can't be asked of a tank; with_tank: the fields that are asked
    for then, all where empty. simulates: whether it then runs the members of the tank's belief,
    which takes a while.
    """

    name: str
    title: str
    line: str
    fields: tuple[Field, ...]
    tank: str = "none"
    with_tank: tuple[str, ...] = ()
    simulates: bool = False

    def asked(self, tank: str) -> tuple[Field, ...]:
        """The fields that are asked for, of a tank or of none."""
        if not (tank and self.with_tank):
            return self.fields
        return tuple(f for f in self.fields if f.name in self.with_tank)

    def field(self, name: str) -> Field:
        """A field by its name; an unknown one is refused."""
        names = [f.name for f in self.fields]
        if name not in names:
            raise UnknownNameError(
                f"there is no {name!r} in '{self.title}'", where=f"plan {self.name}",
                remedy=near_names(name, names),
            )  # fmt: skip
        return self.fields[names.index(name)]

    def read(self, given: Mapping[str, str]) -> dict[str, Any]:
        """Everything that was typed, as values by name; what was left out has its default."""
        for name in given:
            self.field(name)
        return {f.name: f.read(given.get(f.name, "")) for f in self.fields}

    def text(self, given: Mapping[str, str]) -> str:
        """What was typed in one spelling, as it is kept with an answer."""
        self.read(given)
        kept = {f.name: given.get(f.name, "").strip() for f in self.fields}
        return urlencode([(n, v) for n, v in kept.items() if v and v != self.field(n).default])

    def given(self, text: str) -> dict[str, str]:
        """What was typed, from its one spelling."""
        return dict(parse_qsl(text))


def cell(value: float | None, unit: str = "") -> dict[str, Any]:
    """An amount of a table."""
    return {"value": None if value is None else float(value), "unit": unit}


def span(low: float | None, high: float | None, unit: str = "") -> dict[str, Any]:
    """A range of a table, its ends in any order; None is an open end."""
    if low is not None and high is not None:
        low, high = min(low, high), max(low, high)
    return {
        "low": None if low is None else float(low), "high": None if high is None else float(high),
        "unit": unit,
    }  # fmt: skip


def table(title: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> dict[str, Any]:
    """A table of an answer."""
    return {"title": title, "columns": list(columns), "rows": [list(row) for row in rows]}


def step(title: str, *lines: str) -> dict[str, Any]:
    """Something to do, and what belongs to it."""
    return {"title": title, "lines": [line for line in lines if line]}


def check_needed(planner: Planner, given: Mapping[str, str], tank: str) -> None:
    """Refuse what is missing of what a planner can't do without, all at once."""
    asked = planner.asked(tank)
    missing = [f.word for f in asked if f.required and not given.get(f.name, "").strip()]
    if planner.tank == "must" and not tank:
        missing.insert(0, "Tank")
    if missing:
        raise InputError(
            f"not given: {', '.join(missing)}", where=f"plan {planner.name}", remedy="fill it in"
        )
