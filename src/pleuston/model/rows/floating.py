"""Floating plants: they breathe air, feed on the water, age, and are harvested (a jump)."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from pleuston.base.maths import attach, saturating
from pleuston.biology.nutrients import ammonium_preference, hunger
from pleuston.model.declare import CLOSE, row

DISSOLVED = Fraction(1, 4)
"""Share of the nitrogen and phosphorus of dead plants that dissolves at once (janse2005)."""
DISSOLVED_POTASSIUM = Fraction(4, 5)
DISSOLVED_METAL = Fraction(1, 5)


@row("mg/d", source="janse2005", where="growth times light and least reserve; carbon from the air",
     floater_carbon=1, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE, alkalinity=CLOSE,
     crosses="air", carries=("C", "oxygen_demand"))  # fmt: skip
def photosynthesise_floater(
    floater_carbon: Any, floater_photosynthesis: Any, floater_water_share: Any,
    tissue_minerals: Any,
) -> Any:  # fmt: skip
    """A floating plant grows on carbon dioxide of the air."""
    return floater_carbon * floater_photosynthesis * (1.0 - floater_water_share) * tissue_minerals


@row("mg/d", source="common_practice", where="a small share of the gas goes to the water",
     floater_carbon=1, carbon_inorganic=CLOSE, oxygen=CLOSE, calcium=CLOSE, magnesium=CLOSE,
     sulfate=CLOSE, alkalinity=CLOSE)  # fmt: skip
def photosynthesise_floater_in_water(
    floater_carbon: Any, floater_photosynthesis: Any, floater_water_share: Any,
    tissue_minerals: Any, carbon_inorganic_concentration: Any,
) -> Any:  # fmt: skip
    """A floating plant grows on carbon of the water and gives its oxygen there."""
    supply = saturating(carbon_inorganic_concentration, attach(0.5, "mg/L"))
    grown = floater_carbon * floater_photosynthesis * floater_water_share
    return grown * tissue_minerals * supply


@row("mg/d", source="klein2022", where="k_loss with Q10", floater_carbon=-1, calcium=CLOSE,
     magnesium=CLOSE, sulfate=CLOSE, alkalinity=CLOSE, crosses="air",
     carries=("C", "oxygen_demand"))  # fmt: skip
def respire_floater(
    floater_carbon: Any, floater_respiration: Any, floater_root_respiration: Any
) -> Any:
    """A floating plant respires into the air."""
    return floater_carbon * floater_respiration * (1.0 - floater_root_respiration)


@row("mg/d", source="klein2022", where="k_loss with Q10; the roots' share", floater_carbon=-1,
     carbon_inorganic=CLOSE, oxygen=CLOSE, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def respire_floater_roots(
    floater_carbon: Any, floater_respiration: Any, floater_root_respiration: Any,
    oxygen_concentration: Any, respiration_oxygen_half: Any,
) -> Any:  # fmt: skip
    """The roots of a floating plant respire in the water."""
    air = saturating(oxygen_concentration, respiration_oxygen_half)
    return floater_carbon * floater_respiration * floater_root_respiration * air


@row("mg/d", source="barks2018", where="age structure of a mat", floater_carbon=-1,
     detritus_carbon=1, calcium=CLOSE, magnesium=CLOSE, sulfate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def shed_floater_carbon(floater_carbon: Any, floater_mortality: Any) -> Any:
    """Dead fronds and leaves become detritus."""
    return floater_carbon * floater_mortality


@row("mg/d", source="janse2005", where="a quarter dissolves at once", floater_nitrogen=-1,
     ammonium=DISSOLVED, detritus_nitrogen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def shed_floater_nitrogen(floater_nitrogen: Any, floater_mortality: Any) -> Any:
    """Nitrogen of dead fronds: part dissolves, the rest is detritus."""
    return floater_nitrogen * floater_mortality


@row("mg/d", source="janse2005", where="a quarter dissolves at once", floater_phosphorus=-1,
     phosphate=DISSOLVED, detritus_phosphorus=CLOSE, alkalinity=CLOSE)  # fmt: skip
def shed_floater_phosphorus(floater_phosphorus: Any, floater_mortality: Any) -> Any:
    """Phosphorus of dead fronds: part dissolves, the rest is detritus."""
    return floater_phosphorus * floater_mortality


@row("mg/d", source="common_practice", where="potassium leaches by 80 to 90 % in days",
     floater_potassium=-1, potassium=DISSOLVED_POTASSIUM, detritus_potassium=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def shed_floater_potassium(floater_potassium: Any, floater_mortality: Any) -> Any:
    """Potassium of dead fronds leaches almost at once."""
    return floater_potassium * floater_mortality


@row("mg/d", source="common_practice", where="iron follows mass", floater_iron=-1,
     detritus_iron=1)  # fmt: skip
def shed_floater_iron(floater_iron: Any, floater_mortality: Any) -> Any:
    """Iron of dead fronds stays on the detritus."""
    return floater_iron * floater_mortality


@row("mg/d", source="common_practice", where="metals follow mass; a fifth dissolves",
     floater_metal=-1, metal=DISSOLVED_METAL, detritus_metal=CLOSE)  # fmt: skip
def shed_floater_metal(floater_metal: Any, floater_mortality: Any) -> Any:
    """Metals of dead fronds: part dissolves, the rest stays on the detritus."""
    return floater_metal * floater_mortality


@row("mg/d", source="wool2001", where="ammonium first", ammonium=-1, floater_nitrogen=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_ammonium_floater(
    floater_nitrogen_uptake: Any, ammonium_concentration: Any, nitrate_concentration: Any,
    floater_ammonium_half: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up ammonium."""
    share = ammonium_preference(
        ammonium_concentration, nitrate_concentration, floater_ammonium_half
    )
    food = saturating(ammonium_concentration, floater_ammonium_half)
    return floater_nitrogen_uptake * share * food


