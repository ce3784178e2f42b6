"""Derived quantities of plants, microbes, animals and soil that rows and pages use."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, inhibiting, ratio, saturating, smallest
from pleuston.biology.animals import mass_response, respiration_of_body
from pleuston.biology.floating_plants import (
    ageing_rate,
    ammonia_response,
    copper_response,
    cover_of_density,
    flow_response,
    mat_light_response,
    ph_response,
    salinity_response,
)
from pleuston.biology.microbes import nitrifier_ph_response
from pleuston.biology.nutrients import droop_response, hunger
from pleuston.biology.temperature import arrhenius_response, optimum_response, q10_response

CARBON_OF_DRY = 378.0
"""Carbon in a gram of dry plant [mg/g] (pagliuso2022)."""
REFERENCE = 298.15
TRACE = 0.02
"""Concentration [mg/L] at which growth that needs calcium, magnesium or sulfur halves."""

# -- floating plants -------------------------------------------------------------


@cited("pagliuso2022", "carbon of 21 duckweeds, mean 378 mg/g")
def floater_dry_mass(floater_carbon: Any) -> Any:
    """Dry mass of a floating plant [g]."""
    return floater_carbon / attach(CARBON_OF_DRY, "mg/g")


@cited("common_practice", "mass over surface")
def floater_density(floater_dry_mass: Any, surface_area: Any) -> Any:
    """Dry mass of a floating plant over the surface [g/m^2]."""
    return floater_dry_mass / surface_area


@cited("klein2022", "fresh over dry mass, 16.7")
def floater_fresh_mass(floater_dry_mass: Any, floater_dry_share: Any) -> Any:
    """Drained fresh mass of a floating plant [g]."""
    return floater_dry_mass / floater_dry_share


@cited("klein2022", "frond area over dry mass")
def floater_cover(floater_density: Any, floater_cover_area: Any) -> Any:
    """Share of the surface under one floating species [1]."""
    return cover_of_density(floater_density, floater_cover_area)


@cited("common_practice", "covers overlap at random")
def canopy_cover(floater1_cover: Any, floater2_cover: Any, floater3_cover: Any) -> Any:
    """Share of the surface under floating plants [1]."""
    return 1.0 - (1.0 - floater1_cover) * (1.0 - floater2_cover) * (1.0 - floater3_cover)


@cited("klein2022", "frond area over dry mass as extinction, summed over species")
def mat_thickness(
    floater1_density: Any, floater2_density: Any, floater3_density: Any,
    floater1_extinction: Any, floater2_extinction: Any, floater3_extinction: Any,
) -> Any:  # fmt: skip
    """Optical thickness of the floating mat [1]."""
    return (
        floater1_density * floater1_extinction
        + floater2_density * floater2_extinction
        + floater3_density * floater3_extinction
    )


@cited("janse2005", "half-saturating light, averaged through the mat")
def floater_light_response(light_at_water: Any, floater_light_half: Any, mat_thickness: Any) -> Any:
    """Light response of a floating plant in the common mat [1]."""
    return mat_light_response(light_at_water, floater_light_half, mat_thickness)


@cited("common_practice", "nutrient over dry mass")
def floater_nitrogen_quota(floater_nitrogen: Any, floater_dry_mass: Any) -> Any:
    """Nitrogen reserve of a floating plant [mg/g]."""
    return ratio(floater_nitrogen, floater_dry_mass)


@cited("common_practice", "nutrient over dry mass")
def floater_phosphorus_quota(floater_phosphorus: Any, floater_dry_mass: Any) -> Any:
    """Phosphorus reserve of a floating plant [mg/g]."""
    return ratio(floater_phosphorus, floater_dry_mass)


@cited("common_practice", "nutrient over dry mass")
def floater_potassium_quota(floater_potassium: Any, floater_dry_mass: Any) -> Any:
    """Potassium reserve of a floating plant [mg/g]."""
    return ratio(floater_potassium, floater_dry_mass)


@cited("janse2005", "least of the reserves' responses")
def floater_nutrition(
    floater_nitrogen_quota: Any, floater_nitrogen_min: Any, floater_nitrogen_max: Any,
    floater_phosphorus_quota: Any, floater_phosphorus_min: Any, floater_phosphorus_max: Any,
    floater_potassium_quota: Any, floater_potassium_min: Any, floater_potassium_max: Any,
    iron_concentration: Any, floater_iron_half: Any,
) -> Any:  # fmt: skip
    """Share of the growth that the scarcest nutrient allows [1]."""
    return smallest(
        droop_response(floater_nitrogen_quota, floater_nitrogen_min, floater_nitrogen_max),
        droop_response(floater_phosphorus_quota, floater_phosphorus_min, floater_phosphorus_max),
        droop_response(floater_potassium_quota, floater_potassium_min, floater_potassium_max),
        saturating(iron_concentration, floater_iron_half),
    )


@cited("koerner2001", "with pH, salt, copper and current beside ammonia")
def floater_vigour(
    ammonia_concentration: Any, floater_ammonia_deadly: Any, ph: Any, floater_ph_least: Any,
    floater_ph_low: Any, floater_ph_high: Any, floater_ph_most: Any, conductivity: Any,
    floater_conductivity_most: Any, copper_free_concentration: Any, floater_copper_half: Any,
    flow_level: Any, floater_flow_gain: Any, floater_flow_loss: Any,
) -> Any:  # fmt: skip
    """Share of the growth that ammonia, pH, salt, copper and current leave [1]."""
    return (
        ammonia_response(ammonia_concentration, floater_ammonia_deadly)
        * ph_response(ph, floater_ph_least, floater_ph_low, floater_ph_high, floater_ph_most)
        * salinity_response(conductivity, floater_conductivity_most)
        * copper_response(copper_free_concentration, floater_copper_half)
        * flow_response(flow_level, floater_flow_gain, floater_flow_loss)
    )


@cited("klein2022", "temperature response of growth")
def floater_warmth(
    temperature: Any, floater_coldest: Any, floater_best: Any, floater_warmest: Any
) -> Any:
    """Share of the growth that the temperature allows [1]."""
    return optimum_response(temperature, floater_coldest, floater_best, floater_warmest)


@cited("janse2005", "growth times light, temperature and least reserve")
def floater_photosynthesis(
    floater_growth_max: Any, floater_warmth: Any, floater_light_response: Any,
    floater_nutrition: Any, floater_vigour: Any,
) -> Any:  # fmt: skip
    """Gross growth of a floating plant in this light [1/d]."""
    light_and_food = floater_light_response * floater_nutrition
    return floater_growth_max * floater_warmth * light_and_food * floater_vigour


@cited("klein2022", "k_loss with Q10 of 2 at 25 degC")
def floater_respiration(floater_loss: Any, floater_loss_q10: Any, temperature: Any) -> Any:
    """Loss of a floating plant by respiration [1/d]."""
    return floater_loss * q10_response(temperature, floater_loss_q10, REFERENCE)


@cited("common_practice", "growth less respiration")
def floater_growth_rate(floater_photosynthesis: Any, floater_respiration: Any) -> Any:
    """Net growth of a floating plant in this light [1/d]; below zero at night."""
    return floater_photosynthesis - floater_respiration


@cited("barks2018", "age structure of a growing mat; grazing by snails added")
def floater_mortality(
    floater_growth_max: Any, floater_warmth: Any, floater_nutrition: Any, mat_thickness: Any,
    floater_vigour: Any, floater_life: Any, floater_mortality_most: Any, floater_grazing: Any,
    snails_body: Any, floater_carbon: Any,
) -> Any:  # fmt: skip
    """Share of a floating plant that dies in a day [1/d].

    The age structure follows the growth of the last weeks, for which three tenths of the
    growth in the best light stand, less in a thick mat. Life spans were measured on fronds
    that grew freely; those of a shaded mat live longer, so that no more than the loss of
    standing mats dies of age.
    """
    steady = 0.3 * floater_growth_max * floater_warmth * floater_nutrition * floater_vigour
    free = ageing_rate(steady * inhibiting(mat_thickness, 1.0), floater_life)
    ageing = np.minimum(free, floater_mortality_most)
    grazed = floater_grazing * ratio(snails_body, floater_carbon + snails_body)
    return ageing + grazed


@cited("janse2005", "uptake by hunger; ammonium first")
def floater_nitrogen_uptake(
    floater_dry_mass: Any, floater_nitrogen_uptake_max: Any, floater_warmth: Any,
    floater_nitrogen_quota: Any, floater_nitrogen_min: Any, floater_nitrogen_max: Any,
) -> Any:  # fmt: skip
    """Nitrogen uptake of a floating plant in rich water [mg/d]."""
    appetite = hunger(floater_nitrogen_quota, floater_nitrogen_min, floater_nitrogen_max)
    return floater_dry_mass * floater_nitrogen_uptake_max * floater_warmth * appetite


@cited("common_practice", "tissue needs calcium, magnesium and sulfur")
def tissue_minerals(
    calcium_concentration: Any, magnesium_concentration: Any, sulfate_concentration: Any
) -> Any:
    """Share of the plants' growth that calcium, magnesium and sulfur allow [1]."""
    trace = attach(TRACE, "mg/L")
    return (
        saturating(calcium_concentration, trace)
        * saturating(magnesium_concentration, trace)
        * saturating(sulfate_concentration, trace)
    )


