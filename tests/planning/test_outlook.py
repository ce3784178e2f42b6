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
    change_held_back,
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


def test_of_a_doubted_change_each_member_holds_back_its_share() -> None:
    """Decision 023: evenly from none to all of it, counted from tomorrow, on every day the same."""
    made, days = ahead(), ahead().times - ahead().belief.at
    share = made.belief.held_back
    assert share.min() < 0.1
    assert share.max() > 0.9
    assert share.mean() == pytest.approx(0.5, abs=4.0 * np.sqrt(1.0 / 12.0 / len(share)))
    for name in ("nitrate", "phosphate_ion", "potassium"):
        shown = SHOWN[name]
        course = observation_model(shown.reading).scaled(made.run.of(shown.output))
        held = change_held_back(made.belief, shown.reading, shown.output, days)
        assert (held[0] == 0.0).all()
        assert np.abs(held[-1]).max() > 0.1, name
        assert held == pytest.approx(share * (course - course[0]), abs=1e-12)


def test_of_salts_and_poisons_the_whole_change_is_believed() -> None:
    days = ahead().times - ahead().belief.at
    for name in ("kh", "gh", "ec25", "ammonium", "nitrite", "copper", "oxygen", "temperature"):
        shown = SHOWN[name]
        assert not change_held_back(ahead().belief, shown.reading, shown.output, days).any(), name


def test_what_is_held_back_does_not_depend_on_what_was_asked_before() -> None:
    one, other = replace(belief()), replace(belief())
    days = np.array([0.25, 1.0, 4.0, 4.5, 5.0])
    for days_first in (28, 5, 12):
        run_ahead(other, days_first, threads=1)
    held, again = (change_held_back(b, "nitrate", "nitrate_concentration", days)
                   for b in (one, other))  # fmt: skip
    assert (held == again).all()
    assert (held[:2] == 0.0).all()
    assert held[3] == pytest.approx(0.5 * (held[2] + held[4]))


def test_a_member_that_fails_on_the_usual_course_holds_nothing_back() -> None:
    one, days = replace(belief()), np.array([1.0, 5.0])
    whole = change_held_back(one, "nitrate", "nitrate_concentration", days)
    course = one.usual_courses[5]["nitrate_concentration"].copy()
    course[3:, 2] = np.nan
    one.usual_courses[5] = {"nitrate_concentration": course}
    held = change_held_back(one, "nitrate", "nitrate_concentration", days)
    assert (held[:, 2] == 0.0).all()
    assert (np.delete(held, 2, axis=1) == np.delete(whole, 2, axis=1)).all()


def test_what_a_plan_changes_is_not_doubted() -> None:
    """On the scale of comparison a plan moves what is shown as far as it moves the model."""
    usual = ahead()
    tried = run_ahead(usual.belief, 28, fed(usual.habits, 3.0), threads=1)
    law = observation_model("nitrate")
    shown = law.scaled(tried.values("nitrate")) - law.scaled(usual.values("nitrate"))
    model = [law.scaled(a.run.of("nitrate_concentration")) for a in (tried, usual)]
    moved = model[0] - model[1]
    inside = np.minimum(tried.values("nitrate"), usual.values("nitrate")) > 0.0
    assert inside[-1].mean() > 0.5
    assert np.median(moved[-1]) > 0.1
    assert shown[inside] == pytest.approx(moved[inside], abs=1e-9)


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
