"""Copper, zinc and their like: onto soil and detritus, and back."""

from __future__ import annotations

from typing import Any

from pleuston.base.maths import ratio
from pleuston.model.declare import row
from pleuston.model.physical import litres_of


@row("mg/d", source="allison2005", where="partition of metals in soil, EPA/600/R-05/074",
     metal=-1, metal_soil=1)  # fmt: skip
def sorb_metal_to_soil(
    metal_free_concentration: Any, soil_exchange: Any, surface_area: Any
) -> Any:
    """A metal from the water onto the soil."""
    return litres_of(soil_exchange * surface_area) * metal_free_concentration


@row("mg/d", source="allison2005", where="partition of metals in soil, EPA/600/R-05/074",
     metal_soil=-1, metal=1)  # fmt: skip
def release_metal_from_soil(
    metal_soil: Any, soil_mass: Any, metal_partition: Any, soil_exchange: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """A metal from the soil into the water."""
    return litres_of(soil_exchange * surface_area) * ratio(metal_soil, soil_mass * metal_partition)


@row("mg/d", source="allison2005", where="partition of metals on suspended matter",
     metal=-1, detritus_metal=1)  # fmt: skip
def sorb_metal_to_detritus(
    metal_free_concentration: Any, detritus_carbon: Any, metal_detritus_sorption: Any
) -> Any:
    """A metal from the water onto detritus."""
    return metal_detritus_sorption * metal_free_concentration * detritus_carbon


@row("mg/d", source="allison2005", where="partition of metals on suspended matter",
     detritus_metal=-1, metal=1)  # fmt: skip
def release_metal_from_detritus(detritus_metal: Any, metal_detritus_release: Any) -> Any:
    """A metal from detritus into the water."""
    return metal_detritus_release * detritus_metal
