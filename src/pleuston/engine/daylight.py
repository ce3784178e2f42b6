"""Daylight through a window: by season and latitude, as hourly steps of light."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.errors import InputError
from pleuston.engine.schedule import Series

PAR_OF_SUN = 2.06
"""Photosynthetic photons of sunlight [umol/J]: 45 % of it at 4.57 umol/J (common practice)."""
CLOUDS = 0.6
"""Daylight under usual clouds over that of a clear sky: guess for middle latitudes."""


@cited("spencer1971", "Fourier series of the declination")
def declination(day_of_year: float) -> float:
    """Angle of the sun above the equator [rad]; day_of_year counts from 0 at new year.

    >>> [round(float(np.degrees(declination(day))), 1) for day in (79, 171, 354)]
    [-0.1, 23.5, -23.4]
    """
    turn = 2.0 * np.pi * day_of_year / 365.0
    return float(
        0.006918 - 0.399912 * np.cos(turn) + 0.070257 * np.sin(turn)
        - 0.006758 * np.cos(2.0 * turn) + 0.000907 * np.sin(2.0 * turn)
        - 0.002697 * np.cos(3.0 * turn) + 0.00148 * np.sin(3.0 * turn)
    )  # fmt: skip


@cited("spencer1971", "sine of the sun's height from latitude, declination and hour")
def sun_height_sine(latitude_deg: float, day_of_year: float, solar_hour: float) -> float:
    """Sine of the sun's height over the horizon; below zero at night.

    >>> round(sun_height_sine(50.0, 171.0, 12.0), 2)
    0.89
    """
    latitude, sun = np.radians(latitude_deg), declination(day_of_year)
    hour = np.radians(15.0 * (solar_hour - 12.0))
    level = np.sin(latitude) * np.sin(sun)
    return float(level + np.cos(latitude) * np.cos(sun) * np.cos(hour))


@cited("haurwitz1945", "global radiation of a clear sky: 1098 s exp(-0.057/s) W/m2")
def daylight_clear(height_sine: float) -> float:
    """Photosynthetic light outdoors under a clear sky [umol/m2/s].

    >>> round(daylight_clear(0.89))
    1888
    """
    if height_sine <= 0.0:
        return 0.0
    return float(PAR_OF_SUN * 1098.0 * height_sine * np.exp(-0.057 / height_sine))


def daylight(latitude_deg: float | None, share: float, start: datetime, end: float) -> Series:
    """Light that a window lets on the water [umol/m2/s], from a day before the start on.

    share: of the light outdoors, 0 to 1; start: on the rack's clock. Noon is at twelve by
    the clock's standard time; usual clouds are counted in.
    """
    if latitude_deg is None:
        raise InputError(
            "daylight needs the latitude", where="rack.csv", remedy="Give latitude_deg"
        )
    if not 0.0 <= share <= 1.0:
        raise InputError(
            f"a window can't let {share:g} of the daylight through", where="window",
            remedy="Give a share from 0 to 1; beside a window 0.01 to 0.1 is usual",
        )  # fmt: skip
    hours = np.arange(-24, int(24 * np.ceil(end)) + 25)
    levels = []
    for hour in hours:
        middle = start + timedelta(hours=int(hour) + 0.5)
        clock = middle - (middle.dst() or timedelta())
        of_day = clock.hour + clock.minute / 60.0
        sine = sun_height_sine(latitude_deg, clock.timetuple().tm_yday - 1.0, of_day)
        levels.append(share * CLOUDS * daylight_clear(sine))
    return Series(hours / 24.0, np.array(levels))


def together(one: Series, other: Series) -> Series:
    """The sum of two series of steps."""
    times = np.union1d(one.times, other.times)
    total = one.before_after(times, times)[0] + other.before_after(times, times)[0]
    keep = np.concatenate(([True], np.diff(total) != 0.0))
    return Series(times[keep], total[keep])
