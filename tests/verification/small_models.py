"""Small models with solutions in closed form, in the table language, side by side in one kernel."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
from tests.engine.built import changes

from pleuston.model.assemble import Model, assemble
from pleuston.model.declare import CLOSE, State, row

DAY = 24.0


@row("mg/d", source="textbook", where="reaeration", oxygen=+1, crosses="air", carries=("oxygen",))
def dissolve(reaeration: Any, oxygen_saturation: Any) -> Any:
    """Oxygen comes in from air at a constant rate."""
    return reaeration * oxygen_saturation


@row("mg/d", source="textbook", where="reaeration", oxygen=-1, crosses="air", carries=("oxygen",))
def escape(reaeration: Any, oxygen: Any) -> Any:
    """Oxygen goes out in proportion to what is there."""
    return reaeration * oxygen


@row("mg/d", source="textbook", where="reaeration", used=+1, crosses="air", carries=("oxygen",))
def dissolve_used(reaeration: Any, oxygen_saturation: Any) -> Any:
    """The same where something breathes."""
    return reaeration * oxygen_saturation


@row("mg/d", source="textbook", where="reaeration", used=-1, crosses="air", carries=("oxygen",))
def escape_used(reaeration: Any, used: Any) -> Any:
    """The same where something breathes."""
    return reaeration * used


@row("mg/d", source="textbook", where="zero order", used=-1, crosses="life", carries=("oxygen",))
def breathe(respiration: Any, used: Any) -> Any:
    """Oxygen is used at a constant rate while there is any."""
    return np.where(used > 0.0, respiration, 0.0)


@row("mg/d", source="textbook", where="chain", ammonium=-1, nitrite=CLOSE)
def first_step(first: Any, ammonium: Any) -> Any:
    """First-order decay of the first of a chain."""
    return first * ammonium


@row("mg/d", source="textbook", where="chain", nitrite=-1, nitrate=CLOSE)
def second_step(second: Any, nitrite: Any) -> Any:
    """First-order decay of the second of a chain."""
    return second * nitrite


@row("mg/d", source="textbook", where="saturation", store=-1, crosses="sink", carries=("stuff",))
def deplete(most: Any, half: Any, store: Any) -> Any:
    """A store is eaten at a saturating rate."""
    return most * store / (half + store)


@row("L/d", source="textbook", where="balance", water=-1, crosses="air", carries=("water",))
def evaporate(evaporation: Any) -> Any:
    """Water leaves without its salt."""
    return evaporation


@row("L/d", source="textbook", where="balance", water=+1, crosses="can", carries=("water",))
def top_up(evaporation: Any) -> Any:
    """As much water comes in."""
    return evaporation


@row("mg/d", source="textbook", where="balance", salt=+1, crosses="can", carries=("salt",))
def top_up_salt(evaporation: Any, can_salt: Any) -> Any:
    """The water that comes in has salt."""
    return evaporation * can_salt


@row("mg/d", source="textbook", where="logistic", plant=+1, crosses="sun", carries=("stuff",))
def grow(growth: Any, plant: Any) -> Any:
    """Growth in proportion to what is there."""
    return growth * plant


@row("mg/d", source="textbook", where="logistic", plant=-1, crosses="sun", carries=("stuff",))
def crowd(growth: Any, room: Any, plant: Any) -> Any:
    """Loss by crowding, the other half of logistic growth."""
    return growth * plant * plant / room


def _states(*names: str, holds: str) -> tuple[State, ...]:
    unit = "L" if holds == "water" else "mg"
    return tuple(State(n, unit, {holds: Fraction(1)}, typical=1e-4) for n in names)


def closed_forms() -> Model:
    """Every model with a closed-form solution; they don't touch each other."""
    return assemble(
        "closed forms",
        states=(
            *_states("oxygen", "used", holds="oxygen"),
            *_states("ammonium", "nitrite", "nitrate", holds="N"),
            *_states("store", "plant", holds="stuff"), *_states("water", holds="water"),
            *_states("salt", holds="salt"),
        ),
        rows=changes((
                dissolve, escape, dissolve_used, escape_used, breathe, first_step, second_step,
                deplete, evaporate, top_up, top_up_salt, grow, crowd,
        )),
        parameters=(
            "reaeration", "oxygen_saturation", "respiration", "first", "second", "most", "half",
            "evaporation", "can_salt", "growth", "room",
        ),
        quantities=(salt_concentration,),
        fast=("oxygen", "used", "ammonium", "store"),
        observed=(
            "oxygen", "used", "ammonium", "nitrite", "nitrate", "store", "plant",
            "salt_concentration",
        ),
        conserved=("oxygen", "N", "stuff", "water", "salt"),
    )  # fmt: skip


def salt_concentration(salt: Any, water: Any) -> Any:
    """Concentration of the conservative salt [mg/L]."""
    return salt / water


PARAMETERS = {
    "reaeration": 0.1 * DAY, "oxygen_saturation": 8.263, "respiration": 0.3 * DAY,
    "first": 0.5, "second": 0.3, "most": 0.5, "half": 1.0, "evaporation": 2.0,
    "can_salt": 200.0, "growth": 0.2, "room": 100.0,
}  # fmt: skip
START = {
    "oxygen": 4.0, "used": 8.263, "ammonium": 2.0, "store": 2.0, "water": 100.0,
    "salt": 20000.0, "plant": 10.0,
}  # fmt: skip
