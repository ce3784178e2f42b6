"""A small pond in the table language with everything the engine has to carry.

Fast uptake, light that switches, a linear forcing, an implicit quantity, two jumps.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from pleuston.engine.schedule import Series
from pleuston.model.assemble import Model, assemble
from pleuston.model.declare import CLOSE, State, implicit, move, row

from .built import changes

DAY_LIGHT = Series(
    np.array([0.0, 0.25, 0.375, 0.75, 0.875, 1.0]),
    np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0]),
    linear=True,
)


def thickness(acid: Any, plant: Any) -> Any:
    """Residual of acid: acid^3 + acid = 1 + plant."""
    return acid * acid * acid + acid - 1.0 - plant


def shade(acid: Any) -> Any:
    """Share of the light that gets through [1]."""
    return np.exp(-0.3 * np.log(acid)) / (1.0 + acid)


@row("mg/d", source="made up", where="a test", ammonium=-1, plant=CLOSE)
def take_up(uptake: Any, half: Any, ammonium: Any, plant: Any, light: Any, shade: Any) -> Any:
    """A plant takes up ammonium by day."""
    return uptake * plant * light * shade * ammonium / (half + ammonium)


@row("mg/d", source="made up", where="a test", ammonium=-1, nitrate=CLOSE, oxygen=CLOSE)
def nitrify(nitrification: Any, half: Any, ammonium: Any, oxygen: Any, warmth: Any) -> Any:
    """Ammonium becomes nitrate while there is oxygen."""
    speed = nitrification * (1.0 + warmth * warmth)
    return speed * ammonium / (half + ammonium) * oxygen / (half + oxygen)


@row("mg/d", source="made up", where="a test", plant=-1, ammonium=CLOSE)
def rot(rotting: Any, plant: Any, warmth: Any) -> Any:
    """A part of the plant becomes ammonium."""
    return rotting * plant * np.exp(0.5 * warmth)


@row("mg/d", source="made up", where="a test", oxygen=+1, crosses="air", carries=("demand",))
def dissolve(exchange: Any, saturation: Any) -> Any:
    """Oxygen comes in from air."""
    return exchange * saturation


@row("mg/d", source="made up", where="a test", oxygen=-1, crosses="air", carries=("demand",))
def escape(exchange: Any, oxygen: Any) -> Any:
    """Oxygen goes out to air."""
    return exchange * oxygen


@move("feed", "mg", ammonium=+1, crosses="food", carries=("N",))
def feed_ammonium(feed_amount: Any) -> Any:
    """What the food gives."""
    return feed_amount


@move("harvest", "mg", plant=-1, crosses="harvest", carries=("N",))
def take_plant(harvest_share: Any, plant: Any) -> Any:
    """A share of the plant is taken out."""
    return harvest_share * plant


@move("harvest", "mg", plant=-1, ammonium=CLOSE)
def break_plant(harvest_share: Any, plant: Any) -> Any:
    """A tenth as much is torn and rots at once."""
    return 0.1 * harvest_share * plant


ROWS = (take_up, nitrify, rot, dissolve, escape)
MOVES = (feed_ammonium, take_plant, break_plant)
PARAMETERS = {
    "uptake": 6.0, "half": 0.05, "nitrification": 20.0, "rotting": 0.3, "exchange": 12.0,
    "saturation": 8.0,
}  # fmt: skip
START = {"ammonium": 2.0, "nitrate": 1.0, "plant": 1.5, "oxygen": 8.0}


def pond() -> Model:
    """The small pond, put together."""
    n = Fraction(1)
    demand = Fraction(64, 14)
    return assemble(
        "small pond",
        states=(
            State("ammonium", "mg", {"N": n}, typical=0.1),
            State("nitrate", "mg", {"N": n, "demand": -demand}),
            State("plant", "mg", {"N": n}),
            State("oxygen", "mg", {"demand": Fraction(-1)}),
        ),
        rows=changes(ROWS),
        moves=changes(MOVES),
        quantities=(shade,),
        implicits=(implicit("acid", residual=thickness, unit="1", start=1.0),),
        parameters=tuple(PARAMETERS),
        forcings=("light", "warmth"),
        arguments=("feed_amount", "harvest_share"),
        fast=("ammonium", "oxygen"),
        observed=("ammonium", "nitrate", "plant", "oxygen", "acid", "shade"),
        tracked=("oxygen", "ammonium"),
        conserved=("N", "demand"),
    )
