"""Alterations of the model: what a cause does that no entry of the record tells of.

Each acts on members at one moment: on their states (a pulse, a loss) or on their rates from
then on (a factor). Its size is uncertain; every member has its own. What the record tells of
(meals, water, harvests) is in the model already and needs no alteration.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.engine.case import Case
from pleuston.engine.kernel import Array
from pleuston.engine.waters import dissolved, usual_water

CARCASS = {"carbon": 110.0, "nitrogen": 25.0, "phosphorus": 4.0}
"""What a gram of a fresh dead fish, shrimp or snail without its shell holds [mg/g]: guess of
sane size (about a fifth dry matter, a tenth of that nitrogen)."""
DISSOLVED = ("calcium", "magnesium", "potassium", "sodium", "chloride", "sulfate", "alkalinity",
             "nitrate", "phosphate")  # fmt: skip
EQUIVALENT = {"calcium": 40.078 / 2.0, "magnesium": 24.305 / 2.0}
SODIUM = 22.990
MOST_LOST = 0.95


@dataclass
class Members:
    """States and parameters of members at the moment of an alteration; changed in place."""

    case: Case
    day: float
    states: Array
    parameters: Array

    def state(self, name: str) -> Array:
        """(members,) amounts of one store."""
        return self.states[:, self.case.table.at("state", name)]

    def put(self, name: str, amount: Array) -> None:
        """Set the amounts of one store."""
        self.states[:, self.case.table.at("state", name)] = amount

    def add(self, name: str, amount: Array) -> None:
        """Add to one store."""
        self.put(name, self.state(name) + amount)

    def times(self, name: str, factor: Array) -> None:
        """Multiply a parameter."""
        self.parameters[:, self.case.table.at("parameter", name)] *= factor

    @property
    def water(self) -> Array:
        """Litres of water."""
        return self.state("water")


def _overfed(members: Members, size: Array) -> None:
    members.times("feed_factor", size)


def _carcass(members: Members, size: Array) -> None:
    for element, share in CARCASS.items():
        members.add(f"detritus_{element}", size * members.case.scale * share)


def _dieback(members: Members, size: Array) -> None:
    share = np.minimum(size, MOST_LOST)
    for owner in ("rooted", *members.case.plants.slots.values()):
        for element in ("carbon", "nitrogen", "phosphorus", "potassium"):
            lost = share * members.state(f"{owner}_{element}")
            members.add(f"{owner}_{element}", -lost)
            members.add(f"detritus_{element}", lost)


def _soil_lets_out(members: Members, size: Array) -> None:
    freed = size * members.water
    members.add("ammonium", freed)
    members.add("phosphate", 0.1 * freed)
    members.add("detritus_carbon", 5.0 * freed)


def _few_bacteria(members: Members, size: Array) -> None:
    for name in ("ammonia_oxidisers", "nitrite_oxidisers"):
        members.put(name, members.state(name) * np.minimum(size, 1.0))


def _dimmer(members: Members, size: Array) -> None:
    members.times("light_factor", np.minimum(size, MOST_LOST))


def _slower_floaters(members: Members, size: Array) -> None:
    for slot in members.case.plants.slots.values():
        members.times(f"{slot}_growth_max", np.minimum(size, MOST_LOST))


def _eaten(members: Members, size: Array) -> None:
    for owner in ("rooted", *members.case.plants.slots.values()):
        members.times(f"{owner}_loss", np.maximum(size, 1.0))


def _filmed(members: Members, size: Array) -> None:
    for name in ("gas_exchange_still", "gas_exchange_gentle"):
        members.times(name, np.minimum(size, MOST_LOST))


def _exchanged(members: Members, size: Array) -> None:
    """A large part of the water replaced by the tank's usual water, not noted."""
    case, share = members.case, np.minimum(size, MOST_LOST)
    poured = dissolved(case.record, usual_water(case.record, case.tank),
                       case.clock.moment(members.day)).per_litre  # fmt: skip
    for name in DISSOLVED:
        fresh = poured[name] * members.water
        members.put(name, (1.0 - share) * members.state(name) + share * fresh)


def _softened(members: Members, size: Array) -> None:
    share = np.minimum(size, MOST_LOST)
    for name, weight in EQUIVALENT.items():
        lost = share * members.state(name)
        members.add(name, -lost)
        members.add("sodium", lost / weight * SODIUM)


@dataclass(frozen=True)
class Alteration:
    """One cause as a change of the model: how large [see `what`], and what it does."""

    middle: float
    spread: float
    what: str
    act: Callable[[Members, Array], None]

    def sizes(self, members: int, rng: np.random.Generator) -> Array:
        """One size for each member."""
        return np.asarray(self.middle * np.exp(self.spread * rng.standard_normal(members)))


ALTERATIONS: Mapping[str, Alteration] = {
    "overfeeding": Alteration(2.5, 0.3, "times the food noted", _overfed),
    "dead_animal": Alteration(1.5, 0.8, "g of fresh carcass in 30 L", _carcass),
    "plant_dieback": Alteration(0.4, 0.4, "share of the plants that dies", _dieback),
    "soil_release": Alteration(0.6, 0.8, "mg/L of N that the soil lets out", _soil_lets_out),
    "young_bacteria": Alteration(0.1, 0.8, "of the nitrifiers are left", _few_bacteria),
    "low_light": Alteration(0.45, 0.3, "of the light is left", _dimmer),
    "too_much_flow": Alteration(0.5, 0.3, "of the floating plants' growth is left",
                                _slower_floaters),
    "grazing": Alteration(3.0, 0.4, "times the usual loss of leaves", _eaten),
    "surface_film": Alteration(0.4, 0.3, "of the exchange with the air is left", _filmed),
    "osmotic_step": Alteration(0.5, 0.3, "share of the water exchanged", _exchanged),
    "softened_water": Alteration(0.4, 0.4, "share of calcium changed for sodium", _softened),
}  # fmt: skip
"""By cause; sizes are log-normal, guesses of sane size."""