# -- rooted plants -----------------------------------------------------------------


@cited("pagliuso2022", "carbon of duckweeds stands for rooted plants too")
def rooted_dry_mass(rooted_carbon: Any) -> Any:
    """Dry mass of rooted and submerged plants [g]."""
    return rooted_carbon / attach(CARBON_OF_DRY, "mg/g")


@cited("common_practice", "drained plants are 6 to 12 % dry")
def rooted_fresh_mass(rooted_dry_mass: Any, rooted_dry_share: Any) -> Any:
    """Drained fresh mass of rooted and submerged plants [g]."""
    return rooted_dry_mass / rooted_dry_share


@cited("common_practice", "nutrient over dry mass")
def rooted_nitrogen_quota(rooted_nitrogen: Any, rooted_dry_mass: Any) -> Any:
    """Nitrogen reserve of rooted plants [mg/g]."""
    return ratio(rooted_nitrogen, rooted_dry_mass)


@cited("common_practice", "nutrient over dry mass")
def rooted_phosphorus_quota(rooted_phosphorus: Any, rooted_dry_mass: Any) -> Any:
    """Phosphorus reserve of rooted plants [mg/g]."""
    return ratio(rooted_phosphorus, rooted_dry_mass)


@cited("common_practice", "nutrient over dry mass")
def rooted_potassium_quota(rooted_potassium: Any, rooted_dry_mass: Any) -> Any:
    """Potassium reserve of rooted plants [mg/g]."""
    return ratio(rooted_potassium, rooted_dry_mass)


