"""Carbonic acid in fresh water: constants, activities, shares of the species, alkalinity.

pH is an activity. Constants with "_log" are decimal logarithms at ionic strength zero;
those without hold for concentrations at the given ionic strength. A kilogram of water
counts as a litre (0.3 % at 25 degC).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.evaporation import saturated_vapour_pressure

LN10 = 2.302585092994046
MG_C = 12011.0
"""Milligrams of carbon in a mole."""
MG_N = 14007.0
MG_P = 30974.0


def _power10(exponent: Any) -> Any:
    return np.exp(LN10 * exponent)


def _fit(temperature: Any, a: float, b: float, c: float, d: float, e: float) -> Any:
    t = strip(temperature, "K")
    return a + b * t + c / t + d / LN10 * np.log(t) + e / (t * t)


@cited("plummer1982", "summary equation, log KH")
def henry_log(temperature: Any) -> Any:
    """Logarithm of the solubility of CO2 in mol/kg/atm.

    temperature [K], 273 to 363 K:
    108.3865 + 0.01985076 T - 6919.53/T - 40.45154 log T + 669365/T^2.

    >>> print(round(henry_log(298.15), 3))
    -1.468
    """
    return _fit(temperature, 108.3865, 0.01985076, -6919.53, -40.45154, 669365.0)


@cited("plummer1982", "summary equation, log K1")
def carbonic_first_log(temperature: Any) -> Any:
    """Logarithm of the first dissociation constant of carbonic acid.

    temperature [K], 273 to 363 K:
    -356.3094 - 0.06091964 T + 21834.37/T + 126.8339 log T - 1684915/T^2.

    >>> print(round(carbonic_first_log(298.15), 3))
    -6.352
    """
    return _fit(temperature, -356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0)


@cited("plummer1982", "summary equation, log K2")
def carbonic_second_log(temperature: Any) -> Any:
    """Logarithm of the second dissociation constant of carbonic acid.

    temperature [K], 273 to 363 K:
    -107.8871 - 0.03252849 T + 5151.79/T + 38.92561 log T - 563713.9/T^2.

    >>> print(round(carbonic_second_log(298.15), 3))
    -10.329
    """
    return _fit(temperature, -107.8871, -0.03252849, 5151.79, 38.92561, -563713.9)


@cited("plummer1982", "summary equation, log K of calcite")
def calcite_log(temperature: Any) -> Any:
    """Logarithm of the solubility product of calcite.

    temperature [K], 273 to 363 K: -171.9065 - 0.077993 T + 2839.319/T + 71.595 log T.

    >>> print(round(calcite_log(298.15), 2))
    -8.48
    """
    return _fit(temperature, -171.9065, -0.077993, 2839.319, 71.595, 0.0)


@cited("harned1958", "ionic product of water: pKw = 4470.99/T + 0.017060 T - 6.0875")
def water_product_log(temperature: Any) -> Any:
    """Logarithm of the ionic product of water.

    temperature [K], 273 to 333 K.

    >>> print(round(water_product_log(298.15), 3))
    -13.995
    """
    t = strip(temperature, "K")
    return 6.0875 - 4470.99 / t - 0.01706 * t


@cited("messer1984", "activity of NH4+ by Davies, A = 0.4883 + 8.074e-4 t")
def activity_log(temperature: Any, ionic_strength: Any) -> Any:
    """Logarithm of the activity coefficient of an ion of charge 1.

    temperature [K]; ionic_strength [mol/L], up to 0.5: -A (sqrt I/(1 + sqrt I) - 0.3 I).
    An ion of charge 2 has four times this logarithm.

    >>> print(round(activity_log(298.15, 0.01), 4))
    -0.0447
    """
    strength = strip(ionic_strength, "mol/L")
    root = np.sqrt(strength)
    a = 0.4883 + 8.074e-4 * (strip(temperature, "K") - 273.15)
    return -a * (root / (1.0 + root) - 0.3 * strength)


@cited("plummer1982", "summary equation, log KH")
def co2_solubility(temperature: Any) -> Any:
    """Carbon that water takes up as CO2 per atmosphere of CO2 [mg/L/atm].

    temperature [K].

    >>> print(round(co2_solubility(298.15)))
    409
    """
    return attach(MG_C * _power10(henry_log(temperature)), "mg/L/atm")


@cited("plummer1982", "summary equation, log KH; Dalton's law for moist air")
def co2_at_equilibrium(temperature: Any, air_pressure: Any, air_co2: Any) -> Any:
    """Carbon as CO2 in water that stands in balance with moist air [mg/L].

    temperature [K]; air_pressure [atm]; air_co2 [1], mole fraction in dry air:
    solubility times air_co2 (P - pw).

    >>> print(round(co2_at_equilibrium(298.15, 1.0, 420e-6) * 44.009 / 12.011, 2))
    0.61
    """
    dry = air_pressure - saturated_vapour_pressure(temperature)
    return co2_solubility(temperature) * air_co2 * dry


@cited("plummer1982", "summary equation, log K1; activity by Davies")
def carbonic_first(temperature: Any, ionic_strength: Any) -> Any:
    """First dissociation constant of carbonic acid in this water, K1/g1 [mol/L].

    temperature [K]; ionic_strength [mol/L].
    """
    log_k = carbonic_first_log(temperature) - activity_log(temperature, ionic_strength)
    return attach(_power10(log_k), "mol/L")


@cited("plummer1982", "summary equation, log K2; activity by Davies")
def carbonic_second(temperature: Any, ionic_strength: Any) -> Any:
    """Second dissociation constant of carbonic acid in this water, K2 g1/g2 [mol/L].

    temperature [K]; ionic_strength [mol/L].
    """
    log_k = carbonic_second_log(temperature) - 3.0 * activity_log(temperature, ionic_strength)
    return attach(_power10(log_k), "mol/L")


@cited("harned1958", "ionic product of water; activity by Davies")
def water_product(temperature: Any, ionic_strength: Any) -> Any:
    """Hydroxide concentration times proton activity in this water, Kw/g1 [mol^2/L^2].

    temperature [K]; ionic_strength [mol/L].
    """
    log_k = water_product_log(temperature) - activity_log(temperature, ionic_strength)
    return attach(_power10(log_k), "mol^2/L^2")


@cited("parkhurst2013", "phreeqc.dat: H2PO4- = HPO4-2 + H+, log K -7.207, 3.6 kJ/mol")
def phosphoric_second(temperature: Any, ionic_strength: Any) -> Any:
    """Second dissociation constant of phosphoric acid in this water, K g1/g2 [mol/L].

    temperature [K]; ionic_strength [mol/L]; van 't Hoff from 298.15 K.
    """
    t = strip(temperature, "K")
    log_k = -7.207 + 188.04 * (1.0 / 298.15 - 1.0 / t)
    return attach(_power10(log_k - 3.0 * activity_log(temperature, ionic_strength)), "mol/L")


@cited("stumm1996", "definition of pH")
def proton_activity(ph: Any) -> Any:
    """Activity of the proton [mol/L].

    ph [1]: 10^-pH.
    """
    return attach(_power10(-strip(ph, "1")), "mol/L")


@cited("stumm1996", "ionisation fractions")
def bicarbonate_share(ph: Any, carbonic_first: Any, carbonic_second: Any) -> Any:
    """Share of the inorganic carbon that is bicarbonate [1].

    ph [1]; carbonic_first, carbonic_second [mol/L]: 1/(1 + h/K1 + K2/h).

    >>> print(round(bicarbonate_share(8.34, 10**-6.352, 10**-10.329), 3))
    0.98
    """
    proton = proton_activity(ph)
    return 1.0 / (1.0 + proton / carbonic_first + carbonic_second / proton)


@cited("stumm1996", "ionisation fractions")
def co2_share(ph: Any, carbonic_first: Any, carbonic_second: Any) -> Any:
    """Share of the inorganic carbon that is dissolved CO2 [1].

    ph [1]; carbonic_first, carbonic_second [mol/L]: h/K1 times the share of bicarbonate.

    >>> print(round(co2_share(6.352, 10**-6.352, 10**-10.329), 2))
    0.5
    """
    bicarbonate = bicarbonate_share(ph, carbonic_first, carbonic_second)
    return proton_activity(ph) / carbonic_first * bicarbonate


@cited("stumm1996", "ionisation fractions")
def carbonate_share(ph: Any, carbonic_first: Any, carbonic_second: Any) -> Any:
    """Share of the inorganic carbon that is carbonate [1].

    ph [1]; carbonic_first, carbonic_second [mol/L]: K2/h times the share of bicarbonate.

    >>> print(round(carbonate_share(10.329, 10**-6.352, 10**-10.329), 2))
    0.5
    """
    bicarbonate = bicarbonate_share(ph, carbonic_first, carbonic_second)
    return carbonic_second / proton_activity(ph) * bicarbonate


@cited("stumm1996", "definition of alkalinity")
def alkalinity_of_carbon(
    ph: Any,
    carbon_inorganic_concentration: Any,
    carbonic_first: Any,
    carbonic_second: Any,
    water_product: Any,
) -> Any:
    """Alkalinity by carbon and water: [HCO3] + 2 [CO3] + [OH] - [H] [meq/L].

    ph [1]; carbon_inorganic_concentration [mg/L of C]; carbonic_first, carbonic_second
    [mol/L]; water_product [mol^2/L^2]. The free proton counts by its activity.

    >>> print(round(alkalinity_of_carbon(8.0, 12.011, 10**-6.352, 10**-10.329, 1e-14), 3))
    0.984
    """
    proton = proton_activity(ph)
    bicarbonate = bicarbonate_share(ph, carbonic_first, carbonic_second)
    per_carbon = strip(bicarbonate * (1.0 + 2.0 * (carbonic_second / proton)), "1")
    carbon = strip(carbon_inorganic_concentration, "mg/L") * (1e3 / MG_C)
    free = 1e3 * strip(water_product / proton - proton, "mol/L")
    return attach(carbon * per_carbon + free, "meq/L")


@cited("stumm1996", "alkalinity of other weak acids")
def alkalinity_of_nutrients(
    ph: Any,
    ammonium_concentration: Any,
    ammonia_fraction: Any,
    phosphate_concentration: Any,
    phosphoric_second: Any,
) -> Any:
    """Alkalinity by ammonia and phosphate, counted from NH4+ and H2PO4-: [NH3] + [HPO4] [meq/L].

    ph [1]; ammonium_concentration [mg/L of N], total; ammonia_fraction [1];
    phosphate_concentration [mg/L of P]; phosphoric_second [mol/L].
    """
    free = strip(ammonia_fraction, "1")
    ammonia = strip(ammonium_concentration, "mg/L") * (1e3 / MG_N) * free
    hydrogen = strip(1.0 / (1.0 + proton_activity(ph) / phosphoric_second), "1")
    phosphate = strip(phosphate_concentration, "mg/L") * (1e3 / MG_P) * hydrogen
    return attach(ammonia + phosphate, "meq/L")


@cited("stumm1996", "alkalinity as the balance of strong ions")
def alkalinity_of_strong_ions(
    calcium_concentration: Any,
    magnesium_concentration: Any,
    sodium_concentration: Any,
    potassium_concentration: Any,
    ammonium_concentration: Any,
    chloride_concentration: Any,
    sulfate_concentration: Any,
    nitrate_concentration: Any,
    nitrite_concentration: Any,
    phosphate_concentration: Any,
) -> Any:
    """Alkalinity as strong cations less strong anions [meq/L].

    All in mg/L of the element; ammonium counts as NH4+, phosphate as H2PO4-.

    >>> print(round(alkalinity_of_strong_ions(20.039, 0, 0, 0, 0, 0, 0, 0, 0, 0), 6))
    1.0
    """
    cations = (
        strip(calcium_concentration, "mg/L") * (2.0 / 40.078)
        + strip(magnesium_concentration, "mg/L") * (2.0 / 24.305)
        + strip(sodium_concentration, "mg/L") * (1.0 / 22.990)
        + strip(potassium_concentration, "mg/L") * (1.0 / 39.098)
        + strip(ammonium_concentration, "mg/L") * (1.0 / 14.007)
    )
    anions = (
        strip(chloride_concentration, "mg/L") * (1.0 / 35.45)
        + strip(sulfate_concentration, "mg/L") * (2.0 / 32.06)
        + strip(nitrate_concentration, "mg/L") * (1.0 / 14.007)
        + strip(nitrite_concentration, "mg/L") * (1.0 / 14.007)
        + strip(phosphate_concentration, "mg/L") * (1.0 / 30.974)
    )
    return attach(cations - anions, "meq/L")
