"""The kernel's own exp, log, reciprocal and the like, in every variant this machine runs."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pleuston.engine import compile as compiling
from pleuston.engine.kernel import LANES, STEPPER, Array, Kernel, best_variant, read_table
from pleuston.model.assemble import Model, assemble
from pleuston.model.build import generate
from pleuston.model.declare import State, row

from .built import changes, folder

LARGEST = np.finfo(float).max
SMALLEST = np.finfo(float).tiny


@row("1/d", source="made up", where="a test", value=+1, crosses="out", carries=("thing",))
def stand_still(value: Any) -> Any:
    """Nothing happens."""
    return 0.0 * value


def exp_of(value: Any) -> Any:
    """e to the value [1]."""
    return np.exp(value)


def log_of(value: Any) -> Any:
    """Natural logarithm [1]."""
    return np.log(value)


def over_of(value: Any) -> Any:
    """Reciprocal [1]."""
    return 1.0 / value


def root_of(value: Any) -> Any:
    """Square root [1]."""
    return np.sqrt(value)


def tanh_of(value: Any) -> Any:
    """Hyperbolic tangent [1]."""
    return np.tanh(value)


def cbrt_of(value: Any) -> Any:
    """Cube root [1]."""
    return np.cbrt(value)


def power_of(value: Any) -> Any:
    """To the power of -1.7 [1]."""
    return value**-1.7


def fifth_of(value: Any) -> Any:
    """To the fifth power [1]."""
    return value**5


def clip_of(value: Any) -> Any:
    """Between -1 and 2 [1]."""
    return np.clip(value, -1.0, 2.0)


def choice_of(value: Any) -> Any:
    """One of three [1]."""
    inside = (value > -1.0) & (value <= 2.0)
    return np.where(inside | (value > 10.0), np.abs(value), -value)


FUNCTIONS = (
    exp_of, log_of, over_of, root_of, tanh_of, cbrt_of, power_of, fifth_of, clip_of, choice_of,
)  # fmt: skip


def model() -> Model:
    """One value and functions of it."""
    return assemble(
        "functions", states=[State("value", "1", {"thing": Fraction(1)}, floor=None)],
        rows=changes([stand_still]),
        quantities=FUNCTIONS, parameters=(), observed=[f.__name__ for f in FUNCTIONS],
        conserved=("thing",),
    )  # fmt: skip


@cache
def kernel(variant: str) -> Kernel:
    if compiling.compiler() is None:
        pytest.skip("there is no C compiler on this machine")
    text, place = generate(model()), Path(folder().name)
    source = place / "functions.c"
    source.write_text(text["kernel.c"], encoding="utf-8")
    table = read_table(json.loads(text["table.json"]))
    return Kernel(table, compiling.build(source, STEPPER, place, variant))


def call(variant: str, name: str, values: Array) -> Array:
    made = kernel(variant)
    at = made.table.at("observed", name)
    none = np.zeros((LANES, 0)), np.zeros(0)
    pieces: list[Array] = [
        made.observe(v[:, None], none[0][: len(v)], none[1])[:, at]
        for v in np.array_split(values, -(-len(values) // LANES))
    ]
    return np.asarray(np.concatenate(pieces))


def ulps(found: Array, exact: Any) -> Array:
    """Distance from the exact value in units of the last place."""
    off = (found.astype(np.longdouble) - exact) / np.spacing(np.abs(exact.astype(float)))
    return np.asarray(np.abs(off))


RNG = np.random.default_rng(11)
WIDE = np.exp(RNG.uniform(-700.0, 700.0, 8000))
variants = pytest.mark.parametrize("variant", best_variant())


@variants
def test_exp(variant: str) -> None:
    values = np.concatenate([RNG.uniform(-708.0, 709.0, 8000), RNG.normal(0.0, 1.0, 4000), [0.0]])
    off = ulps(call(variant, "exp_of", values), np.exp(values.astype(np.longdouble)))
    assert off.max() < 2.0
    assert call(variant, "exp_of", np.zeros(1))[0] == 1.0


@variants
def test_exp_of_what_is_out_of_range(variant: str) -> None:
    high, low = call(variant, "exp_of", np.array([1e4, -1e4]))
    assert 1e307 < high < np.inf
    assert 0.0 < low < 1e-307


@variants
def test_log(variant: str) -> None:
    near_one = 1.0 + RNG.uniform(-0.3, 0.4, 4000)
    values = np.concatenate([WIDE, near_one, [1.0, SMALLEST, LARGEST]])
    off = ulps(call(variant, "log_of", values), np.log(values.astype(np.longdouble)))
    assert np.nanmax(off) < 3.0
    found = call(variant, "log_of", np.array([1.0, 0.0, -1.0]))
    assert found[0] == 0.0
    assert found[1] == -np.inf
    assert np.isnan(found[2])


@variants
def test_reciprocal(variant: str) -> None:
    values = np.concatenate([WIDE, -WIDE, [1.0, 3.0, 1e-300, 1e300]])
    off = ulps(call(variant, "over_of", values), 1.0 / values.astype(np.longdouble))
    assert off.max() < 2.0
    found = call(variant, "over_of", np.array([np.inf, -np.inf, 1.0, 2.0, 0.5]))
    np.testing.assert_array_equal(found, [0.0, -0.0, 1.0, 0.5, 2.0])
    assert call(variant, "over_of", np.zeros(1))[0] == np.inf


@variants
@pytest.mark.parametrize(
    ("name", "plain", "limit"),
    [("root_of", np.sqrt, 0.51), ("cbrt_of", np.cbrt, 300.0), ("fifth_of", None, 5.0)],
)
def test_powers(variant: str, name: str, plain: Any, limit: float) -> None:
    values = np.exp(RNG.uniform(-100.0, 100.0, 4000))
    wide = values.astype(np.longdouble)
    assert ulps(call(variant, name, values), plain(wide) if plain else wide**5).max() < limit


@variants
def test_powers_and_tanh_by_way_of_exp(variant: str) -> None:
    values = np.exp(RNG.uniform(-20.0, 20.0, 4000))
    exact = values.astype(np.longdouble) ** np.longdouble(-1.7)
    np.testing.assert_allclose(call(variant, "power_of", values), exact.astype(float), rtol=1e-13)
    around = RNG.normal(0.0, 5.0, 4000)
    np.testing.assert_allclose(call(variant, "tanh_of", around), np.tanh(around), atol=4e-16)


@variants
def test_choices(variant: str) -> None:
    values = np.array([-3.0, -1.0, -0.5, 0.0, 1.0, 2.0, 2.5, 10.0, 11.0, np.inf, -np.inf])
    np.testing.assert_array_equal(call(variant, "clip_of", values), clip_of(values))
    np.testing.assert_array_equal(call(variant, "choice_of", values), choice_of(values))


def test_variants_agree() -> None:
    values = RNG.uniform(-30.0, 30.0, 4000)
    found = [call(v, "exp_of", values) for v in best_variant()]
    for other in found[1:]:
        np.testing.assert_allclose(other, found[0], rtol=1e-15)
