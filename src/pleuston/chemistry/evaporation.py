"""Water vapour and evaporation from a still surface indoors."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, largest, strip

PASCAL_PER_ATM = 101325.0
GAS_DRY_AIR = 287.042
"""Gas constant of dry air [J/kg/K]."""
WATER_TO_AIR = 0.621945
"""Molar mass of water over that of dry air."""
HOURS_PER_DAY = 24.0


@cited("hyland1983", "saturation pressure over liquid water, 273 to 473 K")
def saturated_vapour_pressure(temperature: Any) -> Any:
    """Pressure of water vapour in saturated air [atm].

    temperature [K], 273.15 to 473 K: ln p = -5800.2206/T + 1.3914993 - 0.048640239 T
    + 4.1764768e-5 T^2 - 1.4452093e-8 T^3 + 6.5459673 ln T, p in Pa.

    >>> print(round(saturated_vapour_pressure(298.15) * 101.325, 3))
    3.169
    """
    t = strip(temperature, "K")
    polynomial = 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 - 1.4452093e-8 * t))
    log_pascal = -5.8002206e3 / t + polynomial + 6.5459673 * np.log(t)
    return attach(np.exp(log_pascal - 11.526088410228237), "atm")


@cited("hyland1983", "ideal gas law for dry air beside vapour")
def dry_air_density(air_temperature: Any, vapour_pressure: Any, air_pressure: Any) -> Any:
    """Mass of dry air in a volume of moist air [kg/m^3].

    air_temperature [K]; vapour_pressure, air_pressure [atm]: (P - p)/(R T).

    >>> print(round(dry_air_density(293.15, 0.0, 1.0), 3))
    1.204
    """
    dry = strip(air_pressure, "atm") - strip(vapour_pressure, "atm")
    return attach(PASCAL_PER_ATM / GAS_DRY_AIR * dry / strip(air_temperature, "K"), "kg/m^3")


@cited("hyland1983", "humidity ratio: 0.621945 p/(P - p)")
def humidity_ratio(vapour_pressure: Any, air_pressure: Any) -> Any:
    """Mass of water vapour per mass of dry air [1].

    vapour_pressure, air_pressure [atm].

    >>> print(round(humidity_ratio(0.0115, 1.0), 5))
    0.00724
    """
    return WATER_TO_AIR * vapour_pressure / (air_pressure - vapour_pressure)


@cited("shah2014", "unoccupied pool: larger of natural convection and room currents")
def evaporation_shah(
    temperature: Any, room_temperature: Any, room_humidity: Any, air_pressure: Any
) -> Any:
    """Evaporation from open still water into a calm room [kg/m^2/d].

    temperature, room_temperature [K]; room_humidity [1], relative; air_pressure [atm].
    E = 35 dw (dr - dw)^(1/3) (Ww - Wr) kg/m^2/h with d the density of dry air and W the
    humidity ratio of saturated air at the water (w) and of the room (r); room currents
    set a floor of 5e-5 (pw - pr) kg/m^2/h, p in Pa; and it is never below zero
    (condensation is not counted). Pools of 0.07 to 425 m^2 scatter by 18 % around it.

    >>> print(round(evaporation_shah(301.15, 301.15, 0.5, 1.0) / 24, 4))
    0.1357
    """
    vapour_water = saturated_vapour_pressure(temperature)
    vapour_room = room_humidity * saturated_vapour_pressure(room_temperature)
    density_water = strip(dry_air_density(temperature, vapour_water, air_pressure), "kg/m^3")
    density_room = strip(dry_air_density(room_temperature, vapour_room, air_pressure), "kg/m^3")
    lift = density_room - density_water
    rises = lift > 0.0
    moist = humidity_ratio(vapour_water, air_pressure) - humidity_ratio(vapour_room, air_pressure)
    natural = 35.0 * density_water * np.cbrt(np.where(rises, lift, 1.0)) * strip(moist, "1")
    currents = 5e-5 * PASCAL_PER_ATM * strip(vapour_water - vapour_room, "atm")
    hourly = largest(np.where(rises, natural, 0.0), currents, 0.0)
    return attach(HOURS_PER_DAY * hourly, "kg/m^2/d")


@cited("henderson1984", "latent heat of vaporisation: 2501 - 2.361 t kJ/kg")
def evaporation_heat(temperature: Any) -> Any:
    """Heat that a kilogram (litre) of water takes along as vapour [kJ/kg].

    temperature [K], 273 to 313 K.

    >>> print(round(evaporation_heat(297.15)))
    2444
    """
    return attach(2501.0 - 2.361 * (strip(temperature, "K") - 273.15), "kJ/kg")


@cited("common_practice", "mass balance at constant volume")
def concentration_by_topping_up(
    concentration: Any, top_up_concentration: Any, evaporation: Any, duration: Any, depth: Any
) -> Any:
    """Concentration of what neither leaves nor reacts when evaporated water is replaced [mg/L].

    concentration, top_up_concentration [mg/L]; evaporation [m/d], as a height of water;
    duration [d]; depth [m], volume over surface: C0 + c E t/H.

    >>> print(concentration_by_topping_up(100.0, 50.0, 0.003, 30.0, 0.3))
    115.0
    """
    return concentration + top_up_concentration * (evaporation * duration / depth)
