"""Sums over an analysis of a source water: charge, conductivity, solids, hardness, pH."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from pleuston.base.units import convert
from pleuston.chemistry import carbonate, conductivity, hardness
from pleuston.chemistry.speciation import Species, ph_of_open_water, ph_of_water
from pleuston.chemistry.speciation import Water as Solution
from pleuston.records.composition import CHARGE, element_share, molar_mass
from pleuston.records.record import Water

WARM = 298.15
"""Temperature all is judged at [K]: that of the conductivity."""
PH_USUAL = 7.6
ATMOSPHERE, OUTDOOR_CO2, INDOOR_CO2 = 1.0, 420e-6, 1000e-6
HIGH_BY = 1.04
"""Sums over ions with their pairs come out this much above fresh waters as measured."""
MAJOR = ("calcium", "magnesium", "sodium", "alkalinity", "sulfate", "chloride")
"""Without all of these a charge balance or a sum means nothing."""
MG_CO2_PER_MG_C = 44.009 / 12.011
MG_C_PER_MEQ = 12.011
FRESH_MOST = 0.1
"""Ionic strength up to which a water is fresh enough for its pairs and pH [mol/L]."""
RESIDUE_OF_BICARBONATE = 60.008 / (2.0 * 61.016)
"""Mass that dry bicarbonate leaves as carbonate, per mass dissolved."""


def given(water: Water, name: str) -> float | None:
    """The concentration of an ion as it stands in the analysis [mg/L]."""
    value: float | None = getattr(water, f"{name}_mg_l")
    return None if value is None else float(value)


def alkalinity(water: Water) -> float | None:
    """Alkalinity from bicarbonate, else from KH [meq/L]."""
    if water.bicarbonate_mg_l is not None:
        return float(water.bicarbonate_mg_l) / float(molar_mass("bicarbonate"))
    if water.kh_dh is not None:
        return convert(float(water.kh_dh), "dH", "meq/L")
    return None


def missing(water: Water) -> list[str]:
    """Which of the major ions the analysis does not give."""
    gone = [n for n in MAJOR if n != "alkalinity" and given(water, n) is None]
    return gone if alkalinity(water) is not None else [*gone, "alkalinity"]


@dataclass(frozen=True, slots=True)
class Charge:
    """Sums of charge [meq/L]."""

    cations: float
    anions: float

    @property
    def percent(self) -> float:
        """Difference as a share of the sum [%], above 0 when anions lack."""
        total = self.cations + self.anions
        return 100.0 * (self.cations - self.anions) / total if total > 0.0 else 0.0


def charge_of(water: Water) -> Charge:
    """Charge of the ions given; an acid water's protons count, bicarbonate as alkalinity."""
    cations, anions = 0.0, alkalinity(water) or 0.0
    for name, charge in CHARGE.items():
        value = getattr(water, f"{name}_mg_l", None)
        if value is None:
            continue
        amount = abs(charge) * float(value) / float(molar_mass(name))
        if charge > 0:
            cations += amount
        else:
            anions += amount
    if water.ph is not None:
        cations += 1e3 * 10.0 ** -float(water.ph)
    return Charge(cations, anions)


def elements(water: Water) -> Mapping[str, float]:
    """mg/L of the element by ion; what is not given counts as none."""
    names = ("calcium", "magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate",
             "phosphate")  # fmt: skip
    return {n: (given(water, n) or 0.0) * float(element_share(n)) for n in names}


def strength(water: Water) -> float:
    """Ionic strength [mol/L]."""
    e = elements(water)
    return float(
        conductivity.ionic_strength(
            e["calcium"], e["magnesium"], e["sodium"], e["potassium"], 0.0, e["chloride"],
            e["sulfate"], e["nitrate"], 0.0, alkalinity(water) or 0.0,
        )
    )  # fmt: skip


def solution(water: Water) -> Solution:
    """The water as the pH solver takes it."""
    e = elements(water)
    return Solution(
        WARM, alkalinity(water) or 0.0, strength(water), e["calcium"], e["magnesium"],
        e["sulfate"], 0.0, e["phosphate"],
    )  # fmt: skip


