"""How the keeper goes on is read from the last four weeks."""

from __future__ import annotations

from datetime import timedelta

import pytest

from pleuston.engine.case import Case, tank_case
from pleuston.planning.habits import fed, future_events, habits_of, share_each, thinned_to

from .rack import START, entry, record, usual

AT = 34.0


def case(*more: object, weeks: int = 5, **tank: object) -> Case:
    made = record([*usual(weeks), *more], **tank)  # type: ignore[list-item]
    return tank_case(made, "Fern", START + timedelta(days=60))


def test_meals_are_grams_by_weekday_and_hour() -> None:
    habits = habits_of(case(), AT)
    assert sorted(m.weekday for m in habits.meals) == [0, 1, 2, 3, 4]
    assert habits.feed_per_day == pytest.approx(5 * 0.05 / 7, rel=0.01)
    assert all(m.hour == pytest.approx(17.6, abs=0.01) for m in habits.meals)


def test_a_feast_before_the_window_is_forgotten() -> None:
    plain = habits_of(case(), AT).feed_per_day
    assert habits_of(case(entry(3.0, "feed", "flake", 9.0)), AT).feed_per_day == plain
    assert habits_of(case(entry(30.0, "feed", "flake", 9.0)), AT).feed_per_day > plain


def test_nothing_later_than_the_moment_counts() -> None:
    later = entry(40.0, "feed", "flake", 5.0)
    assert habits_of(case(later), AT).meals == habits_of(case(), AT).meals


def test_thinning_and_filling_follow_the_record() -> None:
    habits = habits_of(case(cover_target_pct=55.0), AT)
    assert habits.thinning == {"floater1": pytest.approx(0.55)}
    assert habits.thinning_days == 7.0
    assert habits.top_up_water == "soft"
    assert habits.last_thinning == pytest.approx(28.05)


def test_future_meals_are_as_many_as_past_ones() -> None:
    made = case()
    habits = habits_of(made, AT)
    events = future_events(made, AT, 28.0, habits)
    assert all(AT <= e.time < AT + 28.0 for e in events)
    feeds = [e for e in events if e.jump == "feed"]
    assert len(feeds) == 20
    thin = [e for e in events if e.jump == "harvest_floater1"]
    assert [round(e.time - AT, 2) for e in thin] == [1.05, 8.05, 15.05, 22.05]
    assert sum(e.jump == "top_up" for e in events) == 4


def test_other_ways_to_go_on() -> None:
    made = case()
    habits = habits_of(made, AT)
    assert fed(habits, 0.5).feed_per_day == pytest.approx(0.5 * habits.feed_per_day)
    alone = future_events(made, AT, 14.0, thinned_to(habits, 1.0))
    assert not [e for e in alone if e.jump.startswith("harvest")]
    deep = future_events(made, AT, 14.0, thinned_to(habits, 0.2))
    covers = [e.arguments["harvest_cover"] for e in deep if e.jump.startswith("harvest")]
    assert covers == pytest.approx([0.2, 0.2])


def test_a_keeper_who_stopped_long_ago_is_not_expected_to_catch_up() -> None:
    made = case(weeks=4)
    habits = habits_of(made, 45.0)
    events = future_events(made, 45.0, 14.0, habits)
    assert all(e.time >= 45.0 for e in events)
    assert sum(e.jump == "harvest_floater1" for e in events) <= 3


def test_covers_of_several_species_make_the_common_cover() -> None:
    each = share_each(0.6, 3)
    assert 1.0 - (1.0 - each) ** 3 == pytest.approx(0.6)


def test_a_round_that_was_skipped_makes_no_habit() -> None:
    """Weekly harvests and top-ups, none in the third and fourth week before the last one."""
    kept = [e for e in usual(9) if e.kind == "feed" or not 35.0 < (e.at - START).days < 55.0]
    made = tank_case(record(kept), "Fern", START + timedelta(days=60))
    habits = habits_of(made, 57.0)
    assert habits.thinning_days == 7.0
    assert habits.top_up_days == 7.0
    assert habits.last_thinning == pytest.approx(56.05)
