"""Published criteria that depend on the water they are judged in."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from pleuston.base.cited import cited

KELVIN = 273.15
CACO3_PER_MEQ = 50.04
"""Milligrams of calcium carbonate that one milliequivalent of hardness is counted as."""
HARDNESS_RANGE = (25.0, 400.0)
"""Hardness the metal criteria were made for [mg/L CaCO3]."""
EARLY = 0.8
"""Invertebrates' copper is watched from this share of the limit to act at the latest."""
HARD_WATER = 8.0 * 0.35665
"""Hardness from which invertebrates' limit of copper is doubled [meq/L]."""


@dataclass(frozen=True, slots=True)
class WaterState:
    """What limits depend on; None is unknown, and then the strictest usual value stands in."""

    temperature: float | None = None
    """[K]"""
    ph: float | None = None
    chloride: float | None = None
    """[mg/L]"""
    gh: float | None = None
    """General hardness [meq/L]."""
    dissolved_carbon: float | None = None
    """Dissolved organic carbon [mg/L]."""

    @property
    def celsius(self) -> float:
        return (303.15 if self.temperature is None else self.temperature) - KELVIN

    @property
    def ph_taken(self) -> float:
        return 8.5 if self.ph is None else self.ph

    @property
    def hardness_caco3(self) -> float:
        """Hardness inside the range of the metal criteria [mg/L CaCO3]."""
        known = 0.0 if self.gh is None else self.gh * CACO3_PER_MEQ
        return float(np.clip(known, *HARDNESS_RANGE))


@cited("epa2013", "acute criterion, salmonids absent, 1-hour mean")
def ammonia_acute_epa2013(ph: float, celsius: float) -> float:
    """Total ammonia nitrogen that must not be exceeded for an hour [mg/L].

    >>> round(ammonia_acute_epa2013(7.0, 20.0))
    17
    """
    acid = 0.0114 / (1.0 + 10.0 ** (7.204 - ph)) + 1.6181 / (1.0 + 10.0 ** (ph - 7.204))
    return float(0.7249 * acid * min(51.93, 23.12 * 10.0 ** (0.036 * (20.0 - celsius))))


@cited("epa2013", "chronic criterion, 30-day rolling mean")
def ammonia_chronic_epa2013(ph: float, celsius: float) -> float:
    """Total ammonia nitrogen that must not be exceeded on the mean of 30 days [mg/L].

    >>> round(ammonia_chronic_epa2013(7.0, 20.0), 1)
    1.9
    """
    acid = 0.0278 / (1.0 + 10.0 ** (7.688 - ph)) + 1.1994 / (1.0 + 10.0 ** (ph - 7.688))
    return float(0.8876 * acid * 2.126 * 10.0 ** (0.028 * (20.0 - max(celsius, 7.0))))


@cited("epa1996", "dissolved copper, acute: 0.960 exp(0.9422 ln H - 1.700) ug/L")
def copper_acute_epa1996(hardness_caco3: float) -> float:
    """Dissolved copper that must not be exceeded for an hour [mg/L], hardness in mg/L CaCO3.

    >>> round(copper_acute_epa1996(100.0), 4)
    0.0134
    """
    return float(0.960e-3 * np.exp(0.9422 * np.log(hardness_caco3) - 1.700))


@cited("epa1996", "dissolved copper, chronic: 0.960 exp(0.8545 ln H - 1.702) ug/L")
def copper_chronic_epa1996(hardness_caco3: float) -> float:
    """Dissolved copper that must not be exceeded for four days [mg/L].

    >>> round(copper_chronic_epa1996(100.0), 4)
    0.009
    """
    return float(0.960e-3 * np.exp(0.8545 * np.log(hardness_caco3) - 1.702))


@cited("kramer2004", "abstract: EC50 = 17.2 DOC + 30.2 ug/L for Daphnia magna")
def copper_relief_kramer2004(dissolved_carbon: float) -> float:
    """Factor by which dissolved organic carbon [mg/L] raises the copper that harms.

    >>> round(copper_relief_kramer2004(2.0), 1)
    2.1
    """
    return 1.0 + 17.2 / 30.2 * dissolved_carbon


@cache
def _nitrite_steps() -> Mapping[str, list[float]]:
    source = resources.files("pleuston.planning.limits").joinpath("nitrogen.toml")
    steps: Mapping[str, list[float]] = tomllib.loads(source.read_text("utf-8"))["nitrite_steps"]
    return steps


def _nitrite(column: str, water: WaterState) -> float:
    steps = _nitrite_steps()
    chloride = 0.0 if water.chloride is None else water.chloride
    return steps[column][int(np.searchsorted(steps["chloride"], chloride, side="right"))]


def _relief(water: WaterState) -> float:
    return copper_relief_kramer2004(water.dissolved_carbon or 0.0)


def _copper_act(water: WaterState) -> float:
    return 0.020 if water.gh is not None and water.gh >= HARD_WATER else 0.010


def _copper_watch(water: WaterState) -> float:
    long_term = copper_chronic_epa1996(water.hardness_caco3) * _relief(water)
    return min(long_term, EARLY * _copper_act(water))


RULES: dict[str, Callable[[WaterState], float]] = {
    "ammonia_acute": lambda w: ammonia_acute_epa2013(w.ph_taken, w.celsius),
    "ammonia_chronic": lambda w: ammonia_chronic_epa2013(w.ph_taken, w.celsius),
    "nitrite_mean": lambda w: _nitrite("mean", w),
    "nitrite_most": lambda w: _nitrite("most", w),
    "copper_acute": lambda w: copper_acute_epa1996(w.hardness_caco3) * _relief(w),
    "copper_chronic": lambda w: copper_chronic_epa1996(w.hardness_caco3) * _relief(w),
    "copper_invertebrates_watch": _copper_watch,
    "copper_invertebrates_act": _copper_act,
}
"""Upper limits by name of rule, as functions of the water."""


def _given(value: float | None, form: str, unit: str) -> str:
    return "unknown" if value is None else f"{value:{form}}{unit}"


def said(rule: str, water: WaterState) -> str:
    """Say in words which water a rule's value was worked out for."""
    if rule.startswith("ammonia"):
        heat = None if water.temperature is None else water.celsius
        return f"pH {_given(water.ph, '.1f', '')}, temperature {_given(heat, '.1f', ' degC')}"
    if rule.startswith("nitrite"):
        return f"chloride {_given(water.chloride, '.0f', ' mg/L')}"
    hard = _given(water.gh, ".2f", " meq/L")
    carbon = _given(water.dissolved_carbon, ".1f", " mg/L")
    return f"hardness {hard}, dissolved organic carbon {carbon}"
