"""Read the library's files; gaps and unknown words are refused."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Any

from pleuston.base.errors import InputError
from pleuston.records.composition import ATOMS, content_of, molar_mass
from pleuston.records.library.lookup import (
    ANIMAL_GROUPS,
    FLOATER_MODELS,
    PLANT_GROUPS,
    Library,
    Species,
    Substance,
    Value,
)
from pleuston.records.record import Feed, Soil, Water

GRADES = ("read", "abstract", "derived", "memory", "guess")
SPECIES_UNITS = {
    "adult_mass_g": "g",
    "temperature_c": "degC",
    "ph": "1",
    "gh_dh": "dH",
    "full_cover_g_m2": "g/m^2",
    "doubling_days": "d",
}
FEED_UNITS = {
    "protein_pct": "%",
    "phosphorus_pct": "%",
    "potassium_pct": "%",
    "copper_mg_kg": "mg/kg",
    "moisture_pct": "%",
}
SOIL_UNITS = {
    "organic_pct": "%",
    "nitrogen_pct": "%",
    "phosphorus_pct": "%",
    "copper_mg_kg": "mg/kg",
}


@cache
def library() -> Library:
    """Give the shipped library, read once."""
    values: dict[tuple[str, str], Value] = {}
    substances = {item.name: item for item in map(_substance, _tables("substances", "substance"))}
    waters = [_water(table, substances, values) for table in _tables("waters", "water")]
    species = [
        _species(table, topic)
        for topic in ("animals", "floating_plants", "rooted_plants")
        for table in _tables(topic, "species")
    ]
    feeds = [Feed(**_fields(t, FEED_UNITS, values)) for t in _tables("feeds", "feed")]
    soils = [Soil(**_fields(t, SOIL_UNITS, values)) for t in _tables("soils", "soil")]
    return Library(
        species={item.name: item for item in species},
        feeds={item.name: item for item in feeds},
        soils={item.name: item for item in soils},
        waters={item.name: item for item in waters},
        substances=substances,
        values=values,
    )


def _tables(topic: str, key: str) -> list[dict[str, Any]]:
    source = resources.files("pleuston.records.library").joinpath(f"{topic}.toml")
    tables: list[dict[str, Any]] = tomllib.loads(source.read_text(encoding="utf-8"))[key]
    names = [table["name"] for table in tables]
    if len(set(names)) != len(names):
        raise InputError(
            what="a name stands twice", where=f"library {topic}", remedy="keep one of them"
        )
    return tables


def _value(given: Mapping[str, Any], unit: str, where: str) -> Value:
    value = Value(
        value=given.get("value"),
        low=given.get("low"),
        high=given.get("high"),
        unit=unit,
        grade=given["grade"],
        source=given["source"],
        note=given.get("note", ""),
    )
    ends = [end for end in (value.low, value.value, value.high) if end is not None]
    if not ends or ends != sorted(ends) or value.grade not in GRADES or not value.source:
        raise InputError(
            what="a value is out of order or has no grade or source",
            where=where,
            remedy="give low <= value <= high, a grade and a source",
        )
    return value


def _species(table: Mapping[str, Any], topic: str) -> Species:
    where = f"library {topic}: {table['name']}"
    plain: dict[str, Any] = {k: v for k, v in table.items() if k not in SPECIES_UNITS}
    for key in ("common", "synonyms"):
        plain[key] = tuple(plain[key])
    graded: dict[str, Any] = {
        k: _value(table[k], u, where) for k, u in SPECIES_UNITS.items() if k in table
    }
    species = Species(**plain, **graded)
    floats = species.group == "floating"
    if species.group not in ANIMAL_GROUPS + PLANT_GROUPS or floats != bool(species.model):
        raise InputError(
            what=f"the group {species.group!r} or the model {species.model!r} does not fit",
            where=where,
            remedy="animals and rooted plants have no model, floating plants have one",
        )
    if floats and species.model not in FLOATER_MODELS:
        raise InputError(
            what=f"no growth is known for {species.model!r}",
            where=where,
            remedy="use one of " + ", ".join(FLOATER_MODELS),
        )
    return species


def _fields(
    table: Mapping[str, Any], units: Mapping[str, str], values: dict[tuple[str, str], Value]
) -> dict[str, Any]:
    where = f"library: {table['name']}"
    for key, unit in units.items():
        values[table["name"], key] = _value(table[key], unit, where)
    best: dict[str, Any] = {key: values[table["name"], key].best for key in units}
    return {"name": table["name"], "note": table["note"], **best}


def _substance(table: Mapping[str, Any]) -> Substance:
    if "parts" in table:
        parts = table["parts"]
        mass = sum((molar_mass(part) * count for part, count in parts.items()), Fraction(0))
        content = content_of(parts, mass)
    else:
        content = {state: Fraction(str(share)) for state, share in table["shares"].items()}
    return Substance(
        name=table["name"],
        formula=table["formula"],
        synonyms=tuple(table["synonyms"]),
        content=content,
        note=table.get("note", ""),
    )


def _ions_of(recipe: Mapping[str, float]) -> dict[str, float]:
    """Mg/L of each ion that a recipe in mg/L of substances gives."""
    ions: dict[str, float] = {}
    for table in _tables("substances", "substance"):
        amount = recipe.get(table["name"])
        if amount is None:
            continue
        parts = table["parts"]
        mass = sum((molar_mass(part) * count for part, count in parts.items()), Fraction(0))
        for part, count in parts.items():
            if part not in ("water", "hydrogen"):
                given = float(molar_mass(part) * count / mass) * amount
                ions[part] = ions.get(part, 0.0) + given
    return ions


def _water(
    table: Mapping[str, Any],
    substances: Mapping[str, Substance],
    values: dict[tuple[str, str], Value],
) -> Water:
    name = table["name"]
    recipe = table.get("recipe", {})
    unknown = set(recipe) - set(substances)
    ions = _ions_of(recipe) if recipe else table["ions_mg_l"]
    if unknown or set(ions) - set(ATOMS):
        raise InputError(
            what="a recipe names an unknown part", where=f"library: {name}", remedy="check it"
        )
    fields = {f"{ion}_mg_l": round(float(amount), 4) for ion, amount in ions.items()}
    ph = _value(
        {**table["ph"], "grade": table["grade"], "source": table["source"]}, "1", f"library: {name}"
    )
    values[name, "ph"] = ph
    for key, amount in fields.items():
        values[name, key] = Value(
            amount, None, None, "mg/L", table["grade"], table["source"], table["where"]
        )
    return Water(
        name=name,
        kind=table["kind"],
        ph=round(ph.best, 2),
        copper_ug_l=table.get("copper_ug_l"),
        zinc_ug_l=table.get("zinc_ug_l"),
        note=table["note"],
        **_all_known(fields),
    )


def _all_known(fields: dict[str, float]) -> dict[str, Any]:
    """Synthetic waters hold nothing beyond their recipe: what is not named is 0."""
    names = (
        "calcium", "magnesium", "sodium", "potassium", "bicarbonate",
        "sulfate", "chloride", "nitrate", "phosphate",
    )  # fmt: skip
    return {f"{name}_mg_l": fields.get(f"{name}_mg_l", 0.0) for name in names}
