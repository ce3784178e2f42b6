"""The forms of planners: fields in the reader's units, what was typed in the planner's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from pleuston.base import references
from pleuston.base.errors import InputError
from pleuston.base.units import convert
from pleuston.planning.planner import Field, Planner
from pleuston.records.library import library
from pleuston.web import words
from pleuston.web.words import Units

ROWS = 4
"""Rows of the field of animals."""
LONGEST = 400
BY_TIME = {"1/d": " a day"}
"""Units of rates, as they are said; no reader chooses them."""
Pairs = Sequence[tuple[str, str]]


def unit_of(field: Field, units: Units) -> str:
    """The unit that a field is typed in."""
    if field.unit == "cm":
        return "in" if units.chosen.get("length") == "in" else "cm"
    return units.unit(field.unit)


def typed_in(planner: Planner, pairs: Pairs) -> dict[str, str]:
    """What a form holds, by field; several choices between slashes, animals with their number."""
    made: dict[str, str] = {}
    for field in planner.fields:
        if field.kind == "animals":
            species = [v for k, v in pairs if k == f"{field.name}_species"]
            numbers = [v for k, v in pairs if k == f"{field.name}_number"]
            rows = zip(species, numbers, strict=False)
            found = [f"{s} {n.strip()}" for s, n in rows if s.strip() and n.strip()]
            found = found or [v for k, v in pairs if k == field.name]
        else:
            found = [v.strip() for k, v in pairs if k == field.name]
        text = "/".join(v for v in found if v)[:LONGEST]
        if text:
            made[field.name] = text
    return made


def canonical(planner: Planner, typed: Mapping[str, str], units: Units) -> dict[str, str]:
    """What was typed in a person's units, in the planner's own; refuses what is no number."""
    made = dict(typed)
    for name, text in typed.items():
        field = planner.field(name)
        own = unit_of(field, units)
        if field.kind != "number" or own == field.unit:
            continue
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            raise InputError(f"{text!r} is not a number", field.word, "correct it") from None
        made[name] = f"{convert(value, *_units(own, field.unit)):.10g}"
    return made


def shown(planner: Planner, given: Mapping[str, str], units: Units) -> dict[str, str]:
    """What was given in the planner's units, as this person types it."""
    made = dict(given)
    for name, text in given.items():
        field = planner.field(name)
        own = unit_of(field, units)
        if field.kind == "number" and own != field.unit:
            try:
                made[name] = f"{convert(float(text), *_units(field.unit, own)):.6g}"
            except ValueError:
                continue
    return made


def _units(*names: str) -> tuple[str, ...]:
    return tuple("degC" if name == "C" else name for name in names)


def address(name: str, tank: str, given: Mapping[str, str]) -> str:
    """The address of a planner's page with what was given."""
    pairs = [("tank", tank)] if tank else []
    query = urlencode([*pairs, *given.items()])
    return f"/plan/{name}" + (f"?{query}" if query else "")


def fields_of(
    planner: Planner, tank: str, typed: Mapping[str, str], lists: Mapping[str, Sequence[str]],
    units: Units,
) -> list[dict[str, Any]]:  # fmt: skip
    """The fields of a form, with what stands in them."""
    made = []
    for field in planner.asked(tank):
        text = typed.get(field.name, "")
        choices = list(lists.get(field.source, field.choices))
        made.append({
            "field": field, "unit": words.unit_shown(unit_of(field, units)),
            "text": text or _default(field, units), "hint": field.hint,
            "choices": [(c, _word(c)) for c in choices],
            "chosen": text.split("/") if text else [],
            "rows": _rows(text) if field.kind == "animals" else [],
        })  # fmt: skip
    return made


def _default(field: Field, units: Units) -> str:
    own = unit_of(field, units)
    if not field.default or field.kind != "number" or own == field.unit:
        return field.default
    return f"{convert(float(field.default), *_units(field.unit, own)):.4g}"


def _word(choice: str) -> str:
    if choice in words.QUANTITIES:
        return words.quantity(choice)
    return choice


def _rows(text: str) -> list[tuple[str, str]]:
    """Species and number of each row, empty ones up to the usual number of rows."""
    found = []
    for part in (p.strip() for p in text.split("/") if p.strip()):
        name, _, number = part.rpartition(" ")
        found.append((name, number))
    return [*found, *([("", "")] * (ROWS - len(found)))]


def animals() -> list[tuple[str, str]]:
    """The animals of the library: scientific name, and how a keeper says it."""
    found = [s for s in library().species.values() if s.is_animal]
    return sorted(
        ((s.name, f"{s.common[0]} ({s.name})" if s.common else s.name) for s in found),
        key=lambda pair: pair[1],
    )


def sources(keys: Sequence[str]) -> str:
    """What an answer rests on: authors and year of each source, practice in words."""
    known = references.load()
    found = []
    for key in dict.fromkeys(keys):
        one = known[key]
        first, _, rest = one.authors.partition(",")
        others = " and others" if rest else ""
        found.append(
            "common practice" if key == "common_practice" else f"{first}{others} {one.year}"
        )
    return "; ".join(found)


def cell(value: Any, units: Units) -> str:
    """A cell of a table as this person reads it."""
    if not isinstance(value, Mapping):
        return str(value)
    unit = "" if value["unit"] in BY_TIME else value["unit"]
    rest = BY_TIME.get(value["unit"], "")
    if "value" in value:
        return units.amount(value["value"], unit) + rest
    return units.range(value["low"], value["high"], unit) + rest
