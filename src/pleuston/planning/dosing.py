"""Doses: milligrams of a substance by net litres, purity and crystal water, in daily parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pleuston.base.errors import InputError
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.correction import HARDNESS_STEP, STATES, WAIT_HOURS
from pleuston.planning.limits import Caps
from pleuston.planning.mixing import Mix
from pleuston.planning.planner import cell, step, table
from pleuston.planning.policy import STORED_AMMONIA
from pleuston.planning.sources import DH
from pleuston.records.library import library

RAISED: Mapping[str, str] = {
    "potassium": "mg/L", "iron": "mg/L", "nitrate": "mg/L N", "phosphate": "mg/L P",
    "calcium": "mg/L", "magnesium": "mg/L", "kh": "dH", "gh": "dH",
}  # fmt: skip
"""What a dose can raise, and its unit."""


def dose_mass(substance: str, quantity: str, rise: float, litres: float, purity: float) -> float:
    """Milligrams of a substance that raise a quantity in some net litres: rise x V / content.

    purity: share of the powder that is the substance; water of its crystals is in its formula.

    >>> round(dose_mass("potassium sulfate", "potassium", 5.0, 26.0, 1.0), 1)
    289.7
    """
    if not 0.0 < purity <= 1.0:
        raise InputError(f"a purity of {purity:g}", "plan dose", "give 1 to 100 %")
    return rise * litres / (content_per_mg(substance, quantity) * purity)


def content_per_mg(substance: str, quantity: str) -> float:
    """How much a milligram of a substance in a litre raises a quantity."""
    found = library().find_substance(substance)
    content = found.given(1.0)
    if quantity == "gh":
        held = DH * (content.get("calcium", 0.0) / 20.039 + content.get("magnesium", 0.0) / 12.1525)
    elif quantity == "kh":
        held = DH * content.get("alkalinity", 0.0)
    else:
        held = content.get(quantity, 0.0)
    if held <= 0.0:
        word = _word(quantity)
        raise InputError(
            f"{found.name} brings no {word}", "plan dose", "choose another substance"
        )
    return held


def dose_plan(
    tank: Mix, substance: str, quantity: str, rise: float, litres: float, caps: Caps, *,
    purity: float = 1.0, invertebrates: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """A dose in stages within the caps of a day, as an answer.

    Raises InputError for a substance that brings none of it, for copper, and for anything that
    raises the pH while ammonia is stored.
    """
    found = library().find_substance(substance)
    per_mg = found.given(1.0)
    _refuse(found.name, per_mg, tank, invertebrates)
    total = dose_mass(substance, quantity, rise, litres, purity)
    count, binds = _parts(tank, found.given(total * purity / litres), caps)
    each = total / count
    after = _added(tank, found.given(total * purity / litres))
    word, unit = _word(quantity), RAISED[quantity]
    steps = [
        step(
            f"{'Now' if i == 1 else f'After {WAIT_HOURS:.0f} h'}: {each / 1000.0:.3g} g of "
            f"{found.name}",
            "Dissolve it in a glass of tank water first and pour it in slowly, away from animals.",
            f"Before the next: test conductivity{' and pH' if quantity == 'kh' else ''}.",
        )
        for i in range(1, count + 1)
    ]  # fmt: skip
    return {
        "planner": "dose", "substance": found.name, "quantity": quantity, "rise": rise,
        "milligrams": total, "parts": count, "binds": binds,
        "headline": f"{total / 1000.0:.3g} g of {found.name} raise {word} by {short(rise)} {unit} "
        f"in {litres:.1f} net litres" + ("" if count == 1 else f", in {count} parts a day apart"),
        "said": [
            f"{short(rise)} x {litres:.1f} L / ({content_per_mg(substance, quantity):.4g} x "
            f"{purity:.0%} pure) = {total:.0f} mg. By the size on the label it would be too much: "
            "net litres count.",
            f"Held in {count} parts by: {binds}." if count > 1 else "One dose stays within the "
            "caps of a day.",
        ],
        "steps": steps,
        "tables": [_changes(tank, after)],
        "cautions": [CAUTIONS["dose"]], "sources": ["common_practice"],
    }  # fmt: skip


def _changes(tank: Mix, after: Mix) -> dict[str, Any]:
    """The water before and after a dose."""
    return table("What it changes", ["", "Before", "After"], [
        ["Conductivity", cell(tank.ec25, "uS/cm"), cell(after.ec25, "uS/cm")],
        ["General hardness", cell(tank.gh_dh, "dH"), cell(after.gh_dh, "dH")],
        ["Carbonate hardness", cell(tank.kh_dh, "dH"), cell(after.kh_dh, "dH")],
        ["pH once it has breathed", cell(tank.ph), cell(after.ph_at(tank.species.co2))],
    ])  # fmt: skip


def _word(quantity: str) -> str:
    return STATES[quantity][0] if quantity in STATES else quantity


def _refuse(
    name: str, per_mg: Mapping[str, float], tank: Mix, invertebrates: bool
) -> None:
    if per_mg.get("copper", 0.0) > 0.0:
        who = "it kills shrimp and snails" if invertebrates else "it stays in soil and plants"
        raise InputError(
            f"copper is not planned here: {who}", where=f"dose of {name}",
            remedy="ask a vet about a sick animal, and treat it in a bare tub",
        )  # fmt: skip
    stored = tank.held["ammonium"]
    if per_mg.get("alkalinity", 0.0) > 0.0 and stored > STORED_AMMONIA:
        raise InputError(
            f"{short(stored)} mg/L N of ammonia are stored, and {name} raises the pH: that would "
            "turn it to poison", where=f"dose of {name}",
            remedy="dilute the ammonia first, with water no harder than the tank's",
        )  # fmt: skip


def _added(tank: Mix, per_litre: Mapping[str, float]) -> Mix:
    """The tank with something dissolved in it; carbonate takes its own carbon along."""
    held = dict(tank.held)
    for state, amount in per_litre.items():
        held[state] = held.get(state, 0.0) + amount
    return Mix(held, tank.temperature)


def _parts(tank: Mix, per_litre: Mapping[str, float], caps: Caps) -> tuple[int, str]:
    """In how many daily parts a dose stays within the caps, and which cap asks for it."""
    after = _added(tank, per_litre)
    share = after.ec25 / max(tank.ec25, 1.0) - 1.0
    ph = abs(after.ph_at(tank.species.co2) - tank.ph)
    wanted = {
        "conductivity": share / caps.ec, "pH": ph / caps.ph,
        "general hardness": abs(after.gh_dh - tank.gh_dh) / HARDNESS_STEP,
        "carbonate hardness": abs(after.kh_dh - tank.kh_dh) / HARDNESS_STEP,
    }  # fmt: skip
    binds = max(wanted, key=lambda n: wanted[n])
    return max(1, int(-(-wanted[binds] // 1.0))), binds
