"""Ledgers close for everything that is counted, and own up to what is not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pleuston.base.errors import BalanceError, InputError
from pleuston.engine.kernel import tank_table
from pleuston.planning.flows import Changes, check_closed, pool_of, span_of, substance
from pleuston.planning.ledger import (
    central,
    ledger,
    ledger_of_span,
    nitrogen_removal,
    oxygen_budget,
)
from pleuston.planning.unexplained import OUTPUTS

from .rack import belief, entry

COUNTED = ["water", "N", "P", "K", "Ca", "Mg", "C", "Na", "Cl", "S", "Fe", "Cu", "Zn", "O2",
           "dissolved_solids"]  # fmt: skip
READ = (
    entry(6.0, "reading", "nitrate_ion", 5.0, high=10.0, unit="mg/L", method="chart"),
    entry(33.0, "reading", "nitrate_ion", 5.0, high=10.0, unit="mg/L", method="chart"),
)


@pytest.mark.parametrize("name", COUNTED)
def test_in_less_out_is_what_is_stored(name: str) -> None:
    made = ledger(belief(), name, 6.0, 34.0)
    total = sum(made["in"].values()) - sum(made["out"].values())
    scale = sum(made["in"].values()) + sum(made["out"].values())
    assert total == pytest.approx(sum(made["stored"].values()), abs=1e-9 * scale)
    assert made["closes_to"] < 1e-9
    assert all(v >= 0.0 for side in ("in", "out") for v in made[side].values())


@pytest.mark.parametrize("name", COUNTED)
def test_what_is_unexplained_is_never_nothing(name: str) -> None:
    low, high = ledger(belief(), name, 6.0, 34.0)["unexplained"]
    assert np.isfinite([low, high]).all()
    assert high - low > 0.0


def test_feed_brings_what_its_protein_says() -> None:
    made = ledger(belief(), "N", 6.0, 34.0)
    per_gram = belief().case.maker.feed_event(0.0, "flake", 1.0).arguments["feed_nitrogen"]
    factor = np.median(belief().values["feed_factor"])
    assert made["in"]["feed"] == pytest.approx(20 * 0.05 * per_gram * factor, rel=0.25)
    assert made["out"]["harvest"] > 0.0


def test_topping_up_replaces_what_evaporates() -> None:
    made = ledger(belief(), "water", 7.5, 28.5)
    assert made["unit"] == "L"
    assert set(made["out"]) == {"air"}
    assert made["in"]["top_up"] == pytest.approx(made["out"]["air"], abs=0.5)


def test_readings_narrow_or_move_what_is_unexplained() -> None:
    made = ledger(belief(extra=READ), "N", 6.0, 34.0)
    assert "nitrate read 2026-03-08 and 2026-04-04" in made["unexplained_from"]
    high_end = replace(READ[1], low=400.0, high=450.0)
    moved = ledger(belief(extra=(READ[0], high_end)), "N", 6.0, 34.0)["unexplained"]
    assert moved[0] > made["unexplained"][1] > 0.0


def test_oxygen_is_given_and_taken_by_theme() -> None:
    made = oxygen_budget(belief(), 20.0, 34.0)
    assert made["unit"] == "mg/d"
    assert {"air"} <= set(made["in"])
    assert {"animals", "bacteria", "soil"} <= set(made["out"])
    for low, middle, high in (*made["in"].values(), *made["out"].values()):
        assert 0.0 <= low <= middle <= high


def test_plants_and_bacteria_share_the_removal_of_nitrogen() -> None:
    made = nitrogen_removal(belief(), 6.0, 34.0)
    low, middle, high = made["share_of_plants"]
    assert 0.0 <= low <= middle <= high <= 1.0


def test_a_leak_is_refused_by_name() -> None:
    span = span_of(belief(), 20.0, 34.0, OUTPUTS)
    table = belief().case.table
    leaking = span.after.copy()
    leaking[3, table.at("state", "nitrate")] += 1.0
    with pytest.raises(BalanceError, match=r"tank Fern, member 3.*N is off by"):
        ledger_of_span(replace(span, after=leaking), substance(table, "N"))
    whole = substance(table, "N")
    assert check_closed(span, whole, span.effects(whole)) < 1e-9


@pytest.mark.parametrize("name", ["gold", "charge", ""])
def test_an_unknown_thing_is_refused_with_those_that_are_kept(name: str) -> None:
    with pytest.raises(InputError, match="dissolved_solids"):
        ledger(belief(), name, 6.0, 34.0)


def test_a_period_outside_the_record_is_refused() -> None:
    with pytest.raises(InputError, match="outside the record"):
        ledger(belief(), "N", 40.0, 50.0)


def test_every_store_has_a_pool_and_every_change_a_word() -> None:
    table = tank_table()
    pools = {pool_of(s) for s in table.states}
    assert pools == {"water", "plants", "algae", "soil", "detritus", "animals", "microbes",
                     "mineral"}  # fmt: skip
    changes = Changes(table)
    words = {changes.word(i) for i in range(len(changes.data))}
    assert {"feed", "top_up", "harvest", "air", "soil", "plants", "animals", "bacteria"} <= words
    assert "" not in words


def test_the_central_half_leaves_outliers_out() -> None:
    values = np.array([1.0, 1.1, 0.9, 50.0, 1.0, -40.0])
    assert set(central({"a": values})) <= {0, 1, 2, 4}
