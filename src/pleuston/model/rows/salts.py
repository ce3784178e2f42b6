"""Salts and minerals: lime on the glass, shells, exchange with the soil, iron."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.maths import attach, ratio, saturating
from pleuston.model.declare import CLOSE, row
from pleuston.model.physical import litres_of

POOR_IN_IRON = 200.0
"""Iron that reduction can free [mg/kg of soil] at which it leaves at half speed: guess."""
CALCIUM_USUAL = 50.0
"""Calcium [mg/L] at which the soil holds what `calcium_partition` says: a choice."""
TRACE = 0.05
"""Concentration [mg/L] at which a process that would empty a store runs at half speed."""


@row("mg/d", source="kazmierczak1981", where="abstract: rate by the square of the relative "
     "supersaturation; here over a threshold", scale=1, calcium=CLOSE, carbon_inorganic=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def precipitate_scale(
    calcite_saturation: Any, scale_threshold: Any, scale_growth: Any, wall_area: Any,
    calcium_concentration: Any, carbon_inorganic_concentration: Any,
) -> Any:  # fmt: skip
    """Calcium carbonate settles on glass and leaves when the water is well oversaturated.

    scale_growth ((W/Wt)^(1/2) - 1)^2 a square metre, W the saturation and Wt the threshold that
    phosphate and organic matter put off; nothing below the threshold.
    """
    over = np.sqrt(np.maximum(calcite_saturation / scale_threshold, 1.0)) - 1.0
    there = saturating(calcium_concentration, attach(TRACE, "mg/L")) * saturating(
        carbon_inorganic_concentration, attach(TRACE, "mg/L")
    )
    return scale_growth * wall_area * over * over * there


@row("mg/d", source="plummer1982", where="calcite undersaturation", scale=-1, calcium=CLOSE,
     carbon_inorganic=CLOSE, alkalinity=CLOSE)  # fmt: skip
def dissolve_scale(scale: Any, calcite_saturation: Any, scale_dissolution: Any) -> Any:
    """Lime on the glass dissolves where the water is undersaturated."""
    return scale_dissolution * scale * np.maximum(1.0 - calcite_saturation, 0.0)


@row("mg/d", source="plummer1982", where="calcite undersaturation", shell=-1, calcium=CLOSE,
     carbon_inorganic=CLOSE, alkalinity=CLOSE)  # fmt: skip
def dissolve_shell(shell: Any, calcite_saturation: Any, shell_dissolution: Any) -> Any:
    """Snail shells and shell grit dissolve in soft, acid water."""
    return shell_dissolution * shell * np.maximum(1.0 - calcite_saturation, 0.0)


@row("mg/d", source="common_practice", where="diffusion through the cap", calcium=-1,
     calcium_soil=1, alkalinity=CLOSE)  # fmt: skip
def sorb_calcium_to_soil(
    calcium_concentration: Any, soil_exchange: Any, surface_area: Any
) -> Any:
    """Calcium from the water onto the soil's exchange sites."""
    return litres_of(soil_exchange * surface_area) * calcium_concentration


@row("mg/d", source="common_practice", where="diffusion through the cap", calcium_soil=-1,
     calcium=1, alkalinity=CLOSE)  # fmt: skip
def release_calcium_from_soil(
    calcium_soil: Any, soil_mass: Any, calcium_partition: Any, soil_exchange: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """Calcium from the soil's exchange sites into the water.

    The sites are full of it in most waters, so that what they hold changes by the fourth root
    of what is dissolved (Freundlich's law): a bed takes little of a hardness that rises.
    """
    usual = attach(CALCIUM_USUAL, "mg/L")
    filled = ratio(calcium_soil, soil_mass * calcium_partition * usual)
    squared = filled * filled
    return litres_of(soil_exchange * surface_area) * usual * squared * squared


@row("mg/d", source="common_practice", where="diffusion through the cap", potassium=-1,
     potassium_soil=1, alkalinity=CLOSE)  # fmt: skip
def sorb_potassium_to_soil(
    potassium_concentration: Any, soil_exchange: Any, surface_area: Any
) -> Any:
    """Potassium from the water onto the soil's exchange sites."""
    return litres_of(soil_exchange * surface_area) * potassium_concentration


@row("mg/d", source="common_practice", where="diffusion through the cap", potassium_soil=-1,
     potassium=1, alkalinity=CLOSE)  # fmt: skip
def release_potassium_from_soil(
    potassium_soil: Any, soil_mass: Any, potassium_partition: Any, soil_exchange: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """Potassium from the soil's exchange sites into the water."""
    return litres_of(soil_exchange * surface_area) * ratio(
        potassium_soil, soil_mass * potassium_partition
    )


@row("mg/d", source="common_practice", where="chelates break and iron settles", iron=-1,
     detritus_iron=1)  # fmt: skip
def settle_iron(iron: Any, iron_settling: Any) -> Any:
    """Dissolved iron oxidises and settles."""
    return iron_settling * iron


@row("mg/d", source="common_practice", where="reduced iron leaves an anoxic soil", iron=1,
     iron_soil=-1)  # fmt: skip
def release_iron_from_soil(
    reduced_soil: Any, iron_soil: Any, soil_mass: Any, surface_area: Any, iron_release: Any
) -> Any:
    """Iron that a reduced soil gives to the water; a poor store gives less."""
    reduced = saturating(ratio(reduced_soil, soil_mass), attach(100.0, "mg/kg"))
    store = saturating(ratio(iron_soil, soil_mass), attach(POOR_IN_IRON, "mg/kg"))
    return iron_release * surface_area * reduced * store
