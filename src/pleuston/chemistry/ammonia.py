"""Ammonia: which share of the total is the poisonous NH3, and how much total is allowed."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.carbonate import LN10, activity_log, proton_activity


@cited("emerson1975", "equation for pKa")
def ammonia_dissociation_log(temperature: Any) -> Any:
    """Logarithm of the dissociation constant of NH4+ at ionic strength zero.

    temperature [K], 273 to 303 K (data to 323 K): -(0.09018 + 2729.92/T).

    >>> print(round(ammonia_dissociation_log(298.15), 3))
    -9.246
    """
    return -0.09018 - 2729.92 / strip(temperature, "K")


@cited("emerson1975", "equation for pKa; activity of NH4+ by Davies")
def ammonia_dissociation(temperature: Any, ionic_strength: Any) -> Any:
    """Dissociation constant of NH4+ in this water, [NH3] times proton activity over [NH4+] [mol/L].

    temperature [K]; ionic_strength [mol/L].
    """
    log_k = ammonia_dissociation_log(temperature) + activity_log(temperature, ionic_strength)
    return attach(np.exp(LN10 * log_k), "mol/L")


@cited("emerson1975", "equation for the fraction; activity of NH4+ by Davies")
def ammonia_fraction(ph: Any, temperature: Any, ionic_strength: Any) -> Any:
    """Share of total ammonia nitrogen that is NH3 [1].

    ph [1], activity scale; temperature [K]; ionic_strength [mol/L]:
    1/(1 + 10^(pKa - pH)). Salts lower it by 5 % at 0.002 and 9 % at 0.01 mol/L.

    >>> print(round(ammonia_fraction(8.0, 298.15, 0.0), 4))
    0.0537
    """
    return 1.0 / (1.0 + proton_activity(ph) / ammonia_dissociation(temperature, ionic_strength))


def _of_ph(ph: Any, acid: float, base: float, middle: float) -> Any:
    power = np.exp(LN10 * (strip(ph, "1") - middle))
    return acid * power / (1.0 + power) + base / (1.0 + power)


def _of_temperature(slope: float, celsius: Any) -> Any:
    return np.exp(LN10 * slope * (20.0 - celsius))


@cited("epa2013", "criterion maximum concentration, salmonids absent")
def ammonia_cmc_epa2013(ph: Any, temperature: Any) -> Any:
    """Total ammonia nitrogen not to be exceeded for an hour, no salmonids [mg/L].

    ph [1], 6.5 to 9; temperature [K], 273 to 303 K:
    0.7249 (0.0114/(1+10^(7.204-pH)) + 1.6181/(1+10^(pH-7.204)))
    min(51.93, 23.12 10^(0.036 (20-t))).

    >>> print(round(ammonia_cmc_epa2013(7.0, 293.15)))
    17
    """
    celsius = strip(temperature, "K") - 273.15
    warm = np.minimum(51.93, 23.12 * _of_temperature(0.036, celsius))
    return attach(0.7249 * _of_ph(ph, 0.0114, 1.6181, 7.204) * warm, "mg/L")


@cited("epa2013", "criterion maximum concentration, salmonids present")
def ammonia_cmc_salmonids_epa2013(ph: Any, temperature: Any) -> Any:
    """Total ammonia nitrogen not to be exceeded for an hour, with salmonids [mg/L].

    ph [1], 6.5 to 9; temperature [K], 273 to 303 K: the lesser of
    0.275/(1+10^(7.204-pH)) + 39.0/(1+10^(pH-7.204)) and the criterion without salmonids,
    here without its cap.
    """
    celsius = strip(temperature, "K") - 273.15
    others = 0.7249 * _of_ph(ph, 0.0114, 1.6181, 7.204) * 23.12 * _of_temperature(0.036, celsius)
    return attach(np.minimum(_of_ph(ph, 0.275, 39.0, 7.204), others), "mg/L")


@cited("epa2013", "criterion continuous concentration, 30-day rolling mean")
def ammonia_ccc_epa2013(ph: Any, temperature: Any) -> Any:
    """Total ammonia nitrogen not to be exceeded on the mean of 30 days [mg/L].

    ph [1], 6.5 to 9; temperature [K], 273 to 303 K; mussels and snails set it:
    0.8876 (0.0278/(1+10^(7.688-pH)) + 1.1994/(1+10^(pH-7.688)))
    2.126 10^(0.028 (20-max(t,7))). The highest mean of 4 days may be 2.5 times as much.

    >>> print(round(ammonia_ccc_epa2013(7.0, 293.15), 1))
    1.9
    """
    celsius = np.maximum(strip(temperature, "K") - 273.15, 7.0)
    warm = 2.126 * _of_temperature(0.028, celsius)
    return attach(0.8876 * _of_ph(ph, 0.0278, 1.1994, 7.688) * warm, "mg/L")