@cited("klein2022", "temperature response; parameters of rooted plants from memory")
def rooted_warmth(
    temperature: Any, rooted_coldest: Any, rooted_best: Any, rooted_warmest: Any
) -> Any:
    """Share of the rooted plants' growth that the temperature allows [1]."""
    return optimum_response(temperature, rooted_coldest, rooted_best, rooted_warmest)


@cited("janse2005", "growth times light, temperature and least reserve; carbon from water")
def rooted_photosynthesis(
    rooted_growth_max: Any, rooted_warmth: Any, light_mean_water: Any, rooted_light_half: Any,
    rooted_dry_mass: Any, surface_area: Any, rooted_crowding: Any,
    rooted_nitrogen_quota: Any, rooted_nitrogen_min: Any, rooted_nitrogen_max: Any,
    rooted_phosphorus_quota: Any, rooted_phosphorus_min: Any, rooted_phosphorus_max: Any,
    rooted_potassium_quota: Any, rooted_potassium_min: Any, rooted_potassium_max: Any,
    carbon_dioxide_concentration: Any, bicarbonate_concentration: Any, rooted_carbon_half: Any,
) -> Any:  # fmt: skip
    """Gross growth of rooted plants in this light [1/d]."""
    light = mat_light_response(
        light_mean_water, rooted_light_half, rooted_crowding * rooted_dry_mass / surface_area
    )
    food = smallest(
        droop_response(rooted_nitrogen_quota, rooted_nitrogen_min, rooted_nitrogen_max),
        droop_response(rooted_phosphorus_quota, rooted_phosphorus_min, rooted_phosphorus_max),
        droop_response(rooted_potassium_quota, rooted_potassium_min, rooted_potassium_max),
    )
    carbon = carbon_dioxide_concentration + 0.05 * bicarbonate_concentration
    supply = saturating(carbon, rooted_carbon_half)
    return rooted_growth_max * rooted_warmth * light * food * supply


