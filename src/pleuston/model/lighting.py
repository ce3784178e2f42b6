"""Light at the water, below floating plants, in the water and at the bed."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited


@cited("common_practice", "lamp reading times a factor for its error")
def light_at_water(light: Any, light_factor: Any) -> Any:
    """Photosynthetic light at the water surface [umol/m^2/s]."""
    return light * light_factor


@cited("kirk2011", "attenuation as the sum of what absorbs and scatters")
def water_attenuation(
    attenuation_clear: Any, attenuation_humic: Any, attenuation_algae: Any,
    humic_concentration: Any, algae_carbon: Any, water: Any,
) -> Any:  # fmt: skip
    """Attenuation of light by the water with what it holds [1/m]."""
    return (
        attenuation_clear
        + attenuation_humic * humic_concentration
        + attenuation_algae * algae_carbon / water
    )


@cited("schmitt2013", "frond area over dry mass as extinction")
def light_below_canopy(light_at_water: Any, mat_thickness: Any) -> Any:
    """Light below the floating plants [umol/m^2/s]."""
    return light_at_water * np.exp(-mat_thickness)


@cited("kirk2011", "exponential fall of light with depth, averaged")
def light_mean_water(
    light_below_canopy: Any, water_attenuation: Any, water_depth: Any
) -> Any:
    """Mean light in the water below the floating plants [umol/m^2/s]."""
    thickness = water_attenuation * water_depth + 1e-6
    return light_below_canopy * (1.0 - np.exp(-thickness)) / thickness


@cited("kirk2011", "exponential fall of light with depth")
def light_at_bed(light_below_canopy: Any, water_attenuation: Any, water_depth: Any) -> Any:
    """Light at the bed [umol/m^2/s]."""
    return light_below_canopy * np.exp(-(water_attenuation * water_depth))


QUANTITIES = (
    light_at_water, water_attenuation, light_below_canopy, light_mean_water, light_at_bed,
)  # fmt: skip
"""Light by place."""
