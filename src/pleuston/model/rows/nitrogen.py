"""Bacteria: nitrification in two steps, denitrification, decay of what is dissolved and dead."""

from __future__ import annotations

from typing import Any

from pleuston.base.maths import attach, inhibiting, ratio, saturating
from pleuston.model.declare import CLOSE, row
from pleuston.model.physical import litres_of
from pleuston.model.states import DEMAND_C, MASS_N

CARBON_PER_NITRATE = 40 / MASS_N / DEMAND_C
"""Organic carbon [mg] burnt with the oxygen of one mg of nitrate nitrogen: (64 - 24)/14 mg O2."""


@row("mg/d", source="henze1987", where="autotrophic growth, first step", ammonium=-1, nitrite=1,
     oxygen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def oxidise_ammonium(ammonia_oxidation: Any) -> Any:
    """Ammonium to nitrite by attached bacteria."""
    return ammonia_oxidation


@row("mg/d", source="henze1987", where="autotrophic growth, second step", nitrite=-1, nitrate=1,
     oxygen=CLOSE, alkalinity=CLOSE)  # fmt: skip
def oxidise_nitrite(nitrite_oxidation: Any) -> Any:
    """Nitrite to nitrate by attached bacteria."""
    return nitrite_oxidation


@row("mg/d", source="henze1987", where="yield of nitrifiers", ammonia_oxidisers=1,
     carbon_inorganic=CLOSE, ammonium=CLOSE, phosphate=CLOSE, oxygen=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def grow_ammonia_oxidisers(
    ammonia_oxidation: Any, ammonia_oxidiser_yield: Any, carbon_inorganic_concentration: Any,
    phosphate_concentration: Any,
) -> Any:  # fmt: skip
    """Ammonia oxidisers grow on what they oxidise."""
    supply = saturating(carbon_inorganic_concentration, attach(0.5, "mg/L")) * saturating(
        phosphate_concentration, attach(0.001, "mg/L")
    )
    return ammonia_oxidation * ammonia_oxidiser_yield * supply


@row("mg/d", source="henze1987", where="yield of nitrifiers", nitrite_oxidisers=1,
     carbon_inorganic=CLOSE, ammonium=CLOSE, phosphate=CLOSE, oxygen=CLOSE,
     alkalinity=CLOSE)  # fmt: skip
def grow_nitrite_oxidisers(
    nitrite_oxidation: Any, nitrite_oxidiser_yield: Any, carbon_inorganic_concentration: Any,
    phosphate_concentration: Any, ammonium_concentration: Any,
) -> Any:  # fmt: skip
    """Nitrite oxidisers grow on what they oxidise."""
    supply = (
        saturating(carbon_inorganic_concentration, attach(0.5, "mg/L"))
        * saturating(phosphate_concentration, attach(0.001, "mg/L"))
        * saturating(ammonium_concentration, attach(0.005, "mg/L"))
    )
    return nitrite_oxidation * nitrite_oxidiser_yield * supply


@row("mg/d", source="henze1987", where="decay of autotrophs", ammonia_oxidisers=-1,
     detritus_carbon=CLOSE, detritus_nitrogen=CLOSE, detritus_phosphorus=CLOSE)  # fmt: skip
def decay_ammonia_oxidisers(
    ammonia_oxidisers: Any, nitrifier_decay: Any, decay_warmth: Any
) -> Any:
    """Ammonia oxidisers die off."""
    return ammonia_oxidisers * nitrifier_decay * decay_warmth


@row("mg/d", source="henze1987", where="decay of autotrophs", nitrite_oxidisers=-1,
     detritus_carbon=CLOSE, detritus_nitrogen=CLOSE, detritus_phosphorus=CLOSE)  # fmt: skip
def decay_nitrite_oxidisers(
    nitrite_oxidisers: Any, nitrifier_decay: Any, decay_warmth: Any
) -> Any:
    """Nitrite oxidisers die off."""
    return nitrite_oxidisers * nitrifier_decay * decay_warmth


@row("mg/d", source="common_practice", where="wetland soils remove 4.1 to 4.9 cm/d of nitrate",
     nitrate=-1, dom_carbon=-CARBON_PER_NITRATE, carbon_inorganic=CLOSE, alkalinity=CLOSE,
     crosses="air", carries=("N", "oxygen_demand"))  # fmt: skip
def denitrify_dissolved(
    nitrate: Any, mat_denitrification: Any, decay_warmth: Any, oxygen_concentration: Any,
    denitrification_oxygen_half: Any, dom_carbon_concentration: Any, heterotroph_half: Any,
) -> Any:  # fmt: skip
    """Nitrate to nitrogen gas in films and mats, on dissolved organic carbon."""
    low = inhibiting(oxygen_concentration, denitrification_oxygen_half)
    food = saturating(dom_carbon_concentration, heterotroph_half)
    return nitrate * mat_denitrification * decay_warmth * low * food


@row("mg/d", source="common_practice", where="wetland soils remove 4.1 to 4.9 cm/d of nitrate",
     nitrate=-1, soil_carbon=-CARBON_PER_NITRATE, carbon_inorganic=CLOSE, alkalinity=CLOSE,
     crosses="air", carries=("N", "oxygen_demand"))  # fmt: skip
def denitrify_in_soil(
    nitrate_concentration: Any, surface_area: Any, denitrification_velocity: Any,
    decay_warmth: Any, soil_carbon: Any, soil_mass: Any, soil_carbon_half: Any,
) -> Any:  # fmt: skip
    """Nitrate to nitrogen gas in the soil, on its organic carbon."""
    food = saturating(ratio(soil_carbon, soil_mass), soil_carbon_half)
    reach = litres_of(denitrification_velocity * surface_area)
    return reach * nitrate_concentration * decay_warmth * food


# -- decay -------------------------------------------------------------------------


@row("mg/d", source="henze1987", where="aerobic growth of heterotrophs, the part burnt",
     dom_carbon=-1, carbon_inorganic=1, oxygen=CLOSE)  # fmt: skip
def respire_heterotrophs(
    heterotroph_uptake: Any, heterotroph_yield: Any, oxygen_concentration: Any,
    heterotroph_oxygen_half: Any,
) -> Any:  # fmt: skip
    """Heterotrophs burn dissolved organic carbon."""
    air = saturating(oxygen_concentration, heterotroph_oxygen_half)
    return heterotroph_uptake * (1.0 - heterotroph_yield) * air


@row("mg/d", source="henze1987", where="aerobic growth of heterotrophs, the part built in",
     dom_carbon=-1, heterotrophs=1, ammonium=CLOSE, phosphate=CLOSE, alkalinity=CLOSE)  # fmt: skip
def grow_heterotrophs(
    heterotroph_uptake: Any, heterotroph_yield: Any, oxygen_concentration: Any,
    heterotroph_oxygen_half: Any, ammonium_concentration: Any, phosphate_concentration: Any,
) -> Any:  # fmt: skip
    """Heterotrophs build dissolved organic carbon into their bodies."""
    air = saturating(oxygen_concentration, heterotroph_oxygen_half)
    food = saturating(ammonium_concentration, attach(0.01, "mg/L")) * saturating(
        phosphate_concentration, attach(0.002, "mg/L")
    )
    return heterotroph_uptake * heterotroph_yield * air * food


@row("mg/d", source="henze1987", where="decay of heterotrophs", heterotrophs=-1,
     detritus_carbon=CLOSE, detritus_nitrogen=CLOSE, detritus_phosphorus=CLOSE)  # fmt: skip
def decay_heterotrophs(heterotrophs: Any, heterotroph_decay: Any, decay_warmth: Any) -> Any:
    """Heterotrophs die off."""
    return heterotrophs * heterotroph_decay * decay_warmth


@row("mg/d", source="janse2005", where="detritus decay with temperature", detritus_carbon=-1,
     dom_carbon=1)  # fmt: skip
def hydrolyse_carbon(detritus_carbon: Any, detritus_hydrolysis: Any, decay_warmth: Any) -> Any:
    """Detritus dissolves: carbon."""
    return detritus_carbon * detritus_hydrolysis * decay_warmth


@row("mg/d", source="janse2005", where="detritus decay with temperature", detritus_nitrogen=-1,
     dom_nitrogen=1)  # fmt: skip
def hydrolyse_nitrogen(detritus_nitrogen: Any, detritus_hydrolysis: Any, decay_warmth: Any) -> Any:
    """Detritus dissolves: nitrogen."""
    return detritus_nitrogen * detritus_hydrolysis * decay_warmth


@row("mg/d", source="janse2005", where="detritus decay with temperature", detritus_phosphorus=-1,
     dom_phosphorus=1)  # fmt: skip
def hydrolyse_phosphorus(
    detritus_phosphorus: Any, detritus_hydrolysis: Any, decay_warmth: Any
) -> Any:
    """Detritus dissolves: phosphorus."""
    return detritus_phosphorus * detritus_hydrolysis * decay_warmth


@row("mg/d", source="common_practice", where="potassium leaches in days", detritus_potassium=-1,
     potassium=1, alkalinity=CLOSE)  # fmt: skip
def leach_potassium(detritus_potassium: Any, potassium_leaching: Any) -> Any:
    """Detritus gives its potassium to the water."""
    return detritus_potassium * potassium_leaching


@row("mg/d", source="common_practice", where="iron follows mass", detritus_iron=-1, iron=1)
def dissolve_iron(detritus_iron: Any, iron_dissolution: Any) -> Any:
    """Iron of detritus comes back into solution, chelated."""
    return detritus_iron * iron_dissolution


@row("mg/d", source="common_practice", where="ammonification, first order", dom_nitrogen=-1,
     ammonium=1, alkalinity=CLOSE)  # fmt: skip
def mineralise_nitrogen(dom_nitrogen: Any, dom_mineralisation: Any, decay_warmth: Any) -> Any:
    """Dissolved organic nitrogen becomes ammonium."""
    return dom_nitrogen * dom_mineralisation * decay_warmth


@row("mg/d", source="common_practice", where="first order", dom_phosphorus=-1, phosphate=1,
     alkalinity=CLOSE)  # fmt: skip
def mineralise_phosphorus(dom_phosphorus: Any, dom_mineralisation: Any, decay_warmth: Any) -> Any:
    """Dissolved organic phosphorus becomes phosphate."""
    return dom_phosphorus * dom_mineralisation * decay_warmth


@row("mg/d", source="common_practice", where="a small share resists decay", detritus_carbon=-1,
     humic=1)  # fmt: skip
def form_humic(
    detritus_carbon: Any, detritus_hydrolysis: Any, decay_warmth: Any, humic_share: Any
) -> Any:
    """A small share of detritus becomes refractory, tinting matter."""
    return detritus_carbon * detritus_hydrolysis * decay_warmth * humic_share


@row("mg/d", source="common_practice", where="slow loss, first order", humic=-1,
     carbon_inorganic=1, oxygen=CLOSE)  # fmt: skip
def mineralise_humic(
    humic: Any, humic_loss: Any, oxygen_concentration: Any, heterotroph_oxygen_half: Any
) -> Any:
    """Refractory matter is slowly lost."""
    return humic * humic_loss * saturating(oxygen_concentration, heterotroph_oxygen_half)
