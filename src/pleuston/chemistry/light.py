"""Light: from lux, through water and leaves, to the sum of a day."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip


@cited("cie2018", "spectra of illuminants; photons of 400 to 700 nm per lux")
def light_of_lux(illuminance: Any, light_per_lux: Any) -> Any:
    """Photosynthetic light from a lux meter's reading [umol/m^2/s].

    illuminance [lux]; light_per_lux [umol/m^2/s/lux], by kind of lamp.

    >>> print(round(light_of_lux(5000.0, 0.0144), 3))
    72.0
    """
    return illuminance * light_per_lux


@cited("common_practice", "sum of a constant light over the lit hours")
def light_of_day(light: Any, photoperiod: Any) -> Any:
    """Photosynthetic light of a whole day [mol/m^2/d].

    light [umol/m^2/s]; photoperiod [d], the lit part of a day.

    >>> print(round(light_of_day(80.0, 10 / 24), 3))
    2.88
    """
    return attach(0.0864 * strip(light, "umol/m^2/s") * strip(photoperiod, "d"), "mol/m^2/d")


@cited("kirk2011", "exponential fall of light with depth")
def light_at_depth(light: Any, attenuation: Any, depth: Any) -> Any:
    """Light left at a depth [umol/m^2/s].

    light [umol/m^2/s], just below the surface; attenuation [1/m]; depth [m].

    >>> print(round(light_at_depth(80.0, 0.5, 0.3), 1))
    68.9
    """
    return light * np.exp(-(attenuation * depth))


@cited("kirk2011", "exponential fall of light with depth, averaged")
def light_mean_share(attenuation: Any, depth: Any) -> Any:
    """Mean over the depth of the light, as a share of that at the top [1].

    attenuation [1/m]; depth [m]; attenuation times depth must be above 0:
    (1 - exp(-K H))/(K H).

    >>> print(round(light_mean_share(0.5, 0.3), 3))
    0.929
    """
    thickness = attenuation * depth
    return (1.0 - np.exp(-thickness)) / thickness
