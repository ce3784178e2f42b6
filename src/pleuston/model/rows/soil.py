"""Soil below the cap: decay, oxygen demand, and what passes through the cap."""

from __future__ import annotations

from typing import Any

from pleuston.base.maths import ratio, saturating
from pleuston.model.declare import CLOSE, row
from pleuston.model.physical import litres_of

MULM = "mulm works its way into the bed"


@row("mg/d", source="common_practice", where=MULM, detritus_carbon=-1, soil_carbon=1)
def bury_carbon(detritus_carbon: Any, detritus_burial: Any) -> Any:
    """Detritus works its way into the soil: carbon."""
    return detritus_carbon * detritus_burial


@row("mg/d", source="common_practice", where=MULM, detritus_nitrogen=-1, soil_nitrogen=1)
def bury_nitrogen(detritus_nitrogen: Any, detritus_burial: Any) -> Any:
    """Detritus works its way into the soil: nitrogen."""
    return detritus_nitrogen * detritus_burial


@row("mg/d", source="common_practice", where=MULM, detritus_phosphorus=-1, soil_phosphorus=1)
def bury_phosphorus(detritus_phosphorus: Any, detritus_burial: Any) -> Any:
    """Detritus works its way into the soil: phosphorus."""
    return detritus_phosphorus * detritus_burial


@row("mg/d", source="common_practice", where=MULM, detritus_iron=-1, iron_soil=1)
def bury_iron(detritus_iron: Any, detritus_burial: Any) -> Any:
    """Detritus works its way into the soil: iron."""
    return detritus_iron * detritus_burial


@row("mg/d", source="common_practice", where=MULM, detritus_metal=-1, metal_soil=1)
def bury_metal(detritus_metal: Any, detritus_burial: Any) -> Any:
    """Detritus works its way into the soil: a metal."""
    return detritus_metal * detritus_burial


SLOW = "resistant plant matter, 0.3 a year at 9 degC, warmed; slower under water: guess"


@row("mg/d", source="jenkinson1990", where=SLOW, soil_slow_carbon=-1, soil_carbon=1)
def loosen_soil_carbon(soil_slow_carbon: Any, soil_loosening: Any, decay_warmth: Any) -> Any:
    """Resistant carbon of the soil becomes labile."""
    return soil_slow_carbon * soil_loosening * decay_warmth


@row("mg/d", source="jenkinson1990", where=SLOW, soil_slow_nitrogen=-1, soil_nitrogen=1)
def loosen_soil_nitrogen(soil_slow_nitrogen: Any, soil_loosening: Any, decay_warmth: Any) -> Any:
    """Resistant nitrogen of the soil becomes labile."""
    return soil_slow_nitrogen * soil_loosening * decay_warmth


@row("mg/d", source="jenkinson1990", where=SLOW, soil_slow_phosphorus=-1, soil_phosphorus=1)
def loosen_soil_phosphorus(
    soil_slow_phosphorus: Any, soil_loosening: Any, decay_warmth: Any
) -> Any:
    """Resistant phosphorus of the soil becomes labile."""
    return soil_slow_phosphorus * soil_loosening * decay_warmth


@row("mg/d", source="zou2018", where="abstract: first-order mineralisation of soil nitrogen",
     soil_carbon=-1, carbon_inorganic=CLOSE, reduced_soil=CLOSE)  # fmt: skip
def decay_soil_carbon(soil_carbon: Any, soil_decay: Any) -> Any:
    """Soil matter decays without oxygen and leaves reduced matter."""
    return soil_carbon * soil_decay


@row("mg/d", source="zou2018", where="abstract: first-order mineralisation of soil nitrogen",
     soil_nitrogen=-1, ammonium_soil=1, alkalinity=CLOSE)  # fmt: skip
def mineralise_soil_nitrogen(soil_nitrogen: Any, soil_decay: Any) -> Any:
    """Soil nitrogen becomes ammonium in the soil's water."""
    return soil_nitrogen * soil_decay


@row("mg/d", source="zou2018", where="as for nitrogen", soil_phosphorus=-1, phosphate_soil=1,
     alkalinity=CLOSE)  # fmt: skip
def mineralise_soil_phosphorus(soil_phosphorus: Any, soil_decay: Any) -> Any:
    """Soil phosphorus becomes phosphate in the soil's water."""
    return soil_phosphorus * soil_decay


@row("mg/d", source="rong2016", where="abstract: sediment oxygen demand 0.19 to 1.41 g/m2/d",
     reduced_soil=-1, oxygen=CLOSE)  # fmt: skip
def oxidise_soil(
    reduced_soil: Any, soil_mass: Any, surface_area: Any, soil_oxygen_demand: Any,
    reduced_soil_half: Any, oxygen_concentration: Any, soil_oxygen_half: Any, decay_warmth: Any,
) -> Any:  # fmt: skip
    """Oxygen of the water burns reduced matter at the soil's surface."""
    need = saturating(ratio(reduced_soil, soil_mass), reduced_soil_half)
    air = saturating(oxygen_concentration, soil_oxygen_half)
    return soil_oxygen_demand * surface_area * need * air * decay_warmth


@row("mg/d", source="common_practice", where="diffusion through the cap", ammonium_soil=-1,
     ammonium=1)  # fmt: skip
def diffuse_ammonium_out(
    ammonium_soil: Any, soil_mass: Any, ammonium_partition: Any, soil_exchange: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """Ammonium from the soil into the water."""
    return litres_of(soil_exchange * surface_area) * ratio(
        ammonium_soil, soil_mass * ammonium_partition
    )


@row("mg/d", source="common_practice", where="diffusion through the cap", ammonium=-1,
     ammonium_soil=1)  # fmt: skip
def diffuse_ammonium_in(
    ammonium_concentration: Any, soil_exchange: Any, surface_area: Any
) -> Any:
    """Ammonium from the water into the soil."""
    return litres_of(soil_exchange * surface_area) * ammonium_concentration


@row("mg/d", source="common_practice", where="diffusion through the cap", phosphate_soil=-1,
     phosphate=1)  # fmt: skip
def diffuse_phosphate_out(
    phosphate_soil: Any, soil_mass: Any, phosphate_partition: Any, soil_exchange: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """Phosphate from the soil into the water."""
    return litres_of(soil_exchange * surface_area) * ratio(
        phosphate_soil, soil_mass * phosphate_partition
    )


@row("mg/d", source="common_practice", where="diffusion through the cap", phosphate=-1,
     phosphate_soil=1)  # fmt: skip
def diffuse_phosphate_in(
    phosphate_concentration: Any, soil_exchange: Any, surface_area: Any
) -> Any:
    """Phosphate from the water onto the soil."""
    return litres_of(soil_exchange * surface_area) * phosphate_concentration
