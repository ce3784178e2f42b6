"""What the kinds of surface look like, and how sure that is before the picture is seen.

Centres are of linear light under a white lamp. They were worked out from what leaves,
soil, sand and stained water reflect: leaves most in green, stained water ever less
towards blue. The first spread is from tank to tank, the second within one picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Quad = tuple[float, float, float, float]


@dataclass(frozen=True)
class Kind:
    """One kind of surface in ln(red/green), ln(blue/green), ln(brightness), ln(texture)."""

    name: str
    floats: bool
    share: float
    centre: Quad
    between: Quad
    within: Quad


KINDS = (
    Kind("green floaters", True, 3.0, (-0.50, -1.25, -1.6, -2.50),
         (0.14, 0.30, 0.50, 0.35), (0.12, 0.18, 0.40, 0.35)),
    Kind("yellowing floaters", True, 0.7, (-0.10, -1.75, -1.4, -2.50),
         (0.10, 0.30, 0.45, 0.35), (0.11, 0.20, 0.35, 0.35)),
    Kind("red floaters", True, 0.7, (1.05, -0.55, -1.9, -2.50),
         (0.25, 0.20, 0.45, 0.35), (0.14, 0.16, 0.40, 0.35)),
    Kind("dark water", False, 1.0, (0.05, -0.15, -3.4, -3.30),
         (0.16, 0.16, 0.80, 0.40), (0.10, 0.12, 0.40, 0.35)),
    Kind("soil", False, 1.5, (0.35, -0.40, -2.3, -3.20),
         (0.16, 0.18, 0.70, 0.40), (0.10, 0.12, 0.35, 0.35)),
    Kind("sand", False, 1.5, (0.22, -0.45, -1.4, -3.40),
         (0.14, 0.20, 0.50, 0.40), (0.07, 0.10, 0.30, 0.35)),
    Kind("stained water", False, 1.0, (0.60, -1.60, -2.3, -3.40),
         (0.20, 0.45, 0.80, 0.40), (0.12, 0.25, 0.40, 0.35)),
    Kind("stained sand", False, 0.8, (0.40, -1.20, -1.6, -3.50),
         (0.18, 0.35, 0.50, 0.40), (0.09, 0.20, 0.30, 0.35)),
    Kind("plants below", False, 0.6, (-0.45, -0.75, -3.1, -3.00),
         (0.16, 0.35, 0.50, 0.40), (0.13, 0.20, 0.45, 0.40)),
    Kind("veil of light", False, 0.4, (0.0, -0.05, -0.7, -3.20),
         (0.06, 0.08, 0.40, 0.50), (0.08, 0.10, 0.35, 0.45)),
)  # fmt: skip
FLOATS = np.array([kind.floats for kind in KINDS])
RED = next(k for k, kind in enumerate(KINDS) if kind.name == "red floaters")
SUBMERGED = next(k for k, kind in enumerate(KINDS) if kind.name == "plants below")


def centres() -> NDArray[np.float64]:
    """Centres, kinds by features."""
    return np.array([kind.centre for kind in KINDS])


def between() -> NDArray[np.float64]:
    """Spread of the centres from tank to tank."""
    return np.array([kind.between for kind in KINDS])


def within() -> NDArray[np.float64]:
    """Spread of the pixels around the centre in one picture."""
    return np.array([kind.within for kind in KINDS])


def shares() -> NDArray[np.float64]:
    """How common the kinds are before the picture is seen; sums to 1."""
    raw = np.array([kind.share for kind in KINDS])
    shared: NDArray[np.float64] = raw / raw.sum()
    return shared
