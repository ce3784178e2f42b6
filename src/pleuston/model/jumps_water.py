"""Jumps: what a keeper does to a tank at a moment. All moves of one jump act at once.

Every dissolved thing that a water brings, or takes along, is a move of its own, so that
the ledger of each element says what crossed with which water.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.maths import attach, strip
from pleuston.model.declare import CLOSE, move
from pleuston.model.physical import HEAT_OF_WATER


def _filled(litres: Any, to_mark: Any, net_volume: Any, water: Any) -> Any:
    """Litres of a top-up: as given, or what is missing to the mark [L]."""
    missing = np.maximum(net_volume - water, 0.0)
    return np.where(to_mark > 0.5, missing, litres)


@move("top_up", "L", water=1, crosses="top_up", carries=("water",))
def top_up_water(litres: Any, to_mark: Any, net_volume: Any, water: Any) -> Any:
    """Water of a top-up."""
    return _filled(litres, to_mark, net_volume, water)


@move("top_up", "kJ", heat=1)
def top_up_heat(litres: Any, to_mark: Any, net_volume: Any, water: Any, temperature_in: Any) -> Any:
    """Warmth of a top-up."""
    filled = strip(_filled(litres, to_mark, net_volume, water), "L")
    return attach(HEAT_OF_WATER * filled * (strip(temperature_in, "K") - 273.15), "kJ")


@move("top_up", "mg", salt=1, alkalinity=CLOSE, crosses="top_up", carries=("salt",))
def top_up_salt(litres: Any, to_mark: Any, net_volume: Any, water: Any, salt_in: Any) -> Any:
    """One of the strong ions of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * salt_in


@move("top_up", "mg", ammonium=1, alkalinity=CLOSE, crosses="top_up", carries=("N",))
def top_up_ammonium(
    litres: Any, to_mark: Any, net_volume: Any, water: Any, ammonium_in: Any
) -> Any:
    """Ammonium of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * ammonium_in


@move(
    "top_up",
    "mg",
    nitrite=1,
    alkalinity=CLOSE,
    crosses="top_up",
    carries=(
        "N",
        "oxygen_demand",
    ),
)
def top_up_nitrite(litres: Any, to_mark: Any, net_volume: Any, water: Any, nitrite_in: Any) -> Any:
    """Nitrite of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * nitrite_in


@move(
    "top_up",
    "mg",
    nitrate=1,
    alkalinity=CLOSE,
    crosses="top_up",
    carries=(
        "N",
        "oxygen_demand",
    ),
)
def top_up_nitrate(litres: Any, to_mark: Any, net_volume: Any, water: Any, nitrate_in: Any) -> Any:
    """Nitrate of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * nitrate_in


@move("top_up", "mg", phosphate=1, alkalinity=CLOSE, crosses="top_up", carries=("P",))
def top_up_phosphate(
    litres: Any, to_mark: Any, net_volume: Any, water: Any, phosphate_in: Any
) -> Any:
    """Phosphate of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * phosphate_in


@move("top_up", "mg", iron=1, crosses="top_up", carries=("Fe",))
def top_up_iron(litres: Any, to_mark: Any, net_volume: Any, water: Any, iron_in: Any) -> Any:
    """Iron of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * iron_in


@move("top_up", "mg", copper=1, crosses="top_up", carries=("Cu",))
def top_up_copper(
    litres: Any, to_mark: Any, net_volume: Any, water: Any, copper_in: Any, source_copper: Any,
    source_pipe: Any, source_day: Any, pipe_copper: Any, pipe_copper_day: Any,
) -> Any:  # fmt: skip
    """Copper of a top-up: of the supply, and from a day on what a house's pipe adds to it."""
    added = np.where(source_day >= pipe_copper_day, 1.0, 0.0) * source_pipe * pipe_copper
    return _filled(litres, to_mark, net_volume, water) * (copper_in * source_copper + added)


@move("top_up", "mg", zinc=1, crosses="top_up", carries=("Zn",))
def top_up_zinc(litres: Any, to_mark: Any, net_volume: Any, water: Any, zinc_in: Any) -> Any:
    """Zinc of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * zinc_in


@move(
    "top_up",
    "mg",
    humic=1,
    crosses="top_up",
    carries=(
        "C",
        "oxygen_demand",
    ),
)
def top_up_humic(litres: Any, to_mark: Any, net_volume: Any, water: Any, humic_in: Any) -> Any:
    """Humic of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * humic_in


@move(
    "top_up",
    "mg",
    dom_carbon=1,
    crosses="top_up",
    carries=(
        "C",
        "oxygen_demand",
    ),
)
def top_up_dom_carbon(
    litres: Any, to_mark: Any, net_volume: Any, water: Any, dom_carbon_in: Any
) -> Any:
    """Dom carbon of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * dom_carbon_in


@move("top_up", "mg", carbon_inorganic=1, crosses="top_up", carries=("C",))
def top_up_carbon_inorganic(
    litres: Any, to_mark: Any, net_volume: Any, water: Any, carbon_inorganic_in: Any
) -> Any:
    """Carbon inorganic of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * carbon_inorganic_in