@cited("janse2005", "uptake by hunger")
def rooted_nitrogen_uptake(
    rooted_dry_mass: Any, rooted_nitrogen_uptake_max: Any, rooted_warmth: Any,
    rooted_nitrogen_quota: Any, rooted_nitrogen_min: Any, rooted_nitrogen_max: Any,
) -> Any:  # fmt: skip
    """Nitrogen uptake of rooted plants in rich surroundings [mg/d]."""
    appetite = hunger(rooted_nitrogen_quota, rooted_nitrogen_min, rooted_nitrogen_max)
    return rooted_dry_mass * rooted_nitrogen_uptake_max * rooted_warmth * appetite


@cited("janse2005", "uptake by hunger")
def rooted_phosphorus_uptake(
    rooted_dry_mass: Any, rooted_phosphorus_uptake_max: Any, rooted_warmth: Any,
    rooted_phosphorus_quota: Any, rooted_phosphorus_min: Any, rooted_phosphorus_max: Any,
) -> Any:  # fmt: skip
    """Phosphorus uptake of rooted plants in rich surroundings [mg/d]."""
    appetite = hunger(rooted_phosphorus_quota, rooted_phosphorus_min, rooted_phosphorus_max)
    return rooted_dry_mass * rooted_phosphorus_uptake_max * rooted_warmth * appetite


@cited("janse2005", "uptake by hunger")
def rooted_potassium_uptake(
    rooted_dry_mass: Any, rooted_potassium_uptake_max: Any, rooted_warmth: Any,
    rooted_potassium_quota: Any, rooted_potassium_min: Any, rooted_potassium_max: Any,
) -> Any:  # fmt: skip
    """Potassium uptake of rooted plants in rich surroundings [mg/d]."""
    appetite = hunger(rooted_potassium_quota, rooted_potassium_min, rooted_potassium_max)
    return rooted_dry_mass * rooted_potassium_uptake_max * rooted_warmth * appetite


@cited("cedergreen2002", "abstract: roots and leaves both take up; share by supply")
def root_share(ammonium_soil: Any, soil_mass: Any, rooted_soil_half: Any) -> Any:
    """Share of the rooted plants' uptake that comes from the soil [1]."""
    return saturating(ratio(ammonium_soil, soil_mass), rooted_soil_half)


# -- algae -------------------------------------------------------------------------


@cited("common_practice", "nutrient over carbon")
def algae_nitrogen_quota(algae_nitrogen: Any, algae_carbon: Any) -> Any:
    """Nitrogen reserve of algae [1], mg of N per mg of C."""
    return ratio(algae_nitrogen, algae_carbon)


