"""Rooted and submerged plants, and algae."""

from __future__ import annotations

from typing import Any

from pleuston.base.maths import attach, ratio, saturating
from pleuston.biology.nutrients import ammonium_preference, hunger
from pleuston.biology.temperature import q10_response
from pleuston.model.biological import REFERENCE
from pleuston.model.declare import CLOSE, row
from pleuston.model.rows.floating import DISSOLVED, DISSOLVED_METAL, DISSOLVED_POTASSIUM


@row("mg/d", source="janse2005", where="growth times light and least reserve", rooted_carbon=1,
     carbon_inorganic=CLOSE, oxygen=CLOSE, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def photosynthesise_rooted(
    rooted_carbon: Any, rooted_photosynthesis: Any, tissue_minerals: Any
) -> Any:
    """Rooted plants grow on carbon of the water and give oxygen."""
    return rooted_carbon * rooted_photosynthesis * tissue_minerals


@row("mg/d", source="janse2005", where="respiration with Q10", rooted_carbon=-1,
     carbon_inorganic=CLOSE, oxygen=CLOSE, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def respire_rooted(
    rooted_carbon: Any, rooted_loss: Any, temperature: Any, oxygen_concentration: Any,
    respiration_oxygen_half: Any,
) -> Any:  # fmt: skip
    """Rooted plants respire in the water."""
    warmth = q10_response(temperature, 2.0, REFERENCE)
    air = saturating(oxygen_concentration, respiration_oxygen_half)
    return rooted_carbon * rooted_loss * warmth * air


@row("mg/d", source="janse2005", where="mortality of vegetation", rooted_carbon=-1,
     detritus_carbon=1, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def shed_rooted_carbon(rooted_carbon: Any, rooted_mortality: Any) -> Any:
    """Dead leaves become detritus."""
    return rooted_carbon * rooted_mortality


@row("mg/d", source="janse2005", where="a quarter dissolves at once", rooted_nitrogen=-1,
     ammonium=DISSOLVED, detritus_nitrogen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def shed_rooted_nitrogen(rooted_nitrogen: Any, rooted_mortality: Any) -> Any:
    """Nitrogen of dead leaves."""
    return rooted_nitrogen * rooted_mortality


@row("mg/d", source="janse2005", where="a quarter dissolves at once", rooted_phosphorus=-1,
     phosphate=DISSOLVED, detritus_phosphorus=CLOSE, alkalinity=CLOSE)  # fmt: skip
def shed_rooted_phosphorus(rooted_phosphorus: Any, rooted_mortality: Any) -> Any:
    """Phosphorus of dead leaves."""
    return rooted_phosphorus * rooted_mortality


@row("mg/d", source="common_practice", where="potassium leaches by 80 to 90 % in days",
     rooted_potassium=-1, potassium=DISSOLVED_POTASSIUM, detritus_potassium=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def shed_rooted_potassium(rooted_potassium: Any, rooted_mortality: Any) -> Any:
    """Potassium of dead leaves."""
    return rooted_potassium * rooted_mortality


@row("mg/d", source="common_practice", where="metals follow mass", rooted_metal=-1,
     metal=DISSOLVED_METAL, detritus_metal=CLOSE)  # fmt: skip
def shed_rooted_metal(rooted_metal: Any, rooted_mortality: Any) -> Any:
    """Metals of dead leaves."""
    return rooted_metal * rooted_mortality


@row("mg/d", source="wool2001", where="ammonium first", ammonium=-1, rooted_nitrogen=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_ammonium_rooted(
    rooted_nitrogen_uptake: Any, root_share: Any, ammonium_concentration: Any,
    nitrate_concentration: Any, rooted_nitrogen_half: Any,
) -> Any:  # fmt: skip
    """Leaves of rooted plants take up ammonium."""
    share = ammonium_preference(
        ammonium_concentration, nitrate_concentration, rooted_nitrogen_half
    )
    food = saturating(ammonium_concentration, rooted_nitrogen_half)
    return rooted_nitrogen_uptake * (1.0 - root_share) * share * food


@row("mg/d", source="wool2001", where="nitrate when ammonium is nearly gone", nitrate=-1,
     rooted_nitrogen=1, oxygen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def take_up_nitrate_rooted(
    rooted_nitrogen_uptake: Any, root_share: Any, ammonium_concentration: Any,
    nitrate_concentration: Any, rooted_nitrogen_half: Any,
) -> Any:  # fmt: skip
    """Leaves of rooted plants take up nitrate."""
    share = 1.0 - ammonium_preference(
        ammonium_concentration, nitrate_concentration, rooted_nitrogen_half
    )
    food = saturating(nitrate_concentration, rooted_nitrogen_half)
    return rooted_nitrogen_uptake * (1.0 - root_share) * share * food


@row("mg/d", source="cedergreen2002", where="roots take up as well as leaves", ammonium_soil=-1,
     rooted_nitrogen=1, alkalinity=CLOSE)  # fmt: skip
def take_up_ammonium_from_soil(rooted_nitrogen_uptake: Any, root_share: Any) -> Any:
    """Roots take up ammonium from the soil."""
    return rooted_nitrogen_uptake * root_share


@row("mg/d", source="janse2005", where="uptake by hunger", phosphate=-1, rooted_phosphorus=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_phosphate_rooted(
    rooted_phosphorus_uptake: Any, root_share: Any, phosphate_concentration: Any,
    rooted_phosphate_half: Any,
) -> Any:  # fmt: skip
    """Leaves of rooted plants take up phosphate."""
    food = saturating(phosphate_concentration, rooted_phosphate_half)
    return rooted_phosphorus_uptake * (1.0 - root_share) * food


@row("mg/d", source="janse2005", where="uptake by hunger", phosphate_soil=-1,
     rooted_phosphorus=1, alkalinity=CLOSE)  # fmt: skip
def take_up_phosphate_from_soil(
    rooted_phosphorus_uptake: Any, phosphate_soil: Any, soil_mass: Any, rooted_soil_half: Any
) -> Any:
    """Roots take up phosphate from the soil."""
    return rooted_phosphorus_uptake * saturating(ratio(phosphate_soil, soil_mass), rooted_soil_half)


@row("mg/d", source="janse2005", where="uptake by hunger", potassium=-1, rooted_potassium=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_potassium_rooted(
    rooted_potassium_uptake: Any, root_share: Any, potassium_concentration: Any,
    rooted_potassium_half: Any,
) -> Any:  # fmt: skip
    """Leaves of rooted plants take up potassium."""
    food = saturating(potassium_concentration, rooted_potassium_half)
    return rooted_potassium_uptake * (1.0 - root_share) * food


@row("mg/d", source="janse2005", where="uptake by hunger", potassium_soil=-1,
     rooted_potassium=1, alkalinity=CLOSE)  # fmt: skip
def take_up_potassium_from_soil(
    rooted_potassium_uptake: Any, potassium_soil: Any, soil_mass: Any, rooted_soil_half: Any
) -> Any:
    """Roots take up potassium from the soil."""
    return rooted_potassium_uptake * saturating(ratio(potassium_soil, soil_mass), rooted_soil_half)


@row("mg/d", source="khellaf2010", where="uptake as by duckweed", metal=-1, rooted_metal=1)
def take_up_metal_rooted(
    rooted_dry_mass: Any, rooted_metal_uptake: Any, metal_free_concentration: Any
) -> Any:
    """Rooted plants take up a metal from the water."""
    return rooted_dry_mass * rooted_metal_uptake * metal_free_concentration


@row("mg/d", source="moorhead1988", where="abstract: oxygen from roots, an upper bound", oxygen=-1,
     reduced_soil=CLOSE)  # fmt: skip
def leak_oxygen_to_soil(
    rooted_dry_mass: Any, root_oxygen_leak: Any, light_mean_water: Any, rooted_light_half: Any,
    oxygen_concentration: Any, respiration_oxygen_half: Any, reduced_soil: Any, soil_mass: Any,
) -> Any:  # fmt: skip
    """Roots bring oxygen into the soil while there is light."""
    lit = saturating(light_mean_water, rooted_light_half)
    air = saturating(oxygen_concentration, respiration_oxygen_half)
    need = saturating(ratio(reduced_soil, soil_mass), attach(10.0, "mg/kg"))
    return rooted_dry_mass * root_oxygen_leak * lit * air * need


# -- algae -------------------------------------------------------------------------


@row("mg/d", source="janse2005", where="growth times light and least reserve", algae_carbon=1,
     carbon_inorganic=CLOSE, oxygen=CLOSE)  # fmt: skip
def photosynthesise_algae(
    algae_carbon: Any, algae_photosynthesis: Any, carbon_inorganic_concentration: Any
) -> Any:
    """Algae grow on carbon of the water and give oxygen."""
    supply = saturating(carbon_inorganic_concentration, attach(0.5, "mg/L"))
    return algae_carbon * algae_photosynthesis * supply


@row("mg/d", source="janse2005", where="respiration with Q10", algae_carbon=-1,
     carbon_inorganic=CLOSE, oxygen=CLOSE)  # fmt: skip
def respire_algae(
    algae_carbon: Any, algae_loss: Any, temperature: Any, oxygen_concentration: Any,
    respiration_oxygen_half: Any,
) -> Any:  # fmt: skip
    """Algae respire."""
    air = saturating(oxygen_concentration, respiration_oxygen_half)
    return algae_carbon * algae_loss * q10_response(temperature, 2.0, REFERENCE) * air


@row("mg/d", source="janse2005", where="mortality", algae_carbon=-1, detritus_carbon=1)
def die_algae_carbon(algae_carbon: Any, algae_mortality: Any) -> Any:
    """Carbon of dying algae."""
    return algae_carbon * algae_mortality


@row("mg/d", source="janse2005", where="mortality", algae_nitrogen=-1, detritus_nitrogen=1)
def die_algae_nitrogen(algae_nitrogen: Any, algae_mortality: Any) -> Any:
    """Nitrogen of dying algae."""
    return algae_nitrogen * algae_mortality


@row("mg/d", source="janse2005", where="mortality", algae_phosphorus=-1, detritus_phosphorus=1)
def die_algae_phosphorus(algae_phosphorus: Any, algae_mortality: Any) -> Any:
    """Phosphorus of dying algae."""
    return algae_phosphorus * algae_mortality


@row("mg/d", source="wool2001", where="ammonium first", ammonium=-1, algae_nitrogen=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_ammonium_algae(
    algae_carbon: Any, algae_nitrogen_uptake_max: Any, algae_nitrogen_quota: Any,
    algae_nitrogen_min: Any, algae_nitrogen_max: Any, ammonium_concentration: Any,
    algae_nitrogen_half: Any,
) -> Any:  # fmt: skip
    """Algae take up ammonium."""
    appetite = hunger(algae_nitrogen_quota, algae_nitrogen_min, algae_nitrogen_max)
    food = saturating(ammonium_concentration, algae_nitrogen_half)
    return algae_carbon * algae_nitrogen_uptake_max * appetite * food


@row("mg/d", source="wool2001", where="nitrate when ammonium is nearly gone", nitrate=-1,
     algae_nitrogen=1, oxygen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def take_up_nitrate_algae(
    algae_carbon: Any, algae_nitrogen_uptake_max: Any, algae_nitrogen_quota: Any,
    algae_nitrogen_min: Any, algae_nitrogen_max: Any, ammonium_concentration: Any,
    nitrate_concentration: Any, algae_nitrogen_half: Any,
) -> Any:  # fmt: skip
    """Algae take up nitrate."""
    appetite = hunger(algae_nitrogen_quota, algae_nitrogen_min, algae_nitrogen_max)
    food = saturating(nitrate_concentration, algae_nitrogen_half)
    other = 1.0 - saturating(ammonium_concentration, algae_nitrogen_half)
    return algae_carbon * algae_nitrogen_uptake_max * appetite * food * other


@row("mg/d", source="janse2005", where="uptake by hunger", phosphate=-1, algae_phosphorus=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_phosphate_algae(
    algae_carbon: Any, algae_phosphorus_uptake_max: Any, algae_phosphorus_quota: Any,
    algae_phosphorus_min: Any, algae_phosphorus_max: Any, phosphate_concentration: Any,
    algae_phosphate_half: Any,
) -> Any:  # fmt: skip
    """Algae take up phosphate."""
    appetite = hunger(algae_phosphorus_quota, algae_phosphorus_min, algae_phosphorus_max)
    food = saturating(phosphate_concentration, algae_phosphate_half)
    return algae_carbon * algae_phosphorus_uptake_max * appetite * food
