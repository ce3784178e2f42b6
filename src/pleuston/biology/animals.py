"""Oxygen that animals use, by mass and temperature."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip


@cited("clarke1999", "interspecific mass exponent of resting metabolism 0.79")
def mass_response(individual_mass: Any) -> Any:
    """Oxygen use per mass over that of a half-gram animal [1].

    individual_mass [g]: (m/0.5)^-0.21.

    >>> print(round(float(mass_response(0.5)), 3))
    1.0
    """
    return np.exp(-0.21 * np.log(strip(individual_mass, "g") / 0.5))


@cited("lucas1992", "abstract: zebrafish of 0.43 to 0.55 g at 24 degC, 421 to 560 mg/kg/h")
def respiration_of_body(
    body: Any, respiration: Any, mass_effect: Any, warmth: Any
) -> Any:
    """Oxygen that animals use at rest and in routine activity [mg/d].

    body [mg of C]; respiration [mg/g/d], oxygen per live mass of a half-gram animal at
    24 degC; mass_effect, warmth [1]; live mass is body carbon over 100 mg/g.
    """
    return body / attach(100.0, "mg/g") * respiration * mass_effect * warmth
