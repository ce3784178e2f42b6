"""Jumps of feed, plants, animals, soil and doses. All moves of one jump act at once."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.maths import ratio, smallest
from pleuston.model.declare import CLOSE, move

MOST_TAKEN = 0.8
"""A keeper never gets every last frond: the largest share that a harvest by grams takes."""
CLEARED = 0.98
"""The largest share that a harvest to a cover takes."""
TISSUE = ("C", "oxygen_demand", "Ca", "Mg", "S")
BODY = ("C", "oxygen_demand", "N", "P")


def _eaten(feed_carbon: Any, feed_factor: Any, feed_appetite: Any, bodies: Any) -> Any:
    """Share of a meal that is eaten [1]: what the guts of all animals can hold."""
    given = feed_carbon * feed_factor
    return smallest(ratio(feed_appetite * bodies, given), 1.0)


def _share(
    animal_eagerness: Any, animal_body: Any, fish_eagerness: Any, fish_body: Any,
    shrimp_eagerness: Any, shrimp_body: Any, snails_eagerness: Any, snails_body: Any,
) -> Any:  # fmt: skip
    """Share of what is eaten that a group gets [1]: fish are at it before shrimp and snails."""
    rush = fish_eagerness * fish_body + shrimp_eagerness * shrimp_body
    return ratio(animal_eagerness * animal_body, rush + snails_eagerness * snails_body)


@move("feed", "mg", animal_gut_carbon=1, crosses="feed", carries=("C", "oxygen_demand"))
def feed_carbon_to_animal(
    feed_carbon: Any, feed_factor: Any, feed_appetite: Any, animal_body: Any, fish_body: Any,
    shrimp_body: Any, snails_body: Any, animal_eagerness: Any, fish_eagerness: Any,
    shrimp_eagerness: Any, snails_eagerness: Any,
) -> Any:  # fmt: skip
    """Carbon of a meal that a group of animals eats."""
    bodies = fish_body + shrimp_body + snails_body
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, bodies)
    share = _share(
        animal_eagerness, animal_body, fish_eagerness, fish_body, shrimp_eagerness, shrimp_body,
        snails_eagerness, snails_body,
    )
    return feed_carbon * feed_factor * eaten * share


@move("feed", "mg", detritus_carbon=1, crosses="feed", carries=("C", "oxygen_demand"))
def feed_carbon_left(
    feed_carbon: Any, feed_factor: Any, feed_appetite: Any, fish_body: Any, shrimp_body: Any,
    snails_body: Any,
) -> Any:  # fmt: skip
    """Carbon of a meal that is left."""
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, fish_body + shrimp_body + snails_body)
    return feed_carbon * feed_factor * (1.0 - eaten)


@move("feed", "mg", animal_gut_nitrogen=1, crosses="feed", carries=("N",))
def feed_nitrogen_to_animal(
    feed_nitrogen: Any, feed_carbon: Any, feed_factor: Any, feed_appetite: Any, animal_body: Any,
    fish_body: Any, shrimp_body: Any, snails_body: Any, animal_eagerness: Any,
    fish_eagerness: Any, shrimp_eagerness: Any, snails_eagerness: Any,
) -> Any:  # fmt: skip
    """Nitrogen of a meal that a group of animals eats."""
    bodies = fish_body + shrimp_body + snails_body
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, bodies)
    share = _share(
        animal_eagerness, animal_body, fish_eagerness, fish_body, shrimp_eagerness, shrimp_body,
        snails_eagerness, snails_body,
    )
    return feed_nitrogen * feed_factor * eaten * share


@move("feed", "mg", detritus_nitrogen=1, crosses="feed", carries=("N",))
def feed_nitrogen_left(
    feed_nitrogen: Any, feed_carbon: Any, feed_factor: Any, feed_appetite: Any, fish_body: Any,
    shrimp_body: Any, snails_body: Any,
) -> Any:  # fmt: skip
    """Nitrogen of a meal that is left."""
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, fish_body + shrimp_body + snails_body)
    return feed_nitrogen * feed_factor * (1.0 - eaten)


@move("feed", "mg", animal_gut_phosphorus=1, crosses="feed", carries=("P",))
def feed_phosphorus_to_animal(
    feed_phosphorus: Any, feed_carbon: Any, feed_factor: Any, feed_appetite: Any, animal_body: Any,
    fish_body: Any, shrimp_body: Any, snails_body: Any, animal_eagerness: Any,
    fish_eagerness: Any, shrimp_eagerness: Any, snails_eagerness: Any,
) -> Any:  # fmt: skip
    """Phosphorus of a meal that a group of animals eats."""
    bodies = fish_body + shrimp_body + snails_body
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, bodies)
    share = _share(
        animal_eagerness, animal_body, fish_eagerness, fish_body, shrimp_eagerness, shrimp_body,
        snails_eagerness, snails_body,
    )
    return feed_phosphorus * feed_factor * eaten * share


@move("feed", "mg", detritus_phosphorus=1, crosses="feed", carries=("P",))
def feed_phosphorus_left(
    feed_phosphorus: Any, feed_carbon: Any, feed_factor: Any, feed_appetite: Any, fish_body: Any,
    shrimp_body: Any, snails_body: Any,
) -> Any:  # fmt: skip
    """Phosphorus of a meal that is left."""
    eaten = _eaten(feed_carbon, feed_factor, feed_appetite, fish_body + shrimp_body + snails_body)
    return feed_phosphorus * feed_factor * (1.0 - eaten)


@move("feed", "mg", potassium=1, alkalinity=CLOSE, crosses="feed", carries=("K",))
def feed_potassium_dissolved(feed_potassium: Any, feed_factor: Any) -> Any:
    """Potassium of a meal goes to the water."""
    return feed_potassium * feed_factor


@move("feed", "mg", detritus_iron=1, crosses="feed", carries=("Fe",))
def feed_iron_left(feed_iron: Any, feed_factor: Any) -> Any:
    """Iron of a meal ends with the faeces."""
    return feed_iron * feed_factor


@move("feed", "mg", detritus_metal=1, crosses="feed", carries=("metal",))
def feed_metal_left(feed_metal: Any, feed_factor: Any) -> Any:
    """A metal of a meal ends with the faeces."""
    return feed_metal * feed_factor


# -- floating and rooted plants ------------------------------------------------------


def _taken(
    harvest_grams: Any, harvest_cover: Any, harvest_factor: Any, fresh_mass: Any, cover: Any
) -> Any:
    """Share of a floating plant that a harvest takes [1]: by drained grams, or to a cover."""
    by_grams = np.minimum(ratio(harvest_grams * harvest_factor, fresh_mass), MOST_TAKEN)
    left = np.log(1.0 - np.minimum(harvest_cover, 0.999))
    now = np.log(1.0 - np.minimum(cover, 0.999))
    by_cover = np.where(harvest_cover < 0.999, 1.0 - smallest(ratio(-left, -now), 1.0), 0.0)
    return np.maximum(by_grams, np.minimum(by_cover, CLEARED))


@move("harvest_floater", "mg", floater_carbon=-1, crosses="harvest", carries=TISSUE)
def harvest_floater_carbon(
    floater_carbon: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Carbon of the floating plants taken out."""
    return floater_carbon * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_carbon=1, crosses="plants_in", carries=TISSUE)