def carbon(water: Water, ph: float) -> float:
    """Inorganic carbon that gives a water its pH at its alkalinity [mg/L of C]."""
    strong = strength(water)
    first, second = carbonate.carbonic_first(WARM, strong), carbonate.carbonic_second(WARM, strong)
    product = carbonate.water_product(WARM, strong)
    none = carbonate.alkalinity_of_carbon(ph, 0.0, first, second, product)
    one = carbonate.alkalinity_of_carbon(ph, 1.0, first, second, product)
    return max(float(((alkalinity(water) or 0.0) - none) / (one - none)), 0.0)


def co2(water: Water) -> float | None:
    """Dissolved CO2 that pH and alkalinity mean [mg/L of CO2]; None when one is unknown."""
    if water.ph is None or not alkalinity(water):
        return None
    ph, strong = float(water.ph), strength(water)
    first, second = carbonate.carbonic_first(WARM, strong), carbonate.carbonic_second(WARM, strong)
    share = float(carbonate.co2_share(ph, first, second))
    return carbon(water, ph) * share * MG_CO2_PER_MG_C


def co2_of_air(air_co2: float) -> float:
    """CO2 in water that stands in balance with the air [mg/L of CO2]."""
    return float(carbonate.co2_at_equilibrium(WARM, ATMOSPHERE, air_co2)) * MG_CO2_PER_MG_C


def standing_ph(water: Water, air_co2: float) -> float:
    """pH after the water has stood in air until its CO2 is that of the air."""
    held = co2_of_air(air_co2) / MG_CO2_PER_MG_C
    return ph_of_open_water(solution(water), held).ph


def ec25(water: Water) -> float:
    """Conductivity at 25 degC summed over the ions, neutral pairs left out [uS/cm].

    Beyond fresh water pairs are not known, and all alkalinity counts as bicarbonate.
    """
    e = dict(elements(water))
    ph = PH_USUAL if water.ph is None else float(water.ph)
    strong = strength(water)
    bicarbonate = charged_carbonate = 0.0
    if (alkalinity(water) or 0.0) > 0.0 and strong <= FRESH_MOST:
        species: Species = ph_of_water(solution(water), carbon(water, ph))
        e["calcium"], e["magnesium"] = species.calcium_charged, species.magnesium_charged
        e["sulfate"] = species.sulfate_charged
        bicarbonate, charged_carbonate = species.bicarbonate, species.carbonate_charged
    elif strong > FRESH_MOST:
        bicarbonate = (alkalinity(water) or 0.0) * MG_C_PER_MEQ
    ions = conductivity.conductivity_of_strong_ions(
        WARM, strong, e["calcium"], e["magnesium"], e["sodium"], e["potassium"], 0.0,
        e["chloride"], e["sulfate"], e["nitrate"],
    )  # fmt: skip
    rest = conductivity.conductivity_of_carbonate(WARM, strong, bicarbonate, charged_carbonate, ph)
    return float(ions + rest + conductivity.conductivity_of_minor_ions(0.0, e["phosphate"]))


def solids(water: Water) -> tuple[float, float]:
    """Dissolved solids: sum of the ions, and what a dried residue would weigh [mg/L]."""
    bicarbonate = (alkalinity(water) or 0.0) * float(molar_mass("bicarbonate"))
    names = ("calcium", "magnesium", "sodium", "potassium", "sulfate", "chloride", "nitrate",
             "phosphate", "iron")  # fmt: skip
    rest = math.fsum(given(water, n) or 0.0 for n in names)
    return rest + bicarbonate, rest + RESIDUE_OF_BICARBONATE * bicarbonate


def gh_of_ions(water: Water) -> float | None:
    """General hardness of calcium and magnesium [meq/L]; None unless both are given."""
    calcium, magnesium = given(water, "calcium"), given(water, "magnesium")
    if calcium is None or magnesium is None:
        return None
    return float(hardness.gh(calcium, magnesium))


def gh_noted(water: Water) -> float | None:
    """General hardness of the ions, else as given [meq/L]."""
    total = gh_of_ions(water)
    if total is None and water.gh_dh is not None:
        return convert(float(water.gh_dh), "dH", "meq/L")
    return total


def dh(meq: float) -> float:
    """Equivalents as German degrees."""
    return convert(meq, "meq/L", "dH")
