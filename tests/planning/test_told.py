"""An alarm needs a reading or a sign behind it, or members that are nearly sure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import pytest

from pleuston.planning.told import READ, SURE, YOUNG, is_told
from pleuston.records.record import Entry

NOW = datetime(2026, 5, 4, tzinfo=UTC)


def _entry(kind: str, what: str, low: float | None = 1.0, high: float | None = 1.0, unit: str = "",
           ) -> Entry:  # fmt: skip
    return Entry(f"{kind}-{what}", NOW, "Elm", kind, what, low, high, unit)


@dataclass
class Tank:
    """A tank as `is_told` asks for it: entries by how old they are."""

    lately: tuple[Entry, ...] = ()
    before: tuple[Entry, ...] = ()
    age: float = 400.0
    poured_copper: float = 0.0

    def entries(self, days: float) -> list[Entry]:
        return [*self.lately, *(self.before if days > 14.0 else ())]


@pytest.mark.parametrize("quantity", READ)
def test_literature_alone_tells_nothing_but_near_certainty_does(quantity: str) -> None:
    assert not is_told(Tank(), quantity, 0.6)
    assert is_told(Tank(), quantity, SURE)


@pytest.mark.parametrize(
    ("quantity", "entry"),
    [
        ("oxygen_dawn", _entry("reading", "oxygen", 1.0, 3.0, "mg/L")),
        ("ammonia_nh3", _entry("reading", "ammonium_ion", 0.2, 0.4, "mg/L")),
        ("nitrite", _entry("reading", "nitrite_ion", 0.2, 0.4, "mg/L")),
        ("copper", _entry("reading", "copper", 0.05, 0.1, "mg/L")),
        ("oxygen_dawn", _entry("seen", "gasping")), ("copper", _entry("seen", "hiding")),
        ("oxygen_dawn", _entry("reading", "cover", 85.0, 95.0, "%")),
        ("oxygen_dawn", _entry("reading", "temperature", 29.0, 29.5, "C")),
        ("ammonia_nh3", _entry("soil_disturbed", "")),
        ("oxygen_dawn", _entry("power_off", "")), ("nitrite", _entry("power_off", "")),
        ("oxygen_dawn", _entry("stock_in", "Tanichthys albonubes", 8.0, 8.0)),
        ("ammonia_nh3", _entry("stock_in", "Tanichthys albonubes", 8.0, 8.0)),
        ("copper", _entry("dose", "copper sulfate", 3.0, 3.0, "mg")),
        ("copper", _entry("death", "Neocaridina davidi", 3.0, 3.0)),
    ],
)  # fmt: skip
def test_a_reading_or_a_sign_stands_behind_an_alarm(quantity: str, entry: Entry) -> None:
    assert is_told(Tank(lately=(entry,)), quantity, 0.4)


def test_a_water_noted_with_copper_stands_behind_an_alarm() -> None:
    assert is_told(Tank(poured_copper=0.3), "copper", 0.4)
    assert not is_told(Tank(poured_copper=0.005), "copper", 0.4)
    assert not is_told(Tank(poured_copper=0.3), "nitrite", 0.4)


def test_what_tells_of_something_else_does_not() -> None:
    open_water = _entry("reading", "cover", 20.0, 30.0, "%")
    fish = _entry("death", "Tanichthys albonubes", 3.0, 3.0)
    assert not is_told(Tank(lately=(open_water,)), "oxygen_dawn", 0.4)
    assert not is_told(Tank(lately=(fish,)), "copper", 0.4)
    nothing = _entry("reading", "copper", None, 0.05, "mg/L")
    plenty = _entry("reading", "oxygen", 6.0, 8.0, "mg/L")
    assert not is_told(Tank(lately=(nothing,)), "copper", 0.4)
    assert not is_told(Tank(lately=(plenty,)), "oxygen_dawn", 0.4)
    old_sign = _entry("seen", "gasping")
    assert not is_told(Tank(before=(old_sign,)), "oxygen_dawn", 0.4)


DAY = timedelta(days=1)


def test_a_later_reading_answers_an_older_one() -> None:
    much = _entry("reading", "ammonium_ion", 0.2, 0.4, "mg/L")
    none = replace(_entry("reading", "ammonium_ion", None, 0.1, "mg/L"), at=NOW + DAY)
    assert not is_told(Tank(lately=(much, none)), "ammonia_nh3", 0.4)
    before = replace(none, at=NOW - DAY)
    assert is_told(Tank(lately=(much, before)), "ammonia_nh3", 0.4)


@pytest.mark.parametrize(
    "low", [_entry("reading", "oxygen", 2.0, 4.0, "mg/L"),
            _entry("reading", "oxygen_pct", 30.0, 40.0, "%")],
)  # fmt: skip
def test_oxygen_of_an_afternoon_does_not_answer_that_of_a_dawn(low: Entry) -> None:
    for hours, told in ((24.5, False), (34.0, True)):
        plenty = replace(_entry("reading", "oxygen", 6.0, 8.0, "mg/L"),
                         at=NOW + timedelta(hours=hours))  # fmt: skip
        assert is_told(Tank(lately=(low, plenty)), "oxygen_dawn", 0.4) is told


def test_a_keeper_s_own_limit_of_cover_stands_as_it_is() -> None:
    some = _entry("reading", "cover", 60.0, 70.0, "%")
    assert is_told(Tank(lately=(some,)), "cover", 0.6, 0.6)
    assert not is_told(Tank(lately=(some,)), "cover", 0.6, 0.95)


def test_a_reading_speaks_of_a_limit_that_it_leaves_room_for() -> None:
    """Three to five milligrams of oxygen may be too little for a fish that needs four, and are
    no reason to alarm over shrimp that need three."""
    some = Tank(lately=(_entry("reading", "oxygen", 3.0, 5.0, "mg/L"),))
    assert is_told(some, "oxygen_dawn", 0.6, 4.0)
    assert not is_told(some, "oxygen_dawn", 0.6, 3.0)
    assert is_told(some, "oxygen_dawn", SURE, 3.0)
    much = Tank(lately=(_entry("reading", "oxygen", 4.5, 5.5, "mg/L"),))
    assert not is_told(much, "oxygen_dawn", 0.6, 5.0)


def test_a_closed_surface_is_what_was_last_seen() -> None:
    shut = _entry("reading", "cover", 93.0, 100.0, "%")
    less = replace(_entry("reading", "cover", 85.0, 95.0, "%"), at=NOW + DAY)
    assert is_told(Tank(lately=(shut,)), "cover", 0.6)
    assert not is_told(Tank(lately=(shut, less)), "cover", 0.6)
    assert not is_told(Tank(before=(shut,)), "cover", 0.6)
    assert is_told(Tank(lately=(less,)), "cover", SURE)


def test_a_new_tank_may_hold_ammonia_and_other_limits_stand_as_they_are() -> None:
    assert is_told(Tank(age=YOUNG - 1.0), "ammonia_nh3", 0.4)
    assert not is_told(Tank(age=YOUNG + 1.0), "ammonia_nh3", 0.4)
    assert is_told(Tank(), "temperature", 0.1)
