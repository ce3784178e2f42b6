"""What a tank holds when its record begins: known things, and uncertain ones as factors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.base import parameters
from pleuston.engine.forcing import Clock
from pleuston.engine.kernel import Array, Table
from pleuston.engine.waters import dissolved
from pleuston.model.rows.salts import CALCIUM_USUAL
from pleuston.records.composition import CHARGE, HOLDS, element_share, molar_mass
from pleuston.records.record import Record, Soil, Tank
from pleuston.records.resolve import soil_named

YOUNG_DAYS = 45.0
"""A tank younger than this is still starting up: keepers say six weeks, no source."""
SOIL_DENSITY = 0.8
"""Dry mass of a litre of soil under water [kg/L]: common practice, no source."""
LEAST_SOIL = 0.001
"""Soil of a bed that has none [kg]: stores are told per kilogram, and so little holds nothing."""
EXCHANGEABLE = 0.03
"""Share of the copper and zinc of a soil that its water can reach: guess."""
FREED_IRON = 4000.0
"""Iron of a soil that reduction can free [mg/kg]: 1 to 10 g/kg are extractable by oxalate,
from memory."""
SLOW_SHARE = 0.2
"""Share of a new soil's organic matter that is resistant, neither labile nor inert: guess."""
LABILE_SHARE = 0.05
"""Share of a new soil's organic matter that rots within weeks: guess."""
LIME = 500.0
"""Lime among the grains of a soil [mg/kg]; garden soils hold none to 50 g/kg: guess."""
SOIL_DEFAULT = Soil("", 8.0, 0.25, 0.09, 35.0)
"""A middling soil where the record is silent: common practice, no source."""
OPENINGS = (
    "initial_concentration", "initial_alkalinity", "initial_nitrate", "initial_phosphate",
    "initial_potassium", "initial_ammonium", "initial_detritus", "initial_bacteria",
    "initial_soil", "initial_soil_potassium", "initial_soil_calcium", "initial_shell",
    "initial_copper",
)  # fmt: skip
"""Uncertain things of the start; each has a parameter record, factors where unit is 1."""


@dataclass(frozen=True)
class Opening:
    """What is known of a tank at the start of its record."""

    water: Mapping[str, float]
    net_volume: float
    temperature: float
    age: float
    soil_age: float
    soil_mass: float
    soil: Soil
    parameters: Mapping[str, float]

    @property
    def young(self) -> bool:
        """Whether the tank is still starting up."""
        return self.age < YOUNG_DAYS


def opening(record: Record, tank: Tank, clock: Clock) -> Opening:
    """Gather what the record says of a tank's start; middling values where it is silent."""
    name = tank.top_up_water or "moderately hard"
    water = dissolved(record, name, clock.start).per_litre
    age = (clock.start - tank.started).total_seconds() / 86400.0 if tank.started else 365.0
    since = tank.soil_since or tank.started
    soil_age = (clock.start - since).total_seconds() / 86400.0 if since else 365.0
    soil = soil_named(record, tank.soil) if tank.soil else SOIL_DEFAULT
    mass = tank.soil_depth * tank.surface_m2 * 1000.0 * SOIL_DENSITY
    warm = tank.heater_setpoint or record.rack.room_temperature or 294.15
    return Opening(water, tank.net_l, warm, max(age, 0.0), max(soil_age, 0.0), mass, soil, {})


def _column(values: Mapping[str, Array], name: str, default: float, members: int) -> Array:
    return np.broadcast_to(np.asarray(values.get(name, default), dtype=float), (members,))


def start_states(
    table: Table, known: Opening, values: Mapping[str, Array], members: int
) -> Array:
    """(members, states) at the start; what is not named starts at zero."""
    made = _dissolved(known, values, members) | _living(known, values, members)
    volume = known.net_volume
    made |= _soil(known, values, members, made["calcium"] / volume)
    made["soil_mass"] = np.full(members, max(known.soil_mass, LEAST_SOIL))
    made["water"] = np.full(members, volume)
    bed = known.soil_mass / SOIL_DENSITY * 0.3
    made["heat"] = np.full(members, 4.186 * (volume + bed) * (known.temperature - 273.15))
    lime = 15.0 * volume + LIME * known.soil_mass
    made["shell"] = lime * _column(values, "initial_shell", 1.0, members)
    result = np.zeros((members, len(table.states)))
    for name, column in made.items():
        result[:, table.at("state", name)] = column
    return result


def _meq(state: str, amount: Array) -> Array:
    """Charge [meq] of an amount of a dissolved state."""
    ion = next(i for i, (s, _) in HOLDS.items() if s == state and i in CHARGE)
    return amount / float(element_share(ion)) / float(molar_mass(ion)) * CHARGE[ion]


