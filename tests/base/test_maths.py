"""Small helpers and citations."""

from __future__ import annotations

from typing import Any

import numpy as np
import pint
import pytest

from pleuston.base.cited import cited
from pleuston.base.errors import BalanceError, InputError, PleustonError, UnitError
from pleuston.base.maths import (
    UNIT_CHECK,
    attach,
    inhibiting,
    largest,
    ratio,
    saturating,
    smallest,
    strip,
    unit_of,
)

REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()


def test_saturation_and_inhibition_add_up() -> None:
    x = np.array([0.0, 1.0, 5.0])
    assert saturating(2.0, 2.0) == 0.5
    assert saturating(x, 2.0) + inhibiting(x, 2.0) == pytest.approx(1.0)


def test_a_ratio_to_nothing_is_nothing() -> None:
    assert ratio(3.0, 0.0) == 0.0
    assert list(ratio(np.array([1.0, 2.0]), np.array([0.0, 4.0]))) == [0.0, 0.5]


def test_least_and_greatest() -> None:
    assert smallest(3.0, 1.0, 2.0) == 1.0
    assert largest(3.0, 1.0, 2.0) == 3.0
    assert smallest(3.0) == 3.0


def test_numbers_have_no_unit_to_strip() -> None:
    x = np.array([1.0])
    assert strip(x, "mg/L") is x
    assert strip(4.0, "K") == 4.0
    assert attach(4.0, "K") == 4.0
    assert unit_of(4.0) == "1"


def test_units_are_stripped_and_attached_while_they_are_checked() -> None:
    token = UNIT_CHECK.set(lambda value, unit: REGISTRY.Quantity(value, unit))
    try:
        assert strip(REGISTRY.Quantity(2.0, "g/L"), "mg/L") == pytest.approx(2000.0)
        assert attach(2.0, "mg/L").units == REGISTRY.Unit("mg/L")
        share = ratio(REGISTRY.Quantity(1.0, "mg"), REGISTRY.Quantity(4.0, "L"))
        assert share.to("mg/L").magnitude == pytest.approx(0.25)
    finally:
        UNIT_CHECK.reset(token)


def test_a_citation_leaves_the_function_as_it_is() -> None:
    def double(x: float) -> float:
        return 2.0 * x

    marked = cited("smith1999", "eq. 1")(double)
    assert marked is double
    assert marked(3.0) == 6.0
    assert (marked.source, marked.where) == ("smith1999", "eq. 1")  # type: ignore[attr-defined]


def test_errors_say_what_where_and_what_to_do() -> None:
    fault = UnitError("the unit is odd", where="row 3", remedy="Write mg/L.")
    assert str(fault) == "row 3: the unit is odd. Write mg/L."
    assert fault.exit_code == 2
    assert isinstance(fault, InputError)
    assert BalanceError("a", "b", "c").exit_code == 3
    assert issubclass(BalanceError, PleustonError)
