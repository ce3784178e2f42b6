"""Units at the edge: read their spellings and convert amounts; inside there is one unit each.

Nothing here is needed while the model runs. A unit is known by its canonical spelling
and by common others ("µS/cm", "°dH", "mg/l"); what is not known is refused with the
nearest known spellings.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from pleuston.base.errors import UnitError

MASS_CAO = 56.077
"""Molar mass of CaO [g/mol]; one German degree is 10 mg/L of it."""
MASS_CACO3 = 100.087
"""Molar mass of CaCO3 [g/mol]."""
MEQ_PER_MG_CACO3 = 2.0 / MASS_CACO3
SHARE_N_OF_NH4 = 14.007 / 18.039
SHARE_N_OF_NO2 = 14.007 / 46.005
SHARE_N_OF_NO3 = 14.007 / 62.004
SHARE_P_OF_PO4 = 30.974 / 94.970


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: value in the base unit of its dimension = value * factor + offset."""

    name: str
    dimension: str
    factor: float
    spellings: tuple[str, ...] = ()
    offset: float = 0.0


_TABLE: tuple[Unit, ...] = (
    Unit("1", "fraction", 1.0, ("", "-", "1/1")),
    Unit("%", "fraction", 0.01, ("percent", "pct", "%RH", "% RH", "%sat", "% sat")),
    Unit("ppmv", "fraction", 1e-6, ("umol/mol", "ppm CO2")),
    Unit("ppm", "pen", 1.0, ("ppm TDS",)),
    Unit("d", "time", 1.0, ("day", "days")),
    Unit("h", "time", 1.0 / 24.0, ("hour", "hours", "hr", "hrs")),
    Unit("min", "time", 1.0 / 1440.0, ("minute", "minutes")),
    Unit("s", "time", 1.0 / 86400.0, ("sec", "second", "seconds")),
    Unit("week", "time", 7.0, ("weeks", "wk")),
    Unit("L", "volume", 1.0, ("liter", "litre", "liters", "litres", "dm3")),
    Unit("mL", "volume", 1e-3, ("cm3", "cc", "milliliter", "millilitre")),
    Unit("m^3", "volume", 1e3, ("m3", "cbm")),
    Unit("US gal", "volume", 3.785411784, ("gal US", "US gallon", "US gallons", "gal (US)")),
    Unit(
        "imp gal", "volume", 4.54609,
        ("gal imp", "UK gal", "imp gallon", "imperial gallon", "imperial gallons", "gal (imp)"),
    ),
    Unit("g", "mass", 1.0, ("gram", "grams", "gr")),
    Unit("mg", "mass", 1e-3, ("milligram", "milligrams")),
    Unit("ug", "mass", 1e-6, ("mcg", "microgram")),
    Unit("kg", "mass", 1e3, ("kilogram", "kilograms")),
    Unit("oz", "mass", 28.349523125, ("ounce", "ounces")),
    Unit("lb", "mass", 453.59237, ("lbs", "pound", "pounds")),
    Unit("m", "length", 1.0, ("meter", "metre")),
    Unit("cm", "length", 0.01, ()),
    Unit("mm", "length", 0.001, ()),
    Unit("in", "length", 0.0254, ("inch", "inches", '"')),
    Unit("ft", "length", 0.3048, ("foot", "feet")),
    Unit("m^2", "area", 1.0, ("m2", "sqm")),
    Unit("cm^2", "area", 1e-4, ("cm2",)),
    Unit("K", "temperature", 1.0, ("kelvin",)),
    Unit("degC", "temperature", 1.0, ("C", "°C", "deg C", "celsius"), 273.15),
    Unit(
        "degF", "temperature", 5.0 / 9.0, ("F", "°F", "deg F", "fahrenheit"), 273.15 - 160.0 / 9.0
    ),
    Unit("mg/L", "concentration", 1.0, ("g/m3", "mg/dm3", "mg/litre", "mg/liter")),
    Unit("ug/L", "concentration", 1e-3, ("mcg/L", "mg/m3", "ppb")),
    Unit("g/L", "concentration", 1e3, ("kg/m3",)),
    Unit("mg/L NH4-N", "ammonium", 1.0, ("mg/L NH3-N", "mg/L TAN", "mg/L TAN-N")),
    Unit("mg/L NH4", "ammonium", SHARE_N_OF_NH4, ("mg/L NH4+",)),
    Unit("mg/L NO2-N", "nitrite", 1.0, ()),
    Unit("mg/L NO2", "nitrite", SHARE_N_OF_NO2, ("mg/L NO2-",)),
    Unit("mg/L NO3-N", "nitrate", 1.0, ()),
    Unit("mg/L NO3", "nitrate", SHARE_N_OF_NO3, ("mg/L NO3-",)),
    Unit("mg/L PO4-P", "phosphate", 1.0, ("mg/L P",)),
    Unit("mg/L PO4", "phosphate", SHARE_P_OF_PO4, ("mg/L PO4(3-)", "mg/L PO43-")),
    Unit("meq/L", "equivalents", 1.0, ("mval/L", "mmol/L HCO3")),
    Unit(
        "dH", "equivalents", 20.0 / MASS_CAO,
        ("°dH", "°d", "dKH", "dGH", "°dKH", "°dGH", "°KH", "°GH", "deg dH", "german degrees"),
    ),
    Unit(
        "mg/L CaCO3", "equivalents", MEQ_PER_MG_CACO3,
        ("ppm CaCO3", "mg CaCO3/L", "mg/L (CaCO3)"),
    ),
    Unit("mmol/L CaCO3", "equivalents", 2.0, ("mmol/L Ca+Mg", "mmol/L (Ca+Mg)")),
    Unit("°f", "equivalents", 10.0 * MEQ_PER_MG_CACO3, ("°fH", "fH", "french degrees")),
    Unit("°e", "equivalents", 14.254 * MEQ_PER_MG_CACO3, ("°eH", "eH", "°Clark", "clark")),
    Unit("gpg", "equivalents", 17.118 * MEQ_PER_MG_CACO3, ("grains/US gal",)),
    Unit("uS/cm", "conductivity", 1.0, ("uS", "umho/cm")),
    Unit("mS/cm", "conductivity", 1e3, ("mS", "dS/m", "mmho/cm")),
    Unit("mS/m", "conductivity", 10.0, ()),
    Unit("umol/m^2/s", "light", 1.0, ("umol/m2/s", "umol m-2 s-1", "umol/(m2 s)", "PPFD", "uE")),
    Unit("atm", "pressure", 1.0, ()),
    Unit("Pa", "pressure", 1.0 / 101325.0, ()),
    Unit("hPa", "pressure", 100.0 / 101325.0, ("mbar",)),
    Unit("kPa", "pressure", 1000.0 / 101325.0, ()),
    Unit("mmHg", "pressure", 133.322387415 / 101325.0, ()),
    Unit("W", "power", 1.0, ("watt", "watts")),
    Unit("kW", "power", 1e3, ()),
    Unit("mg/kg", "mass share", 1.0, ("mg kg-1",)),
    Unit("g/kg", "mass share", 1e3, ("g kg-1",)),
    Unit("g/m^2", "cover mass", 1.0, ("g/m2", "g m-2")),
    Unit("kg/m^2", "cover mass", 1e3, ("kg/m2", "kg m-2")),
)  # fmt: skip

