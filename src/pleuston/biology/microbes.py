"""How microbes answer to pH, oxygen and ammonia."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited


@cited("wiesmann1994", "nitrification over pH: full at 7 to 8.3, half near 6.4; from memory")
def nitrifier_ph_response(ph: Any) -> Any:
    """Share of the nitrification that the pH allows [1]: 0 at 5.5, half at 6.3, 1 from 7.1.

    ph [1].

    >>> print(round(float(nitrifier_ph_response(6.3)), 2))
    0.5
    """
    return np.clip((ph - 5.5) / 1.6, 0.0, 1.0)
