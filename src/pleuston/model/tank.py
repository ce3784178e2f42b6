"""The tank model put together: what exists, what happens, and in which order it is listed."""

from __future__ import annotations

from functools import cache

from pleuston.base import glossary
from pleuston.model import biological, jumps, jumps_soil, jumps_water, physical
from pleuston.model.assemble import Model, assemble, changes_in
from pleuston.model.rows import (
    air,
    animals,
    floating,
    heat,
    metals,
    nitrogen,
    rooted,
    salts,
    soil,
)
from pleuston.model.states import CONSERVED, STATES

FAMILIES = {
    "floater": ("floater1", "floater2", "floater3"),
    "animal": ("fish", "shrimp", "snails"),
    "metal": ("copper", "zinc"),
    "salt": ("calcium", "magnesium", "potassium", "sodium", "chloride", "sulfate"),
}
ELEMENTS = {
    "copper": "Cu", "zinc": "Zn", "calcium": "Ca", "magnesium": "Mg", "potassium": "K",
    "sodium": "Na", "chloride": "Cl", "sulfate": "S",
}  # fmt: skip
"""Adding a metal is a name here, its element in `CONSERVED`, and its parameter records."""
THEMES = (air, heat, salts, metals, nitrogen, floating, rooted, soil, animals)
FORCINGS = (
    "room_temperature", "room_humidity", "air_pressure", "air_co2", "light", "heater_setpoint",
    "heater_power", "lid_openness", "flow_level", "air_stone",
)  # fmt: skip
FAST = (
    "ammonium", "nitrite", "nitrate", "phosphate", "carbon_inorganic", "alkalinity", "oxygen",
    "copper", "iron", "dom_carbon", "dom_nitrogen", "potassium",
)  # fmt: skip
"""States that change within minutes to hours: the solver treats them implicitly."""
DAMPED = ("heat", "fish_gut_carbon", "shrimp_gut_carbon", "snails_gut_carbon")
"""States with a steep brake of their own: the thermostat, and hunger."""
MAY_BE_ABSENT = ("floater1", "floater2", "floater3", "fish", "shrimp")
OBSERVED = (
    "temperature", "water", "level_drop", "ammonium_concentration", "nitrite_concentration",
    "nitrate_concentration", "phosphate_concentration", "potassium_concentration",
    "calcium_concentration", "magnesium_concentration", "sodium_concentration",
    "chloride_concentration", "sulfate_concentration", "iron_concentration",
    "copper_concentration", "copper_free_concentration", "copper_effective", "zinc_concentration",
    "alkalinity_concentration", "ph", "gh", "conductivity", "dissolved_solids",
    "oxygen_concentration", "oxygen_percent", "carbon_dioxide_concentration",
    "ammonia_concentration", "dissolved_carbon_concentration", "calcite_saturation",
    "canopy_cover", "floater1_cover", "floater2_cover", "floater3_cover", "floater1_fresh_mass",
    "floater2_fresh_mass", "floater3_fresh_mass", "floater1_growth_rate",
    "floater2_growth_rate", "floater3_growth_rate", "floater1_nutrition", "floater2_nutrition",
    "floater3_nutrition", "floater1_vigour", "floater2_vigour", "floater3_vigour",
    "floater1_nitrogen_quota", "floater1_phosphorus_quota", "floater1_potassium_quota",
    "floater2_potassium_quota", "floater3_potassium_quota", "rooted_dry_mass",
    "rooted_fresh_mass", "algae_carbon",
    "light_at_bed", "light_mean_water", "evaporation", "ammonia_oxidation", "fish_oxygen_use",
    "shrimp_oxygen_use", "snails_oxygen_use", "scale",
)  # fmt: skip
TRACKED = ("oxygen_concentration", "temperature", "ammonia_concentration", "ph")
"""Quantities whose lowest and highest values since the last record are kept."""


@cache
def model() -> Model:
    """The whole tank model, closed and resolved; refuses what is not sound."""
    words = glossary.load()
    return assemble(
        "tank",
        states=STATES,
        rows=changes_in(THEMES),
        moves=changes_in((jumps_water, jumps, jumps_soil), jumps=True),
        quantities=(*physical.QUANTITIES, *biological.QUANTITIES),
        implicits=(physical.HYDROGEN,),
        parameters=[n for n, entry in words.items() if entry.kind == "parameter"],
        forcings=FORCINGS,
        arguments=[n for n, entry in words.items() if entry.kind == "argument"],
        fast=FAST,
        observed=OBSERVED,
        tracked=TRACKED,
        families=FAMILIES,
        elements=ELEMENTS,
        conserved=CONSERVED,
        damped=DAMPED,
        owners=MAY_BE_ABSENT,
    )
