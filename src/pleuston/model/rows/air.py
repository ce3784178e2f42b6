"""What crosses the water surface: oxygen, carbon dioxide, ammonia, water."""

from __future__ import annotations

from typing import Any

from pleuston.model.declare import CLOSE, row
from pleuston.model.physical import litres_of


@row("mg/d", source="wanninkhof2014", where="k = k600 (Sc/600)^-1/2; F = k (Cs - C)",
     oxygen=1, crosses="air", carries=("oxygen_demand",))  # fmt: skip
def absorb_oxygen(oxygen_transfer: Any, surface_area: Any, oxygen_at_saturation: Any) -> Any:
    """Oxygen from the air into the water."""
    return litres_of(oxygen_transfer * surface_area) * oxygen_at_saturation


@row("mg/d", source="wanninkhof2014", where="k = k600 (Sc/600)^-1/2; F = k (Cs - C)",
     oxygen=-1, crosses="air", carries=("oxygen_demand",))  # fmt: skip
def release_oxygen(oxygen_transfer: Any, surface_area: Any, oxygen_concentration: Any) -> Any:
    """Oxygen from the water into the air."""
    return litres_of(oxygen_transfer * surface_area) * oxygen_concentration


@row("mg/d", source="hoover1969", where="enhanced exchange of CO2",
     carbon_inorganic=1, crosses="air", carries=("C",))  # fmt: skip
def absorb_carbon_dioxide(
    carbon_dioxide_transfer: Any, surface_area: Any, co2_at_equilibrium: Any
) -> Any:
    """Carbon dioxide from the air into the water."""
    return litres_of(carbon_dioxide_transfer * surface_area) * co2_at_equilibrium


@row("mg/d", source="hoover1969", where="enhanced exchange of CO2",
     carbon_inorganic=-1, crosses="air", carries=("C",))  # fmt: skip
def release_carbon_dioxide(
    carbon_dioxide_transfer: Any, surface_area: Any, carbon_dioxide_concentration: Any
) -> Any:
    """Carbon dioxide from the water into the air."""
    return litres_of(carbon_dioxide_transfer * surface_area) * carbon_dioxide_concentration


@row("mg/d", source="zimmo2003", where="under 2 % of nitrogen removal from duckweed ponds",
     ammonium=-1, alkalinity=CLOSE, crosses="air", carries=("N",))  # fmt: skip
def volatilise_ammonia(
    ammonia_transfer: Any, surface_area: Any, ammonia_concentration: Any
) -> Any:
    """Ammonia from the water into the air."""
    return litres_of(ammonia_transfer * surface_area) * ammonia_concentration


@row("L/d", source="shah2014", where="unoccupied pool", water=-1, crosses="air", carries=("water",))
def evaporate(evaporation: Any) -> Any:
    """Water lost to the room."""
    return evaporation
