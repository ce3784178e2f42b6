"""Nitrite: what chloride allows."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, ratio, strip


def _step(chloride: Any, values: tuple[float, float, float, float, float, float]) -> Any:
    low = np.where(chloride < 4.0, values[1], np.where(chloride < 6.0, values[2], values[3]))
    high = np.where(chloride <= 10.0, values[4], values[5])
    return np.where(chloride < 2.0, values[0], np.where(chloride < 8.0, low, high))


@cited("bcmoe2009", "table 2, 30-day mean by chloride")
def nitrite_mean_bcmoe2009(chloride_concentration: Any) -> Any:
    """Nitrite nitrogen not to be exceeded on the mean of 30 days [mg/L].

    chloride_concentration [mg/L]: 0.02, 0.04, 0.06, 0.08, 0.10 and 0.20 mg/L below 2, 4,
    6, 8, up to 10 and above 10 mg/L.

    >>> print(float(nitrite_mean_bcmoe2009(5.0)))
    0.06
    """
    chloride = strip(chloride_concentration, "mg/L")
    return attach(_step(chloride, (0.02, 0.04, 0.06, 0.08, 0.10, 0.20)), "mg/L")


@cited("bcmoe2009", "table 2, maximum by chloride")
def nitrite_most_bcmoe2009(chloride_concentration: Any) -> Any:
    """Nitrite nitrogen never to be exceeded [mg/L].

    chloride_concentration [mg/L]: three times the allowed mean.

    >>> print(float(nitrite_most_bcmoe2009(20.0)))
    0.6
    """
    chloride = strip(chloride_concentration, "mg/L")
    return attach(_step(chloride, (0.06, 0.12, 0.18, 0.24, 0.30, 0.60)), "mg/L")


@cited("schwedler1985", "chloride to nitrite ratio that protects catfish")
def chloride_per_nitrite(chloride_concentration: Any, nitrite_concentration: Any) -> Any:
    """Mass of chloride per mass of nitrite ion, 0 where there is no nitrite [1].

    chloride_concentration [mg/L]; nitrite_concentration [mg/L of N]. Ten and more protect
    catfish, not sunfishes and basses.

    >>> print(round(float(chloride_per_nitrite(30.0, 0.304463)), 1))
    30.0
    """
    return ratio(chloride_concentration, nitrite_concentration * (46.005 / 14.007))
