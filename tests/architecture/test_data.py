"""Glossary, bibliography and parameter records are complete and agree with the code."""

from __future__ import annotations

import importlib
import json
import re
from collections import Counter
from typing import Any

import pint
import pytest

from pleuston.base import glossary, parameters, references

from .source import SOURCE, equation_files, equations

GRADES = {"read", "abstract", "derived", "memory", "guess"}
KINDS = {"state", "quantity", "row", "jump", "parameter", "forcing", "argument", "limit"}
UNITS: pint.UnitRegistry[Any] = pint.UnitRegistry()
UNITS.define("meq = 1e-3 * mol")  # of charge
TABLE = json.loads((SOURCE / "model" / "table.json").read_text(encoding="utf-8"))


FAMILIES = {"floater": r"floater[123]", "animal": "fish|shrimp|snails?", "metal": "copper|zinc"}


def explained(name: str) -> bool:
    """Whether a name, or the name of its family (floater1_carbon: floater_carbon), is known."""
    names = glossary.load()
    family = "_".join(
        next((f for f, members in FAMILIES.items() if re.fullmatch(members, word)), word)
        for word in name.split("_")
    )
    return name in names or family in names


def cited_keys() -> dict[str, str]:
    """Name of an equation or row -> the reference key that it cites."""
    keys = {change["name"]: change["source"] for change in TABLE["rows"] + TABLE["moves"]}
    for path in equation_files():
        name = ".".join(path.relative_to(SOURCE.parent).with_suffix("").parts)
        for value in vars(importlib.import_module(name.removesuffix(".__init__"))).values():
            source = getattr(value, "source", None)
            if callable(value) and isinstance(source, str) and value.__module__ == name:
                keys[value.__name__] = source
    return keys


def test_every_cited_source_is_in_the_bibliography() -> None:
    known = references.load()
    cited = cited_keys()
    assert len(cited) > 100
    assert {name: key for name, key in cited.items() if key not in known} == {}


def test_every_value_has_a_known_source_page_and_grade() -> None:
    known = references.load()
    records = parameters.load()
    assert len(records) > 100
    assert {n: p.source for n, p in records.items() if p.source not in known} == {}
    assert {n: p.grade for n, p in records.items() if p.grade not in GRADES} == {}
    assert [n for n, p in records.items() if not p.where.strip()] == []
    assert [n for n, p in records.items() if not p.low <= p.value <= p.high] == []


def test_every_value_is_in_the_glossary_in_the_same_unit() -> None:
    names = glossary.load()
    records = parameters.load()
    assert [n for n in records if n not in names] == []
    strange = {
        n: (p.unit, names[n].unit)
        for n, p in records.items()
        if UNITS.Unit(p.unit) != UNITS.Unit(names[n].unit)
    }
    assert not strange


def test_every_glossary_entry_is_whole() -> None:
    for name, entry in glossary.load().items():
        assert entry.kind in KINDS, name
        assert entry.meaning.rstrip().endswith("."), name
        assert UNITS.Unit(entry.unit) is not None, name


@pytest.mark.parametrize(
    "group", ["states", "quantities", "rows", "forcings", "arguments", "jumps"]
)
def test_every_name_of_the_model_is_in_the_glossary(group: str) -> None:
    names = [n if isinstance(n, str) else n["name"] for n in TABLE[group]]
    assert names
    assert [n for n in names if not explained(n)] == []


def test_every_equation_is_in_the_glossary() -> None:
    known = glossary.load()
    missing = [d.place for d in equations() if d.node.name not in known]
    assert not missing


def test_no_title_stands_twice() -> None:
    titles = Counter((r.title, r.year) for r in references.load().values())
    assert [title for title, count in titles.items() if count > 1] == []
