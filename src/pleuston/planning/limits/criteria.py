"""Published criteria that depend on the water they are judged in."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from pleuston.chemistry.ammonia import ammonia_ccc_epa2013, ammonia_cmc_epa2013
from pleuston.chemistry.hardness import CACO3_PER_MEQ
from pleuston.chemistry.metals import (
    copper_ccc_epa1996,
    copper_cmc_epa1996,
    copper_relief_carbon,
    copper_relief_ph,
)

KELVIN = 273.15
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
    def kelvin(self) -> float:
        return 303.15 if self.temperature is None else self.temperature

    @property
    def celsius(self) -> float:
        return self.kelvin - KELVIN

    @property
    def ph_taken(self) -> float:
        return 8.5 if self.ph is None else self.ph

    @property
    def ph_of_copper(self) -> float:
        """Copper harms more in acid water."""
        return 6.5 if self.ph is None else self.ph

    @property
    def gh_taken(self) -> float:
        """Hardness inside the range of the metal criteria [meq/L]."""
        low, high = (h / CACO3_PER_MEQ for h in HARDNESS_RANGE)
        return float(np.clip(0.0 if self.gh is None else self.gh, low, high))


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
    """What carbon and pH leave of copper's harm; the criteria themselves count hardness."""
    carbon = copper_relief_carbon(water.dissolved_carbon or 0.0)
    return float(carbon * copper_relief_ph(water.ph_of_copper))


def _copper_act(water: WaterState) -> float:
    return 0.020 if water.gh is not None and water.gh >= HARD_WATER else 0.010


def _copper_watch(water: WaterState) -> float:
    long_term = float(copper_ccc_epa1996(water.gh_taken)) * _relief(water)
    return min(long_term, EARLY * _copper_act(water))


RULES: dict[str, Callable[[WaterState], float]] = {
    "ammonia_acute": lambda w: float(ammonia_cmc_epa2013(w.ph_taken, w.kelvin)),
    "ammonia_chronic": lambda w: float(ammonia_ccc_epa2013(w.ph_taken, w.kelvin)),
    "nitrite_mean": lambda w: _nitrite("mean", w),
    "nitrite_most": lambda w: _nitrite("most", w),
    "copper_acute": lambda w: float(copper_cmc_epa1996(w.gh_taken)) * _relief(w),
    "copper_chronic": lambda w: float(copper_ccc_epa1996(w.gh_taken)) * _relief(w),
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
    acid = _given(water.ph, ".1f", "")
    return f"hardness {hard}, pH {acid}, dissolved organic carbon {carbon}"
