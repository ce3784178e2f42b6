"""Units of every quantity, row and move: called with pint, the result converts and agrees."""

from __future__ import annotations

from typing import Any

import pint
import pytest

from pleuston.base.maths import UNIT_CHECK
from pleuston.model.assemble import Quantity
from pleuston.model.declare import Closed

from . import laws
from .evaluate import tank, term_of, world

REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()
REGISTRY.define("meq = 1e-3 * mol")  # of charge
WORLDS = (world(101), world(102))


def unit_of(name: str) -> str:
    """The unit of a name: that of the model for implicit quantities, else the glossary's."""
    model = tank()
    if name in model.implicits:
        return "mol/L"
    unit = term_of(name).unit
    if name in model.states:
        assert REGISTRY.Unit(model.states[name].unit) == REGISTRY.Unit(unit), name
    return unit


def put_unit(value: Any, unit: Any) -> Any:
    """What `attach` does while units are checked: only bare numbers may be given a unit."""
    bare = value.m_as("1") if hasattr(value, "m_as") else value
    return REGISTRY.Quantity(bare, unit)


def result_of(user: Quantity | Closed, place: int) -> Any:
    """The function called with a unit on every argument."""
    names = user.arguments
    values = {a: REGISTRY.Quantity(WORLDS[place][n], unit_of(n)) for a, n in names.items()}
    token = UNIT_CHECK.set(put_unit)
    try:
        return user.function(**values)
    finally:
        UNIT_CHECK.reset(token)


def assert_unit(user: Quantity | Closed, unit: str, place: int, plain: float) -> None:
    """The result converts to the unit, and is the number that comes without units."""
    result = REGISTRY.Quantity(result_of(user, place))
    found = float(result.to(unit).magnitude)
    assert found == pytest.approx(plain, rel=1e-9, abs=1e-300), f"{user.name} in {unit}"


@pytest.mark.parametrize("name", list(tank().quantities))
def test_unit_of_quantity(name: str) -> None:
    quantity = tank().quantities[name]
    for place, at in enumerate(WORLDS):
        assert_unit(quantity, unit_of(name), place, at[name])


@pytest.mark.parametrize("name", [c.name for c in laws.changes()])
def test_unit_of_change(name: str) -> None:
    change = laws.named(name)
    for place, at in enumerate(WORLDS):
        assert_unit(change, change.unit, place, at.size(change))


@pytest.mark.parametrize("name", [r.name for r in tank().rows])
def test_a_rate_is_an_amount_of_its_states_over_time(name: str) -> None:
    change = laws.named(name)
    rate = REGISTRY.Unit(change.unit) * REGISTRY.Unit("d")
    assert any(REGISTRY.Unit(tank().states[s].unit) == rate for s in change.coefficients)


def test_a_wrong_unit_is_refused() -> None:
    quantity = tank().quantities["oxygen_concentration"]
    with pytest.raises(pint.DimensionalityError):
        assert_unit(quantity, "mg", 0, 1.0)
