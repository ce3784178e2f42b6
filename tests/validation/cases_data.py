"""Open data in context: phosphorus of sediments, poison tables, weighed fronds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from pleuston.base import parameters
from pleuston.chemistry.ammonia import ammonia_ccc_epa2013
from pleuston.chemistry.metals import copper_ccc_epa1996
from pleuston.planning.limits import records
from pleuston.records.library import library

from .case import Case, Finding, one, open_rows, within

FRACTIONS = ("looseP_mg", "redoxP_mg", "AlP_mg", "orgP_mg")
SOFT = 1.0
"""Hardness of 50 mg/L CaCO3 [meq/L]."""
CONTEXT = "a factor of three: hardness and carbon are not given, so this is context, no check"


def numbers(rows: Iterable[dict[str, str]], species: str, value: str) -> np.ndarray:
    """Geometric mean of each species' values."""
    found: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        found[row[species]].append(float(np.log(float(row[value]))))
    return np.exp([np.mean(v) for v in found.values()])


def fifth(values: np.ndarray) -> float:
    """The concentration below which one species in twenty is harmed, by a lognormal fit."""
    logs = np.log(values)
    return float(np.exp(logs.mean() - 1.645 * logs.std(ddof=1)))


def limit_of(quantity: str, severity: str, who: str) -> float:
    """The fixed upper limit of a quantity for a group."""
    return next(
        float(x.high) for x in records()
        if x.quantity == quantity and x.severity == severity and who in x.who and x.high is not None
    )  # fmt: skip


def sediment() -> list[Finding]:
    """Phosphorus of lake sediment beside what the library says of soils."""
    rows = open_rows("sediment_phosphorus/GVL_SedimentP_Tidy.csv")
    total = np.array([sum(float(r[f]) for f in FRACTIONS) for r in rows]) / 10.0
    low, middle, high = np.quantile(total, [0.05, 0.5, 0.95])
    shelf = library()
    soils = [shelf.values[name, "phosphorus_pct"] for name in shelf.soils]
    best = float(np.median([s.value for s in soils]))
    edges = (min(s.low for s in soils), max(s.high for s in soils))
    mass = "% of dry mass"
    return [
        Finding("phosphorus of a soil in the library, median", mass, (float(low), float(high)),
                best, *within(float(middle), 3.0), "a factor of three: mud is no potting soil"),
        Finding("lowest phosphorus of a soil in the library", mass, one(float(low)), edges[0],
                0.0, float(low), "must lie below nineteen in twenty sediments"),
        Finding("highest phosphorus of a soil in the library", mass, one(float(high)), edges[1],
                float(high), 1.0, "must lie above nineteen in twenty sediments"),
    ]  # fmt: skip


def copper() -> list[Finding]:
    """Copper limits beside species tables."""
    chronic = numbers(open_rows("toxicity/copper_freshwater_anztox.csv"), "Species", "Conc")
    acute = open_rows("toxicity/copper_acute_envirotox_ugL.csv")
    shell = numbers(
        (r for r in acute if r["Group"] == "Invertebrate"), "Species", "Conc"
    )  # fmt: skip
    danger = limit_of("copper", "danger", "invertebrates") * 1e3
    hurt = 100.0 * float((shell < danger).mean())
    criterion = float(copper_ccc_epa1996(SOFT)) * 1e3
    return [
        Finding("long-term criterion at 50 mg/L CaCO3, beside one species in twenty", "ug/L",
                one(fifth(chronic)), criterion, *within(fifth(chronic), 3.0), CONTEXT,
                held=within(fifth(chronic), 15.0),
                because="the table's values are for water of little hardness and carbon, which the "
                "criterion does not know; the program's own limits ask for both"),
        Finding("invertebrates with acute values below the limit of danger", "%", None, hurt, 5.0,
                50.0, "a danger limit must be one that kills some, not most"),
    ]  # fmt: skip


def nitrogen() -> list[Finding]:
    """Ammonia and nitrate limits beside species tables."""
    rows = open_rows("toxicity/anzg_ammonia_nitrate.csv")
    for row in rows:
        row["name"] = f"{row['Genus']} {row['Species']}"
    ammonia = fifth(numbers((r for r in rows if r["Chemical"] == "ammonia"), "name", "Conc"))
    nitrate = fifth(numbers((r for r in rows if r["Chemical"] == "nitrate"), "name", "Conc"))
    watch = limit_of("nitrate", "watch", "animals")
    return [
        Finding("long-term ammonia criterion at pH 8 and 20 degC, beside one species in twenty",
                "mg/L", one(ammonia), float(ammonia_ccc_epa2013(8.0, 293.15)),
                *within(ammonia, 3.0), CONTEXT),
        Finding("nitrate that the program asks to watch, beside one species in twenty", "mg/L",
                one(nitrate), watch, *within(nitrate, 3.0), CONTEXT, held=within(nitrate, 10.0),
                because="the table holds the most sensitive wild larvae in soft water; the limit "
                "is for kept species, and its note says 2 mg/L for the most sensitive"),
    ]  # fmt: skip


def fronds() -> list[Finding]:
    """Weighed fronds of giant duckweed times the model's area of a gram."""
    rows = [r for r in open_rows("lemna_growth/countweight.csv") if r["dry weight"]]
    mass = np.array([float(r["dry weight"]) / float(r["count"]) for r in rows])
    area = parameters.load()["spirodela_cover_area"].value * float(np.median(mass)) * 1e6
    return [
        Finding("area of a frond by its mass and the model's area of a gram", "mm^2", one(28.1),
                area, *within(28.1, 1.5), "a factor of one and a half: fronds of another strain "
                "(couture2025) stand beside these masses"),
    ]  # fmt: skip


CASES = (
    Case("sediment", "Phosphorus of lake sediment and of soils", "albright2022",
         "open data, sum of four fractions", "none", sediment),
    Case("copper tables", "Copper limits in context", "anzg2018",
         "open data, species tables, chronic and acute", "50 mg/L CaCO3", copper),
    Case("nitrogen tables", "Ammonia and nitrate limits in context", "anzg2018",
         "open data, species tables, chronic", "table of ammonia at pH 8 and 20 degC; waters of "
         "all hardness", nitrogen),
    Case("fronds", "Fronds of giant duckweed, counted and weighed", "fremorti2021", "open data",
         "area of a frond from other plants", fronds),
)  # fmt: skip