def add_floater_carbon(plant_carbon: Any) -> Any:
    """Carbon of floating plants put in."""
    return plant_carbon


@move("harvest_floater", "mg", floater_nitrogen=-1, crosses="harvest", carries=("N",))
def harvest_floater_nitrogen(
    floater_nitrogen: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Nitrogen of the floating plants taken out."""
    return floater_nitrogen * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_nitrogen=1, crosses="plants_in", carries=("N",))
def add_floater_nitrogen(plant_nitrogen: Any) -> Any:
    """Nitrogen of floating plants put in."""
    return plant_nitrogen


@move("harvest_floater", "mg", floater_phosphorus=-1, crosses="harvest", carries=("P",))
def harvest_floater_phosphorus(
    floater_phosphorus: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Phosphorus of the floating plants taken out."""
    return floater_phosphorus * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_phosphorus=1, crosses="plants_in", carries=("P",))
def add_floater_phosphorus(plant_phosphorus: Any) -> Any:
    """Phosphorus of floating plants put in."""
    return plant_phosphorus


@move("harvest_floater", "mg", floater_potassium=-1, crosses="harvest", carries=("K",))
def harvest_floater_potassium(
    floater_potassium: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Potassium of the floating plants taken out."""
    return floater_potassium * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_potassium=1, crosses="plants_in", carries=("K",))
def add_floater_potassium(plant_potassium: Any) -> Any:
    """Potassium of floating plants put in."""
    return plant_potassium


@move("harvest_floater", "mg", floater_iron=-1, crosses="harvest", carries=("Fe",))
def harvest_floater_iron(
    floater_iron: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Iron of the floating plants taken out."""
    return floater_iron * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_iron=1, crosses="plants_in", carries=("Fe",))
