"""Nutrient reserves of plants: how full they are, how that limits growth and uptake."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import ratio


@cited("janse2005", "f_N = (1 - q_min/q) q_max/(q_max - q_min)")
def droop_response(quota: Any, least: Any, most: Any) -> Any:
    """Share of the growth that a nutrient reserve allows [1]: 0 at `least`, 1 at `most`.

    quota, least, most [mg/g], per dry mass.

    >>> print(round(float(droop_response(30.0, 15.0, 65.0)), 3))
    0.65
    """
    return np.clip((1.0 - ratio(least, quota)) * most / (most - least), 0.0, 1.0)


@cited("janse2005", "V_max times (q_max - q)/(q_max - q_min)")
def hunger(quota: Any, least: Any, most: Any) -> Any:
    """Share of the uptake capacity that a plant uses [1]: 1 when starved, 0 when full.

    quota, least, most [mg/g].
    """
    return np.clip((most - quota) / (most - least), 0.0, 1.0)


@cited("wool2001", "preference for ammonium over nitrate in algal uptake")
def ammonium_preference(ammonium: Any, nitrate: Any, half: Any) -> Any:
    """Share of the nitrogen uptake that is ammonium [1].

    ammonium, nitrate, half [mg/L of N].

    >>> print(round(float(ammonium_preference(1.0, 1.0, 0.2)), 2))
    0.78
    """
    first = ammonium * nitrate / ((half + ammonium) * (half + nitrate))
    second = ratio(ammonium * half, (ammonium + nitrate) * (half + nitrate))
    return first + second
