"""The laws notice: a coefficient, a source or a limit taken from a row makes one of them fail."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pleuston.base.errors import ModelError
from pleuston.model.declare import Change, Closed, close, row
from pleuston.model.rows import nitrogen
from pleuston.model.tank import ELEMENTS

from . import laws
from .evaluate import tank, worlds


def change_of(function: Any) -> Change:
    change: Change = function.change
    return change


def closed(change: Change) -> Closed:
    return close(change, {}, tank().states, ELEMENTS)


def balances_everything(change: Closed) -> None:
    for thing in tank().elements:
        laws.balance(change, dict(tank().states), thing)


def test_unchanged_rows_pass() -> None:
    whole = closed(change_of(nitrogen.oxidise_ammonium))
    balances_everything(whole)
    laws.source(whole)
    laws.drains_no_empty_store(closed(change_of(nitrogen.denitrify_dissolved)), "nitrate", worlds())


@pytest.mark.parametrize("state", ["ammonium", "nitrite", "oxygen", "alkalinity"])
def test_without_a_coefficient_it_does_not_balance(state: str) -> None:
    """Taken from the finished row, the law of balance fails; from the declaration, `close`."""
    whole = closed(change_of(nitrogen.oxidise_ammonium))
    left = {s: c for s, c in whole.coefficients.items() if s != state}
    maimed = replace(whole, coefficients=left)
    with pytest.raises(AssertionError, match="oxidise_ammonium makes"):
        balances_everything(maimed)
    declared = change_of(nitrogen.oxidise_ammonium)
    left_open = {s: c for s, c in declared.coefficients.items() if s != state}
    with pytest.raises(ModelError):
        closed(replace(declared, coefficients=left_open))


def test_without_a_source_it_is_refused() -> None:
    with pytest.raises(AssertionError, match="no source"):
        laws.source(replace(closed(change_of(nitrogen.oxidise_ammonium)), source=""))
    with pytest.raises(ModelError, match="no source"):
        row("mg/d", where="a page", ammonium=-1)(lambda ammonium: ammonium)


def test_without_its_limit_it_drains_an_empty_store() -> None:
    """Denitrification without the term for its food burns carbon that is not there."""

    def unlimited(nitrate: Any, mat_denitrification: Any, decay_warmth: Any) -> Any:
        return nitrate * mat_denitrification * decay_warmth

    declared = replace(change_of(nitrogen.denitrify_dissolved), function=unlimited)
    with pytest.raises(AssertionError, match="of dom_carbon, which is empty"):
        laws.drains_no_empty_store(closed(declared), "dom_carbon", worlds())


def test_without_its_bacteria_it_still_runs() -> None:
    """Nitrification that forgets its bacteria is caught by the law of living things."""

    def unmanned(ammonium: Any) -> Any:
        return 0.1 * ammonium

    declared = replace(change_of(nitrogen.oxidise_ammonium), function=unmanned)
    with pytest.raises(AssertionError, match="goes on"):
        laws.nothing_alive_nothing_done(closed(declared), "ammonia_oxidisers", worlds())
