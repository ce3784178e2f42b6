"""What animals tell of oxygen and copper, on a record made by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from pleuston.engine.case import Case, tank_case
from pleuston.inference.signs import (
    BORNE,
    CALM,
    GASPING,
    POISONED,
    breathing_readings,
    poison_readings,
)
from pleuston.records.record import Entry, Rack, Record, Tank

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def _case(*more: Entry, animal: str = "Poecilia wingei", weeks: int = 6) -> Case:
    tank = Tank("Elm", 30.0, 0.1, top_up_water="soft")
    entries = [_entry(0, "stock_in", animal, 6.0), *more]
    entries += [_entry(7 * w, "top_up", "soft", 0.5) for w in range(1, weeks + 1)]
    record = Record(Rack(name="Shelf", timezone="Etc/UTC"), tanks=(tank,), entries=tuple(entries))
    return tank_case(record, "Elm", START + timedelta(days=7 * weeks))


def _entry(day: float, kind: str, what: str, amount: float) -> Entry:
    at = START + timedelta(days=day)
    return Entry(f"{kind}-{day}", at, "Elm", kind, what, amount, amount)


def test_weeks_of_calm_read_as_enough_oxygen_before_the_lamp() -> None:
    found = breathing_readings(_case(), 42.0)
    assert [r.low for r in found] == [CALM] * 3
    assert all(r.high is None for r in found)
    hours = [(r.time * 24.0 + 9.0) % 24.0 for r in found]
    assert hours == pytest.approx([7.0] * 3)


def test_gasping_reads_as_little_oxygen_and_breaks_the_calm() -> None:
    found = breathing_readings(_case(_entry(21.5, "seen", "gasping", 1.0)), 42.0)
    low = [r for r in found if r.high is not None]
    assert [(r.high, r.low) for r in low] == [(GASPING, None)]
    assert low[0].time == pytest.approx(21.5)
    assert all(abs(r.time - 21.5) > 6.0 for r in found if r.high is None)


def test_deaths_break_the_calm() -> None:
    found = breathing_readings(_case(_entry(14.0, "death", "Poecilia wingei", 1.0)), 42.0)
    assert all(abs(r.time - 14.0) > 6.0 for r in found)


def test_animals_that_breathe_air_tell_nothing_by_calm() -> None:
    assert breathing_readings(_case(animal="Betta splendens"), 42.0) == []


def test_nothing_later_than_the_moment_is_used() -> None:
    found = breathing_readings(_case(_entry(30.0, "seen", "gasping", 1.0)), 20.0)
    assert found
    assert max(r.time for r in found) <= 20.0


SHRIMP = "Neocaridina davidi"


def test_several_dead_shrimp_within_two_weeks_may_be_copper() -> None:
    deaths = [_entry(day, "death", SHRIMP, 1.0) for day in (20.0, 22.0, 25.0)]
    found = poison_readings(_case(*deaths, animal=SHRIMP), 42.0)
    assert [(r.time, r.low, r.high, r.method) for r in found] == [
        (28.0, POISONED, None, "deaths"),
    ]


def test_a_month_of_living_shrimp_speaks_of_little_copper() -> None:
    found = poison_readings(_case(animal=SHRIMP), 42.0)
    assert [(r.time, r.low, r.high) for r in found] == [(28.0, None, BORNE), (42.0, None, BORNE)]
    assert poison_readings(_case(animal=SHRIMP), 27.0) == []


def test_fish_tell_nothing_of_copper() -> None:
    assert poison_readings(_case(), 42.0) == []