def add_floater_iron(plant_iron: Any) -> Any:
    """Iron of floating plants put in."""
    return plant_iron


@move("harvest_floater", "mg", floater_metal=-1, crosses="harvest", carries=("metal",))
def harvest_floater_metal(
    floater_metal: Any, harvest_grams: Any, harvest_cover: Any, harvest_factor: Any,
    floater_fresh_mass: Any, floater_cover: Any,
) -> Any:  # fmt: skip
    """Metal of the floating plants taken out."""
    return floater_metal * _taken(
        harvest_grams, harvest_cover, harvest_factor, floater_fresh_mass, floater_cover
    )


@move("add_floater", "mg", floater_metal=1, crosses="plants_in", carries=("metal",))
def add_floater_metal(plant_metal: Any) -> Any:
    """Metal of floating plants put in."""
    return plant_metal


@move("trim_rooted", "mg", rooted_carbon=-1, crosses="harvest", carries=TISSUE)
def trim_rooted_carbon(
    rooted_carbon: Any, trim_grams: Any, rooted_dry_mass: Any, rooted_dry_share: Any
) -> Any:
    """Carbon of the rooted plants cut."""
    return rooted_carbon * np.minimum(
        ratio(trim_grams * rooted_dry_share, rooted_dry_mass), MOST_TAKEN
    )


@move("add_rooted", "mg", rooted_carbon=1, crosses="plants_in", carries=TISSUE)
def add_rooted_carbon(plant_carbon: Any) -> Any:
    """Carbon of rooted plants put in."""
    return plant_carbon


@move("trim_rooted", "mg", rooted_nitrogen=-1, crosses="harvest", carries=("N",))
def trim_rooted_nitrogen(
    rooted_nitrogen: Any, trim_grams: Any, rooted_dry_mass: Any, rooted_dry_share: Any
) -> Any:
    """Nitrogen of the rooted plants cut."""
    return rooted_nitrogen * np.minimum(
        ratio(trim_grams * rooted_dry_share, rooted_dry_mass), MOST_TAKEN
    )


@move("add_rooted", "mg", rooted_nitrogen=1, crosses="plants_in", carries=("N",))
def add_rooted_nitrogen(plant_nitrogen: Any) -> Any:
    """Nitrogen of rooted plants put in."""
    return plant_nitrogen


@move("trim_rooted", "mg", rooted_phosphorus=-1, crosses="harvest", carries=("P",))
def trim_rooted_phosphorus(
    rooted_phosphorus: Any, trim_grams: Any, rooted_dry_mass: Any, rooted_dry_share: Any
) -> Any:
    """Phosphorus of the rooted plants cut."""
    return rooted_phosphorus * np.minimum(
        ratio(trim_grams * rooted_dry_share, rooted_dry_mass), MOST_TAKEN
    )


@move("add_rooted", "mg", rooted_phosphorus=1, crosses="plants_in", carries=("P",))
def add_rooted_phosphorus(plant_phosphorus: Any) -> Any:
    """Phosphorus of rooted plants put in."""
    return plant_phosphorus


@move("trim_rooted", "mg", rooted_potassium=-1, crosses="harvest", carries=("K",))
def trim_rooted_potassium(
    rooted_potassium: Any, trim_grams: Any, rooted_dry_mass: Any, rooted_dry_share: Any
) -> Any:
    """Potassium of the rooted plants cut."""
    return rooted_potassium * np.minimum(
        ratio(trim_grams * rooted_dry_share, rooted_dry_mass), MOST_TAKEN
    )


@move("add_rooted", "mg", rooted_potassium=1, crosses="plants_in", carries=("K",))
def add_rooted_potassium(plant_potassium: Any) -> Any:
    """Potassium of rooted plants put in."""
    return plant_potassium


@move("trim_rooted", "mg", rooted_metal=-1, crosses="harvest", carries=("metal",))
def trim_rooted_metal(
    rooted_metal: Any, trim_grams: Any, rooted_dry_mass: Any, rooted_dry_share: Any
) -> Any:
    """Metal of the rooted plants cut."""
    return rooted_metal * np.minimum(
        ratio(trim_grams * rooted_dry_share, rooted_dry_mass), MOST_TAKEN
    )