@row("mg/d", source="wool2001", where="nitrate when ammonium is nearly gone; slower in the dark",
     nitrate=-1, floater_nitrogen=1, alkalinity=CLOSE, crosses="air",
     carries=("oxygen_demand",))  # fmt: skip
def take_up_nitrate_floater(
    floater_nitrogen_uptake: Any, ammonium_concentration: Any, nitrate_concentration: Any,
    floater_ammonium_half: Any, floater_nitrate_half: Any, floater_nitrate_share: Any,
    light_at_water: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up nitrate; the oxygen of its reduction leaves to the air."""
    share = 1.0 - ammonium_preference(
        ammonium_concentration, nitrate_concentration, floater_ammonium_half
    )
    lit = 0.5 + 0.5 * saturating(light_at_water, attach(5.0, "umol/m^2/s"))
    food = saturating(nitrate_concentration, floater_nitrate_half)
    return floater_nitrogen_uptake * floater_nitrate_share * share * lit * food


@row("mg/d", source="janse2005", where="uptake by hunger", phosphate=-1, floater_phosphorus=1,
     alkalinity=CLOSE)  # fmt: skip
def take_up_phosphate_floater(
    floater_dry_mass: Any, floater_phosphorus_uptake_max: Any, floater_warmth: Any,
    floater_phosphorus_quota: Any, floater_phosphorus_min: Any, floater_phosphorus_max: Any,
    phosphate_concentration: Any, floater_phosphate_half: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up phosphate."""
    appetite = hunger(floater_phosphorus_quota, floater_phosphorus_min, floater_phosphorus_max)
    food = saturating(phosphate_concentration, floater_phosphate_half)
    return floater_dry_mass * floater_phosphorus_uptake_max * floater_warmth * appetite * food


@row("mg/d", source="janse2005", where="uptake by hunger, as for phosphorus", potassium=-1,
     floater_potassium=1, alkalinity=CLOSE)  # fmt: skip
def take_up_potassium_floater(
    floater_dry_mass: Any, floater_potassium_uptake_max: Any, floater_warmth: Any,
    floater_potassium_quota: Any, floater_potassium_min: Any, floater_potassium_max: Any,
    potassium_concentration: Any, floater_potassium_half: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up potassium."""
    appetite = hunger(floater_potassium_quota, floater_potassium_min, floater_potassium_max)
    food = saturating(potassium_concentration, floater_potassium_half)
    return floater_dry_mass * floater_potassium_uptake_max * floater_warmth * appetite * food


@row("mg/d", source="common_practice", where="iron goes with growth", iron=-1, floater_iron=1)
def take_up_iron_floater(
    floater_carbon: Any, floater_photosynthesis: Any, iron_concentration: Any,
    floater_iron_half: Any, floater_iron_need: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up iron as it grows."""
    food = saturating(iron_concentration, floater_iron_half)
    return floater_carbon * floater_photosynthesis * floater_iron_need * food


@row("mg/d", source="khellaf2010", where="uptake of copper by duckweed; constants derived",
     metal=-1, floater_metal=1)  # fmt: skip
def take_up_metal_floater(
    floater_dry_mass: Any, floater_metal_uptake: Any, metal_free_concentration: Any,
    floater_warmth: Any,
) -> Any:  # fmt: skip
    """A floating plant takes up and binds a metal."""
    return floater_dry_mass * floater_metal_uptake * metal_free_concentration * floater_warmth


@row("mg/d", source="khellaf2010", where="loss of copper from duckweed; constants derived",
     floater_metal=-1, metal=1)  # fmt: skip
def release_metal_floater(floater_metal: Any, floater_metal_release: Any) -> Any:
    """A floating plant gives a metal back to the water."""
    return floater_metal_release * floater_metal
