"""Slips in an analysis: each is tried, and those that make the analysis agree with itself stay.

Four witnesses speak: charges balance, conductivity follows from the ions, GH from calcium
and magnesium, KH from bicarbonate. A slip is named when putting it right brings every
disturbed witness it touches back and disturbs none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from pleuston.base.units import convert
from pleuston.records.composition import element_share, molar_mass
from pleuston.records.record import Water
from pleuston.services import water_sums as sums

BALANCE_WITHIN = 5.0
"""Difference of charges that a sound analysis may have [% of the sum]."""
DILUTE = 0.05
"""Difference of charges that rounding alone can make [meq/L]."""
LEAST_WITNESS: Mapping[str, float] = {
    "balance": BALANCE_WITHIN, "conductivity": 15.0, "gh": 8.0, "kh": 8.0
}  # fmt: skip
"""How far each witness may be off [%]."""
AS_CACO3 = 100.087 / 2.0
ANIONS_AND_CATIONS = (
    "calcium", "magnesium", "sodium", "potassium", "bicarbonate", "sulfate", "chloride", "nitrate",
)  # fmt: skip
MOST_NAMED = 3
COMMON, USUAL, RARE = 0.0, 1.0, 3.0
"""How unlikely slips are: alkalinity as CaCO3, other units, decimal points."""
UNUSUAL = 3.0
USUAL_MOST: Mapping[str, float] = {
    "calcium_mg_l": 200.0, "magnesium_mg_l": 60.0, "sodium_mg_l": 200.0, "potassium_mg_l": 15.0,
    "bicarbonate_mg_l": 500.0, "sulfate_mg_l": 250.0, "chloride_mg_l": 250.0,
    "nitrate_mg_l": 50.0, "phosphate_mg_l": 7.0, "gh_dh": 40.0, "kh_dh": 25.0,
    "ec25_us_cm": 2500.0,
}  # fmt: skip
"""More than this is unusual in water that is supplied for drinking (common practice)."""
USUAL_LEAST: Mapping[str, float] = {
    "potassium_mg_l": 0.3, "sodium_mg_l": 1.0, "chloride_mg_l": 1.0, "sulfate_mg_l": 1.0,
}  # fmt: skip
"""Less than this is unusual in anything but rain and reverse-osmosis water."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing that may have gone wrong, and the analysis with it put right."""

    column: str
    what: str
    given: float
    meant: float
    water: Water
    unlikely: float
    """Above 0 for slips that are rare, or that would leave an unusual water."""


@dataclass(frozen=True, slots=True)
class Found:
    """A likely slip, with the witnesses before and after."""

    slip: Slip
    before: Mapping[str, float]
    after: Mapping[str, float]


def witnesses(water: Water) -> dict[str, float]:
    """How far each witness that can speak is off [%], sign kept."""
    found: dict[str, float] = {}
    whole = not sums.missing(water)
    if whole:
        charge = sums.charge_of(water)
        rounding = abs(charge.cations - charge.anions) <= DILUTE
        found["balance"] = 0.0 if rounding else charge.percent
    if whole and water.ec25_us_cm:
        ratio = sums.ec25(water) / sums.HIGH_BY / float(water.ec25_us_cm)
        found["conductivity"] = 100.0 * math.log(ratio) if ratio > 0.0 else -1e3
    for name, total, dh in (
        ("gh", sums.gh_of_ions(water), water.gh_dh),
        ("kh", _alkalinity_of_bicarbonate(water), water.kh_dh),
    ):
        if total is not None and dh is not None and max(total, float(dh)) > 0.0:
            found[name] = _apart(sums.dh(total), float(dh))
    return found


def _apart(one: float, other: float) -> float:
    """Difference [%], the rounding of whole degrees allowed for."""
    if abs(one - other) <= 0.5:
        return 0.0
    return 100.0 * math.log(max(one, 1e-3) / max(other, 1e-3))


def _alkalinity_of_bicarbonate(water: Water) -> float | None:
    if water.bicarbonate_mg_l is None:
        return None
    return float(water.bicarbonate_mg_l) / float(molar_mass("bicarbonate"))


def disturbed(off: Mapping[str, float]) -> set[str]:
    """The witnesses that are further off than they may be."""
    return {name for name, value in off.items() if abs(value) > LEAST_WITNESS[name]}


def likely_slips(water: Water) -> list[Found]:
    """The slips that explain a disturbed analysis, likeliest first."""
    before = witnesses(water)
    wrong = disturbed(before)
    if not wrong:
        return []
    found = []
    for slip in _candidates(water):
        after = witnesses(slip.water)
        touched = {n for n in before if n in after and abs(before[n] - after[n]) > 0.5}
        if not wrong & touched or disturbed(after) & touched:
            continue
        if disturbed(after) < wrong:
            found.append(Found(slip, before, after))
    found.sort(key=lambda f: (len(disturbed(f.after)), f.slip.unlikely + _misfit(f.after)))
    return found[:MOST_NAMED]


