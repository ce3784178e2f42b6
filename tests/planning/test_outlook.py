"""Outlooks: ranges in order and in bounds, limits judged over their horizon."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pleuston.inference.readings import observation_model
from pleuston.planning.habits import fed, habits_of, thinned_to
from pleuston.planning.outlook import (
    FROM_MODEL,
    SHARES,
    SHOWN,
    Ahead,
    limits_of,
    outlook_data,
    run_ahead,
    shown_bound,
    trailing_mean,
)
from pleuston.records.kinds import READINGS

from .rack import belief


@cache
def ahead() -> Ahead:
    return run_ahead(belief(), 28, threads=1)


def test_ranges_are_ordered_and_possible() -> None:
    made = outlook_data(ahead())
    assert made["tank"] == "Fern"
    assert set(SHOWN) < set(made["quantities"])
    assert "harvestable_g Lemna minor" in made["quantities"]
    for name, rows in made["quantities"].items():
        table = np.array([rows[share] for share in SHARES])
        assert table.shape == (7, 28)
        assert np.isfinite(table).all()
        assert (np.diff(table, axis=0) >= 0.0).all()
        assert (table >= 0.0).all(), name
    assert max(made["quantities"]["cover"]["p97.5"]) <= 100.0


def test_days_follow_one_another() -> None:
    times = outlook_data(ahead())["quantities"]["nitrate"]["times"]
    assert len(times) == 28
    assert times == sorted(times)
    assert times[0] == "2026-04-06T08:00+00:00"


def test_what_is_shown_is_named_and_written_as_readings_are() -> None:
    for name in set(SHOWN) & set(READINGS):
        assert SHOWN[name].unit == READINGS[name].unit
    values = {n: np.median(ahead().values(n)[0]) for n in SHOWN}
    assert values["nitrate_ion"] / values["nitrate"] == pytest.approx(62.004 / 14.007, rel=0.01)
    assert 15.0 < values["temperature"] < 35.0
    assert 4.0 < values["ph"] < 10.0
    assert values["ammonia_nh3"] < values["ammonium"]


def test_dawn_is_the_lowest_of_the_day() -> None:
    run = ahead().run
    assert (run.of("lowest_oxygen_concentration") <= run.of("oxygen_concentration") + 1e-9).all()


def test_the_same_members_give_the_same_outlook() -> None:
    again = outlook_data(run_ahead(belief(), 28, threads=2))
    assert again == outlook_data(ahead())


def test_limits_are_those_of_the_animals_present() -> None:
    limits = limits_of(ahead())
    who = {name for limit in limits for name in limit.who}
    assert who <= {"Poecilia wingei", "Neocaridina davidi"}
    assert {"oxygen_dawn", "ammonia_nh3", "nitrite", "copper"} <= {x.quantity for x in limits}
    for limit in limits:
        turn = FROM_MODEL.get(limit.quantity)
        assert shown_bound(limit) == (limit.value if turn is None else turn(limit.value))


def test_crossings_say_when_and_how_likely() -> None:
    for crossing in outlook_data(ahead())["crossings"]:
        assert {"limit", "quantity", "value", "first_day_p5", "first_day_p50", "chance"} <= set(
            crossing
        )
        assert 0.01 <= crossing["chance"] <= 1.0
        assert (crossing["first_day_p5"] is None) == (crossing["chance"] < 0.05)
        assert (crossing["first_day_p50"] is None) == (crossing["chance"] < 0.5)


def test_limits_for_weeks_judge_means() -> None:
    values = np.arange(1.0, 11.0)[:, None]
    mean = trailing_mean(values, 7).ravel()
    assert mean[6] == pytest.approx(4.0)
    assert mean[9] == pytest.approx(7.0)
    assert trailing_mean(values, 1) is values
    week, day = ahead().judged("nitrate", "week"), ahead().judged("nitrate", "day")
    assert np.abs(np.diff(week, axis=0)).max() < np.abs(np.diff(day, axis=0)).max() + 1e-9


def test_food_and_thinning_change_the_same_members() -> None:
    habits = habits_of(belief().case, belief().at)
    much = run_ahead(belief(), 14, fed(habits, 4.0), threads=1)
    nothing = run_ahead(belief(), 14, fed(habits, 0.0), threads=1)
    more = much.run.of("ammonium_concentration")[-1] - nothing.run.of("ammonium_concentration")[-1]
    assert np.median(more) > 0.0
    alone = run_ahead(belief(), 14, thinned_to(habits, 1.0), threads=1)
    bare = run_ahead(belief(), 14, thinned_to(habits, 0.1), threads=1)
    covers = [plan.run.of("canopy_cover")[-1] for plan in (alone, bare)]
    assert (covers[0] > covers[1] - 0.005).all()
    assert np.quantile(covers[0], 0.75) > 2.0 * np.quantile(covers[1], 0.75)


def test_a_step_stays_an_error_fades_and_what_passes_is_there_at_once() -> None:
    """By hand: 0.5 out of which a step left 0.4; a hundred years on the step alone is left."""
    made = belief()
    same = np.ones(len(made))
    out = {"error_ec25": 0.5 * same, "error_step_ec25": 0.4 * same, "error_ph": 0.2 * same}
    told = replace(made, values=out)
    known, left = told.error_ahead("ec25", [0.0, 36500.0])
    assert known[0] == pytest.approx(0.5)
    assert known[1] == pytest.approx(0.4)
    salts, acids = observation_model("ec25"), observation_model("ph")
    assert left == pytest.approx([0.0, salts.discrepancy], abs=1e-9)
    known, left = told.error_ahead("ph", [0.0, 36500.0])
    assert known[:, 0] == pytest.approx([0.2, 0.0])
    assert left == pytest.approx([acids.passing, np.hypot(acids.discrepancy, acids.passing)])
