"""A source water as the amounts per litre that the model takes in.

An analysis is rarely whole. What is missing is filled by the water's kind, the
remaining charge is closed with sodium or chloride, and `assumed` names every
number that the keeper did not give, so that a page can say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.composition import ALKALINITY, CHARGE, HOLDS, element_share, molar_mass
from pleuston.records.library import library
from pleuston.records.near import near_names
from pleuston.records.record import Entry, Record, Tank, Water

WATER_IN = ("top_up", "water_change")
DH_MEQ = 0.356652
DH_MMOL = 0.178326
"""1 dH is 10 mg CaO per litre."""
CALCIUM_SHARE = 0.8
"""Share of calcium in hardness when only GH is known: common practice, no source."""
DEFAULTS: Mapping[str, Mapping[str, float]] = {
    # mg/L of the ion, copper and zinc ug/L; common practice, no source: ordinary
    # values for the kind, only used where the keeper's analysis is silent
    "tap": {"potassium": 2.0, "sulfate": 30.0, "nitrate": 8.0, "phosphate": 0.3, "iron": 0.02,
            "copper": 10.0, "zinc": 30.0, "kh": 6.0, "gh": 8.0},
    "well": {"potassium": 2.0, "sulfate": 25.0, "nitrate": 10.0, "phosphate": 0.1, "iron": 0.05,
             "copper": 5.0, "zinc": 10.0, "kh": 8.0, "gh": 10.0},
    "bottle": {"potassium": 1.0, "sulfate": 15.0, "nitrate": 2.0, "phosphate": 0.0, "iron": 0.0,
               "copper": 1.0, "zinc": 1.0, "kh": 5.0, "gh": 6.0},
    "rain": {"potassium": 0.2, "sulfate": 1.0, "nitrate": 1.0, "phosphate": 0.02, "iron": 0.01,
             "copper": 2.0, "zinc": 10.0, "kh": 0.1, "gh": 0.1},
    "ro": {"potassium": 0.1, "sulfate": 0.5, "nitrate": 0.3, "phosphate": 0.0, "iron": 0.0,
           "copper": 0.5, "zinc": 1.0, "kh": 0.2, "gh": 0.2},
}  # fmt: skip


@dataclass(frozen=True)
class Dissolved:
    """What a litre brings: mg of the element, meq of alkalinity, by state of a tank."""

    per_litre: Mapping[str, float]
    assumed: tuple[str, ...]


UNNAMED = "moderately hard"
"""The shipped water of a keeper who names none: common practice, no source."""


def usual_water(record: Record, tank: Tank, entries: Iterable[Entry] = ()) -> str:
    """The water a tank is topped up with: the one poured last, its own, else the rack's first."""
    poured = [e.what for e in entries if e.kind in WATER_IN and e.tank == tank.name and e.what]
    of_rack = record.waters[0].name if record.waters else UNNAMED
    return next(iter(poured[-1:]), "") or tank.top_up_water or of_rack


def whole_water(water: Water) -> Dissolved:
    """Fill an analysis up to a whole, charge-balanced water."""
    kind = DEFAULTS[water.kind if water.kind in DEFAULTS else "tap"]
    assumed: list[str] = []

    def ion(name: str, given: float | None) -> float:
        if given is None:
            assumed.append(name)
        return given if given is not None else kind.get(name, 0.0)

    alkalinity = _alkalinity(water, kind, assumed)
    calcium, magnesium = _hardness(water, kind, assumed)
    ions = {
        "calcium": calcium, "magnesium": magnesium,
        "potassium": ion("potassium", water.potassium_mg_l),
        "sulfate": ion("sulfate", water.sulfate_mg_l),
        "nitrate": ion("nitrate", water.nitrate_mg_l),
        "phosphate": ion("phosphate", water.phosphate_mg_l),
    }  # fmt: skip
    sodium, chloride = water.sodium_mg_l, water.chloride_mg_l
    charge = alkalinity * -1.0 + sum(_meq(n, v) for n, v in ions.items())
    charge += _meq("sodium", sodium or 0.0) + _meq("chloride", chloride or 0.0)
    extra = _salt(water, ions, alkalinity) if sodium is None and chloride is None else 0.0
    lacking_sodium, lacking_chloride = max(-charge, 0.0) + extra, max(charge, 0.0) + extra
    assumed += [n for n, v in (("sodium", sodium), ("chloride", chloride)) if v is None]
    ions["sodium"] = (sodium or 0.0) + lacking_sodium * float(molar_mass("sodium"))
    ions["chloride"] = (chloride or 0.0) + lacking_chloride * float(molar_mass("chloride"))
    result = {HOLDS[n][0]: v * float(element_share(n)) for n, v in ions.items()}
    result["alkalinity"] = alkalinity
    result["carbon_inorganic"] = _carbon(alkalinity, water.ph)
    result["iron"] = ion("iron", water.iron_mg_l)
    for metal, given in (("copper", water.copper_ug_l), ("zinc", water.zinc_ug_l)):
        result[metal] = ion(metal, given) / 1000.0
    return Dissolved(result, tuple(assumed))


