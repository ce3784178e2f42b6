"""Animals as groups: they digest, respire, excrete, grow and graze; nothing vanishes."""

from __future__ import annotations

from typing import Any

from pleuston.base.maths import ratio, saturating
from pleuston.model.declare import CLOSE, row
from pleuston.model.states import DEMAND_C

CARBON_PER_OXYGEN = 1.0 / float(DEMAND_C)
"""Organic carbon burnt with one mg of oxygen [mg/mg]."""


@row("mg/d", source="lucas1992", where="routine oxygen use", animal_gut_carbon=-1,
     carbon_inorganic=CLOSE, oxygen=CLOSE)  # fmt: skip
def respire_animal(
    animal_oxygen_use: Any, animal_fed: Any, animal_feeding_activity: Any,
    oxygen_concentration: Any, animal_oxygen_half: Any,
) -> Any:  # fmt: skip
    """A group of animals burns food, more after a meal."""
    air = saturating(oxygen_concentration, animal_oxygen_half)
    fed = animal_fed * (1.0 + animal_feeding_activity * animal_fed)
    return animal_oxygen_use * CARBON_PER_OXYGEN * fed * air


@row("mg/d", source="lucas1992", where="routine oxygen use", animal_body=-1,
     carbon_inorganic=CLOSE, oxygen=CLOSE, ammonium=CLOSE, phosphate=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def fast_animal(
    animal_oxygen_use: Any, animal_fed: Any, oxygen_concentration: Any, animal_oxygen_half: Any
) -> Any:
    """A hungry group of animals burns its own body."""
    air = saturating(oxygen_concentration, animal_oxygen_half)
    return 0.5 * animal_oxygen_use * CARBON_PER_OXYGEN * (1.0 - animal_fed) * air


@row("mg/d", source="brett1975", where="abstract: excretion after a meal", animal_gut_carbon=-1,
     dom_carbon=1)  # fmt: skip
def excrete_carbon_animal(
    animal_gut_carbon: Any, animal_digestion: Any, animal_assimilation: Any
) -> Any:
    """Carbon that was digested but is not needed leaves dissolved."""
    return 0.3 * animal_digestion * animal_assimilation * animal_gut_carbon


@row("mg/d", source="porter1987", where="abstract: a tenth of the nitrogen leaves as faeces",
     animal_gut_carbon=-1, detritus_carbon=1)  # fmt: skip
def egest_carbon_animal(
    animal_gut_carbon: Any, animal_digestion: Any, animal_assimilation: Any
) -> Any:
    """Carbon of faeces."""
    return animal_digestion * (1.0 - animal_assimilation) * animal_gut_carbon


@row("mg/d", source="porter1987", where="abstract: a tenth of the nitrogen leaves as faeces",
     animal_gut_nitrogen=-1, detritus_nitrogen=1)  # fmt: skip
def egest_nitrogen_animal(
    animal_gut_nitrogen: Any, animal_digestion: Any, animal_assimilation: Any
) -> Any:
    """Nitrogen of faeces."""
    return animal_digestion * (1.0 - animal_assimilation) * animal_gut_nitrogen


@row("mg/d", source="common_practice", where="phosphorus of feed is digested less well",
     animal_gut_phosphorus=-1, detritus_phosphorus=1)  # fmt: skip
def egest_phosphorus_animal(
    animal_gut_phosphorus: Any, animal_digestion: Any, animal_assimilation: Any
) -> Any:
    """Phosphorus of faeces."""
    share = 1.0 - 0.6 * animal_assimilation
    return animal_digestion * share * animal_gut_phosphorus


@row("mg/d", source="brett1975", where="abstract: ammonia is most of the nitrogen excreted",
     animal_gut_nitrogen=-1, ammonium=1, alkalinity=CLOSE)  # fmt: skip
def excrete_ammonium_animal(
    animal_gut_nitrogen: Any, animal_digestion: Any, animal_assimilation: Any,
    animal_urea_share: Any,
) -> Any:  # fmt: skip
    """A group of animals excretes ammonia within hours of a meal."""
    fast = animal_digestion * animal_assimilation * (1.0 - animal_urea_share)
    return fast * animal_gut_nitrogen


@row("mg/d", source="brett1975", where="abstract: urea beside ammonia", animal_gut_nitrogen=-1,
     dom_nitrogen=1)  # fmt: skip
def excrete_urea_animal(
    animal_gut_nitrogen: Any, animal_digestion: Any, animal_assimilation: Any,
    animal_urea_share: Any,
) -> Any:  # fmt: skip
    """A group of animals excretes urea and other organic nitrogen."""
    return animal_digestion * animal_assimilation * animal_urea_share * animal_gut_nitrogen


@row("mg/d", source="common_practice", where="phosphorus that is digested and not kept",
     animal_gut_phosphorus=-1, phosphate=1, alkalinity=CLOSE)  # fmt: skip
def excrete_phosphate_animal(
    animal_gut_phosphorus: Any, animal_digestion: Any, animal_assimilation: Any
) -> Any:
    """A group of animals excretes phosphate."""
    return 0.6 * animal_digestion * animal_assimilation * animal_gut_phosphorus


@row("mg/d", source="common_practice", where="growth by the share kept", animal_body=1,
     animal_gut_carbon=CLOSE, animal_gut_nitrogen=CLOSE, animal_gut_phosphorus=CLOSE)  # fmt: skip
def grow_animal(
    animal_gut_carbon: Any, animal_gut_nitrogen: Any, animal_gut_phosphorus: Any,
    animal_digestion: Any, animal_growth_share: Any,
) -> Any:  # fmt: skip
    """A group of animals builds part of its food into its body."""
    nitrogen = saturating(ratio(animal_gut_nitrogen, animal_gut_carbon), 0.05)
    phosphorus = saturating(ratio(animal_gut_phosphorus, animal_gut_carbon), 0.005)
    return animal_digestion * animal_growth_share * animal_gut_carbon * nitrogen * phosphorus


@row("mg/d", source="common_practice", where="shrimp and snails live on detritus",
     detritus_carbon=-1, animal_gut_carbon=1)  # fmt: skip
def graze_detritus_carbon_animal(
    animal_body: Any, animal_grazing: Any, detritus_carbon: Any, detritus_grazed_half: Any,
    surface_area: Any,
) -> Any:  # fmt: skip
    """A group of animals eats detritus: carbon."""
    half = detritus_grazed_half * surface_area
    return animal_body * animal_grazing * saturating(detritus_carbon, half)


@row("mg/d", source="common_practice", where="shrimp and snails live on detritus",
     detritus_nitrogen=-1, animal_gut_nitrogen=1)  # fmt: skip
def graze_detritus_nitrogen_animal(
    animal_body: Any, animal_grazing: Any, detritus_carbon: Any, detritus_grazed_half: Any,
    surface_area: Any, detritus_nitrogen: Any,
) -> Any:  # fmt: skip
    """A group of animals eats detritus: nitrogen."""
    half = detritus_grazed_half * surface_area
    return ratio(animal_body * animal_grazing * detritus_nitrogen, detritus_carbon + half)


@row("mg/d", source="common_practice", where="shrimp and snails live on detritus",
     detritus_phosphorus=-1, animal_gut_phosphorus=1)  # fmt: skip
def graze_detritus_phosphorus_animal(
    animal_body: Any, animal_grazing: Any, detritus_carbon: Any, detritus_grazed_half: Any,
    surface_area: Any, detritus_phosphorus: Any,
) -> Any:  # fmt: skip
    """A group of animals eats detritus: phosphorus."""
    half = detritus_grazed_half * surface_area
    return ratio(animal_body * animal_grazing * detritus_phosphorus, detritus_carbon + half)


@row("mg/d", source="pieczynska2003", where="snails eat plants and films", algae_carbon=-1,
     snails_gut_carbon=1)  # fmt: skip
def graze_algae_carbon(
    snails_body: Any, snails_algae_grazing: Any, algae_carbon: Any, algae_grazed_half: Any,
    wall_area: Any, surface_area: Any,
) -> Any:  # fmt: skip
    """Snails eat algae: carbon."""
    half = algae_grazed_half * (wall_area + surface_area)
    return snails_body * snails_algae_grazing * saturating(algae_carbon, half)


@row("mg/d", source="pieczynska2003", where="snails eat plants and films", algae_nitrogen=-1,
     snails_gut_nitrogen=1)  # fmt: skip
def graze_algae_nitrogen(
    snails_body: Any, snails_algae_grazing: Any, algae_carbon: Any, algae_grazed_half: Any,
    wall_area: Any, surface_area: Any, algae_nitrogen: Any,
) -> Any:  # fmt: skip
    """Snails eat algae: nitrogen."""
    half = algae_grazed_half * (wall_area + surface_area)
    return ratio(snails_body * snails_algae_grazing * algae_nitrogen, algae_carbon + half)


@row("mg/d", source="pieczynska2003", where="snails eat plants and films", algae_phosphorus=-1,
     snails_gut_phosphorus=1)  # fmt: skip
def graze_algae_phosphorus(
    snails_body: Any, snails_algae_grazing: Any, algae_carbon: Any, algae_grazed_half: Any,
    wall_area: Any, surface_area: Any, algae_phosphorus: Any,
) -> Any:  # fmt: skip
    """Snails eat algae: phosphorus."""
    half = algae_grazed_half * (wall_area + surface_area)
    return ratio(snails_body * snails_algae_grazing * algae_phosphorus, algae_carbon + half)


