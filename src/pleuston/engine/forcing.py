"""What drives a tank from outside: room, light, heater, lid, flow, power, over time.

Times are days since the start of the run. The room follows the keeper's own readings
where there are any; where there are none, the unheated tanks of the rack tell it, and
failing that the rack's mean. Daily waves and lamp hours follow the rack's local clock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from statistics import median

import numpy as np

from pleuston.engine.daylight import daylight, together
from pleuston.engine.schedule import Series, constant
from pleuston.records.record import Entry, Record, Tank, changed_by

DAY = 86400.0
LID = {"open": 1.0, "partial": 0.35, "tight": 0.1}
FLOW = {"still": 0.0, "gentle": 1.0, "strong": 2.0}
ROOM_DEFAULT = 294.15
"""21 degC, an ordinary heated room: common practice, no source."""
HUMIDITY_DEFAULT = 0.5
AIR_CO2 = 7e-4
"""700 ppm: indoor air lies between 500 and 1500 ppm."""
ROOM_WAVE = 0.8
"""Half the daily swing of a room [K]: common practice, no source."""
LIGHT_MIDDLE = 14.0
"""Local hour at the middle of the lamp's day when the record does not say."""
WATER_OVER_ROOM = 0.5
"""How much warmer than the room an unheated, lit tank stands [K]: common practice."""


@dataclass(frozen=True)
class Clock:
    """Turns datetimes of a rack into days since the start of a run."""

    start: datetime
    record: Record

    def day(self, moment: datetime) -> float:
        """Days since the start."""
        return (moment - self.start).total_seconds() / DAY

    def moment(self, day: float) -> datetime:
        """The datetime of a day."""
        return self.start + timedelta(days=day)

    def local_hour(self, date_of: datetime, hour: float) -> datetime:
        """The moment of an hour of the local day that a datetime lies in."""
        zone = self.record.rack.zone
        local = self.record.local(date_of)
        midnight = datetime.combine(local.date(), time(), tzinfo=zone or local.tzinfo)
        return (midnight + timedelta(hours=hour)).astimezone(self.start.tzinfo)

    def local_days(self, end: float) -> list[datetime]:
        """A moment in each local day from the one before the start to the end."""
        return [self.start + timedelta(days=d) for d in range(-1, int(np.ceil(end)) + 2)]


def air_pressure(altitude: float) -> float:
    """Mean air pressure [atm] at an altitude [m] (ICAO standard atmosphere)."""
    return float((1.0 - 2.25577e-5 * altitude) ** 5.25588)


def forcings(
    record: Record, tank: Tank, clock: Clock, end: float,
    change: Callable[[dict[str, Series]], dict[str, Series]] | None = None, window: float = 0.0,
) -> dict[str, Series]:  # fmt: skip
    """Every forcing of the tank model from the start of the clock to day `end`.

    change: turns the series into those of a what-if. window: share of the daylight outdoors
    that falls on the water; none unless asked for.
    """
    settings = record.entries_of(tank.name, kind="setting")
    dark = outages(record, tank.name, clock, end)
    rack = record.rack
    made = {
        "room_temperature": room_temperature(record, clock, end),
        "room_humidity": _readings(
            record, clock, "humidity", (rack.room_humidity or HUMIDITY_DEFAULT) * 100, 0.01
        ),
        "air_pressure": constant(air_pressure(rack.altitude_m or 0.0)),
        "air_co2": constant(AIR_CO2),
        "light": lamp(tank, settings, clock, end, dark),
        "heater_setpoint": _steps(
            tank, settings, clock, lambda t: (t.heater_setpoint or 273.15), []
        ),
        "heater_power": _steps(
            tank, settings, clock,
            lambda t: 25.0 + 0.8 * t.net_l if t.heater_c is not None else 0.0, dark,
        ),
        "lid_openness": _steps(tank, settings, clock, lambda t: LID[t.lid], []),
        "flow_level": _steps(tank, settings, clock, lambda t: FLOW[t.flow], dark),
        "air_stone": constant(0.0),
    }  # fmt: skip
    if window:
        start = record.local(clock.start)
        through = daylight(rack.latitude_deg, window, start, end)
        made["light"] = together(made["light"], through)
    return change(made) if change is not None else made


def outages(record: Record, tank: str, clock: Clock, end: float) -> list[tuple[float, float]]:
    """Spans [d] without power."""
    spans: list[tuple[float, float]] = []
    since: float | None = None
    for entry in record.entries_of(tank, kind=("power_off", "power_on")):
        if entry.kind == "power_off" and since is None:
            since = clock.day(entry.at)
        elif entry.kind == "power_on" and since is not None:
            spans.append((since, clock.day(entry.at)))
            since = None
    if since is not None:
        spans.append((since, min(since + 1.0, end)))  # an outage left open: a day at most
    return spans


