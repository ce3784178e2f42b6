"""Daylight through a window: seasons, latitudes, clocks, and none unless asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from pleuston.base.errors import InputError
from pleuston.engine.daylight import daylight, daylight_clear, sun_height_sine, together
from pleuston.engine.forcing import Clock, forcings
from pleuston.engine.schedule import Series
from pleuston.records.record import Record
from pleuston.services.demo import write_demo
from pleuston.services.racks import open_rack

JUNE, DECEMBER = 171.0, 354.0


def hours_of_sun(latitude: float, day: float) -> float:
    hours = np.arange(0.0, 24.0, 0.05)
    return 0.05 * sum(sun_height_sine(latitude, day, float(h)) > 0.0 for h in hours)


def test_days_are_as_long_as_geometry_says() -> None:
    """cos H = -tan(latitude) tan(declination), the sun's centre, without refraction."""
    for latitude, day, tilt in ((0.0, JUNE, 23.44), (50.0, JUNE, 23.44), (50.0, DECEMBER, -23.44)):
        half = np.arccos(-np.tan(np.radians(latitude)) * np.tan(np.radians(tilt)))
        assert hours_of_sun(latitude, day) == pytest.approx(24.0 * half / np.pi, abs=0.15)
    assert hours_of_sun(75.0, JUNE) == pytest.approx(24.0)
    assert hours_of_sun(75.0, DECEMBER) == 0.0
    assert hours_of_sun(-50.0, DECEMBER) == pytest.approx(hours_of_sun(50.0, JUNE), abs=0.11)


def test_full_sun_is_about_two_thousand() -> None:
    assert daylight_clear(1.0) == pytest.approx(2100.0, rel=0.05)
    assert daylight_clear(0.0) == daylight_clear(-0.5) == 0.0


def test_noon_is_at_one_in_summer_time() -> None:
    start = datetime(2026, 6, 21, tzinfo=ZoneInfo("CET"))
    summer = daylight(48.0, 0.05, start, 1.0)
    day = (summer.times >= 0.0) & (summer.times < 1.0)
    centre = (summer.times[day] * 24.0 + 0.5) @ summer.values[day] / summer.values[day].sum()
    assert centre == pytest.approx(13.0, abs=0.1)


def test_steps_add_up() -> None:
    one = Series(np.array([-1e9, 0.0, 0.5]), np.array([0.0, 40.0, 0.0]))
    other = Series(np.array([0.25, 0.75]), np.array([5.0, 0.0]))
    both = together(one, replace(other, times=np.array([0.0, 0.75])))
    for moment, level in ((-1.0, 5.0), (0.1, 45.0), (0.6, 5.0), (0.8, 0.0)):
        assert both.before_after(np.array([moment]), np.array([moment]))[0][0] == level


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Record:
    return open_rack(write_demo(tmp_path_factory.mktemp("rack") / "demo"))


def test_a_window_adds_to_the_lamp_and_only_when_asked(record: Record) -> None:
    clock = Clock(datetime(2026, 4, 1, tzinfo=UTC), record)
    tank = record.tanks[0]
    plain = forcings(record, tank, clock, 5.0)["light"]
    lit = forcings(record, tank, clock, 5.0, window=0.02)["light"]
    moments = np.arange(0.0, 5.0, 0.01)
    more = lit.before_after(moments, moments)[0] - plain.before_after(moments, moments)[0]
    assert more.min() >= 0.0
    assert 5.0 < more.max() < 40.0
    same = forcings(record, tank, clock, 5.0, window=0.0)["light"]
    assert np.array_equal(same.values, plain.values)


def test_what_is_missing_or_impossible_is_refused() -> None:
    start = datetime(2026, 4, 1, tzinfo=UTC)
    with pytest.raises(InputError, match="latitude"):
        daylight(None, 0.1, start, 1.0)
    with pytest.raises(InputError, match="share"):
        daylight(50.0, 1.5, start, 1.0)