@cited("common_practice", "nutrient over carbon")
def algae_phosphorus_quota(algae_phosphorus: Any, algae_carbon: Any) -> Any:
    """Phosphorus reserve of algae [1], mg of P per mg of C."""
    return ratio(algae_phosphorus, algae_carbon)


@cited("janse2005", "growth times light, temperature and least reserve; crowding by area")
def algae_photosynthesis(
    algae_growth_max: Any, light_mean_water: Any, algae_light_half: Any, temperature: Any,
    algae_nitrogen_quota: Any, algae_nitrogen_min: Any, algae_nitrogen_max: Any,
    algae_phosphorus_quota: Any, algae_phosphorus_min: Any, algae_phosphorus_max: Any,
    algae_carbon: Any, algae_crowding: Any, wall_area: Any, surface_area: Any,
) -> Any:  # fmt: skip
    """Gross growth of algae in this light [1/d]."""
    food = smallest(
        droop_response(algae_nitrogen_quota, algae_nitrogen_min, algae_nitrogen_max),
        droop_response(algae_phosphorus_quota, algae_phosphorus_min, algae_phosphorus_max),
    )
    room = inhibiting(algae_carbon / (wall_area + surface_area), algae_crowding)
    light = saturating(light_mean_water, algae_light_half)
    return algae_growth_max * q10_response(temperature, 2.0, REFERENCE) * light * food * room


# -- microbes ----------------------------------------------------------------------


@cited("common_practice", "glass, cap, roots and leaves carry the film")
def biofilm_area(
    wall_area: Any, surface_area: Any, floater1_cover: Any, floater2_cover: Any,
    floater3_cover: Any, floater1_root_film: Any, floater2_root_film: Any,
    floater3_root_film: Any,
) -> Any:  # fmt: skip
    """Area that attached microbes live on [m^2]."""
    roots = (
        floater1_cover * floater1_root_film
        + floater2_cover * floater2_root_film
        + floater3_cover * floater3_root_film
    )
    return wall_area + 2.0 * surface_area + surface_area * roots


@cited("common_practice", "detritus decay by temperature, theta 1.07")
def decay_warmth(temperature: Any, decay_q10: Any) -> Any:
    """Factor of temperature on decay, 1 at 25 degC [1]."""
    return q10_response(temperature, decay_q10, REFERENCE)


@cited("henze1987", "saturating oxygen, ammonium; capacity by area")
def ammonia_oxidation(
    ammonia_oxidisers: Any, ammonia_oxidation_max: Any, nitrification_capacity: Any,
    biofilm_area: Any, temperature: Any, ammonia_oxidation_energy: Any, ph: Any,
    ammonium_concentration: Any, ammonia_oxidiser_half: Any, oxygen_concentration: Any,
    ammonia_oxidiser_oxygen_half: Any,
) -> Any:  # fmt: skip
    """Ammonium that ammonia oxidisers turn to nitrite [mg/d]."""
    capacity = nitrification_capacity * biofilm_area
    wish = ammonia_oxidation_max * ammonia_oxidisers
    rate = ratio(wish * capacity, wish + capacity)
    return (
        rate * arrhenius_response(temperature, ammonia_oxidation_energy)
        * nitrifier_ph_response(ph)
        * saturating(ammonium_concentration, ammonia_oxidiser_half)
        * saturating(oxygen_concentration, ammonia_oxidiser_oxygen_half)
    )  # fmt: skip


