"""Ways to read a quantity: where a kit's steps part, how far it errs, what it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.causes import COIN, cause_data
from pleuston.inference.normal import cdf
from pleuston.inference.readings import Method, observation_models
from pleuston.planning.acts import MINUTES
from pleuston.planning.outlook import SHOWN

ASKED = ("ammonium", "nitrite", "nitrate", "copper", "kh", "gh", "ph", "ec25", "oxygen")
"""Quantities a keeper may test; cover and warmth are seen in passing."""
SEEN_AS: Mapping[str, str] = {"oxygen": "oxygen_dawn"}
"""Reading -> the shown quantity it is taken of: oxygen is read at dawn."""
QUICK: Mapping[str, float] = {"ec25": 0.3, "pen_ppm": 0.3}
"""Minutes of readings that take no kit: common practice, no source."""
FINE = 24
"""Steps that an instrument without steps of its own is cut into."""


@dataclass(frozen=True)
class Gauge:
    """A way to read a quantity: where its steps part, how far it errs, what it takes.

    edges: in the unit the quantity is shown in, rising; noise: sd of kit and reader on the scale
    of comparison, relative: the same as a share of the value.
    """

    reading: str
    edges: tuple[float, ...]
    noise: float
    relative: float
    minutes: float
    coins: float
    name: str = ""

    @property
    def shown(self) -> str:
        """The shown quantity it tells of."""
        return SEEN_AS.get(self.reading, self.reading)

    @property
    def price(self) -> float:
        """What a reading costs, in minutes of the keeper."""
        return self.minutes + COIN * self.coins


def price_of(reading: str) -> tuple[float, float]:
    """Minutes of the keeper's own time and coins that a reading takes."""
    tests = cause_data()["tests"]
    about = tests.get(reading) or tests.get(f"{reading}_ion") or {"minutes": 3.0, "cost": 0.1}
    least = QUICK.get(reading, MINUTES["test"])
    return min(float(about["minutes"]), least), float(about["cost"])


def gauge(reading: str, edges: Iterable[float] = (), name: str = "", way: str = "") -> Gauge:
    """A kit with steps of its own, or without them the usual way to read a quantity.

    edges: where its steps part, in the unit the quantity is shown in; way: chart, titration, ...
    """
    found = observation_models()[SHOWN[SEEN_AS.get(reading, reading)].reading]
    given = tuple(sorted(edges))
    method = found.method(way, exact=not given and found.interval == found.exact)
    minutes, coins = price_of(reading)
    parts = given or _usual_edges(reading, method)
    return Gauge(reading, parts, method.noise, method.relative, minutes, coins, name)


def _usual_edges(reading: str, method: Method) -> tuple[float, ...]:
    """Where the steps of the usual kit part: evenly on the scale that its errors are even on."""
    shown = SHOWN[SEEN_AS.get(reading, reading)]
    model = observation_models()[shown.reading]
    low, high = (float(model.scaled(x)) for x in (model.least, model.most))
    count = method.classes if method.classes > 2 else FINE
    cuts = np.linspace(low, high, count + 1)[1:-1]
    fine = np.linspace(model.least, model.most, 4001)
    turned = np.interp(cuts, model.scaled(fine), fine)
    if model.transform == "log":
        turned = np.exp(cuts) - model.offset
    return tuple(float(x) * shown.scale + shown.shift for x in turned)


def usual_gauges() -> tuple[Gauge, ...]:
    """The usual way to read every quantity that may be asked for."""
    return tuple(gauge(name) for name in ASKED)


def chances_of_steps(values: Array, by: Gauge) -> Array:
    """(steps, members): how likely each member's kit would show each step."""
    shown = SHOWN[by.shown]
    model = observation_models()[shown.reading]

    def scaled(given: Array) -> Array:
        return model.scaled(np.maximum((given - shown.shift) / shown.scale, 0.0))

    natural = (np.asarray(values) - shown.shift) / shown.scale
    sd = np.maximum(np.hypot(by.noise, by.relative * natural), 1e-9)
    ends = scaled(np.asarray(by.edges, dtype=float))[:, None]
    below = cdf((ends - scaled(np.asarray(values))) / sd)
    whole = np.vstack([np.zeros_like(sd), below, np.ones_like(sd)])
    return np.asarray(np.diff(whole, axis=0))
