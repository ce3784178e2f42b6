"""How rates answer to temperature."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import strip

LN10 = 2.302585092994046


@cited("klein2022", "f_T of the growth model: 10^-((T - T_opt)/(T_m - T_opt))^2")
def optimum_response(temperature: Any, coldest: Any, best: Any, warmest: Any) -> Any:
    """Share of the best rate [1]: 1 at the optimum, a tenth at `coldest` and `warmest`.

    temperature, coldest, best, warmest [K].

    >>> print(round(float(optimum_response(281.15, 281.15, 299.85, 313.65)), 3))
    0.1
    """
    span = np.where(temperature <= best, coldest - best, warmest - best)
    distance = (temperature - best) / span
    return np.exp(-LN10 * distance * distance)


@cited("klein2022", "f_loss: Q10^((T - T_ref)/10)")
def q10_response(temperature: Any, q10: Any, reference: float) -> Any:
    """Factor on a rate given at a reference temperature [1].

    temperature, reference [K]; q10 [1].

    >>> print(round(float(q10_response(308.15, 2.0, 298.15)), 3))
    2.0
    """
    return np.exp(np.log(q10) * (0.1 * (strip(temperature, "K") - reference)))


@cited("vannecke2015", "appendix: activation energies of nitrifiers")
def arrhenius_response(temperature: Any, energy: Any) -> Any:
    """Factor on a rate given at 25 degC [1].

    temperature [K]; energy [kJ/mol].

    >>> print(round(float(arrhenius_response(303.15, 68.0) / arrhenius_response(293.15, 68.0)), 2))
    2.51
    """
    inverse = 1.0 / 298.15 - 1.0 / strip(temperature, "K")
    return np.exp(strip(energy, "kJ/mol") / 0.0083145 * inverse)
