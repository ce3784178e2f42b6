"""The tank model called as plain Python, on random tanks: no tracing, no kernel.

A `World` is one tank at one moment. Any name of the model has a value there, worked
out when asked; the acid-base balance is solved by SciPy, not by the kernel's own pass.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from pleuston.base import glossary, parameters
from pleuston.base.glossary import Term
from pleuston.base.parameters import Parameter
from pleuston.engine.events import Plants, parameter_record
from pleuston.model.assemble import Model, Quantity
from pleuston.model.declare import Closed
from pleuston.model.tank import model

PLANTS = Plants({}, {"floater1": "lemna", "floater2": "pistia", "floater3": "salvinia"})
CONSTANTS: Mapping[str, tuple[float, float]] = {
    "surface_area": (0.05, 0.3), "wall_area": (0.2, 0.9), "net_volume": (25.0, 40.0),
    "cap_depth": (0.01, 0.03), "bed_heat_capacity": (0.5, 5.0),
}  # fmt: skip
"""Dimensions of the tank, which have no records: range."""
FORCINGS: Mapping[str, tuple[float, float]] = {
    "room_temperature": (285.0, 303.0), "room_humidity": (0.2, 0.9), "air_pressure": (0.8, 1.05),
    "air_co2": (4e-4, 2e-3), "light": (1.0, 400.0), "heater_setpoint": (293.0, 301.0),
    "heater_power": (0.0, 100.0), "lid_openness": (0.1, 1.0), "flow_level": (0.05, 1.95),
    "air_stone": (0.1, 0.9),
}  # fmt: skip
ARGUMENTS: Mapping[str, tuple[float, float]] = {
    "litres": (0.1, 8.0), "to_mark": (0.0, 1.0), "temperature_in": (278.0, 303.0),
    "share": (0.01, 0.99), "harvest_grams": (0.1, 60.0), "harvest_cover": (0.05, 1.0),
    "trim_grams": (0.1, 60.0), "body_carbon": (1.0, 600.0), "feed_carbon": (1.0, 300.0),
}  # fmt: skip
OTHER_ARGUMENTS = (0.01, 20.0)
ORDERED = (
    ("_coldest", "_best", "_warmest"), ("_ph_least", "_ph_low", "_ph_high", "_ph_most"),
    ("_nitrogen_min", "_nitrogen_max"), ("_phosphorus_min", "_phosphorus_max"),
    ("_potassium_min", "_potassium_max"),
)  # fmt: skip
"""Parameters that only make sense in this order; a draw out of order falls back to the values."""
FAMILY_OF = {
    "floater1": "floater", "floater2": "floater", "floater3": "floater", "fish": "animal",
    "shrimp": "animal", "snails": "animal", "copper": "metal", "zinc": "metal",
}  # fmt: skip


@cache
def tank() -> Model:
    """The model itself, from its declarations."""
    return model()


@cache
def record_of(name: str) -> Parameter:
    """The record behind a parameter."""
    return parameter_record(parameters.load(), name, PLANTS)


def family_of(name: str) -> str:
    """The name with the word of a family in the place of its member."""
    return "_".join(FAMILY_OF.get(word, word) for word in name.split("_"))


@cache
def term_of(name: str) -> Term:
    """The glossary's entry of a name, or of its family."""
    known = glossary.load()
    words = name.split("_")
    ways: list[list[str]] = [[]]
    for word in words:
        options = [word, FAMILY_OF[word]] if word in FAMILY_OF else [word]
        ways = [[*way, option] for way in ways for option in options]
    found = next((known["_".join(w)] for w in ways if "_".join(w) in known), None)
    assert found is not None, f"{name} is not in the glossary"
    return found


class World:
    """One tank at one moment."""

    def __init__(self, given: Mapping[str, float]) -> None:
        self.given = dict(given)
        self.found: dict[str, float] = {}

    def but(self, **other: float) -> World:
        """The same tank with some values changed."""
        unknown = set(other) - set(self.given)
        assert not unknown, f"{sorted(unknown)} are not inputs of the model"
        return World(self.given | other)

    def __getitem__(self, name: str) -> float:
        if name in self.given:
            return self.given[name]
        if name not in self.found:
            known = tank()
            if name in known.implicits:
                self.found[name] = self._root(known.implicits[name])
            else:
                quantity = known.quantities[name]
                self.found[name] = float(quantity.function(**self.inputs(quantity)))
        return self.found[name]

    def inputs(self, user: Quantity | Closed) -> dict[str, Any]:
        """The arguments of a quantity, row or move."""
        return {argument: self[name] for argument, name in user.arguments.items()}

    def size(self, change: Closed) -> float:
        """The rate of a row, or the amount of a move."""
        return float(change.function(**self.inputs(change)))

    def _root(self, implicit: Quantity) -> float:
        rest = {a: self[n] for a, n in implicit.arguments.items() if n != implicit.name}
        (own,) = (a for a, n in implicit.arguments.items() if n == implicit.name)

        def residual(log: float) -> float:
            return float(implicit.function(**{own: math.exp(log)}, **rest))

        return math.exp(float(brentq(residual, -35.0, 2.0, xtol=1e-14, rtol=1e-14)))


def _parameters(rng: np.random.Generator) -> dict[str, float]:
    drawn, usual = {}, {}
    for name in tank().parameters:
        if name in CONSTANTS:
            drawn[name] = float(rng.uniform(*CONSTANTS[name]))
        else:
            record = record_of(name)
            drawn[name] = float(rng.uniform(record.low, record.high))
            usual[name] = record.value
    for endings in ORDERED:
        for owner in [n.removesuffix(endings[0]) for n in drawn if n.endswith(endings[0])]:
            names = [owner + ending for ending in endings]
            if any(drawn[a] >= drawn[b] for a, b in itertools.pairwise(names)):
                drawn.update({n: usual[n] for n in names})
    return drawn


def world(seed: int) -> World:
    """A random tank: every store filled, every parameter within its range."""
    rng = np.random.default_rng(seed)
    known = tank()
    values = _parameters(rng)
    for state in known.states.values():
        values[state.name] = float(state.typical * 10.0 ** rng.uniform(-1.5, 0.8))
    water = values["water"] = float(values["net_volume"] * rng.uniform(0.5, 0.99))
    values["alkalinity"] = float(water * rng.uniform(0.3, 6.0))
    values["carbon_inorganic"] = float(values["alkalinity"] * 12.011 * rng.uniform(0.97, 1.4))
    capacity = 4.186 * (water + values["bed_heat_capacity"])
    values["heat"] = float(capacity * rng.uniform(6.0, 33.0))
    values |= {n: float(rng.uniform(*FORCINGS[n])) for n in known.forcings}
    values |= {
        n: float(rng.uniform(*ARGUMENTS.get(n, OTHER_ARGUMENTS))) for n in known.arguments
    }
    return World(values)


@cache
def worlds(count: int = 8, first: int = 0) -> tuple[World, ...]:
    """Several random tanks, always the same."""
    return tuple(world(seed) for seed in range(first, first + count))


def column(names: Iterable[str], of: Iterable[World]) -> np.ndarray:
    """(worlds, names): the values of some names as the kernel takes them."""
    listed = list(names)
    return np.array([[w[n] for n in listed] for w in of])
