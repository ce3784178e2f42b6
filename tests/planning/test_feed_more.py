"""More food only for animals that lack it, a quarter at most, and never where a limit binds."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.acts_feed import (
    BARE,
    FOUL,
    LEAST_MORE,
    MOST_MORE,
    SHARES,
    barred,
    feed_more,
    guards,
    room_for_food,
)
from pleuston.planning.limits import limits_for
from pleuston.planning.plan import Plan
from pleuston.planning.policy import ALLOWED
from pleuston.planning.tank_round import acts_of
from pleuston.planning.view import HORIZON, View, view_of
from pleuston.records.record import Entry

from .fakes import DRAWN, Drawn, fake_view
from .rack import START, entry, record, usual

THIN = entry(30.0, "seen", "thin_animals")
PALE = entry(30.0, "seen", "pale_leaves")
WELL = Drawn(0.001, 0.001, 1.0, 0.001, 7.0, 4.0, 6.0, 300.0, 8.5, 24.0, 0.95, 0.3, 0.0, 1, 1.0,
             plan=Plan("as now"))  # fmt: skip
"""A tank whose water is well in every way."""
AIRY: dict[str, object] = {"lid": "open", "flow": "strong"}
"""A tank whose oxygen at dawn is in no danger."""


@cache
def hungry(extra: tuple[Entry, ...] = (THIN,), grams: float = 0.01, **tank: object) -> TankBelief:
    """Fish and shrimp of 2.3 g given 0.05 g a week, at well under half a percent a day."""
    made = record([*usual(grams=grams), *extra], **{**AIRY, **tank})
    at = START + timedelta(days=34)
    return learn_tank(made, "Fern", at, members=64, threads=1, from_prior=True)


def bare(made: TankBelief) -> TankBelief:
    """The same with next to no nitrogen and phosphorus in the water."""
    end = made.end.copy()
    for state in ("nitrate", "ammonium", "nitrite", "phosphate"):
        end[:, made.case.table.at("state", state)] = 1e-4
    return replace(made, end=end)


def advice(made: TankBelief) -> list[Any]:
    return feed_more(view_of(made, threads=1))


def test_thin_animals_get_a_quarter_more_with_what_binds() -> None:
    (act,) = advice(hungry())
    fed = 0.05 / 7.0
    assert act.amount == pytest.approx(1.25 * fed)
    assert act.unit == "g/day"
    assert "a quarter more in a week at most" in act.binds
    assert "Nearest limit:" in act.binds
    assert "thin animals" in act.reason
    assert "ask a vet" in act.reason
    view = view_of(hungry(), threads=1)
    low, high = view.food["need_g_per_week"]
    assert 0.05 < low < high
    assert [a.act for a in acts_of(view, "watch")].count("feed_more") == 1
    assert "feed_more" not in [a.act for a in acts_of(view, "act")]


@pytest.mark.parametrize("sign", FOUL)
def test_a_foul_sign_forbids_it(sign: str) -> None:
    assert advice(hungry((THIN, entry(31.0, "seen", sign)))) == []


@pytest.mark.parametrize("extra", [(), (entry(30.0, "seen", "algae"),)])
def test_nothing_is_said_where_nothing_lacks(extra: tuple[Entry, ...]) -> None:
    assert advice(hungry(extra)) == []


def test_a_death_a_young_tank_and_a_tank_without_meals_forbid_it() -> None:
    death = entry(32.0, "death", "Neocaridina davidi", 1)
    assert advice(hungry((THIN, death))) == []
    assert advice(hungry(started=datetime(2026, 2, 25, tzinfo=UTC))) == []
    assert advice(hungry(started=None)) == []
    unfed = record([e for e in (*usual(), THIN) if e.kind != "feed"], **AIRY)
    at = START + timedelta(days=34)
    assert advice(learn_tank(unfed, "Fern", at, members=24, threads=1, from_prior=True)) == []


def test_stored_ammonia_and_low_oxygen_forbid_it() -> None:
    made = hungry()
    table, end = made.case.table, made.end.copy()
    end[:, table.at("state", "ammonium")] = 0.5 * end[:, table.at("state", "water")]
    assert advice(replace(made, end=end)) == []
    closed = hungry(lid="tight", flow="still", cover_target_pct=100.0)
    view = view_of(closed, threads=1)
    low = [x for x in guards(view.limits) if x.quantity == "oxygen_dawn"]
    assert any(view.chance(x, HORIZON) > ALLOWED[x.severity] for x in low)
    assert feed_more(view) == []


def test_animals_fed_enough_get_no_more_for_the_plants_sake() -> None:
    """0.25 g a week is above the least they need: starving plants are then a matter of dosing."""
    made = bare(hungry((PALE,), grams=0.05))
    assert view_of(made, threads=1).food["fed_g_per_week"] == pytest.approx(0.25)
    assert advice(made) == []


def test_hungry_plants_beside_underfed_animals_get_nothing_where_they_gain_nothing() -> None:
    """A quarter more of 0.05 g a week is too little for plants that grow by 4 % a day."""
    view = view_of(bare(hungry((PALE,))), threads=1)
    assert float((view.ahead.values("nitrate")[0] < BARE["nitrate"]).mean()) > 0.7
    least = view.food["need_g_per_week"][0]
    assert room_for_food(0.05, (least, 4.0 * least), 1.0, thin=False) is not None
    assert feed_more(view) == []


@pytest.mark.parametrize(("gain", "advised"), [(1.0, 0), (1.05, 0), (1.2, 1)])
def test_hungry_plants_that_grow_by_it_are_a_reason(gain: float, advised: int) -> None:
    """20 % more plants in 28 days are ln 1.2 / 28 = 0.0065 a day; 5 % are 0.0017, too little."""
    drawn = replace(WELL, nitrate=0.05, entries=(PALE,))
    view, _ = prepared(drawn, 0.0, (1.5, 3.0, 3.0))
    (act,) = feed_more(growing(view, gain)) or (None,)
    assert (act is not None) == bool(advised)
    if act is not None:
        assert "pale leaves" in act.reason
        assert act.confidence == "low"
    rich, _ = prepared(replace(drawn, nitrate=5.0), 0.0, (1.5, 3.0, 3.0))
    assert float((rich.ahead.values("phosphate_ion")[0] < BARE["phosphate_ion"]).mean()) < 0.7
    assert feed_more(growing(rich, gain)) == []


def growing(view: View, gain: float) -> View:
    """The view whose planner says that plants come to some times as much where fed more."""
    at = view.belief.case.table.at("state", "floater1_carbon")
    chances = {x.key: 0.0 for x in view.limits}

    def judged(plan: Plan) -> Any:
        end = view.ahead.run.end.copy()
        end[:, at] *= gain if plan.feed else 1.0
        ahead = replace(view.ahead, run=replace(view.ahead.run, end=end))
        return SimpleNamespace(chances=chances, too_fast=(), tried=SimpleNamespace(ahead=ahead))

    object.__setattr__(view, "judged", judged)
    return view


# -- what may never be, whatever is drawn ------------------------------------------------


@given(st.floats(0.0, 5.0), st.floats(0.001, 5.0), st.floats(1.0, 6.0), st.floats(0.0, 8.0),
       st.booleans())  # fmt: skip
def test_room_is_within_a_quarter_the_need_and_what_is_carried(
    fed: float, least: float, times: float, carried: float, thin: bool
) -> None:
    need = (least, least * times)
    room = room_for_food(fed, need, carried, thin)
    wanted = need[1] if thin else need[0]
    if room is None:
        assert fed == 0.0 or min(1.25 * fed, wanted, carried) < (1.0 + LEAST_MORE) * fed
        return
    assert room.grams <= 1.25 * fed + 1e-9
    assert room.grams <= wanted + 1e-9
    assert room.grams <= carried + 1e-9
    assert room.grams >= (1.0 + LEAST_MORE) * fed - 1e-9


LIMITS = limits_for(["Poecilia wingei", "Neocaridina davidi"])


@given(st.lists(st.floats(0.0, 1.0), min_size=len(LIMITS), max_size=len(LIMITS)))
def test_any_guard_likelier_than_put_up_with_bars(chances: list[float]) -> None:
    told = {x.key: c for x, c in zip(LIMITS, chances, strict=True)}
    over = [x for x in guards(LIMITS) if told[x.key] > ALLOWED[x.severity]]
    assert (barred(told, LIMITS) is None) == (not over)
    assert {x.quantity for x in guards(LIMITS)} >= {"oxygen_dawn", "ammonia_nh3", "nitrite"}
    assert barred({}, LIMITS) is not None


def prepared(drawn: Drawn, chance: float, food: tuple[float, float, float]) -> tuple[View, float]:
    """A drawn view with a budget, and a planner whose every plan has one chance of every limit."""
    view = fake_view(drawn if drawn.entries else replace(drawn, entries=(THIN,)))
    fed = view.ahead.habits.feed_per_day * 7.0
    low, high, carried = (part * fed for part in food)
    budget = {"need_g_per_week": [low, high], "carried_g_per_week": [carried] * 3}
    said = SimpleNamespace(chances={x.key: chance for x in view.limits}, too_fast=())
    object.__setattr__(view, "food", budget)
    object.__setattr__(view, "judged", lambda _: said)
    return view, fed


@settings(max_examples=60, deadline=None)
@given(DRAWN, st.sampled_from([0.0, 0.005, 0.02, 0.2]),
       st.tuples(st.floats(0.5, 2.0), st.floats(2.0, 4.0), st.floats(0.2, 4.0)))  # fmt: skip
def test_more_is_never_advised_where_a_limit_that_guards_animals_binds(
    drawn: Drawn, chance: float, food: tuple[float, float, float]
) -> None:
    view, fed = prepared(drawn, chance, food)
    for act in feed_more(view):
        assert chance <= ALLOWED["danger"]
        for limit in guards(view.limits):
            assert view.chance(limit, HORIZON) <= ALLOWED[limit.severity]
        assert not view.ammonia_stored
        amount = float(act.amount or 0.0) * 7.0
        assert fed * (1.0 + LEAST_MORE) <= amount + 1e-9
        assert amount <= fed * min(1.0 + MOST_MORE, food[1], food[2]) + 1e-6


def test_the_property_can_be_met_and_can_fail() -> None:
    """A well tank is advised more by 1.25; with the chance of danger at 2 % it is not."""
    view, fed = prepared(WELL, 0.0, (1.5, 3.0, 3.0))
    (act,) = feed_more(view)
    assert float(act.amount or 0.0) * 7.0 == pytest.approx(1.25 * fed)
    assert feed_more(prepared(WELL, 0.02, (1.5, 3.0, 3.0))[0]) == []
    assert feed_more(prepared(replace(WELL, oxygen=2.5), 0.0, (1.5, 3.0, 3.0))[0]) == []
    assert feed_more(prepared(replace(WELL, nitrite=2.0), 0.0, (1.5, 3.0, 3.0))[0]) == []


def test_a_smaller_step_is_taken_where_the_larger_one_is_barred() -> None:
    view, fed = prepared(WELL, 0.0, (1.5, 3.0, 3.0))
    well = {x.key: 0.0 for x in view.limits}
    dawn = next(x for x in view.limits
                if (x.quantity, x.severity) == ("oxygen_dawn", "danger"))  # fmt: skip
    object.__setattr__(view, "judged", lambda plan: SimpleNamespace(
        chances={**well, dawn.key: 0.02 if (plan.feed or 1.0) > 1.2 else 0.0}, too_fast=()))
    (act,) = feed_more(view)
    assert float(act.amount or 0.0) * 7.0 == pytest.approx(SHARES[1] * fed)
    assert f"'{dawn.word}'" in act.binds
    assert np.isfinite(float(act.amount or 0.0))
