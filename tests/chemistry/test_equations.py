"""Every equation works alike on numbers, arrays, quantities with units and traced symbols."""

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

import pleuston.chemistry
from pleuston.base import glossary
from pleuston.base.maths import UNIT_CHECK
from pleuston.model.trace import Graph, Node, reach

# a usual value of each argument, with its unit
USUAL: dict[str, tuple[float, str]] = {
    "temperature": (297.0, "K"), "room_temperature": (294.0, "K"), "air_temperature": (294.0, "K"),
    "room_humidity": (0.5, "1"), "air_pressure": (0.99, "atm"), "vapour_pressure": (0.012, "atm"),
    "air_co2": (7e-4, "1"), "ph": (7.6, "1"), "ionic_strength": (0.004, "mol/L"),
    "alkalinity_concentration": (1.8, "meq/L"), "carbonic_first": (4.4e-7, "mol/L"),
    "carbonic_second": (4.7e-11, "mol/L"), "water_product": (1e-14, "mol^2/L^2"),
    "phosphoric_second": (6e-8, "mol/L"), "ammonia_fraction": (0.02, "1"),
    "gh": (2.5, "meq/L"), "ec25": (400.0, "uS/cm"), "conductivity_here": (380.0, "uS/cm"),
    "pen_factor": (0.5, "1"), "altitude": (300.0, "m"), "salinity": (0.3, "g/kg"),
    "transfer_600": (0.4, "m/d"), "schmidt": (510.0, "1"), "transfer_velocity": (0.3, "m/d"),
    "diffusivity": (1.6e-4, "m^2/d"), "viscosity": (0.91, "mPa*s"),
    "viscosity_kinematic": (9.1e-7, "m^2/s"), "dissipation": (1e-8, "m^2/s^3"),
    "illuminance": (5000.0, "lux"), "light_per_lux": (0.0144, "umol/m^2/s/lux"),
    "light": (80.0, "umol/m^2/s"), "photoperiod": (0.4, "d"), "attenuation": (0.6, "1/m"),
    "depth": (0.3, "m"), "concentration": (100.0, "mg/L"),
    "top_up_concentration": (60.0, "mg/L"), "evaporation": (0.003, "m/d"),
    "duration": (20.0, "d"), "carbon_inorganic_concentration": (22.0, "mg/L"),
}  # fmt: skip
CONCENTRATION = (3.0, "mg/L")
AT_THE_EDGE = {"pen_factor_kcl", "pen_factor_nacl", "pen_factor_442"}
"""Tables that are only read with numbers."""

REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()
REGISTRY.define("meq = 1e-3 * mol")


def _equations() -> Iterator[Callable[..., Any]]:
    for path in sorted(Path(pleuston.chemistry.__path__[0]).glob("*.py")):
        if path.stem in ("__init__", "speciation"):
            continue
        module = importlib.import_module(f"pleuston.chemistry.{path.stem}")
        for name, value in vars(module).items():
            own = inspect.isfunction(value) and value.__module__ == module.__name__
            if own and not name.startswith("_") and name not in AT_THE_EDGE:
                yield value


EQUATIONS = list(_equations())
WITH_EACH = pytest.mark.parametrize("equation", EQUATIONS, ids=lambda f: f.__name__)


def _usual(equation: Callable[..., Any]) -> dict[str, tuple[float, str]]:
    names = inspect.signature(equation).parameters
    return {
        name: USUAL.get(name, CONCENTRATION if name.endswith("_concentration") else (0.0, "?"))
        for name in names
    }


def _numbers(equation: Callable[..., Any]) -> dict[str, float]:
    return {name: value for name, (value, _) in _usual(equation).items()}


def test_there_are_many() -> None:
    assert len(EQUATIONS) > 65


@WITH_EACH
def test_every_argument_is_known(equation: Callable[..., Any]) -> None:
    assert "?" not in [unit for _, unit in _usual(equation).values()]


@WITH_EACH
def test_arrays_give_what_numbers_give(equation: Callable[..., Any]) -> None:
    numbers = _numbers(equation)
    alone = float(equation(**numbers))
    assert math.isfinite(alone)
    factors = np.array([1.0, 1.01, 1.02])
    together = equation(**{name: value * factors for name, value in numbers.items()})
    assert np.shape(together) == (3,)
    each = [float(equation(**{n: v * f for n, v in numbers.items()})) for f in factors]
    assert together == pytest.approx(each, rel=1e-12)
    assert together[0] == pytest.approx(alone, rel=1e-14)


@WITH_EACH
def test_the_unit_is_that_of_the_glossary(equation: Callable[..., Any]) -> None:
    given = {n: REGISTRY.Quantity(v, u) for n, (v, u) in _usual(equation).items()}
    token = UNIT_CHECK.set(lambda value, unit: REGISTRY.Quantity(value, unit))
    try:
        result = equation(**given)
    finally:
        UNIT_CHECK.reset(token)
    unit = glossary.load()[equation.__name__].unit
    here = REGISTRY.Quantity(result, "1") if not hasattr(result, "m_as") else result
    bare = float(equation(**_numbers(equation)))
    assert here.m_as(unit) == pytest.approx(bare, rel=1e-9)


@WITH_EACH
def test_units_of_the_arguments_are_converted(equation: Callable[..., Any]) -> None:
    """Given in other units, such as g/m^3 for mg/L, the answer stays the same."""
    given = {n: REGISTRY.Quantity(v, u).to_base_units() for n, (v, u) in _usual(equation).items()}
    token = UNIT_CHECK.set(lambda value, unit: REGISTRY.Quantity(value, unit))
    try:
        result = equation(**given)
    finally:
        UNIT_CHECK.reset(token)
    here = REGISTRY.Quantity(result, "1") if not hasattr(result, "m_as") else result
    bare = float(equation(**_numbers(equation)))
    assert here.m_as(glossary.load()[equation.__name__].unit) == pytest.approx(bare, rel=1e-9)


OPERATIONS: dict[str, Callable[..., Any]] = {
    "add": np.add, "subtract": np.subtract, "multiply": np.multiply, "exp": np.exp,
    "log": np.log, "sqrt": np.sqrt, "negative": np.negative, "absolute": np.absolute,
    "reciprocal": lambda x: 1.0 / x, "maximum": np.maximum, "minimum": np.minimum,
    "greater": np.greater, "less": np.less, "greater_equal": np.greater_equal,
    "less_equal": np.less_equal, "where": np.where,
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
def test_traced_symbols_give_what_numbers_give(equation: Callable[..., Any]) -> None:
    numbers = _numbers(equation)
    graph = Graph()
    node = graph.lift(equation(**{name: graph.input("state", name) for name in numbers}))
    assert _value(node, numbers) == pytest.approx(float(equation(**numbers)), rel=1e-12)


@WITH_EACH
def test_derivatives_are_those_of_small_steps(equation: Callable[..., Any]) -> None:
    numbers = _numbers(equation)
    graph = Graph()
    inputs = {name: graph.input("state", name) for name in numbers}
    node = graph.lift(equation(**inputs))
    for name, value in numbers.items():
        step = 1e-5 * value
        above = float(equation(**{**numbers, name: value + step}))
        below = float(equation(**{**numbers, name: value - step}))
        slope = _value(graph.lift(graph.derivative(node, inputs[name])), numbers)
        scale = abs(float(equation(**numbers))) / value
        assert slope == pytest.approx((above - below) / (2.0 * step), rel=1e-4, abs=1e-6 * scale)
