"""Waters that are mixed: what they hold, their pH, and the poison that ammonia turns to.

Ions, alkalinity, inorganic carbon and warmth mix in proportion; the pH follows from them. Right
after mixing the carbon is that of both waters; later the mix breathes to the CO2 that the tank
held before. What is judged is the worse of the two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from pleuston.base.errors import InputError
from pleuston.chemistry.ammonia import ammonia_fraction
from pleuston.chemistry.carbonate import co2_at_equilibrium
from pleuston.chemistry.conductivity import ionic_strength
from pleuston.chemistry.speciation import Species, ph_of_open_water, ph_of_water
from pleuston.chemistry.speciation import Water as Solution
from pleuston.engine.forcing import AIR_CO2
from pleuston.engine.waters import whole_water
from pleuston.planning.sources import DH, Source, conductivity_of
from pleuston.records.record import Water

HALVINGS = 34
KELVIN = 273.15
LEAST_ALKALINITY = 0.02
"""Below this [meq/L] a water's pH says nothing of its carbon."""


@dataclass(frozen=True)
class Mix:
    """A water as it is mixed: what a litre holds [mg of the element, meq], and its warmth [K]."""

    held: Mapping[str, float]
    temperature: float

    @cached_property
    def strength(self) -> float:
        """Ionic strength [mol/L]."""
        h = self.held
        return float(ionic_strength(
            h["calcium"], h["magnesium"], h["sodium"], h["potassium"], h["ammonium"],
            h["chloride"], h["sulfate"], h["nitrate"], 0.0, h["alkalinity"],
        ))  # fmt: skip

    @cached_property
    def species(self) -> Species:
        """pH and carbon as they stand, closed to the air."""
        return ph_of_water(self.solution, self.held["carbon_inorganic"])

    @property
    def solution(self) -> Solution:
        """The water as the pH solver takes it."""
        h = self.held
        return Solution(
            self.temperature, h["alkalinity"], self.strength, h["calcium"], h["magnesium"],
            h["sulfate"], h["ammonium"], h["phosphate"],
        )  # fmt: skip

    @property
    def ph(self) -> float:
        """pH as it stands."""
        return self.species.ph

    def ph_at(self, co2: float) -> float:
        """pH once the water has breathed to a CO2 [mg/L of C]."""
        return ph_of_open_water(self.solution, co2).ph

    def nh3(self, ph: float) -> float:
        """Poisonous ammonia at a pH [mg/L of N]."""
        share = ammonia_fraction(ph, self.temperature, self.strength)
        return float(self.held["ammonium"] * share)

    @property
    def ec25(self) -> float:
        """Conductivity [uS/cm]."""
        return conductivity_of(self.held)

    @property
    def kh_dh(self) -> float:
        """Carbonate hardness [dH]."""
        return self.held["alkalinity"] * DH

    @property
    def gh_dh(self) -> float:
        """General hardness [dH]."""
        return (self.held["calcium"] / 20.039 + self.held["magnesium"] / 12.1525) * DH


def at_ph(mix: Mix, ph: float | None) -> Mix:
    """The same water with the carbon that gives it a pH; without one it stands open to room air.

    Raises InputError where no carbon gives the pH at this alkalinity.
    """
    alkalinity = mix.held["alkalinity"]
    if ph is None or alkalinity < LEAST_ALKALINITY:
        co2 = float(co2_at_equilibrium(mix.temperature, 1.0, AIR_CO2))
        carbon = ph_of_open_water(mix.solution, co2).carbon_inorganic
        return replace(mix, held={**mix.held, "carbon_inorganic": carbon})
    low, high = 0.0, 12.011 * (alkalinity + 0.1) * 200.0
    if not (_ph(mix, high) <= ph <= _ph(mix, 6.0 * alkalinity)):
        raise InputError(
            f"pH {ph:g} and a carbonate hardness of {alkalinity * DH:.2g} dH can't stand together",
            where="water", remedy="measure both again",
        )  # fmt: skip
    low = 6.0 * alkalinity
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if _ph(mix, middle) > ph:
            low = middle
        else:
            high = middle
    return replace(mix, held={**mix.held, "carbon_inorganic": 0.5 * (low + high)})


def _ph(mix: Mix, carbon: float) -> float:
    return ph_of_water(mix.solution, carbon).ph


def measured(
    *, ec25: float, kh: float, gh: float, ph: float | None, celsius: float, ammonium: float = 0.0,
) -> Mix:  # fmt: skip
    """A water known by its readings: conductivity, hardness [dH], pH, warmth, ammonia [mg/L of N].

    What the readings leave open is filled as for an analysis: salt up to the conductivity.

    >>> round(measured(ec25=400, kh=6, gh=8, ph=7.6, celsius=24).ph, 2)
    7.6
    """
    filled = whole_water(Water("", "tap", kh_dh=kh, gh_dh=gh, ec25_us_cm=ec25, ph=ph))
    held = {**filled.per_litre, "ammonium": ammonium}
    return at_ph(Mix(held, celsius + KELVIN), ph)


def of_source(source: Source, celsius: float, ph: float | None = None) -> Mix:
    """A source water as it is poured; without a pH as it stands in room air."""
    held = {"ammonium": 0.0, **source.per_litre}
    return at_ph(Mix(held, celsius + KELVIN), ph)


def mixed(tank: Mix, water: Mix, share: float) -> Mix:
    """A tank with a share of its water replaced.

    >>> a = measured(ec25=400, kh=6, gh=8, ph=7.6, celsius=24, ammonium=1.0)
    >>> b = measured(ec25=400, kh=6, gh=8, ph=7.6, celsius=20)
    >>> m = mixed(a, b, 0.25)
    >>> round(m.held["ammonium"], 3), round(m.temperature - 273.15, 3), round(m.ph, 2)
    (0.75, 23.0, 7.6)
    """
    names = {*tank.held, *water.held}
    held = {
        n: (1.0 - share) * tank.held.get(n, 0.0) + share * water.held.get(n, 0.0) for n in names
    }
    warmth = (1.0 - share) * tank.temperature + share * water.temperature
    return Mix(held, warmth)


@dataclass(frozen=True)
class Mixed:
    """A tank after part of its water was replaced, as it is at once and once it has breathed."""

    mix: Mix
    ph_at_once: float
    ph_later: float

    @property
    def nh3(self) -> float:
        """The larger of the poisonous ammonia at once and later [mg/L of N]."""
        return max(self.mix.nh3(self.ph_at_once), self.mix.nh3(self.ph_later))

    def ph_step(self, before: float) -> float:
        """The larger change of pH from what it was, without its sign."""
        return max(abs(self.ph_at_once - before), abs(self.ph_later - before))


def after_change(tank: Mix, water: Mix, share: float) -> Mixed:
    """The tank with a share of its water replaced; later it has the CO2 that it had before."""
    mix = mixed(tank, water, share)
    return Mixed(mix, mix.ph, mix.ph_at(tank.species.co2))
