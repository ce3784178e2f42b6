"""Dissolved oxygen that stands in balance with air."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.evaporation import saturated_vapour_pressure


@cited("benson1984", "fresh-water equation and its pressure term, as in Standard Methods 4500-O")
def oxygen_at_saturation(temperature: Any, air_pressure: Any) -> Any:
    """Dissolved oxygen of fresh water in balance with moist air [mg/L].

    temperature [K], 273 to 313 K; air_pressure [atm], 0.5 to 1.1 atm:
    ln C* = -139.34411 + 1.575701e5/T - 6.642308e7/T^2 + 1.243800e10/T^3 - 8.621949e11/T^4
    at 1 atm, times (P - p)(1 - theta P)/((1 - p)(1 - theta)) with the pressure p of water
    vapour and theta = 9.75e-4 - 1.426e-5 t + 6.436e-8 t^2, t in degC.

    >>> print(round(oxygen_at_saturation(298.15, 1.0), 3))
    8.263
    """
    t = strip(temperature, "K")
    x = 1.0 / t
    series = x * (1.575701e5 + x * (-6.642308e7 + x * (1.243800e10 - 8.621949e11 * x)))
    celsius = t - 273.15
    theta = 9.75e-4 + celsius * (-1.426e-5 + 6.436e-8 * celsius)
    vapour = strip(saturated_vapour_pressure(temperature), "atm")
    pressure = strip(air_pressure, "atm")
    share = (pressure - vapour) * (1.0 - theta * pressure) / ((1.0 - vapour) * (1.0 - theta))
    return attach(np.exp(series - 139.34411) * share, "mg/L")


@cited("benson1984", "salinity term")
def oxygen_salting_out(temperature: Any, salinity: Any) -> Any:
    """Factor by which salt lowers the saturation of oxygen [1].

    temperature [K], 273 to 313 K; salinity [g/kg], 0 to 40:
    exp(-S (1.7674e-2 - 10.754/T + 2140.7/T^2)). Fresh water below 0.2 g/kg loses 0.12 %.

    >>> print(round(1 - oxygen_salting_out(293.15, 0.2), 4))
    0.0012
    """
    x = 1.0 / strip(temperature, "K")
    return np.exp(-strip(salinity, "g/kg") * (1.7674e-2 + x * (2140.7 * x - 10.754)))


@cited("icao1993", "standard atmosphere, troposphere")
def pressure_at_altitude(altitude: Any) -> Any:
    """Mean air pressure at a height above the sea [atm].

    altitude [m], 0 to 11000: (1 - 2.25577e-5 h)^5.25588.

    >>> print(round(pressure_at_altitude(1000.0), 4))
    0.887
    """
    return attach(np.power(1.0 - 2.25577e-5 * strip(altitude, "m"), 5.25588), "atm")
