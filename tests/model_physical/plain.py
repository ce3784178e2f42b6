"""The tank model called with plain floats: no tracing, no kernel, no solver of ours."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from scipy.optimize import brentq

from pleuston.base import parameters
from pleuston.engine.events import Plants, parameter_record
from pleuston.model.assemble import Model
from pleuston.model.declare import Closed
from pleuston.model.tank import model

PLANTS = Plants({}, {"floater1": "lemna", "floater2": "pistia", "floater3": "salvinia"})
CALM: Mapping[str, float] = {
    "room_temperature": 295.15, "room_humidity": 0.5, "air_pressure": 1.0, "air_co2": 7e-4,
    "light": 60.0, "heater_setpoint": 297.15, "heater_power": 25.0, "lid_openness": 1.0,
    "flow_level": 0.0, "air_stone": 0.0,
}  # fmt: skip
"""A still, open, heated tank in an ordinary room."""
IONS: Mapping[str, float] = {
    "calcium": 2 / 40.078, "magnesium": 2 / 24.305, "potassium": 1 / 39.098,
    "sodium": 1 / 22.990, "ammonium": 1 / 14.007, "chloride": -1 / 35.45,
    "sulfate": -2 / 32.06, "nitrate": -1 / 14.007, "nitrite": -1 / 14.007,
    "phosphate": -1 / 30.974,
}  # fmt: skip
"""Charge [meq] of a milligram of the element, as the alkalinity counts it."""


@cache
def tank() -> Model:
    return model()


def strong_ions(states: Mapping[str, float]) -> float:
    """Charge of the dissolved ions [meq], without carbonate, hydroxide and protons."""
    return sum(charge * states[ion] for ion, charge in IONS.items())


def middling(**other: float) -> dict[str, float]:
    """An ordinary neutral 30 L tank at 24 degC, with some of its states changed."""
    states = dict.fromkeys(tank().states, 0.0)
    states |= {
        "water": 30.0, "heat": 4.186 * 32.0 * 24.0, "oxygen": 240.0, "carbon_inorganic": 700.0,
        "calcium": 900.0, "magnesium": 250.0, "potassium": 90.0, "sodium": 500.0,
        "sulfate": 250.0, "ammonium": 3.0, "nitrite": 1.0, "nitrate": 40.0, "phosphate": 6.0,
        "iron": 1.0, "copper": 0.15, "zinc": 0.6, "humic": 60.0, "dom_carbon": 30.0,
        "dom_nitrogen": 3.0, "dom_phosphorus": 0.3, "detritus_carbon": 600.0,
        "detritus_copper": 0.05, "detritus_zinc": 0.2, "floater1_carbon": 900.0,
        "floater2_carbon": 300.0, "rooted_carbon": 3000.0, "algae_carbon": 40.0,
        "soil_mass": 2.0, "potassium_soil": 500.0, "calcium_soil": 4000.0, "copper_soil": 80.0,
        "zinc_soil": 200.0, "iron_soil": 8000.0, "reduced_soil": 300.0, "ammonium_soil": 40.0,
        "phosphate_soil": 200.0, "scale": 400.0, "shell": 500.0, "fish_body": 300.0,
        "shrimp_body": 100.0, "snails_body": 50.0,
    }  # fmt: skip
    states |= other
    if "chloride" not in other:
        states["chloride"] = (strong_ions(states) - 2.0 * states["water"]) * 35.45
    if "alkalinity" not in other:
        states["alkalinity"] = strong_ions(states)
    return states


class World:
    """One tank at one moment: any name of the model has a value, worked out when asked."""

    def __init__(
        self, states: Mapping[str, float], forcings: Mapping[str, float] | None = None,
        arguments: Mapping[str, float] | None = None, **values: float,
    ) -> None:  # fmt: skip
        zeros = dict.fromkeys(tank().arguments, 0.0)
        self.states = dict(states)
        self.given = zeros | dict(states) | dict(CALM) | dict(forcings or {})
        self.given |= dict(arguments or {}) | values
        self.found: dict[str, float] = {}

    def __getitem__(self, name: str) -> float:
        if name in self.given:
            return self.given[name]
        if name not in self.found:
            self.found[name] = self._work_out(name)
        return self.found[name]

    def _work_out(self, name: str) -> float:
        known = tank()
        if name in known.implicits:
            return self._root(known.implicits[name].function, name)
        if name in known.quantities:
            quantity = known.quantities[name]
            return float(quantity.function(**self._values(quantity.arguments)))
        return parameter_record(parameters.load(), name, PLANTS).value

    def _values(self, arguments: Mapping[str, str]) -> dict[str, Any]:
        return {argument: self[name] for argument, name in arguments.items()}

    def _root(self, residual: Any, name: str) -> float:
        arguments = {a: t for a, t in tank().implicits[name].arguments.items() if t != name}
        rest = self._values(arguments)
        found = brentq(
            lambda log: residual(**{name: 10.0**log}, **rest), -14.0, 0.0, xtol=1e-14, rtol=1e-14
        )
        return float(10.0**found)

    def size(self, change: Closed) -> float:
        """Rate of a row, or amount of a move."""
        return float(change.function(**self._values(change.arguments)))

    def rate(self, name: str) -> float:
        """Rate of a row by its name."""
        return self.size(next(r for r in tank().rows if r.name == name))

    def change(self, *names: str) -> dict[str, float]:
        """Change of the states per day by some rows."""
        return self._sum([r for r in tank().rows if r.name in names])

    def after(self, jump: str) -> dict[str, float]:
        """The states after a jump."""
        moves = [m for m in tank().moves if m.jump == jump]
        assert moves
        change = self._sum(moves)
        return {name: value + change[name] for name, value in self.states.items()}

    def _sum(self, changes: list[Closed]) -> dict[str, float]:
        total = dict.fromkeys(self.states, 0.0)
        for change in changes:
            amount = self.size(change)
            for state, coefficient in change.coefficients.items():
                total[state] += float(coefficient) * amount
        return total
