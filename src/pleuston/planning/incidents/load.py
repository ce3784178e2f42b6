"""Read the incident cards; gaps, unknown sources and unknown cautions are refused."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any

from pleuston.base import references
from pleuston.base.errors import InputError, UnknownNameError

GRADES = ("read", "abstract", "derived", "memory", "guess")
CAUTIONS_FILE = "cautions.toml"
NEEDED = ("title", "order", "signs", "first", "measure", "never", "cautions", "ends")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, to measure or never to do, with what it rests on."""

    text: str
    source: str
    where: str
    grade: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A danger to people, animals or places, said wherever an act can bring it about."""

    name: str
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Incident:
    """A card: how it shows, the first hour in order, what to measure then, what never to do."""

    name: str
    title: str
    order: int
    signs: tuple[str, ...]
    first: tuple[Step, ...]
    measure: tuple[Step, ...]
    never: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    ends: str
    """When it is over, and whom to ask when it isn't."""

    @property
    def steps(self) -> tuple[Step, ...]:
        """All that the card says, in its order."""
        return (*self.first, *self.measure, *self.never)


@cache
def incidents() -> tuple[Incident, ...]:
    """Give every card in the order of urgency."""
    return read(resources.files("pleuston.planning.incidents"))


def incident(name: str) -> Incident:
    """Give the card of that name.

    >>> incident("gasping").title
    'Gasping at the surface'
    """
    for card in incidents():
        if card.name == name:
            return card
    raise UnknownNameError(
        f"there is no incident card named {name!r}",
        where="incident cards",
        remedy="Known are " + ", ".join(card.name for card in incidents()),
    )


@cache
def cautions() -> Mapping[str, Caution]:
    """Give every caution by its name."""
    return read_cautions(resources.files("pleuston.planning.incidents"))


def read_cautions(folder: Traversable) -> Mapping[str, Caution]:
    """Read the cautions of a folder."""
    tables = _tables(folder.joinpath(CAUTIONS_FILE))
    found = {}
    for name, table in tables.items():
        place = f"{CAUTIONS_FILE} [{name}]"
        if not isinstance(table, dict) or set(table) != {"title", "text"}:
            raise InputError("a caution has a title and a text", place, "Give both, nothing else")
        found[name] = Caution(name, _text(table, "title", place), _text(table, "text", place))
    return MappingProxyType(found)


def read(folder: Traversable) -> tuple[Incident, ...]:
    """Read the cards of a folder, its cautions among them."""
    known = read_cautions(folder)
    cards = [
        _card(file.name.removesuffix(".toml"), _tables(file), known)
        for file in folder.iterdir()
        if file.name.endswith(".toml") and file.name != CAUTIONS_FILE
    ]
    places = [card.order for card in cards]
    if len(set(places)) != len(places):
        raise InputError("two cards have the same order", "incident cards", "Number them apart")
    return tuple(sorted(cards, key=lambda card: card.order))


def _tables(file: Traversable) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text("utf-8"))
    except tomllib.TOMLDecodeError as bad:
        raise InputError(f"it is no TOML ({bad})", file.name, "Correct the file") from None


def _card(name: str, fields: Mapping[str, Any], known: Mapping[str, Caution]) -> Incident:
    place = f"{name}.toml"
    if set(fields) != set(NEEDED):
        odd = ", ".join(sorted(set(fields) ^ set(NEEDED)))
        raise InputError(f"fields are missing or unknown: {odd}", place, "Give each field once")
    missing = [c for c in fields["cautions"] if c not in known]
    if missing:
        raise InputError(
            f"no caution is named {missing[0]!r}", place, "Known are " + ", ".join(known)
        )
    if not isinstance(fields["order"], int) or not fields["signs"] or not fields["first"]:
        raise InputError(
            "a card needs a whole number as order, signs and first steps", place, "Add them"
        )
    first, measure, never = (
        tuple(_step(step, f"{place} {part} {n}") for n, step in enumerate(fields[part], 1))
        for part in ("first", "measure", "never")
    )
    return Incident(
        name, _text(fields, "title", place), fields["order"], tuple(fields["signs"]), first,
        measure, never, tuple(known[c] for c in fields["cautions"]), _text(fields, "ends", place),
    )  # fmt: skip


def _step(table: Mapping[str, Any], place: str) -> Step:
    if set(table) - {"text", "source", "where", "grade"}:
        raise InputError("a step has an unknown field", place, "Use text, source, where, grade")
    step = Step(
        _text(table, "text", place), table.get("source", "common_practice"),
        table.get("where", "practice of the trade, no source"), table.get("grade", "memory"),
    )  # fmt: skip
    if step.source not in references.load():
        raise InputError(
            f"the source {step.source!r} is not in the bibliography", place, "Add the reference"
        )
    if step.grade not in GRADES:
        raise InputError(f"{step.grade!r} is no grade", place, "Use " + ", ".join(GRADES))
    if step.source != "common_practice" and "where" not in table:
        raise InputError("a source without a place in it", place, "Say where it stands")
    return step


def _text(fields: Mapping[str, Any], name: str, place: str) -> str:
    value = fields.get(name)
    if not isinstance(value, str) or not value.strip():
        raise InputError(f"{name} is missing or no text", place, "Write it")
    return value
