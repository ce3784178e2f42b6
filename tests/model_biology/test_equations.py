"""Every response of plants, microbes and animals works on numbers, arrays, units and symbols."""

from __future__ import annotations

import importlib
import inspect
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest

import pleuston.biology
from pleuston.base import glossary
from pleuston.base.maths import UNIT_CHECK
from pleuston.model.trace import Graph, Node, reach

USUAL: dict[str, dict[str, tuple[float, str]]] = {
    "optimum_response": {
        "temperature": (295.0, "K"), "coldest": (281.15, "K"), "best": (299.85, "K"),
        "warmest": (313.65, "K"),
    },
    "q10_response": {"temperature": (295.0, "K"), "q10": (2.0, "1"), "reference": (298.15, "1")},
    "arrhenius_response": {"temperature": (295.0, "K"), "energy": (68.0, "kJ/mol")},
    "droop_response": {"quota": (30.0, "mg/g"), "least": (15.0, "mg/g"), "most": (65.0, "mg/g")},
    "hunger": {"quota": (30.0, "mg/g"), "least": (15.0, "mg/g"), "most": (65.0, "mg/g")},
    "ammonium_preference": {
        "ammonium": (0.4, "mg/L"), "nitrate": (3.0, "mg/L"), "half": (0.2, "mg/L"),
    },
    "cover_of_density": {"density": (9.0, "g/m^2"), "area_of_mass": (0.1, "m^2/g")},
    "mat_light_response": {
        "light": (110.0, "umol/m^2/s"), "half": (34.0, "umol/m^2/s"), "thickness": (0.8, "1"),
    },
    "ageing_rate": {"growth": (0.08, "1/d"), "life": (22.0, "d")},
    "ammonia_response": {"ammonia": (3.0, "mg/L"), "deadly": (8.0, "mg/L")},
    "ph_response": {
        "ph": (8.6, "1"), "least": (4.0, "1"), "low": (5.5, "1"), "high": (8.0, "1"),
        "most": (10.0, "1"),
    },
    "salinity_response": {"conductivity": (2600.0, "uS/cm"), "most": (5000.0, "uS/cm")},
    "copper_response": {"copper": (0.3, "mg/L"), "half": (0.45, "mg/L")},
    "flow_response": {"flow_level": (1.4, "1"), "gain": (0.1, "1"), "loss": (0.3, "1")},
    "nitrifier_ph_response": {"ph": (6.4, "1")},
    "mass_response": {"individual_mass": (0.3, "g")},
    "respiration_of_body": {
        "body": (300.0, "mg"), "respiration": (13.4, "mg/g/d"), "mass_effect": (1.1, "1"),
        "warmth": (0.9, "1"),
    },
}  # fmt: skip
"""Usual arguments away from kinks, with their units."""
BARE = {"reference"}
"""Given as a bare number of kelvins where units are checked too."""
REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()
REGISTRY.define("meq = 1e-3 * mol")


def _equations() -> Iterator[Callable[..., Any]]:
    for path in sorted(Path(pleuston.biology.__path__[0]).glob("*.py")):
        module = importlib.import_module(f"pleuston.biology.{path.stem}")
        for name, value in vars(module).items():
            if (
                inspect.isfunction(value)
                and value.__module__ == module.__name__
                and not name.startswith("_")
            ):
                yield value


EQUATIONS = {f.__name__: f for f in _equations()}
WITH_EACH = pytest.mark.parametrize("name", sorted(EQUATIONS))


def _numbers(name: str) -> dict[str, float]:
    return {argument: value for argument, (value, _) in USUAL[name].items()}


def test_all_are_here() -> None:
    assert set(EQUATIONS) == set(USUAL)
    for name, function in EQUATIONS.items():
        assert list(inspect.signature(function).parameters) == list(USUAL[name])


@WITH_EACH
def test_arrays_give_what_numbers_give(name: str) -> None:
    numbers, factors = _numbers(name), np.array([1.0, 1.002, 1.004])
    together = EQUATIONS[name](**{n: v * factors for n, v in numbers.items()})
    each = [float(EQUATIONS[name](**{n: v * f for n, v in numbers.items()})) for f in factors]
    assert all(math.isfinite(v) for v in each)
    assert together == pytest.approx(each, rel=1e-12)


