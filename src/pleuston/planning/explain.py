"""Name the rows that drive a quantity of a tank, with amounts, in words of the glossary."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from pleuston.base import glossary
from pleuston.planning.outlook import Ahead

STATE_OF = {
    "oxygen_dawn": "oxygen", "oxygen": "oxygen", "ammonium": "ammonium",
    "ammonia_nh3": "ammonium", "nitrite": "nitrite", "nitrate": "nitrate",
    "phosphate_ion": "phosphate", "potassium": "potassium", "copper": "copper",
    "iron": "iron", "kh": "alkalinity", "gh": "calcium", "cover": "floater1_carbon",
}  # fmt: skip
"""The store behind a shown quantity."""
UNIT = {"alkalinity": "meq"}
AIR = {"absorb_oxygen", "release_oxygen", "absorb_carbon_dioxide", "release_carbon_dioxide"}
SLOTTED = {"floater1", "floater2", "floater3", "fish", "shrimp", "snails", "copper", "zinc"}
FAMILY = {**dict.fromkeys(("floater1", "floater2", "floater3"), "floater"),
          **dict.fromkeys(("fish", "shrimp", "snails"), "animal"),
          **dict.fromkeys(("copper", "zinc"), "metal")}  # fmt: skip


@dataclass(frozen=True)
class Driver:
    """One row's share in the change of a store: amount a day, positive when it adds."""

    row: str
    per_day: float
    unit: str
    meaning: str


def drivers(ahead: Ahead, quantity: str, days: int = 7, most: int = 3) -> list[Driver]:
    """The rows that add to or take from a quantity most over the next days, air apart."""
    state = STATE_OF.get(quantity)
    if state is None or ahead.run.extents is None:
        return []
    table = ahead.belief.case.table
    span = min(days, len(ahead.times))
    found = []
    for i, row in enumerate(table.data["rows"]):
        coefficient = float(Fraction(row["coefficients"].get(state, "0")))
        if coefficient == 0.0 or row["name"] in AIR:
            continue
        amount = float(np.median(ahead.run.extents[span - 1, i])) * coefficient / span
        found.append(Driver(row["name"], amount, UNIT.get(state, "mg"), meaning(row["name"])))
    found.sort(key=lambda d: -abs(d.per_day))
    return [d for d in found[:most] if abs(d.per_day) > 1e-6]


def meaning(name: str) -> str:
    """What a row means, by the glossary, its member of a family named."""
    words = glossary.load()
    family = "_".join(FAMILY.get(w, w) for w in name.split("_"))
    term = words.get(name) or words.get(family)
    text = term.meaning.rstrip(".") if term is not None else name.replace("_", " ")
    members = [w for w in name.split("_") if w in SLOTTED and not w.startswith("floater")]
    return f"{text} ({', '.join(members)})" if members else text


def said(found: list[Driver]) -> str:
    """Drivers in one clause: what adds and what takes, with amounts a day."""
    parts = [
        f"{d.meaning[0].lower()}{d.meaning[1:]} {'+' if d.per_day > 0 else '−'}"
        f"{abs(d.per_day):.3g} {d.unit}/d"
        for d in found
    ]
    return "; ".join(parts)


def with_drivers(ahead: Ahead, outlook: dict[str, Any]) -> dict[str, Any]:
    """An outlook whose crossings name the rows behind them."""
    named = [
        {**crossing, "drivers": [asdict(d) for d in drivers(ahead, crossing["quantity"])]}
        for crossing in outlook["crossings"]
    ]
    return {**outlook, "crossings": named}
