"""Amounts of an entry brought to the unit the record is written in."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pleuston.base.errors import UnitError
from pleuston.base.units import convert, normalise
from pleuston.records.given import Given, converted

_AS = re.compile(
    r"(?P<unit>.*?)\s*\(?\s*(?:\bas\s+)?"
    r"(?P<what>NH3-N|NH4-N|NO2-N|NO3-N|TAN-N|TAN|NH4\+?|NO2-?|NO3-?|PO4(?:3-)?|N|K|Fe|Cu|O2)\s*\)?",
    re.ASCII,
)
_MEANS: dict[str, tuple[str, ...]] = {
    "ammonium": ("N", "NH4-N", "NH3-N", "TAN", "TAN-N"),
    "ammonium_ion": ("NH4", "NH4+"),
    "nitrite": ("N", "NO2-N"),
    "nitrite_ion": ("NO2", "NO2-"),
    "nitrate": ("N", "NO3-N"),
    "nitrate_ion": ("NO3", "NO3-"),
    "phosphate_ion": ("PO4", "PO43-"),
    "potassium": ("K",),
    "iron": ("Fe",),
    "copper": ("Cu",),
    "oxygen": ("O2",),
}
_PLAIN_COUNTS = ("", "1", "count", "pcs", "pieces", "animals", "ind")
_PLAIN_PH = ("", "1", "pH", "ph", "-")


class BadUnitError(ValueError):
    """A unit that does not fit, with the reason and the remedy."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Amount:
    """Low and high in the unit they are written in."""

    low: Given | None
    high: Given | None
    unit: str


def reading_amount(name: str, target: str, given: Amount) -> Amount:
    """Bring a reading to the unit it is written in; `as N` and `as ion` must agree with its name.

    Only pH is read without a unit. Degrees of hardness are never guessed from `ppm`.
    """
    if name == "ph":
        if given.unit not in _PLAIN_PH:
            raise BadUnitError(f"pH has no unit, but {given.unit!r} is given", "empty the cell")
        return Amount(given.low, given.high, "")
    unit = _without_substance(name, given.unit)
    if name in ("kh", "gh") and unit.casefold() in ("ppm", "mg/l"):
        raise BadUnitError(
            f"{given.unit!r} does not say of what the hardness is counted",
            "write dH, mg/L CaCO3 or meq/L",
        )
    if name != "pen_ppm" and unit.casefold() == "ppm" and target == "mg/L":
        unit = "mg/L"
    return in_unit(Amount(given.low, given.high, unit), target)


def _without_substance(name: str, unit: str) -> str:
    match = _AS.fullmatch(unit.strip())
    if match is None or not match["unit"] or name not in _MEANS:
        return unit
    if match["what"] in _MEANS[name]:
        return match["unit"]
    fitting = [item for item, words in _MEANS.items() if match["what"] in words]
    raise BadUnitError(
        f"the reading is {name!r} but its unit says {match['what']}",
        f"write the reading as {' or '.join(fitting)}, or correct the unit",
    )


def count_amount(given: Amount) -> Amount:
    """Check that an amount of animals is whole and has no unit."""
    if given.unit.casefold() not in _PLAIN_COUNTS:
        raise BadUnitError(f"a count has no unit, but {given.unit!r} is given", "empty the cell")
    for value in (given.low, given.high):
        if value is not None and not value.is_integer():
            raise BadUnitError(f"{value.text} is not a whole number of animals", "count them")
    return Amount(given.low, given.high, "")


def volume_amount(given: Amount, surface_m2: float | None) -> Amount:
    """Bring a volume to litres; millimetres on the glass become litres by the tank's surface."""
    if given.unit == "mm" and surface_m2 is not None:
        low, high = (
            None if value is None else converted(value * surface_m2)
            for value in (given.low, given.high)
        )
        return Amount(low, high, "L")
    return in_unit(given, "L")


def in_unit(given: Amount, target: str) -> Amount:
    """Bring an amount to a unit; a mere spelling of the unit leaves the digits alone."""
    if given.unit == target:
        return given
    if not given.unit:
        raise BadUnitError("the unit is missing", f"write it, such as {target}")
    try:
        if normalise(given.unit) == normalise(target):
            return Amount(given.low, given.high, target)
        low, high = (
            None if value is None else converted(convert(float(value), given.unit, target))
            for value in (given.low, given.high)
        )
    except UnitError as fault:
        raise BadUnitError(
            f"the unit {given.unit!r} does not fit here",
            f"write the amount in {target} ({fault.what}; {fault.remedy.rstrip('.')})",
        ) from None
    return Amount(low, high, target)
