"""Nitrification by a biofilm, as measured on filters."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip


@cited("zhu1999", "abstract: steady rate 1859 (S - 0.07)/(S + 1.93) at 27.2 degC")
def biofilm_nitrification_zhu1999(ammonium_concentration: Any) -> Any:
    """Total ammonia nitrogen that a clean biofilm oxidises [mg/m^2/d].

    ammonium_concentration [mg/L of N], 0.07 to 8, at 27.2 degC; zero below 0.07 mg/L.

    >>> print(round(biofilm_nitrification_zhu1999(1.0)))
    590
    """
    total = strip(ammonium_concentration, "mg/L")
    return attach(1859.0 * np.maximum(total - 0.07, 0.0) / (total + 1.93), "mg/m^2/d")
