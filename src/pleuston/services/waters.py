"""Judge analyses of source waters: do they agree with themselves, and what would they do?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from pleuston.records.record import Water
from pleuston.services import water_sums as sums
from pleuston.services.water_effects import effects
from pleuston.services.water_slips import (
    BALANCE_WITHIN,
    DILUTE,
    LEAST_WITNESS,
    Found,
    likely_slips,
    witnesses,
)
from pleuston.services.water_words import Finding, finding
from pleuston.store.exchange_waters import read_waters

LOOK_UNTIL = 10.0
"""Difference of charges that is worth a look only [% of the sum]."""
EC_ERROR = 0.08
"""Error of a conductivity summed over ions, as a share of it."""
EC_LEAST_ERROR = 3.0
"""What a meter and rounding are off by in dilute water [uS/cm]."""
PH_JUDGED = (4.0, 10.5)
"""Fresh waters outside these are not judged by their carbonate."""
ALKALINE_ABOVE = 4.6
"""A water below this pH holds no bicarbonate."""


def judge_waters(file: Path) -> list[dict[str, Any]]:
    """Judge every analysis of a file with the columns of `waters.csv`.

    Raises `ImportRefused` with every problem of the file.
    """
    return [judge(water) for water in read_waters(Path(file))]


def judge(water: Water) -> dict[str, Any]:
    """Judge one analysis: findings in words, with value, expected range and source."""
    water, findings = _ph_of(water)
    slips = likely_slips(water)
    findings += _brackish(water)
    findings += [*_lacking(water), *_balance(water, slips), *_conductivity(water)]
    findings += [*_degrees(water), *_slips(slips), *_solids(water), *effects(water)]
    since = water.valid_from_text or (water.valid_from.isoformat() if water.valid_from else "")
    return {"water": water.name, "kind": water.kind, "from": since, "findings": findings}


def _ph_of(water: Water) -> tuple[Water, list[Finding]]:
    """Take a pH away that no such water can have, and say so."""
    if water.ph is None:
        return water, []
    ph, low = float(water.ph), PH_JUDGED[0]
    if (sums.alkalinity(water) or 0.0) > 0.05:
        low = ALKALINE_ABOVE
    if low <= ph <= PH_JUDGED[1]:
        return water, []
    reason = "no fresh water with these ions has such a pH; it is left out of what follows"
    said = finding("ph", ph, "1", "slip", reason, "stumm1996", low, PH_JUDGED[1])
    return replace(water, ph=None), [said]


def _brackish(water: Water) -> list[Finding]:
    """Say where the ions given are too many for fresh water."""
    strong = sums.strength(water)
    if strong <= sums.FRESH_MOST:
        return []
    reason = "more ions than fresh water holds: check the units; pH and pairs are not judged"
    return [
        finding("ionic_strength", strong, "mol/L", "slip", reason, "stumm1996", None,
                sums.FRESH_MOST)
    ]  # fmt: skip


def _lacking(water: Water) -> list[Finding]:
    gone = sums.missing(water)
    if not gone:
        return []
    charge = sums.charge_of(water)
    apart = charge.cations - charge.anions
    reason = f"without {', '.join(gone)} neither charges nor conductivity can be summed"
    if gone == ["sodium"] and apart < 0.0:
        reason += f"; the charges ask for {-apart * 22.990:.3g} mg/L of sodium"
    if gone == ["chloride"] and apart > 0.0:
        reason += f"; the charges ask for {apart * 35.45:.3g} mg/L of chloride"
    return [finding("missing_ions", len(gone), "1", "look", reason, "common_practice")]


def _balance(water: Water, slips: list[Found]) -> list[Finding]:
    if sums.missing(water):
        return []
    charge = sums.charge_of(water)
    percent, apart = charge.percent, charge.cations - charge.anions
    told = f"cations {charge.cations:.3g}, anions {charge.anions:.3g} meq/L"
    explained = any(abs(f.before.get("balance", 0.0)) > BALANCE_WITHIN for f in slips)
    if abs(percent) <= BALANCE_WITHIN or abs(apart) <= DILUTE:
        word, rest = "fine", "the charges of the ions cancel as they must"
        if abs(percent) > BALANCE_WITHIN:
            rest = "so dilute that rounding explains the difference"
    elif explained:
        word, rest = "slip", "they must cancel; see the likely slips"
    elif abs(percent) <= LOOK_UNTIL:
        word, rest = "look", "they should cancel; an ion may be missing or a number rounded"
    else:
        lacks = "anions" if apart > 0.0 else "cations"
        word, rest = "slip", f"they must cancel: {lacks} are missing or a number is wrong"
    low, high = -BALANCE_WITHIN, BALANCE_WITHIN
    reason = f"{told}: {rest}"
    return [finding("charge_balance", percent, "%", word, reason, "stumm1996", low, high)]


def _conductivity(water: Water) -> list[Finding]:
    """Conductivity from the ions, and how the one given compares."""
    if sums.missing(water):
        return []
    total = sums.ec25(water)
    middle = total / sums.HIGH_BY
    margin = max(EC_ERROR * middle, EC_LEAST_ERROR)
    low, high = max(0.0, middle - margin), middle + margin
    word, rest = "fine", "the analysis gives none to compare"
    if water.ec25_us_cm is not None:
        shown = float(water.ec25_us_cm)
        rest = f"the analysis gives {shown:g}"
        if not low <= shown <= high:
            apart = abs(witnesses(water).get("conductivity", 0.0))
            word = "slip" if apart > LEAST_WITNESS["conductivity"] else "look"
            rest += ", which is outside"
    reason = (
        f"sum over the ions, neutral pairs left out; a meter is expected to show {low:.0f} to "
        f"{high:.0f}: {rest}"
    )
    return [finding("ec25", total, "uS/cm", word, reason, "mccleskey2012", low, high)]


def _degrees(water: Water) -> list[Finding]:
    """GH against calcium and magnesium, KH against bicarbonate."""
    found = []
    off = witnesses(water)
    kh = sums.alkalinity(water)
    pairs = (
        ("gh", sums.gh_of_ions(water), water.gh_dh, "calcium and magnesium"),
        ("kh", kh if water.bicarbonate_mg_l is not None else None, water.kh_dh, "bicarbonate"),
    )
    for name, total, shown, ions in pairs:
        if total is None:
            continue
        degrees = sums.dh(total)
        word, rest = "fine", ""
        if shown is not None:
            rest = f"; the analysis gives {float(shown):g} dH"
            if abs(off.get(name, 0.0)) > LEAST_WITNESS[name]:
                word, rest = "slip", f"{rest}, which does not fit"
        margin = max(0.5, degrees * LEAST_WITNESS[name] / 100.0)
        low, high = max(0.0, degrees - margin), degrees + margin
        reason = f"{degrees:.3g} dH from {ions} ({total:.3g} meq/L){rest}"
        found.append(finding(name, degrees, "dH", word, reason, "common_practice", low, high))
    return found


def _slips(slips: list[Found]) -> list[Finding]:
    found = []
    for one in slips:
        slip = one.slip
        kept = ", ".join(
            f"{name} off by {abs(one.before[name]):.0f} % becomes {abs(one.after[name]):.0f} %"
            for name in one.before
            if name in one.after and abs(one.before[name]) > LEAST_WITNESS[name]
        )
        name, _, _ = slip.column.partition("_")
        reason = (
            f"likely {slip.what}: {slip.given:g} would stand for {slip.meant:.3g} in "
            f"{slip.column}; {kept}"
        )
        found.append(
            finding(f"likely_slip_{name}", slip.meant, _unit(slip.column), "slip", reason,
                    "stumm1996")
        )  # fmt: skip
    return found


def _unit(column: str) -> str:
    for end, unit in (("_mg_l", "mg/L"), ("_dh", "dH"), ("_us_cm", "uS/cm"), ("_ug_l", "ug/L")):
        if column.endswith(end):
            return unit
    return "1"


def _solids(water: Water) -> list[Finding]:
    if sums.missing(water):
        return []
    ions, residue = sums.solids(water)
    reason = (
        f"sum of the ions; a residue dried at 180 degC would weigh {residue:.3g} mg/L, since "
        "bicarbonate leaves as carbonate and carbon dioxide"
    )
    return [
        finding("dissolved_solids", ions, "mg/L", "fine", reason, "common_practice", residue, ions)
    ]