@cited("henze1987", "saturating oxygen, nitrite; free ammonia inhibits")
def nitrite_oxidation(
    nitrite_oxidisers: Any, nitrite_oxidation_max: Any, nitrification_capacity: Any,
    biofilm_area: Any, temperature: Any, nitrite_oxidation_energy: Any, ph: Any,
    nitrite_concentration: Any, nitrite_oxidiser_half: Any, oxygen_concentration: Any,
    nitrite_oxidiser_oxygen_half: Any, ammonia_concentration: Any,
    nitrite_oxidiser_ammonia_inhibition: Any,
) -> Any:  # fmt: skip
    """Nitrite that nitrite oxidisers turn to nitrate [mg/d]."""
    capacity = nitrification_capacity * biofilm_area
    wish = nitrite_oxidation_max * nitrite_oxidisers
    rate = ratio(wish * capacity, wish + capacity)
    return (
        rate * arrhenius_response(temperature, nitrite_oxidation_energy)
        * nitrifier_ph_response(ph)
        * saturating(nitrite_concentration, nitrite_oxidiser_half)
        * saturating(oxygen_concentration, nitrite_oxidiser_oxygen_half)
        * inhibiting(ammonia_concentration, nitrite_oxidiser_ammonia_inhibition)
    )  # fmt: skip


@cited("henze1987", "heterotrophic growth on soluble substrate")
def heterotroph_uptake(
    heterotrophs: Any, heterotroph_uptake_max: Any, decay_warmth: Any,
    dom_carbon_concentration: Any, heterotroph_half: Any,
) -> Any:  # fmt: skip
    """Dissolved organic carbon that heterotrophs would take up with enough oxygen [mg/d]."""
    food = saturating(dom_carbon_concentration, heterotroph_half)
    return heterotrophs * heterotroph_uptake_max * decay_warmth * food


# -- animals and soil --------------------------------------------------------------


@cited("lucas1992", "routine oxygen use; mass exponent and Q10 of 2 beside it")
def animal_oxygen_use(
    animal_body: Any, animal_respiration: Any, animal_individual_mass: Any, temperature: Any
) -> Any:
    """Oxygen that a group of animals uses [mg/d]."""
    warmth = q10_response(temperature, 2.0, 297.15)
    return respiration_of_body(
        animal_body, animal_respiration, mass_response(animal_individual_mass), warmth
    )


@cited("common_practice", "fed while the gut holds food")
def animal_fed(animal_gut_carbon: Any, animal_body: Any) -> Any:
    """Share of its need that a group of animals meets from its gut [1]."""
    return ratio(animal_gut_carbon, animal_gut_carbon + 0.005 * animal_body)


@cited("brett1975", "abstract: excretion peaks four hours after a meal")
def animal_digestion(animal_gut_emptying: Any, temperature: Any) -> Any:
    """Rate at which the gut empties [1/d]."""
    return animal_gut_emptying * q10_response(temperature, 2.0, 297.15)


@cited("common_practice", "first order, faster when warm, oxygen from the water above")
def soil_decay(soil_mineralisation: Any, decay_warmth: Any) -> Any:
    """Rate at which labile soil matter is mineralised [1/d]."""
    return soil_mineralisation * decay_warmth


QUANTITIES = (
    floater_dry_mass, floater_density, floater_fresh_mass, floater_cover, canopy_cover,
    mat_thickness, tissue_minerals, floater_light_response, floater_nitrogen_quota,
    floater_phosphorus_quota,
    floater_potassium_quota, floater_nutrition, floater_vigour, floater_warmth,
    floater_photosynthesis, floater_respiration, floater_growth_rate, floater_mortality,
    floater_nitrogen_uptake, rooted_dry_mass, rooted_fresh_mass, rooted_nitrogen_quota,
    rooted_phosphorus_quota,
    rooted_potassium_quota, rooted_warmth, rooted_photosynthesis, rooted_nitrogen_uptake,
    rooted_phosphorus_uptake, rooted_potassium_uptake, root_share, algae_nitrogen_quota,
    algae_phosphorus_quota, algae_photosynthesis, biofilm_area, decay_warmth,
    ammonia_oxidation, nitrite_oxidation, heterotroph_uptake, animal_oxygen_use, animal_fed,
    animal_digestion, soil_decay,
)  # fmt: skip
"""Every derived quantity of this half of the model."""
