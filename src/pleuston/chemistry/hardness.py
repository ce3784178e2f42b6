"""Hardness: calcium and magnesium, and the old ways to count them."""

from __future__ import annotations

from typing import Any

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip

CACO3_PER_MEQ = 100.087 / 2.0
"""Milligrams of calcium carbonate in a milliequivalent."""


@cited("common_practice", "general hardness: two equivalents per mole of Ca and Mg")
def gh(calcium_concentration: Any, magnesium_concentration: Any) -> Any:
    """General hardness [meq/L].

    calcium_concentration, magnesium_concentration [mg/L].

    >>> print(round(gh(7.14696, 0.0), 5))
    0.35665
    """
    calcium = strip(calcium_concentration, "mg/L") * (2.0 / 40.078)
    magnesium = strip(magnesium_concentration, "mg/L") * (2.0 / 24.305)
    return attach(calcium + magnesium, "meq/L")


@cited("common_practice", "hardness counted as calcium carbonate, 100.087 g/mol")
def hardness_as_caco3(gh: Any) -> Any:
    """Hardness counted as calcium carbonate [mg/L].

    gh [meq/L].

    >>> print(round(hardness_as_caco3(0.356652), 3))
    17.848
    """
    return attach(CACO3_PER_MEQ * strip(gh, "meq/L"), "mg/L")