def _misfit(off: Mapping[str, float]) -> float:
    return math.fsum((value / LEAST_WITNESS[name]) ** 2 for name, value in off.items())


def _candidates(water: Water) -> Iterator[Slip]:
    yield from _units(water)
    if (water.calcium_mg_l or 0.0) > 0.0 and (water.magnesium_mg_l or 0.0) > 0.0:
        calcium, magnesium = _per_caco3("calcium"), _per_caco3("magnesium")
        right = replace(
            water,
            calcium_mg_l=float(water.calcium_mg_l or 0.0) * calcium,
            magnesium_mg_l=float(water.magnesium_mg_l or 0.0) * magnesium,
        )
        yield Slip(
            "calcium_mg_l", "calcium and magnesium as mg/L CaCO3, not as the ions",
            float(water.calcium_mg_l or 0.0), float(right.calcium_mg_l or 0.0), right, USUAL,
        )  # fmt: skip
    for name in ANIONS_AND_CATIONS:
        for factor, word in ((10.0, "right"), (0.1, "left")):
            what = f"the decimal point of {name} slipped one place to the {_other(word)}"
            yield from _scaled(water, f"{name}_mg_l", factor, what, RARE)


def _other(way: str) -> str:
    return "left" if way == "right" else "right"


def _per_caco3(cation: str) -> float:
    """mg/L of a doubly charged cation per mg/L CaCO3."""
    return float(molar_mass(cation)) / 2.0 / AS_CACO3


def _units(water: Water) -> Iterator[Slip]:
    """One column in another unit or form than its name says."""
    bicarbonate = float(molar_mass("bicarbonate"))
    degree = convert(1.0, "dH", "meq/L")
    caco3_degree, french = convert(1.0, "mg/L CaCO3", "dH"), convert(1.0, "°f", "dH")
    meq_degree = convert(1.0, "meq/L", "dH")
    forms: tuple[tuple[str, float, str], ...] = (
        ("bicarbonate_mg_l", bicarbonate / AS_CACO3, "alkalinity as mg/L CaCO3, not bicarbonate"),
        ("bicarbonate_mg_l", bicarbonate * degree, "alkalinity in dH, not bicarbonate in mg/L"),
        ("bicarbonate_mg_l", bicarbonate, "alkalinity in meq/L, not bicarbonate in mg/L"),
        ("nitrate_mg_l", 1.0 / float(element_share("nitrate")), "nitrate as N, not as the ion"),
        ("phosphate_mg_l", 1.0 / float(element_share("phosphate")), "phosphate as P, not the ion"),
        ("sulfate_mg_l", 1.0 / float(element_share("sulfate")), "sulfate as S, not as the ion"),
        ("calcium_mg_l", _per_caco3("calcium"), "calcium as mg/L CaCO3, not as the ion"),
        ("magnesium_mg_l", _per_caco3("magnesium"), "magnesium as mg/L CaCO3, not as the ion"),
        ("calcium_mg_l", degree * float(molar_mass("calcium")) / 2.0, "calcium hardness in dH"),
        ("gh_dh", caco3_degree, "hardness in mg/L CaCO3, not in dH"),
        ("gh_dh", french, "hardness in French degrees, not in dH"),
        ("gh_dh", meq_degree, "hardness in meq/L, not in dH"),
        ("kh_dh", caco3_degree, "alkalinity in mg/L CaCO3, not in dH"),
        ("kh_dh", french, "alkalinity in French degrees, not in dH"),
        ("kh_dh", meq_degree, "alkalinity in meq/L, not in dH"),
        ("ec25_us_cm", 1000.0, "conductivity in mS/cm, not in uS/cm"),
        ("ec25_us_cm", 10.0, "conductivity in mS/m, not in uS/cm"),
        ("ec25_us_cm", 2.0, "a pen's ppm (factor 0.5), not conductivity"),
    )
    for column, factor, what in forms:
        yield from _scaled(water, column, factor, what, COMMON if "not bicarb" in what else USUAL)


def _scaled(water: Water, column: str, factor: float, what: str, unlikely: float) -> Iterator[Slip]:
    value: float | None = getattr(water, column)
    if value is None or value <= 0.0:
        return
    meant = float(value) * factor
    right = replace(water, **{column: meant})  # type: ignore[arg-type]
    poor = meant < USUAL_LEAST.get(column, 0.0) and water.kind not in ("rain", "ro")
    if poor or meant > USUAL_MOST.get(column, math.inf):
        unlikely += UNUSUAL
    yield Slip(column, what, float(value), meant, right, unlikely)