def settings_over_time(
    tank: Tank, settings: Sequence[Entry], clock: Clock
) -> list[tuple[float, Tank]]:
    """(day, tank as it stands from then on), from the start."""
    result = [(-1e9, tank)]
    for entry in settings:
        result.append((clock.day(entry.at), changed_by(result[-1][1], entry)))
    return result


def _steps(
    tank: Tank, settings: Sequence[Entry], clock: Clock, value: Callable[[Tank], float],
    dark: Sequence[tuple[float, float]],
) -> Series:  # fmt: skip
    """A setting over time, 0 while there is no power."""
    phases = settings_over_time(tank, settings, clock)
    moments = [d for d, _ in phases] + [t for span in dark for t in span]
    times: list[float] = []
    values: list[float] = []
    for moment in sorted(set(moments)):
        now = [state for day, state in phases if day <= moment][-1]
        off = any(a <= moment < b for a, b in dark)
        level = 0.0 if off else value(now)
        if not values or level != values[-1]:
            times.append(moment)
            values.append(level)
    return Series(np.array(times), np.array(values))


def lamp(
    tank: Tank, settings: Sequence[Entry], clock: Clock, end: float,
    dark: Sequence[tuple[float, float]],
) -> Series:  # fmt: skip
    """Light at the water surface [umol/m2/s]: on around the middle of the lamp's day."""
    phases = settings_over_time(tank, settings, clock)
    spans: list[tuple[float, float, float]] = []
    for moment in clock.local_days(end):
        noon = clock.day(clock.local_hour(moment, LIGHT_MIDDLE))
        now = [state for day, state in phases if day <= noon][-1]
        half = min(now.light_hours if now.light_hours is not None else 8.0, 24.0) / 48.0
        level = now.light_ppfd if now.light_ppfd is not None else 50.0
        if half > 0.0 and level > 0.0:
            spans.append((noon - half, noon + half, level))
    changes: dict[float, float] = {-1e9: 0.0}
    for on, off, level in spans:
        changes[off] = 0.0
        changes[on] = level
    for a, b in dark:
        inside = [t for t in changes if a <= t < b]
        after = [level for on, off, level in spans if on <= b < off]
        for t in inside:
            changes[t] = 0.0
        changes[a] = 0.0
        changes[b] = after[0] if after else 0.0
    times = sorted(changes)
    return Series(np.array(times), np.array([changes[t] for t in times]))


def room_temperature(record: Record, clock: Clock, end: float) -> Series:
    """Room temperature [K] with its daily wave, as straight lines between six-hourly points."""
    means = _room_means(record, clock)
    times, values = [], []
    for moment in clock.local_days(end):
        for hour, wave in ((3.0, -1.0), (9.0, 0.0), (15.0, 1.0), (21.0, 0.0)):
            day = clock.day(clock.local_hour(moment, hour))
            times.append(day)
            values.append(float(np.interp(day, *means)) + ROOM_WAVE * wave)
    order = np.argsort(times)
    return Series(np.array(times)[order], np.array(values)[order], linear=True, gentle=True)


def _room_means(record: Record, clock: Clock) -> tuple[np.ndarray, np.ndarray]:
    rack = record.rack
    base = rack.room_temperature if rack.room_temperature is not None else ROOM_DEFAULT
    own = [
        (clock.day(e.at), e.amount + 273.15)
        for e in record.entries
        if e.kind == "reading" and e.what == "room_temperature" and e.amount is not None
    ]
    if not own:
        own = _from_unheated(record, clock)
    if not own:
        return np.array([0.0]), np.array([base])
    weeks: dict[int, list[float]] = {}
    for day, value in own:
        weeks.setdefault(int(day // 7), []).append(value)
    days = np.array([7.0 * w + 3.5 for w in sorted(weeks)])
    return days, np.array([median(weeks[w]) for w in sorted(weeks)])


def _from_unheated(record: Record, clock: Clock) -> list[tuple[float, float]]:
    unheated = {t.name for t in record.tanks if t.heater_c is None}
    return [
        (clock.day(e.at), e.amount + 273.15 - WATER_OVER_ROOM)
        for e in record.entries
        if e.kind == "reading" and e.what == "temperature" and e.tank in unheated
        and e.amount is not None and 5.0 < e.amount < 40.0
    ]  # fmt: skip


def _readings(record: Record, clock: Clock, what: str, base: float, factor: float) -> Series:
    found = [
        (clock.day(e.at), e.amount * factor)
        for e in record.entries
        if e.kind == "reading" and e.what == what and e.amount is not None
    ]
    if not found:
        return constant(base * factor)
    found.sort()
    times = np.array([-1e9, *(t for t, _ in found)])
    return Series(times, np.array([found[0][1], *(v for _, v in found)]))
