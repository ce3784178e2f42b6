"""Every quantity, row and move comes out in its stated unit when its arguments carry theirs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pint
import pytest

from pleuston.base import glossary
from pleuston.base.maths import UNIT_CHECK
from pleuston.model import physical

from .plain import World, middling, tank

REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()
REGISTRY.define("meq = 1e-3 * mol")
FAMILY_OF = {
    "floater1": "floater", "floater2": "floater", "floater3": "floater", "copper": "metal",
    "zinc": "metal", "fish": "animal", "shrimp": "animal", "snails": "animal",
}  # fmt: skip
HERE = {f.__name__ for f in physical.QUANTITIES} | {"charge_residual"}
CHANGES = [*tank().rows, *tank().moves]
QUANTITIES = [q for q in tank().quantities.values() if q.function.__name__ in HERE]


def unit_of(name: str) -> str:
    """Unit of a name, or of the family that it belongs to."""
    known = glossary.load()
    family = "_".join(FAMILY_OF.get(word, word) for word in name.split("_"))
    return known[name if name in known else family].unit


def in_units(function: Callable[..., Any], arguments: Mapping[str, str]) -> tuple[Any, float]:
    """The result with units, and the one of bare numbers."""
    values = {a: WORLD[target] for a, target in arguments.items()}
    given = {a: REGISTRY.Quantity(v, unit_of(arguments[a])) for a, v in values.items()}
    token = UNIT_CHECK.set(lambda value, unit: REGISTRY.Quantity(value, unit))
    try:
        result = function(**given)
    finally:
        UNIT_CHECK.reset(token)
    here = result if hasattr(result, "m_as") else REGISTRY.Quantity(result, "1")
    return here, float(function(**values))


WORLD = World(
    middling(floater1_nitrogen=90.0, fish_gut_carbon=5.0),
    arguments={"litres": 3.0, "calcium_in": 20.0, "temperature_in": 290.0, "share": 0.2},
)


@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.name)
def test_a_change_has_the_unit_it_states(change: Any) -> None:
    result, bare = in_units(change.function, change.arguments)
    assert result.m_as(change.unit) == pytest.approx(bare, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda q: q.name)
def test_a_quantity_has_the_unit_of_the_glossary(quantity: Any) -> None:
    result, bare = in_units(quantity.function, quantity.arguments)
    assert result.m_as(unit_of(quantity.name)) == pytest.approx(bare, rel=1e-9, abs=1e-12)
