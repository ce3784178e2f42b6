"""How fast gases cross the water surface."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.carbonate import proton_activity

SECONDS_PER_DAY = 86400.0
TANH_IS_ONE = 20.0
"""From here on tanh(x) is 1 in double precision."""


def _quartic(temperature: Any, a: float, b: float, c: float, d: float, e: float) -> Any:
    t = strip(temperature, "K") - 273.15
    return a + t * (b + t * (c + t * (d + e * t)))


@cited("wanninkhof2014", "table 1, oxygen, fresh water")
def schmidt_oxygen(temperature: Any) -> Any:
    """Schmidt number of oxygen in fresh water [1].

    temperature [K], 271 to 313 K; quartic in degC.

    >>> print(round(schmidt_oxygen(293.15)))
    510
    """
    return _quartic(temperature, 1745.1, -124.34, 4.8055, -0.10115, 8.6842e-4)


@cited("wanninkhof2014", "table 1, carbon dioxide, fresh water")
def schmidt_co2(temperature: Any) -> Any:
    """Schmidt number of carbon dioxide in fresh water [1].

    temperature [K], 271 to 313 K; quartic in degC.

    >>> print(round(schmidt_co2(293.15)))
    600
    """
    return _quartic(temperature, 1923.6, -125.06, 4.3773, -0.085681, 7.0284e-4)


@cited("raymond2012", "cubic of oxygen")
def schmidt_oxygen_raymond2012(temperature: Any) -> Any:
    """Schmidt number of oxygen in fresh water, cubic fit [1].

    temperature [K], 277 to 308 K: 1568 - 86.04 t + 2.142 t^2 - 0.0216 t^3, t in degC.

    >>> print(round(schmidt_oxygen_raymond2012(293.15), 1))
    531.2
    """
    return _quartic(temperature, 1568.0, -86.04, 2.142, -0.0216, 0.0)


@cited("raymond2012", "cubic of carbon dioxide")
def schmidt_co2_raymond2012(temperature: Any) -> Any:
    """Schmidt number of carbon dioxide in fresh water, cubic fit [1].

    temperature [K], 277 to 308 K: 1742 - 91.24 t + 2.208 t^2 - 0.0219 t^3, t in degC.

    >>> print(round(schmidt_co2_raymond2012(293.15), 1))
    625.2
    """
    return _quartic(temperature, 1742.0, -91.24, 2.208, -0.0219, 0.0)


@cited("boudreau1997", "ch. 4, oxygen: (0.2604 + 0.006383 T/mu) 1e-9 m^2/s")
def diffusivity_oxygen(temperature: Any, viscosity: Any) -> Any:
    """Diffusivity of oxygen in water [m^2/d].

    temperature [K]; viscosity [mPa*s].
    """
    ease = strip(temperature, "K") / strip(viscosity, "mPa*s")
    return attach((0.2604 + 0.006383 * ease) * 1e-9 * SECONDS_PER_DAY, "m^2/d")


@cited("boudreau1997", "ch. 4, carbon dioxide: (0.1954 + 0.005089 T/mu) 1e-9 m^2/s")
def diffusivity_co2(temperature: Any, viscosity: Any) -> Any:
    """Diffusivity of carbon dioxide in water [m^2/d].

    temperature [K]; viscosity [mPa*s].
    """
    ease = strip(temperature, "K") / strip(viscosity, "mPa*s")
    return attach((0.1954 + 0.005089 * ease) * 1e-9 * SECONDS_PER_DAY, "m^2/d")


@cited("wanninkhof2014", "k = k600 (Sc/600)^-1/2, moving surface")
def transfer_moving(transfer_600: Any, schmidt: Any) -> Any:
    """Transfer velocity of a gas through a clean, moving surface [m/d].

    transfer_600 [m/d], velocity of a gas of Schmidt number 600; schmidt [1].

    >>> print(transfer_moving(0.4, 600.0))
    0.4
    """
    return transfer_600 * np.sqrt(600.0 / schmidt)


@cited("wanninkhof2014", "k = k600 (Sc/600)^-2/3, smooth surface")
def transfer_still(transfer_600: Any, schmidt: Any) -> Any:
    """Transfer velocity of a gas through a still or filmed surface [m/d].

    transfer_600 [m/d], velocity of a gas of Schmidt number 600; schmidt [1].

    >>> print(round(transfer_still(0.4, 510.2), 3))
    0.446
    """
    root = np.cbrt(600.0 / schmidt)
    return transfer_600 * root * root


@cited("henze1987", "oxygen transfer, theta 1.024 per degree")
def transfer_warming(temperature: Any) -> Any:
    """Factor on the transfer velocity of oxygen, 1 at 20 degC [1].

    temperature [K], 278 to 308 K: 1.024^(t - 20).

    >>> print(round(transfer_warming(303.15), 3))
    1.268
    """
    return np.exp(0.023716526617316065 * (strip(temperature, "K") - 293.15))


@cited("downing1955", "abstract: 2.37 % of the value at 20 degC per degree, linear")
def transfer_warming_downing1955(temperature: Any) -> Any:
    """Factor on the transfer velocity of oxygen, measured in stirred tanks, 1 at 20 degC [1].

    temperature [K], 273 to 308 K.

    >>> print(round(transfer_warming_downing1955(303.15), 3))
    1.237
    """
    return 1.0 + 0.0237 * (strip(temperature, "K") - 293.15)


@cited("zappa2007", "k = 0.42 (eps nu)^(1/4) Sc^(-1/2)")
def transfer_surface_renewal(dissipation: Any, viscosity_kinematic: Any, schmidt: Any) -> Any:
    """Transfer velocity where turbulence renews the surface [m/d].

    dissipation [m^2/s^3]; viscosity_kinematic [m^2/s]; schmidt [1]; the coefficient lies
    between 0.29 and 0.50.

    >>> print(round(transfer_surface_renewal(1e-8, 1e-6, 510.0), 2))
    0.51
    """
    stirred = strip(dissipation, "m^2/s^3") * strip(viscosity_kinematic, "m^2/s")
    fourth = np.sqrt(np.sqrt(stirred))
    return attach(0.42 * SECONDS_PER_DAY * fourth / np.sqrt(strip(schmidt, "1")), "m/d")


@cited("hoover1969", "enhancement factor; rate law at 25 degC 0.026 + 8500 [OH] 1/s")
def co2_enhancement(
    ph: Any,
    transfer_velocity: Any,
    diffusivity: Any,
    carbonic_first: Any,
    carbonic_second: Any,
    water_product: Any,
) -> Any:
    """Factor by which reaction with water and hydroxide speeds the exchange of CO2 [1].

    ph [1]; transfer_velocity [m/d], without reaction; diffusivity [m^2/d] of CO2;
    carbonic_first, carbonic_second [mol/L]; water_product [mol^2/L^2].
    a = tau/(tau - 1 + tanh(x)/x), x = sqrt(r tau D)/k, tau = 1 + h^2/(K1 K2 + K1 h),
    r = 0.026 + 8500 [OH] 1/s (25 degC; not corrected for temperature).

    >>> print(round(co2_enhancement(8.0, 0.24, 1.659e-4, 10**-6.352, 10**-10.329, 1.012e-14), 2))
    2.86
    """
    proton = proton_activity(ph)
    buffered = carbonic_first * (carbonic_second + proton)
    tau = 1.0 + proton * proton / buffered
    hydroxide = strip(water_product / proton, "mol/L")
    rate = attach((0.026 + 8500.0 * hydroxide) * SECONDS_PER_DAY, "1/d")
    depth = np.sqrt(rate * tau * diffusivity) / transfer_velocity
    return tau / (tau - 1.0 + np.tanh(np.minimum(depth, TANH_IS_ONE)) / depth)