@WITH_EACH
@pytest.mark.parametrize("base_units", [False, True])
def test_units_are_right_and_converted(name: str, base_units: bool) -> None:
    """Also with arguments in base units: kg/m^3 for mg/L, 1/s for 1/d."""
    given: dict[str, Any] = {}
    for argument, (value, unit) in USUAL[name].items():
        quantity = value if argument in BARE else REGISTRY.Quantity(value, unit)
        given[argument] = quantity.to_base_units() if base_units and argument not in BARE else (
            quantity
        )  # fmt: skip
    token = UNIT_CHECK.set(lambda value, unit: REGISTRY.Quantity(value, unit))
    try:
        result = EQUATIONS[name](**given)
    finally:
        UNIT_CHECK.reset(token)
    here = result if hasattr(result, "m_as") else REGISTRY.Quantity(result, "1")
    bare = float(EQUATIONS[name](**_numbers(name)))
    assert here.m_as(glossary.load()[name].unit) == pytest.approx(bare, rel=1e-9)


OPERATIONS: dict[str, Callable[..., Any]] = {
    "add": np.add, "subtract": np.subtract, "multiply": np.multiply, "exp": np.exp,
    "log": np.log, "negative": np.negative, "reciprocal": lambda x: 1.0 / x,
    "maximum": np.maximum, "minimum": np.minimum, "greater": np.greater, "less": np.less,
    "greater_equal": np.greater_equal, "less_equal": np.less_equal, "where": np.where,
}  # fmt: skip


def _value(node: Node, inputs: dict[str, float]) -> float:
    values: dict[int, Any] = {}
    for step in reach([node]):
        if step.op == "const":
            values[step.index] = step.value
        elif step.name:
            values[step.index] = inputs[step.name]
        else:
            values[step.index] = OPERATIONS[step.op](*(values[a.index] for a in step.args))
    return float(values[node.index])


@WITH_EACH
def test_symbols_and_their_slopes_give_what_numbers_give(name: str) -> None:
    numbers, graph = _numbers(name), Graph()
    inputs = {n: graph.input("state", n) for n in numbers}
    node = graph.lift(EQUATIONS[name](**inputs))
    value = float(EQUATIONS[name](**numbers))
    assert _value(node, numbers) == pytest.approx(value, rel=1e-12)
    for argument, at in numbers.items():
        step = 1e-5 * at
        above = float(EQUATIONS[name](**{**numbers, argument: at + step}))
        below = float(EQUATIONS[name](**{**numbers, argument: at - step}))
        slope = _value(graph.lift(graph.derivative(node, inputs[argument])), numbers)
        assert slope == pytest.approx((above - below) / (2 * step), rel=1e-4, abs=1e-6)


# -- shapes ------------------------------------------------------------------------


def test_corners_are_safe() -> None:
    call = EQUATIONS
    assert call["droop_response"](15.0, 15.0, 65.0) == 0.0
    assert call["droop_response"](3.0, 15.0, 65.0) == 0.0
    assert call["droop_response"](65.0, 15.0, 65.0) == pytest.approx(1.0)
    assert call["hunger"](0.0, 15.0, 65.0) == 1.0
    assert call["hunger"](80.0, 15.0, 65.0) == 0.0
    assert call["ammonium_preference"](0.0, 0.0, 0.2) == 0.0
    assert call["ammonium_preference"](0.0, 5.0, 0.2) == 0.0
    assert call["ammonium_preference"](5.0, 0.0, 0.2) == pytest.approx(1.0)
    assert call["mat_light_response"](110.0, 34.0, 0.0) == pytest.approx(110.0 / 144.0)
    assert call["mat_light_response"](0.0, 34.0, 0.7) == 0.0
    assert call["ageing_rate"](-0.05, 22.0) == pytest.approx(1.0 / 22.0, rel=2e-3)
    assert call["ageing_rate"](5.0, 22.0) == pytest.approx(0.0, abs=1e-15)
    assert call["ammonia_response"](9.0, 8.0) == 0.0
    assert call["salinity_response"](6000.0, 5000.0) == 0.0


def test_a_thin_mat_meets_the_thick_one_smoothly() -> None:
    thin = EQUATIONS["mat_light_response"](80.0, 34.0, 0.999e-6)
    thick = EQUATIONS["mat_light_response"](80.0, 34.0, 1.001e-6)
    assert thin == pytest.approx(thick, rel=1e-6)


def test_light_in_the_mat_is_the_mean_over_its_depth() -> None:
    depths = (np.arange(20000) + 0.5) / 20000.0
    inside = 80.0 * np.exp(-2.3 * depths)
    mean = float(np.mean(inside / (34.0 + inside)))
    assert EQUATIONS["mat_light_response"](80.0, 34.0, 2.3) == pytest.approx(mean, rel=1e-7)
