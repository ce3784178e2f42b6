"""Growth of free-floating plants: light in the mat, crowding, stress, ageing."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip


@cited("klein2022", "frond area over dry mass; cover law by random overlap")
def cover_of_density(density: Any, area_of_mass: Any) -> Any:
    """Share of the surface under plants [1].

    density [g/m^2], dry; area_of_mass [m^2/g]: 1 - exp(-a B).

    >>> print(round(float(cover_of_density(9.0, 0.10)), 2))
    0.59
    """
    return 1.0 - np.exp(-(density * area_of_mass))


@cited("janse2005", "half-saturating light, here averaged through a mat that shades itself")
def mat_light_response(light: Any, half: Any, thickness: Any) -> Any:
    """Mean light response of a mat that shades itself [1].

    light [umol/m^2/s] on the mat; half [umol/m^2/s]; thickness [1], extinction times
    density: ln((h + I)/(h + I exp(-t)))/t. Growth of a crowded mat is then linear in time.

    >>> print(round(float(mat_light_response(110.0, 34.0, 1e-9)), 3))
    0.764
    """
    below = light * np.exp(-thickness)
    thick = thickness > 1e-6
    t = np.where(thick, thickness, 1.0)
    return np.where(thick, np.log((half + light) / (half + below)) / t, light / (half + light))


@cited("barks2018", "fronds live 19 d (5 to 95 %: 14 to 25 d): age structure of a growing mat")
def ageing_rate(growth: Any, life: Any) -> Any:
    """Share of a mat that dies of age in a day [1/d].

    growth [1/d], net; life [d]: r/(exp(r L) - 1), 1/L where the mat stands still. A mat
    that is kept young by harvests wastes less.

    >>> print(round(float(ageing_rate(0.1, 22.0)), 4))
    0.0125
    """
    r = np.maximum(strip(growth, "1/d"), 1e-4)
    aged = np.minimum(r * strip(life, "d"), 50.0)
    return attach(r / (np.exp(aged) - 1.0), "1/d")


@cited("koerner2001", "growth falls linearly with NH3 to zero at 8 mg/L")
def ammonia_response(ammonia: Any, deadly: Any) -> Any:
    """Share of the growth that un-ionised ammonia leaves [1].

    ammonia, deadly [mg/L of N].

    >>> print(float(ammonia_response(4.0, 8.0)))
    0.5
    """
    return np.maximum(1.0 - ammonia / deadly, 0.0)


@cited("mclay1976", "optima of pH of duckweeds; corners of the trapezoid from memory")
def ph_response(ph: Any, least: Any, low: Any, high: Any, most: Any) -> Any:
    """Share of the growth that the pH allows [1]: 0 at `least` and `most`, 1 between.

    ph, least, low, high, most [1].
    """
    rise = (ph - least) / (low - least)
    fall = (most - ph) / (most - high)
    return np.clip(np.minimum(rise, fall), 0.0, 1.0)


@cited("wendeou2013", "abstract: best growth of Spirodela at 600 to 1400 uS/cm; ends from memory")
def salinity_response(conductivity: Any, most: Any) -> Any:
    """Share of the growth that the salt content allows [1]: 1 up to 1500 uS/cm, 0 at `most`.

    conductivity, most [uS/cm].
    """
    above = strip(conductivity, "uS/cm") - 1500.0
    return np.clip(1.0 - above / (strip(most, "uS/cm") - 1500.0), 0.0, 1.0)


@cited("khellaf2010", "abstract: half growth of Lemna gibba at 0.45 mg/L Cu; slope 3 to 6")
def copper_response(copper: Any, half: Any) -> Any:
    """Share of the growth that free copper leaves [1].

    copper, half [mg/L]: 1/(1 + (c/half)^4).

    >>> print(float(copper_response(0.45, 0.45)))
    0.5
    """
    x = copper / half
    return 1.0 / (1.0 + x * x * x * x)


@cited("coughlan2022", "abstract: growth best at a slow current, worse at less and at more")
def flow_response(flow_level: Any, gain: Any, loss: Any) -> Any:
    """Factor of the current on growth [1]: 1 still, more with a gentle current, less tumbled.

    flow_level [1], 0 still, 1 gentle, 2 strong; gain, loss [1].
    """
    return 1.0 + gain * np.minimum(flow_level, 1.0) - loss * np.maximum(flow_level - 1.0, 0.0)