def _dissolved(known: Opening, values: Mapping[str, Array], members: int) -> dict[str, Array]:
    """Dissolved amounts; calcium closes the charge, so that the water is neutral."""

    def own(name: str, default: float) -> Array:
        return _column(values, name, default, members)

    young = known.young
    thicker = own("initial_concentration", 1.0 if young else 1.4)
    per_litre = {
        s: thicker * known.water[s]
        for s in ("magnesium", "sodium", "chloride", "sulfate", "iron", "zinc")
    }
    per_litre["iron"] = np.minimum(per_litre["iron"], 0.05) + 0.01
    per_litre["copper"] = known.water["copper"] * own("initial_copper", 0.6)
    per_litre["nitrate"] = own("initial_nitrate", 2.0)
    per_litre["phosphate"] = own("initial_phosphate", 0.2)
    per_litre["potassium"] = own("initial_potassium", 1.0) * known.water["potassium"] * thicker
    per_litre["ammonium"] = own("initial_ammonium", 0.03)
    per_litre["nitrite"] = 0.3 * per_litre["ammonium"]
    alkalinity = known.water["alkalinity"] * own("initial_alkalinity", 1.0)
    charge = sum(
        _meq(s, per_litre[s])
        for s in ("magnesium", "sodium", "chloride", "sulfate", "nitrate", "phosphate",
                  "potassium", "ammonium", "nitrite")
    )  # fmt: skip
    calcium = np.maximum(alkalinity - charge, 0.02)
    per_litre["alkalinity"] = charge + calcium
    per_litre["calcium"] = calcium * float(molar_mass("calcium")) / 2.0
    per_litre["carbon_inorganic"] = 12.4 * np.maximum(per_litre["alkalinity"], 0.05)
    per_litre["oxygen"] = np.full(members, 8.0)
    per_litre["humic"] = np.full(members, 1.5)
    per_litre["dom_carbon"] = np.full(members, 1.0)
    per_litre["dom_nitrogen"] = np.full(members, 0.1)
    per_litre["dom_phosphorus"] = np.full(members, 0.01)
    return {s: v * known.net_volume for s, v in per_litre.items()}


def _living(known: Opening, values: Mapping[str, Array], members: int) -> dict[str, Array]:
    """Detritus, microbes and algae per 30 L, of a running tank or a new one."""
    scale = known.net_volume / 30.0
    detritus = _column(values, "initial_detritus", 1.0, members) * scale
    bacteria = _column(values, "initial_bacteria", 1.0, members) * scale
    detritus = detritus * (0.04 if known.young else 1.0)
    share = min(1.0, 0.02 + known.age / YOUNG_DAYS)
    return {
        "detritus_carbon": 1500.0 * detritus, "detritus_nitrogen": 180.0 * detritus,
        "detritus_phosphorus": 30.0 * detritus, "detritus_copper": 0.05 * detritus,
        "detritus_zinc": 0.2 * detritus, "detritus_iron": 1.0 * detritus,
        "heterotrophs": 100.0 * bacteria * max(share, 0.2),
        "ammonia_oxidisers": 8.0 * bacteria * share**2,
        "nitrite_oxidisers": 4.0 * bacteria * share**2,
        "algae_carbon": np.full(members, 40.0 * scale),
        "algae_nitrogen": np.full(members, 6.0 * scale),
        "algae_phosphorus": np.full(members, 0.8 * scale),
    }  # fmt: skip


def _soil(
    known: Opening, values: Mapping[str, Array], members: int, calcium: Array | float | None = None
) -> dict[str, Array]:
    """Stores of the soil, poorer with its age.

    The resistant part gives to the labile one, which from the first months on holds what it
    gets and loses: their ratio is that of their rates. An old soil's calcium has met the water
    above it (calcium, mg/L; None: a new soil).
    """
    factor = _column(values, "initial_soil", 1.0, members)
    soil, mass = known.soil, known.soil_mass
    organic = (soil.organic_pct if soil.organic_pct is not None else 8.0) * 1e4 * mass
    nitrogen = (soil.nitrogen_pct if soil.nitrogen_pct is not None else 0.25) * 1e4 * mass
    phosphorus = (soil.phosphorus_pct if soil.phosphorus_pct is not None else 0.09) * 1e4 * mass
    copper = (soil.copper_mg_kg if soil.copper_mg_kg is not None else 35.0) * mass
    usual = parameters.load()
    loosening, rotting, partition = (
        usual[n].value for n in ("soil_loosening", "soil_mineralisation", "calcium_partition")
    )
    fresh = float(np.exp(-known.soil_age / 60.0))
    slow = SLOW_SHARE * float(np.exp(-loosening * known.soil_age))
    labile = slow * loosening / rotting + LABILE_SHARE * fresh
    balanced = _column(values, "initial_soil_calcium", 1.0, members) * (
        CALCIUM_USUAL if calcium is None
        else fresh * CALCIUM_USUAL + (1.0 - fresh) * calcium
    )
    # what the row release_calcium_from_soil gives back: its fourth power undone
    held = partition * CALCIUM_USUAL * (balanced / CALCIUM_USUAL) ** 0.25
    return {
        "soil_carbon": 0.5 * organic * labile * factor,
        "soil_nitrogen": nitrogen * labile * factor,
        "soil_phosphorus": phosphorus * labile * factor,
        "soil_slow_carbon": 0.5 * organic * slow * factor,
        "soil_slow_nitrogen": nitrogen * slow * factor,
        "soil_slow_phosphorus": phosphorus * slow * factor,
        "ammonium_soil": nitrogen * (0.003 + 0.006 * fresh) * factor,
        "phosphate_soil": phosphorus * 0.1 * factor,
        "potassium_soil": 150.0 * mass * (0.5 + 0.5 * fresh)
        * _column(values, "initial_soil_potassium", 2.0, members),
        "calcium_soil": mass * held,
        "copper_soil": np.full(members, EXCHANGEABLE * copper),
        "zinc_soil": np.full(members, EXCHANGEABLE * 70.0 * mass),
        "iron_soil": np.full(members, FREED_IRON * mass),
        "reduced_soil": np.full(members, (300.0 - 200.0 * fresh) * mass),
    }


def soil_put_in(soil: Soil, kilograms: float) -> dict[str, float]:
    """Arguments of the jump `add_soil` for some kilograms of new, dry soil."""
    new = Opening({}, 0.0, 0.0, 0.0, 0.0, kilograms, soil, {})
    return {"soil_in_mass": kilograms} | {
        "soil_in_" + state.removeprefix("soil_").removesuffix("_soil"): float(amount[0])
        for state, amount in _soil(new, {}, 1).items() if state != "reduced_soil"
    }  # fmt: skip