UNITS = MappingProxyType({unit.name: unit for unit in _TABLE})
"""Every known unit by its canonical spelling."""

DOUBTFUL = MappingProxyType({
    "gal": "Write US gal or imp gal",
    "gallon": "Write US gal or imp gal",
    "gallons": "Write US gal or imp gal",
    "mmol/L": "Write meq/L (one mmol of bicarbonate), or mmol/L CaCO3 (calcium and magnesium)",
    "°": "Write °C, °F, °dH, °e or °f",
    "deg": "Write degC, degF or dH",
})  # fmt: skip
"""Spellings that mean more than one unit, with what to write instead."""


def _plain(text: str) -> str:
    """One form for the ways a unit is typed: micro signs, powers, dots, blanks."""
    text = text.strip().replace("º", "°").replace("˚", "°")
    text = unicodedata.normalize("NFKC", text)
    text = text.replace("μ", "u").replace("−", "-").replace("^", "")
    text = re.sub(r"[·⋅*]", " ", text)
    text = re.sub(r"\s*/\s*|\s+per\s+", "/", text)
    text = re.sub(r"°\s+", "°", text)
    text = re.sub(r"\s+as\s+", " ", text)
    return re.sub(r"\s+", " ", text)


@cache
def _spellings() -> tuple[dict[str, str], dict[str, str | None]]:
    """Exact spelling -> name, and spelling without case -> name (None when two differ)."""
    exact: dict[str, str] = {}
    folded: dict[str, str | None] = {}
    for unit in _TABLE:
        for word in (unit.name, *unit.spellings):
            plain = _plain(word)
            exact[plain] = unit.name
            key = plain.casefold()
            folded[key] = unit.name if folded.get(key, unit.name) == unit.name else None
    return exact, folded


def find(unit: str) -> Unit:
    """Give the unit that a spelling stands for; case counts only where two units differ by it.

    >>> find("µS/cm").name, find("°F").name, find("°f").name
    ('uS/cm', 'degF', '°f')
    """
    plain = _plain(unit)
    exact, folded = _spellings()
    name = exact.get(plain) or folded.get(plain.casefold())
    if name is not None:
        return UNITS[name]
    doubtful = {word.casefold(): remedy for word, remedy in DOUBTFUL.items()}
    if plain.casefold() in doubtful:
        raise UnitError(
            f"{unit!r} means more than one unit", where="unit", remedy=doubtful[plain.casefold()]
        )
    raise UnitError(f"the unit {unit!r} is not known", where="unit", remedy=_nearest(plain))


def _nearest(plain: str) -> str:
    exact, folded = _spellings()
    hits = difflib.get_close_matches(plain.casefold(), [w for w in folded if w], n=5, cutoff=0.5)
    names = dict.fromkeys(name for hit in hits if (name := folded[hit]) is not None)
    if names:
        return "Did you mean " + " or ".join(list(names)[:3]) + "?"
    return "Known units: " + ", ".join(sorted(set(exact.values())))


def normalise(unit: str) -> str:
    """Give the canonical spelling of a unit.

    >>> normalise("mg / l"), normalise("umol m-2 s-1"), normalise("°C")
    ('mg/L', 'umol/m^2/s', 'degC')
    """
    return find(unit).name


def convert(value: float, unit: str, to: str) -> float:
    """Convert a value from one unit to another of the same dimension.

    >>> round(convert(75.2, "°F", "K"), 2), round(convert(1, "dH", "meq/L"), 4)
    (297.15, 0.3567)
    """
    source, target = find(unit), find(to)
    if source.dimension != target.dimension:
        raise UnitError(
            f"{source.name!r} is a unit of {source.dimension}, not of {target.dimension}",
            where="unit",
            remedy="Use one of "
            + ", ".join(u.name for u in _TABLE if u.dimension == target.dimension),
        )
    if source is target:
        return value
    return (value * source.factor + source.offset - target.offset) / target.factor
