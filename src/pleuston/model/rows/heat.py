"""Heat of the water: room, heater, lamp, evaporation."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.maths import attach, strip
from pleuston.chemistry.evaporation import evaporation_heat
from pleuston.model.declare import row
from pleuston.model.physical import HEAT_OF_WATER

KJ_PER_WATT_DAY = 86.4


@row("kJ/d", source="common_practice", where="Newton's law of cooling", heat=1)
def exchange_heat_with_room(
    room_temperature: Any, temperature: Any, surface_area: Any, wall_area: Any,
    heat_transfer: Any,
) -> Any:  # fmt: skip
    """Heat from the room through glass and surface; negative when the tank is warmer."""
    watts = heat_transfer * (surface_area + wall_area) * (room_temperature - temperature)
    return attach(KJ_PER_WATT_DAY * strip(watts, "W"), "kJ/d")


@row("kJ/d", source="common_practice", where="thermostat with a band of half a kelvin", heat=1)
def heat_by_heater(heater_power: Any, heater_setpoint: Any, temperature: Any) -> Any:
    """Heat from the heater, in proportion to what is lacking."""
    lacking = strip(heater_setpoint, "K") - strip(temperature, "K")
    share = np.clip(2.0 * lacking, 0.0, 1.0)
    return attach(KJ_PER_WATT_DAY * strip(heater_power, "W") * share, "kJ/d")


@row("kJ/d", source="common_practice", where="lamp light turned into heat in the water", heat=1)
def heat_by_lamp(light_at_water: Any, surface_area: Any, lamp_heat: Any) -> Any:
    """Heat from the lamp."""
    watts = strip(lamp_heat, "J/umol") * strip(light_at_water, "umol/m^2/s")
    return attach(KJ_PER_WATT_DAY * watts * strip(surface_area, "m^2"), "kJ/d")


@row("kJ/d", source="henderson1984", where="latent heat of vaporisation", heat=-1)
def cool_by_evaporation(evaporation: Any, temperature: Any) -> Any:
    """Latent heat, and the warmth of the water that leaves."""
    latent = strip(evaporation_heat(temperature), "kJ/kg")
    warmth = HEAT_OF_WATER * (strip(temperature, "K") - 273.15)
    return attach(strip(evaporation, "L/d") * (latent + warmth), "kJ/d")