def _meq(name: str, mg: float) -> float:
    return CHARGE[name] * mg / float(molar_mass(name))


def _alkalinity(water: Water, kind: Mapping[str, float], assumed: list[str]) -> float:
    if water.kh_dh is not None:
        return water.kh_dh * DH_MEQ
    if water.bicarbonate_mg_l is not None:
        return water.bicarbonate_mg_l / float(molar_mass("bicarbonate")) * ALKALINITY["bicarbonate"]
    assumed.append("alkalinity")
    return kind["kh"] * DH_MEQ


def _hardness(
    water: Water, kind: Mapping[str, float], assumed: list[str]
) -> tuple[float, float]:
    calcium, magnesium = water.calcium_mg_l, water.magnesium_mg_l
    heavy, light = float(molar_mass("calcium")), float(molar_mass("magnesium"))
    total = water.gh_dh
    if total is None and calcium is None:
        assumed.append("hardness")
        total = kind["gh"]
    mmol = (total or 0.0) * DH_MMOL
    if calcium is None:
        assumed.append("calcium")
        calcium = (mmol - magnesium / light if magnesium is not None else CALCIUM_SHARE * mmol)
        calcium = max(calcium, 0.0) * heavy
    if magnesium is None:
        assumed.append("magnesium")
        rest = mmol - calcium / heavy if total is not None else calcium / heavy / 4.0
        magnesium = max(rest, 0.0) * light
    return calcium, magnesium


def _salt(water: Water, ions: Mapping[str, float], alkalinity: float) -> float:
    """Sodium chloride [meq/L] that the conductivity asks for beyond the known ions."""
    if water.ec25_us_cm is None:
        return 0.0
    equivalents = alkalinity + sum(abs(_meq(n, v)) for n, v in ions.items())
    return max(0.0, water.ec25_us_cm - 52.0 * equivalents) / 115.0


def _carbon(alkalinity: float, ph: float | None) -> float:
    """Inorganic carbon [mg/L] of a tap water: bicarbonate with the CO2 of its pH (pK1 6.35)."""
    carbon_dioxide = alkalinity * 10 ** (6.35 - (ph if ph is not None else 7.6))
    return max(alkalinity, 0.0) * 12.011 + min(max(carbon_dioxide, 0.01), 2.0) * 12.011


def water_at(record: Record, name: str, moment: datetime) -> Water:
    """The rack's own analysis valid at a moment, else the library's water of that name."""
    rows = record.water_rows(name)
    valid = [w for w in rows if w.valid_from is None or w.valid_from <= moment]
    if valid:
        return valid[-1]
    if rows:
        return rows[0]
    shelf = library().waters
    if name not in shelf:
        raise UnknownNameError(
            f"there is no water named {name!r}", where=f"rack {record.rack.name}".strip(),
            remedy=near_names(name, [*(w.name for w in record.waters), *shelf]),
        )  # fmt: skip
    return shelf[name]


def dissolved(record: Record, name: str, moment: datetime) -> Dissolved:
    """What a litre of a source water or blend brings in at a moment.

    Raises InputError when no water is named, UnknownNameError when nothing has the name.
    """
    if not name:
        raise InputError(
            "no top-up water is named", where="tank settings",
            remedy="Give top_up_water in tanks.csv or name the water in the entry",
        )  # fmt: skip
    blend = next((b for b in record.blends if b.name == name), None)
    if blend is None:
        return whole_water(water_at(record, name, moment))
    total: dict[str, float] = {}
    assumed: list[str] = []
    for part, share in blend.parts:
        piece = whole_water(water_at(record, part, moment))
        assumed.extend(f"{part}: {a}" for a in piece.assumed)
        for state, value in piece.per_litre.items():
            total[state] = total.get(state, 0.0) + share * value
    return Dissolved(total, tuple(assumed))
