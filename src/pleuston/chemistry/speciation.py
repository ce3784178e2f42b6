"""pH of a whole water, with ion pairs, by iteration; for the edge and for checks, not the kernel.

The tank model solves the same balance without pairs. Here calcium, magnesium and sulfate
pair with the carbonate species and with each other, and ammonia and phosphate count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pleuston.base.cited import cited
from pleuston.base.errors import InputError
from pleuston.chemistry import ammonia, carbonate

PASSES = 12
"""Rounds of the fixed point for the free calcium, magnesium and sulfate."""
HALVINGS = 50
PH_LEAST, PH_MOST = 2.0, 13.0
GAS_CONSTANT = 8.314462618e-3
"""[kJ/mol/K]"""

# log K at 25 degC and enthalpy [kJ/mol] of the pairs
CA_HCO3 = (1.106, 11.5)
CA_CO3 = (3.224, 14.8)
MG_HCO3 = (1.07, 3.3)
MG_CO3 = (2.98, 11.4)
CA_SO4 = (2.25, 5.6)
MG_SO4 = (2.37, 19.0)


@dataclass(frozen=True, slots=True)
class Water:
    """What a water holds, as concentrations of the elements."""

    temperature: float
    """[K]"""
    alkalinity: float
    """[meq/L], with ammonia and phosphate counted from NH4+ and H2PO4-."""
    ionic_strength: float
    """[mol/L]"""
    calcium: float = 0.0
    """[mg/L]"""
    magnesium: float = 0.0
    """[mg/L]"""
    sulfate: float = 0.0
    """[mg/L of S]"""
    ammonium: float = 0.0
    """[mg/L of N], total"""
    phosphate: float = 0.0
    """[mg/L of P]"""


@dataclass(frozen=True, slots=True)
class Species:
    """The water at its pH; carbon in mg/L of C, pairs counted with their carbon.

    What ends in `charged` is all but the neutral pairs, mg/L of the element: it conducts.
    """

    ph: float
    co2: float
    bicarbonate: float
    carbonate: float
    carbon_inorganic: float
    calcite_saturation_log: float
    carbonate_charged: float
    calcium_charged: float
    magnesium_charged: float
    sulfate_charged: float


@dataclass(frozen=True, slots=True)
class _Constants:
    first: float
    second: float
    water: float
    phosphoric: float
    ammonia: float
    double: float
    """Activity coefficient of an ion of charge 2."""
    pairs: tuple[float, float, float, float, float, float]
    """CaHCO3, CaCO3, MgHCO3, MgCO3, CaSO4, MgSO4 [L/mol]."""
    calcite: float


def _constants(water: Water) -> _Constants:
    t, strength = water.temperature, water.ionic_strength
    single = float(10.0 ** carbonate.activity_log(t, strength))
    double = single**4
    warming = (1.0 / 298.15 - 1.0 / t) / (GAS_CONSTANT * math.log(10.0))

    def pair(fit: tuple[float, float], lost: float) -> float:
        return float(10.0 ** (fit[0] + fit[1] * warming) * lost)

    return _Constants(
        first=float(carbonate.carbonic_first(t, strength)),
        second=float(carbonate.carbonic_second(t, strength)),
        water=float(carbonate.water_product(t, strength)),
        phosphoric=float(carbonate.phosphoric_second(t, strength)),
        ammonia=float(ammonia.ammonia_dissociation(t, strength)),
        double=double,
        pairs=(
            pair(CA_HCO3, double), pair(CA_CO3, double * double),
            pair(MG_HCO3, double), pair(MG_CO3, double * double),
            pair(CA_SO4, double * double), pair(MG_SO4, double * double),
        ),
        calcite=float(carbonate.calcite_log(t)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Free:
    """Free ions, those with their charged pairs, and paired carbon, mol/L."""

    bicarbonate: float
    carbonate: float
    calcium: float
    magnesium: float
    sulfate: float
    calcium_charged: float
    magnesium_charged: float
    paired_bicarbonate: float
    paired_carbonate: float


def _free(
    water: Water, k: _Constants, proton: float, co2: float | None, carbon: float | None
) -> _Free:
    """Free species at a pH, for CO2 held by the air or for a given total of carbon."""
    total_ca, total_mg = water.calcium / 40078.0, water.magnesium / 24305.0
    total_so4 = water.sulfate / 32060.0
    ca, mg, so4 = total_ca, total_mg, total_so4
    ca_h, ca_c, mg_h, mg_c, ca_s, mg_s = k.pairs
    hco3 = co3 = 0.0
    for _ in range(PASSES):
        by_hco3, by_co3 = ca_h * ca + mg_h * mg, ca_c * ca + mg_c * mg
        if carbon is None:
            hco3 = k.first * (co2 or 0.0) / proton
        else:
            per = 1.0 + proton / k.first + by_hco3 + k.second / proton * (1.0 + by_co3)
            hco3 = carbon / per
        co3 = k.second * hco3 / proton
        so4 = total_so4 / (1.0 + ca_s * ca + mg_s * mg)
        ca = total_ca / (1.0 + ca_h * hco3 + ca_c * co3 + ca_s * so4)
        mg = total_mg / (1.0 + mg_h * hco3 + mg_c * co3 + mg_s * so4)
    return _Free(
        hco3, co3, ca, mg, so4, ca * (1.0 + ca_h * hco3), mg * (1.0 + mg_h * hco3),
        (ca_h * ca + mg_h * mg) * hco3, (ca_c * ca + mg_c * mg) * co3,
    )  # fmt: skip


def _alkalinity(water: Water, k: _Constants, proton: float, free: _Free) -> float:
    """Alkalinity at a pH [mol/L]."""
    ammonia_part = water.ammonium / 14007.0 / (1.0 + proton / k.ammonia)
    phosphate_part = water.phosphate / 30974.0 / (1.0 + proton / k.phosphoric)
    return (
        free.bicarbonate + free.paired_bicarbonate
        + 2.0 * (free.carbonate + free.paired_carbonate)
        + k.water / proton - proton + ammonia_part + phosphate_part
    )  # fmt: skip


def _solve(water: Water, co2: float | None, carbon: float | None) -> Species:
    if not (water.ionic_strength >= 0.0 and math.isfinite(water.alkalinity)):
        raise InputError(
            f"alkalinity {water.alkalinity} or ionic strength {water.ionic_strength} is impossible",
            where="water",
            remedy="Give finite numbers, and an ionic strength of 0 or more",
        )
    k = _constants(water)
    wanted = 1e-3 * water.alkalinity
    low, high = PH_LEAST, PH_MOST
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        proton = 10.0**-middle
        if _alkalinity(water, k, proton, _free(water, k, proton, co2, carbon)) < wanted:
            low = middle
        else:
            high = middle
    ph = 0.5 * (low + high)
    if min(ph - PH_LEAST, PH_MOST - ph) < 1e-9:
        raise InputError(
            f"no pH between {PH_LEAST} and {PH_MOST} gives an alkalinity of {water.alkalinity}",
            where="water",
            remedy="Check the alkalinity and the carbon; one of them can't be right",
        )
    proton = 10.0**-ph
    free = _free(water, k, proton, co2, carbon)
    return _species(ph, proton, k, free)


def _species(ph: float, proton: float, k: _Constants, free: _Free) -> Species:
    co2 = proton * free.bicarbonate / k.first
    bicarbonate = free.bicarbonate + free.paired_bicarbonate
    carbonate_all = free.carbonate + free.paired_carbonate
    product = free.calcium * free.carbonate * k.double * k.double
    return Species(
        ph=ph,
        co2=carbonate.MG_C * co2,
        bicarbonate=carbonate.MG_C * bicarbonate,
        carbonate=carbonate.MG_C * carbonate_all,
        carbon_inorganic=carbonate.MG_C * (co2 + bicarbonate + carbonate_all),
        calcite_saturation_log=math.log10(product) - k.calcite if product > 0.0 else -math.inf,
        carbonate_charged=carbonate.MG_C * free.carbonate,
        calcium_charged=40078.0 * free.calcium_charged,
        magnesium_charged=24305.0 * free.magnesium_charged,
        sulfate_charged=32060.0 * free.sulfate,
    )


@cited("plummer1982", "summary equations; pairs as in phreeqc.dat (parkhurst2013)")
def ph_of_water(water: Water, carbon_inorganic_concentration: float) -> Species:
    """Give the pH and species of a closed water from its alkalinity and carbon.

    carbon_inorganic_concentration [mg/L of C]. Within 0.02 of the reference program for
    fresh waters with an alkalinity above 0.18 meq/L.

    >>> round(ph_of_water(Water(298.15, 1.0, 0.001), 12.011).ph, 2)
    8.27
    """
    return _solve(water, None, carbon_inorganic_concentration / carbonate.MG_C)


@cited("plummer1982", "summary equations; pairs as in phreeqc.dat (parkhurst2013)")
def ph_of_open_water(water: Water, co2_concentration: float) -> Species:
    """Give the pH and species of a water whose CO2 is held, as by the air.

    co2_concentration [mg/L of C], as `co2_at_equilibrium` gives it.

    >>> round(ph_of_open_water(Water(298.15, 1.0, 0.001), 0.166).ph, 2)
    8.19
    """
    return _solve(water, co2_concentration / carbonate.MG_C, None)
