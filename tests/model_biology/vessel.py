"""A vessel with one floating plant in a known medium, run through the compiled tank model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pleuston.base import parameters
from pleuston.engine.ensemble import Trajectory, run_ensemble
from pleuston.engine.events import SLOTS, Plants, parameter_record
from pleuston.engine.kernel import Kernel, tank_kernel
from pleuston.engine.schedule import Event, Series, build_schedule, constant

KELVIN = 273.15
CARBON = 378.0
"""Carbon of a gram of dry plant [mg]."""
CHARGE: Mapping[str, float] = {
    "calcium": 2 / 40.078, "magnesium": 2 / 24.305, "potassium": 1 / 39.098,
    "sodium": 1 / 22.990, "ammonium": 1 / 14.007, "sulfate": -2 / 32.06,
    "nitrate": -1 / 14.007, "nitrite": -1 / 14.007, "phosphate": -1 / 30.974,
}  # fmt: skip
RICH: Mapping[str, float] = {
    "oxygen": 8.2, "calcium": 40.0, "magnesium": 10.0, "sodium": 20.0, "sulfate": 15.0,
    "potassium": 40.0, "ammonium": 2.0, "nitrate": 30.0, "phosphate": 5.0, "iron": 0.5,
}  # fmt: skip
"""A rich culture medium, mg/L of the element (sulfate as S)."""
RESERVES: Mapping[str, float] = {
    "nitrogen": 60.0, "phosphorus": 12.0, "potassium": 50.0, "iron": 0.6,
}  # fmt: skip
"""Tissue of a well-fed duckweed [mg/g]."""
NO_SOIL = 1e-3
"""Soil of a vessel without a bed [kg]: it can hold next to nothing."""


@dataclass(frozen=True)
class Vessel:
    """Conditions of one run; concentrations in mg/L, amounts for the whole vessel."""

    days: int
    dry: float
    celsius: float = 24.0
    light: float = 110.0
    hours: float = 24.0
    area: float = 1.0
    litres: float = 1000.0
    group: str = "lemna"
    alkalinity: float = 2.0
    carbon: float = 12.43
    """Inorganic carbon per alkalinity [mg/meq]: pH 7.8 in fresh water."""
    air_co2: float = 2.1e-3
    """Mole fraction that holds pH 7.8 at an alkalinity of 2 meq/L."""
    medium: Mapping[str, float] | None = None
    reserves: Mapping[str, float] | None = None
    amounts: Mapping[str, float] | None = None
    parameters: Mapping[str, float] | None = None
    forcings: Mapping[str, float] | None = None
    events: tuple[Event, ...] = ()


def lamp(light: float, hours: float, days: int) -> Series:
    """Light on at the start of each day, off after some hours."""
    if hours >= 24.0:
        return constant(light)
    times = [float(d) + h for d in range(days + 1) for h in (0.0, hours / 24.0)]
    return Series(np.array(times), np.array([light, 0.0] * (days + 1)))


def _amounts(v: Vessel) -> dict[str, float]:
    """The states at the start: chloride or sodium closes the charge, the medium's pH follows."""
    medium = {**RICH, **(v.medium or {})}
    excess = sum(medium.get(ion, 0.0) * z for ion, z in CHARGE.items()) - v.alkalinity
    medium["chloride"] = 35.45 * max(excess, 0.0)
    medium["sodium"] += 22.990 * max(-excess, 0.0)
    medium["alkalinity"] = v.alkalinity
    medium["carbon_inorganic"] = v.carbon * v.alkalinity
    made = {name: value * v.litres for name, value in medium.items()}
    made |= {"soil_mass": NO_SOIL, "water": v.litres, "heat": 4.186 * v.litres * v.celsius}
    made["floater1_carbon"] = CARBON * v.dry
    for element, quota in {**RESERVES, **(v.reserves or {})}.items():
        made[f"floater1_{element}"] = quota * v.dry
    return {**made, **(v.amounts or {})}


def parameter_values(kernel: Kernel, group: str, own: Mapping[str, float]) -> np.ndarray:
    """(1, parameters): recorded values of a group, with some of them given."""
    records, plants = parameters.load(), Plants({}, dict.fromkeys(SLOTS, group))
    return np.array(
        [
            [
                own[n] if n in own else parameter_record(records, n, plants).value
                for n in kernel.table.parameters
            ]
        ]
    )


def run(v: Vessel, *outputs: str, every: float = 1.0, extents: bool = False) -> Trajectory:
    """Run a vessel with constant temperature, little exchange and no bed."""
    kernel = tank_kernel()
    table = kernel.table
    forced: dict[str, Any] = {
        "room_temperature": v.celsius + KELVIN, "room_humidity": 0.99, "air_pressure": 1.0,
        "air_co2": v.air_co2, "heater_setpoint": v.celsius + KELVIN,
        "heater_power": 1e4 * v.area, "lid_openness": 0.0, "flow_level": 0.0, "air_stone": 0.0,
        **(v.forcings or {}),
    }  # fmt: skip
    series = {name: constant(value) for name, value in forced.items()}
    series["light"] = lamp(v.light, v.hours, v.days)
    own = {
        "surface_area": v.area, "wall_area": 1e-6, "net_volume": v.litres,
        "cap_depth": 0.0, "bed_heat_capacity": 0.0, "lamp_heat": 0.0, **(v.parameters or {}),
    }  # fmt: skip
    start = np.zeros((1, len(table.states)))
    for name, value in _amounts(v).items():
        start[0, table.at("state", name)] = value
    records = np.arange(0.0, v.days + 0.5 * every, every)
    schedule = build_schedule(table, 0.0, float(v.days), series, list(v.events), records)
    result = run_ensemble(
        kernel, schedule, start, parameter_values(kernel, v.group, own), outputs=outputs,
        scale=v.litres / 30.0, tolerance=1e-4, extents=extents, threads=1, max_steps=200000,
    )  # fmt: skip
    assert result.good.all(), result.status
    return result


def dry_mass(result: Trajectory, group: str = "lemna") -> np.ndarray:
    """Dry mass of the plant [g] at every record."""
    share = parameters.load()[f"{group}_dry_share"].value
    return np.asarray(result.of("floater1_fresh_mass")[:, 0] * share)


def growth(v: Vessel, settle: int = 2) -> float:
    """Mean relative growth rate [1/d] after some days in which reserves settle."""
    mass = dry_mass(run(v, "floater1_fresh_mass"), v.group)
    return float(np.log(mass[-1] / mass[settle]) / (v.days - settle))