@move("add_rooted", "mg", rooted_metal=1, crosses="plants_in", carries=("metal",))
def add_rooted_metal(plant_metal: Any) -> Any:
    """Metal of rooted plants put in."""
    return plant_metal


# -- animals -------------------------------------------------------------------------


@move("add_animal", "mg", animal_body=1, crosses="stock", carries=BODY)
def add_animal_body(body_carbon: Any) -> Any:
    """Animals that come in."""
    return body_carbon


@move("remove_animal", "mg", animal_body=-1, crosses="stock", carries=BODY)
def remove_animal_body(body_carbon: Any, animal_body: Any) -> Any:
    """Animals that leave."""
    return np.minimum(body_carbon, animal_body)


@move("die_animal", "mg", animal_body=-1, detritus_carbon=CLOSE, detritus_nitrogen=CLOSE,
      detritus_phosphorus=CLOSE)  # fmt: skip
def rot_animal_body(body_carbon: Any, animal_body: Any, carcass_left: Any) -> Any:
    """Dead animals that stay in the tank."""
    return np.minimum(body_carbon, animal_body) * carcass_left


@move("die_animal", "mg", animal_body=-1, crosses="stock", carries=BODY)
def take_out_animal_body(body_carbon: Any, animal_body: Any, carcass_left: Any) -> Any:
    """Dead animals that are taken out."""
    return np.minimum(body_carbon, animal_body) * (1.0 - carcass_left)


# -- soil and doses --------------------------------------------------------------------


@move("disturb_soil", "mg", ammonium_soil=-1, ammonium=1)
def stir_up_ammonium(share: Any, ammonium_soil: Any) -> Any:
    """Ammonium of the soil's water stirred up."""
    return share * ammonium_soil


@move("disturb_soil", "mg", phosphate_soil=-1, phosphate=1)
def stir_up_phosphate(share: Any, phosphate_soil: Any) -> Any:
    """Phosphate of the soil's water stirred up: a tenth of what is held is loose."""
    return 0.1 * share * phosphate_soil


@move("disturb_soil", "mg", reduced_soil=-1, oxygen=CLOSE)
def stir_up_reduced(share: Any, reduced_soil: Any, oxygen: Any) -> Any:
    """Reduced matter stirred up takes oxygen at once."""
    return np.minimum(0.1 * share * reduced_soil, 0.8 * oxygen)


@move("dose", "mg", salt=1, alkalinity=CLOSE, crosses="dose", carries=("salt",))
def dose_of_salt(dose_salt: Any) -> Any:
    """One of the strong ions of a dose."""
    return dose_salt


@move("dose", "mg", nitrate=1, alkalinity=CLOSE, crosses="dose", carries=("N", "oxygen_demand"))
def dose_of_nitrate(dose_nitrate: Any) -> Any:
    """Nitrate of a dose."""
    return dose_nitrate


@move("dose", "mg", ammonium=1, alkalinity=CLOSE, crosses="dose", carries=("N",))
def dose_of_ammonium(dose_ammonium: Any) -> Any:
    """Ammonium of a dose."""
    return dose_ammonium


@move("dose", "mg", phosphate=1, alkalinity=CLOSE, crosses="dose", carries=("P",))
def dose_of_phosphate(dose_phosphate: Any) -> Any:
    """Phosphate of a dose."""
    return dose_phosphate


@move("dose", "mg", iron=1, crosses="dose", carries=("Fe",))
def dose_of_iron(dose_iron: Any) -> Any:
    """Iron of a dose."""
    return dose_iron


@move("dose", "mg", copper=1, crosses="dose", carries=("Cu",))
def dose_of_copper(dose_copper: Any) -> Any:
    """Copper of a dose."""
    return dose_copper


@move("dose", "mg", zinc=1, crosses="dose", carries=("Zn",))
def dose_of_zinc(dose_zinc: Any) -> Any:
    """Zinc of a dose."""
    return dose_zinc


@move("dose", "mg", carbon_inorganic=1, crosses="dose", carries=("C",))
def dose_of_carbon_inorganic(dose_carbon_inorganic: Any) -> Any:
    """Carbon inorganic of a dose."""
    return dose_carbon_inorganic
