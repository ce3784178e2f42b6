"""Nine invented tanks by daily difference equations: only what a demo needs.

Plants are grams of drained fresh mass of fixed make-up that grow towards a full
surface; nitrogen lies in first-order pools; salts stay when water evaporates;
oxygen is known at dawn alone. Amounts are mg of the element (sulfate as ion,
alkalinity in meq), water is in litres.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

IONS = ("ca", "mg", "na", "k", "cl", "so4", "alk", "tan", "no2", "no3", "po4", "cu")
EQUIVALENT = {"ca": 20.04, "mg": 12.153, "na": 22.99, "k": 39.098, "cl": 35.453, "so4": 48.03,
              "alk": 1.0, "tan": 14.007, "no2": 14.007, "no3": 14.007}  # fmt: skip
"""mg per meq."""
CONDUCTANCE = {"ca": 59.5, "mg": 53.1, "na": 50.1, "k": 73.5, "cl": 76.3, "so4": 80.0,
               "alk": 44.5, "tan": 73.5, "no2": 71.8, "no3": 71.4}  # fmt: skip
"""uS/cm per meq/L in very thin solution."""
DH = 2.804
"""German degrees per meq/L."""
LID_MM = {"open": 2.6, "partial": 1.0, "tight": 0.28}
"""Evaporation in a mild room [mm/d]."""
EXCHANGE = {"still": 0.62, "gentle": 0.95, "strong": 1.6}
"""Speed of oxygen through an open surface [m/d]."""


@dataclass(frozen=True)
class Floater:
    """How a floating plant grows and covers."""

    rate: float
    """Growth in light without end at 25 degC and no shortage [1/d]."""
    half_cover: float
    """Drained mass at which the surface is about three quarters covered [g/m2]."""
    full: float
    """Mass at which growth stops [g/m2]."""
    n: float = 2.5
    p: float = 0.30
    k: float = 1.9
    """Make-up [mg per g drained fresh mass]."""


FLOATERS = {
    "Lemna minor": Floater(0.68, 200.0, 620.0),
    "Spirodela polyrhiza": Floater(0.58, 230.0, 900.0, n=2.7),
    "Salvinia natans": Floater(0.50, 430.0, 1300.0, n=1.7, p=0.22, k=1.5),
}


@dataclass(frozen=True)
class Animal:
    """A kind of animal: mean mass [g] and breath [mg O2 per g and hour]."""

    mass: float
    breath: float
    group: str


ANIMALS = {
    "Neocaridina davidi": Animal(0.22, 0.42, "shrimp"),
    "Planorbella duryi": Animal(1.0, 0.08, "snail"),
    "Physella acuta": Animal(0.1, 0.10, "snail"),
    "Boraras brigittae": Animal(0.06, 0.80, "fish"),
    "Poecilia wingei": Animal(0.25, 0.60, "fish"),
    "Poecilia reticulata": Animal(0.6, 0.50, "fish"),
    "Danio margaritatus": Animal(0.15, 0.70, "fish"),
    "Corydoras pygmaeus": Animal(0.27, 0.60, "fish"),
    "Tanichthys albonubes": Animal(0.45, 0.50, "fish"),
    "Hyphessobrycon amandae": Animal(0.11, 0.70, "fish"),
}


@dataclass
class World:
    """The true state of one tank, which nobody sees but through readings."""

    full_l: float
    surface: float
    lid: str
    flow: str
    heater: float | None
    hours: float
    ppfd: float
    mg: dict[str, float]
    plants: dict[str, float]
    animals: dict[str, int]
    rooted: float = 30.0
    rooted_rate: float = 0.025
    litres: float = 0.0
    temperature: float = 21.0
    detritus: float = 20.0
    carcass: float = 0.0
    soil_n: float = 500.0
    soil_n_rate: float = 0.002
    soil_k: float = 800.0
    soil_k_rate: float = 0.004
    p_rest: float = 0.04
    oxidise_tan: float = 1.0
    oxidise_no2: float = 4.0
    most_oxidise: float = 2.5
    denitrify: float = 0.006
    film: float = 0.0
    oxygen_dawn: float = 6.0
    fed: float = 0.0
    """Feed since yesterday [g]."""
    grown: dict[str, float] = field(default_factory=dict)

    def conc(self, name: str) -> float:
        """mg/L (alkalinity: meq/L)."""
        return self.mg[name] / self.litres

    @property
    def cover(self) -> float:
        """Share of the surface under floating plants."""
        reach = sum(g / self.surface / FLOATERS[s].half_cover for s, g in self.plants.items())
        return float(np.tanh(reach))

    @property
    def kh(self) -> float:
        return self.conc("alk") * DH

    @property
    def gh(self) -> float:
        return (self.conc("ca") / 20.04 + self.conc("mg") / 12.153) * DH

    @property
    def ec25(self) -> float:
        """Conductivity from the ions, each slowed a little by the others [uS/cm]."""
        meq = {n: self.conc(n) / EQUIVALENT[n] for n in CONDUCTANCE}
        strength = 0.5e-3 * sum(m * (2 if n in ("ca", "mg", "so4") else 1) for n, m in meq.items())
        ideal = sum(m * CONDUCTANCE[n] for n, m in meq.items())
        return float(ideal * (1.0 - 1.1 * np.sqrt(strength)))

    @property
    def ph_morning(self) -> float:
        """pH in the forenoon, from hardness and a usual content of carbon dioxide."""
        co2 = 3.0 + 7.0 * self.cover + 3.0 * self.film
        return float(7.0 + np.log10(3.0 * max(self.kh, 0.15) / co2))

    def add_water(self, litres: float, water: Mapping[str, float]) -> None:
        """Pour in litres of a water given in mg/L."""
        self.litres += litres
        for name in IONS:
            self.mg[name] += litres * water[name]

    def take_water(self, litres: float) -> None:
        """Take out litres with all that is dissolved in them."""
        share = litres / self.litres
        self.litres -= litres
        for name in IONS:
            self.mg[name] *= 1.0 - share

    def thin(self, species: str, grams: float) -> None:
        self.plants[species] -= grams

    def die(self, species: str, removed: bool) -> None:
        """One animal dies; found at once, most of it leaves the tank."""
        self.animals[species] -= 1
        self.carcass += ANIMALS[species].mass * 18.0 * (0.3 if removed else 1.0)

    def day(self, room: float, room_dryness: float) -> None:
        """Go on by one day."""
        self._warm(room)
        self._evaporate(room_dryness)
        self._feed_and_rot()
        self._grow()
        self._grow_rooted()
        self._bacteria()
        self._soil_and_scale()
        self._oxygen()
        for name in IONS:
            self.mg[name] = max(self.mg[name], 0.0)

    def _warm(self, room: float) -> None:
        rest = room + 0.6
        if self.heater is not None:
            rest = max(rest, self.heater)
        self.temperature += 0.6 * (rest - self.temperature)

    def _evaporate(self, dryness: float) -> None:
        mm = LID_MM[self.lid] * dryness * (1.0 - 0.15 * self.cover)
        mm *= 1.0 + 0.06 * (self.temperature - 22.0)
        self.litres -= mm * self.surface

    def _feed_and_rot(self) -> None:
        """Two thirds of the food's nitrogen come out of the animals at once; the rest rots."""
        warm = 2.0 ** ((self.temperature - 23.0) / 10.0)
        nitrogen = 72.0 * self.fed
        rotted = 0.06 * warm * self.detritus + 0.3 * warm * self.carcass
        self.detritus += 0.35 * nitrogen - 0.06 * warm * self.detritus
        self.carcass *= 1.0 - 0.3 * warm
        made = 0.65 * nitrogen + rotted
        self.mg["tan"] += made
        self.mg["po4"] += 11.0 * self.fed * 0.75 + 0.11 * rotted
        self.mg["k"] += 8.0 * self.fed
        self.mg["cu"] += 0.012 * self.fed * 0.3
        self.mg["alk"] += made / 14.007 + 8.0 * self.fed / 39.1
        self._rotted = rotted
        self.fed = 0.0

    def _light(self) -> float:
        return self.hours / 24.0 * self.ppfd / (self.ppfd + 40.0)

    def _shortage(self) -> float:
        """The scarcest nutrient sets the pace."""
        n = self.conc("tan") + self.conc("no3")
        p, k = self.conc("po4"), self.conc("k")
        return float(min(n / (n + 0.10), p / (p + 0.012), k**2 / (k**2 + 0.5)))

    def _grow(self) -> None:
        warm = 2.0 ** ((min(self.temperature, 28.0) - 25.0) / 10.0)
        crowd = sum(g / self.surface / FLOATERS[s].full for s, g in self.plants.items())
        pace = self._light() * self._shortage() * warm * max(0.0, 1.0 - crowd)
        poisoned = 1.0 / (1.0 + (self.conc("cu") / 0.4) ** 3)
        for species, grams in self.plants.items():
            plant = FLOATERS[species]
            new = grams * plant.rate * pace * poisoned
            old = grams * (0.018 + 0.02 * crowd) * warm
            self.plants[species] = grams + new - old
            self.grown[species] = new
            self._take_up(new, plant)
            self._fall_apart(old, plant)

    def _take_up(self, grams: float, plant: Floater) -> None:
        n = plant.n * grams
        tan = min(0.7 * n, 0.5 * self.mg["tan"])
        no3 = min(n - tan, 0.5 * self.mg["no3"])
        rich = self.conc("k") / (self.conc("k") + 0.8)
        k, ca, mg = plant.k * rich * grams, 0.5 * grams, 0.14 * grams
        for name, amount in (("tan", tan), ("no3", no3), ("k", k), ("ca", ca), ("mg", mg)):
            self.mg[name] -= amount
        self.mg["po4"] -= min(plant.p * grams, 0.5 * self.mg["po4"])
        self.mg["alk"] += (no3 - tan) / 14.007 - k / 39.1 - ca / 20.04 - mg / 12.153
        self.mg["cu"] *= 1.0 - min(0.25, 0.0003 * grams * 10.0)

    def _fall_apart(self, grams: float, plant: Floater) -> None:
        rich = self.conc("k") / (self.conc("k") + 0.8)
        self.detritus += plant.n * grams
        self.mg["po4"] += 0.3 * plant.p * grams
        self.mg["k"] += plant.k * rich * grams
        self.mg["ca"] += 0.5 * grams
        self.mg["mg"] += 0.14 * grams
        self.mg["alk"] += (plant.k * rich / 39.1 + 0.5 / 20.04 + 0.14 / 12.153) * grams

    def _grow_rooted(self) -> None:
        """Rooted plants take half their nitrogen and potassium from the soil."""
        open_share = 1.0 - 0.8 * self.cover
        new = self.rooted_rate * self.rooted * open_share * self._shortage()
        self.rooted += new
        n = 1.1 * new
        tan = min(0.5 * n, 0.3 * self.mg["tan"])
        no3 = min(n - tan, 0.3 * self.mg["no3"])
        k = min(0.8 * new, 0.3 * self.mg["k"])
        self.mg["tan"] -= tan
        self.mg["no3"] -= no3
        self.mg["k"] -= k
        self.mg["po4"] -= min(0.12 * new, 0.3 * self.mg["po4"])
        self.mg["alk"] += (no3 - tan) / 14.007 - k / 39.1

    def _bacteria(self) -> None:
        warm = 2.0 ** ((self.temperature - 24.0) / 10.0)
        buffered = self.conc("alk") / (self.conc("alk") + 0.25)
        tan = self.mg["tan"] * (1.0 - np.exp(-self.oxidise_tan * warm * buffered))
        no2 = (self.mg["no2"] + tan) * (1.0 - np.exp(-self.oxidise_no2 * warm * buffered))
        grow1 = 0.22 * self.conc("tan") / (self.conc("tan") + 0.10) * warm * buffered - 0.03
        grow2 = 0.24 * self.conc("no2") / (self.conc("no2") + 0.03) * warm * buffered - 0.006
        self.oxidise_tan = _between(self.oxidise_tan * np.exp(grow1), 0.02, self.most_oxidise)
        self.oxidise_no2 = _between(self.oxidise_no2 * np.exp(grow2), 0.01, self.most_oxidise * 2)
        gone = self.mg["no3"] * (1.0 - np.exp(-self.denitrify * self.surface * 1e3 / self.litres))
        self.mg["tan"] -= tan
        self.mg["no2"] += tan - no2
        self.mg["no3"] += no2 - gone
        self.mg["alk"] += (gone - 2.0 * tan) / 14.007
        self._oxidised = 3.43 * tan + 1.14 * no2

    def _soil_and_scale(self) -> None:
        n, k = self.soil_n * self.soil_n_rate, self.soil_k * self.soil_k_rate
        self.soil_n -= n
        self.soil_k -= k
        self.mg["tan"] += n
        self.mg["k"] += k
        self.mg["ca"] -= k / 39.1 * 20.04
        self.mg["alk"] += n / 14.007
        self.mg["po4"] += 0.03 * (self.p_rest * self.litres - self.mg["po4"])
        self.mg["cu"] *= 0.95
        over = self.conc("ca") / 20.04 * self.conc("alk") / 24.0 - 1.0
        scale = min(0.03 * max(over, 0.0), 0.02 * self.conc("alk")) * self.litres
        shell = sum(0.008 * n * ANIMALS[s].mass for s, n in self.animals.items()
                    if ANIMALS[s].group == "snail") if self.kh > 0.4 else 0.0  # fmt: skip
        self.mg["alk"] -= scale + shell
        self.mg["ca"] -= (scale + shell) * 20.04

    def _oxygen(self) -> None:
        """Oxygen at dawn: what the surface lets in against all that breathes overnight."""
        t = self.temperature
        full = 14.6 - 0.394 * t + 0.00771 * t**2 - 0.0000646 * t**3
        warm = 2.0 ** ((t - 24.0) / 10.0)
        breath = sum(
            24.0 * n * ANIMALS[s].mass * ANIMALS[s].breath for s, n in self.animals.items()
        )
        mat = 0.35 * sum(self.plants.values())
        used = (breath + 420.0 * self.surface + mat) * warm + 8.0 * self._rotted + self._oxidised
        through = EXCHANGE[self.flow] * (1.0 - 0.50 * self.cover**2) * (1.0 - 0.2 * self.film)
        rate = through * self.surface * 1e3 / self.litres
        rest = full - used / self.litres / rate
        dusk = rest + 2.2 * (1.0 - self.cover) * self._light() / 0.25
        dawn = rest + (dusk - rest) * np.exp(-rate * 13.0 / 24.0)
        self.oxygen_dawn = float(max(dawn, 0.3))


def _between(value: float, low: float, high: float) -> float:
    return float(min(max(value, low), high))