@move("top_up", "mg", oxygen=1, crosses="top_up", carries=("oxygen_demand",))
def top_up_oxygen(litres: Any, to_mark: Any, net_volume: Any, water: Any, oxygen_in: Any) -> Any:
    """Oxygen of a top-up."""
    return _filled(litres, to_mark, net_volume, water) * oxygen_in


@move("water_out", "L", water=-1, crosses="water_out", carries=("water",))
def drain_water(share: Any, water: Any) -> Any:
    """Water taken out."""
    return share * water


@move("water_out", "kJ", heat=-1)
def drain_heat(share: Any, water: Any, temperature: Any) -> Any:
    """Warmth of the water taken out."""
    return attach(
        HEAT_OF_WATER * strip(share * water, "L") * (strip(temperature, "K") - 273.15), "kJ"
    )


@move("water_out", "mg", salt=-1, crosses="water_out", carries=("salt", "charge"))
def drain_salt(share: Any, salt: Any) -> Any:
    """One of the strong ions of the water taken out."""
    return share * salt


@move("water_out", "mg", ammonium=-1, crosses="water_out", carries=("N", "charge"))
def drain_ammonium(share: Any, ammonium: Any) -> Any:
    """Ammonium of the water taken out."""
    return share * ammonium


@move(
    "water_out",
    "mg",
    nitrite=-1,
    crosses="water_out",
    carries=("N", "oxygen_demand", "charge"),
)
def drain_nitrite(share: Any, nitrite: Any) -> Any:
    """Nitrite of the water taken out."""
    return share * nitrite


@move(
    "water_out",
    "mg",
    nitrate=-1,
    crosses="water_out",
    carries=("N", "oxygen_demand", "charge"),
)
def drain_nitrate(share: Any, nitrate: Any) -> Any:
    """Nitrate of the water taken out."""
    return share * nitrate


@move("water_out", "mg", phosphate=-1, crosses="water_out", carries=("P", "charge"))
def drain_phosphate(share: Any, phosphate: Any) -> Any:
    """Phosphate of the water taken out."""
    return share * phosphate


@move("water_out", "mg", iron=-1, crosses="water_out", carries=("Fe",))
def drain_iron(share: Any, iron: Any) -> Any:
    """Iron of the water taken out."""
    return share * iron


@move("water_out", "mg", copper=-1, crosses="water_out", carries=("Cu",))
def drain_copper(share: Any, copper: Any) -> Any:
    """Copper of the water taken out."""
    return share * copper


@move("water_out", "mg", zinc=-1, crosses="water_out", carries=("Zn",))
def drain_zinc(share: Any, zinc: Any) -> Any:
    """Zinc of the water taken out."""
    return share * zinc


@move(
    "water_out",
    "mg",
    humic=-1,
    crosses="water_out",
    carries=(
        "C",
        "oxygen_demand",
    ),
)
def drain_humic(share: Any, humic: Any) -> Any:
    """Humic of the water taken out."""
    return share * humic


@move(
    "water_out",
    "mg",
    dom_carbon=-1,
    crosses="water_out",
    carries=(
        "C",
        "oxygen_demand",
    ),
)
def drain_dom_carbon(share: Any, dom_carbon: Any) -> Any:
    """Dom carbon of the water taken out."""
    return share * dom_carbon


@move("water_out", "mg", carbon_inorganic=-1, crosses="water_out", carries=("C",))
def drain_carbon_inorganic(share: Any, carbon_inorganic: Any) -> Any:
    """Carbon inorganic of the water taken out."""
    return share * carbon_inorganic


@move("water_out", "mg", oxygen=-1, crosses="water_out", carries=("oxygen_demand",))
def drain_oxygen(share: Any, oxygen: Any) -> Any:
    """Oxygen of the water taken out."""
    return share * oxygen


@move("water_out", "mg", dom_nitrogen=-1, crosses="water_out", carries=("N",))
def drain_dom_nitrogen(share: Any, dom_nitrogen: Any) -> Any:
    """Dom nitrogen of the water taken out."""
    return share * dom_nitrogen


@move("water_out", "mg", dom_phosphorus=-1, crosses="water_out", carries=("P",))
def drain_dom_phosphorus(share: Any, dom_phosphorus: Any) -> Any:
    """Dom phosphorus of the water taken out."""
    return share * dom_phosphorus


@move("water_out", "meq", alkalinity=-1, crosses="water_out", carries=("charge",))
def drain_alkalinity(share: Any, alkalinity: Any) -> Any:
    """Alkalinity of the water taken out, which may be below zero."""
    return share * alkalinity
