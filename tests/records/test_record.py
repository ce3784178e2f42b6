"""A rack's record: what it answers, and that a hindcast sees nothing later."""

from __future__ import annotations

import copy
import pickle
from datetime import UTC, datetime, timedelta, timezone

import pytest

from pleuston.base.errors import UnknownNameError
from pleuston.records.given import Given, converted, is_number, number_text
from pleuston.records.record import Entry, Rack, Record, Tank, Water
from pleuston.records.resolve import feed_named, soil_named

START = datetime(2026, 1, 1, tzinfo=UTC)


def entry(day: int, tank: str = "Fern", kind: str = "note", **more: object) -> Entry:
    return Entry(id=f"{day}-{kind}", at=START + timedelta(days=day), tank=tank, kind=kind, **more)  # type: ignore[arg-type]


@pytest.fixture
def record() -> Record:
    return Record(
        rack=Rack(name="Shelf", timezone="Europe/Paris", room_c=21.0, room_humidity_pct=45.0),
        waters=(
            Water("tap", calcium_mg_l=40.0, valid_from=START),
            Water("tap", calcium_mg_l=55.0, valid_from=START + timedelta(days=50)),
            Water("well", kind="well", calcium_mg_l=80.0, valid_from=START + timedelta(days=50)),
        ),
        tanks=(
            Tank("Fern", 30.0, 0.12, lid="open", heater_c=24.0, started=START),
            Tank("Moss", 12.0, 0.06, started=START + timedelta(days=30)),
        ),
        entries=(
            entry(9, kind="setting", what="lid", note="tight"),
            entry(5, kind="setting", what="light_hours", low=8.0, high=8.0, unit="h"),
            entry(4, tank="", kind="power_off"),
            entry(20, kind="setting", what="heater_c", unit="C"),
            entry(7, tank="Moss"),
        ),
    )


def test_entries_come_in_order_of_time_with_those_of_the_whole_rack(record: Record) -> None:
    days = [(item.at - START).days for item in record.entries_of("Fern")]
    assert days == [4, 5, 9, 20]
    kinds = {item.kind for item in record.entries_of("Fern", kind=("setting",))}
    assert kinds == {"setting"}


def test_entries_until_a_time_hold_that_moment_and_nothing_later(record: Record) -> None:
    found = record.entries_of("Fern", until=START + timedelta(days=9))
    assert [item.what for item in found] == ["", "light_hours", "lid"]


def test_a_hindcast_knows_nothing_later(record: Record) -> None:
    then = record.until(START + timedelta(days=10))
    assert max(item.at for item in then.entries) == START + timedelta(days=9)
    assert [tank.name for tank in then.tanks] == ["Fern"]
    assert [row.calcium_mg_l for row in then.water_rows("tap")] == [40.0]
    assert then.water_rows("well") == (Water("well", "well"),)


def test_settings_change_the_tank_from_their_time_on(record: Record) -> None:
    assert record.tank_at("Fern", START + timedelta(days=4)).lid == "open"
    late = record.tank_at("Fern", START + timedelta(days=15))
    assert (late.lid, late.light_hours, late.heater_c) == ("tight", 8.0, 24.0)
    assert record.tank_at("Fern", START + timedelta(days=21)).heater_setpoint is None


def test_an_unknown_tank_is_told_with_near_names(record: Record) -> None:
    with pytest.raises(UnknownNameError, match="Fern"):
        record.tank("Fen")


def test_canonical_units_of_rack_and_tank(record: Record) -> None:
    assert record.rack.room_temperature == pytest.approx(294.15)
    assert record.rack.room_humidity == pytest.approx(0.45)
    tank = Tank("T", 30.0, 0.12, soil_mm=25.0, cap_mm=30.0, heater_c=24.0, cover_target_pct=40.0)
    assert tank.water_depth == pytest.approx(0.25)
    assert (tank.soil_depth, tank.cap_depth) == pytest.approx((0.025, 0.03))
    assert tank.heater_setpoint == pytest.approx(297.15)
    assert tank.cover_target == pytest.approx(0.4)


def test_times_are_kept_in_utc_so_that_differences_are_true() -> None:
    before = datetime(2026, 3, 28, 12, tzinfo=Rack(timezone="Europe/Paris").zone)
    after = datetime(2026, 3, 29, 12, tzinfo=Rack(timezone="Europe/Paris").zone)
    first, second = (Entry("x", at, "Fern", "note") for at in (before, after))
    assert second.at - first.at == timedelta(hours=23)
    assert first.at.tzinfo is UTC


def test_local_times_are_on_the_clock_of_the_rack(record: Record) -> None:
    assert record.local(datetime(2026, 7, 1, 10, tzinfo=UTC)).hour == 12


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        Entry("x", datetime(2026, 1, 1), "Fern", "note")


def test_amount_is_the_middle_of_what_is_known() -> None:
    assert entry(1, low=2.0, high=4.0).amount == 3.0
    assert entry(1, high=4.0).amount == 4.0
    assert entry(1).amount is None


def test_equal_records_may_be_written_differently() -> None:
    at = datetime(2026, 1, 1, 10, tzinfo=timezone(timedelta(hours=1)))
    one = Entry("x", at, "Fern", "feed", low=Given("0.50"), at_text="2026-01-01T10:00+01:00")
    other = Entry("x", at.astimezone(UTC), "Fern", "feed", low=0.5)
    assert one == other


@pytest.mark.parametrize("text", ["4.50", "0.0", "-3", "1e-3", "+7", ".5", "5."])
def test_a_given_number_keeps_its_text(text: str) -> None:
    number = Given(text)
    assert number == float(text)
    for twin in (
        number,
        copy.copy(number),
        copy.deepcopy(number),
        pickle.loads(pickle.dumps(number)),
    ):
        assert number_text(twin) == text
    assert number_text(number * 1) == number_text(float(text))


@pytest.mark.parametrize("text", ["", "nan", "inf", "1,5", "0x10", "1_000", "1e999", "٣", "4 g"])
def test_texts_that_are_no_numbers(text: str) -> None:
    assert not is_number(text)
    with pytest.raises(ValueError, match="not a number"):
        Given(text)


def test_converted_numbers_show_no_false_digits() -> None:
    assert converted(0.1 + 0.2).text == "0.3"
    assert converted(3.785411784).text == "3.785411784"


def test_own_feeds_and_soils_come_before_the_library() -> None:
    from pleuston.records.record import Feed

    record = Record(feeds=(Feed("flake", protein_pct=30.0),))
    assert feed_named(record, "flake").protein_pct == 30.0
    assert feed_named(Record(), "flake").protein_pct == 45.0
    assert soil_named(record, "garden soil").organic_pct == 5.0
    with pytest.raises(UnknownNameError, match="garden soil"):
        soil_named(record, "gardn soil")
