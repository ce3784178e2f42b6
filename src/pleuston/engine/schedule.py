"""The timeline of a run: segments, forcings, jumps and records.

Steps land on switches, jumps and corners of forcings. They go over records, which are read
off inside a step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.kernel import Array, Table


@dataclass(frozen=True)
class Series:
    """A forcing over time: values at times [d]; steps, or straight lines between them.

    gentle: the corners between the lines are slight, so that steps may go over them.
    """

    times: Array
    values: Array
    linear: bool = False
    gentle: bool = False

    def before_after(self, start: Array, end: Array) -> tuple[Array, Array]:
        """Values just after each start and just before each end (the segments' two ends)."""
        if self.linear:
            return (
                np.interp(start, self.times, self.values),
                np.interp(end, self.times, self.values),
            )
        at = np.clip(np.searchsorted(self.times, start, side="right") - 1, 0, None)
        return self.values[at], self.values[at]


BEGIN, PASS, LAND = 0, 1, 2
"""Land there and begin with a small step; go over it; land there and keep the step."""


@dataclass(frozen=True)
class Event:
    """A jump at a time [d since the start of the run], with its arguments."""

    time: float
    jump: str
    arguments: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Schedule:
    """Arrays of a timeline as the kernel reads them.

    keep_step: how steps meet the start of each segment, one of BEGIN, PASS and LAND.
    """

    times: Array
    x0: Array
    x1: Array
    jump_first: np.ndarray
    jump_kind: np.ndarray
    jump_args: Array
    record_at: np.ndarray
    keep_step: np.ndarray
    record_times: Array

    @property
    def days(self) -> float:
        """Length of the run [d]."""
        return float(self.times[-1] - self.times[0])


def constant(value: float) -> Series:
    """A forcing that never changes."""
    return Series(np.array([0.0]), np.array([value]))


def build_schedule(
    table: Table, start: float, end: float, forcings: Mapping[str, Series],
    events: Sequence[Event], records: Sequence[float] | Array,
) -> Schedule:  # fmt: skip
    """Merge everything that happens between start and end [d] into one timeline.

    A record is taken before the jumps at its time. Raises EngineError when a
    forcing is missing, unknown or not finite, or an event or record is outside.
    """
    _check(table, start, end, forcings, events, records)
    wanted = np.asarray(records, dtype=float)
    switches = [
        s.times[(s.times > start) & (s.times < end)] for s in forcings.values() if len(s.times) > 1
    ]
    moments = np.array([e.time for e in events])
    times = np.unique(np.concatenate([[start, end], moments, wanted, *switches]))
    hard_times = np.concatenate(
        [moments, *(s.times for s in forcings.values() if not s.linear and len(s.times) > 1)]
    )
    x0 = np.empty((len(times) - 1, len(table.forcings)))
    x1 = np.empty_like(x0)
    for i, name in enumerate(table.forcings):
        x0[:, i], x1[:, i] = forcings[name].before_after(times[:-1], times[1:])
    order = sorted(range(len(events)), key=lambda i: events[i].time)
    at = np.searchsorted(times, moments[order]) if events else np.array([], dtype=int)
    args = np.zeros((max(1, len(events)), max(1, len(table.arguments))))
    for n, i in enumerate(order):
        for name, value in events[i].arguments.items():
            args[n, table.at("argument", name)] = value
    record_at = np.full(len(times), -1, dtype=np.int32)
    record_at[np.searchsorted(times, wanted)] = np.arange(len(wanted), dtype=np.int32)
    corners = [s.times for s in forcings.values() if s.linear and not s.gentle]
    keep = np.where(np.isin(times[:-1], np.concatenate([[], *corners])), LAND, PASS)
    keep[np.isin(times[:-1], hard_times)] = BEGIN
    keep[0] = BEGIN
    return Schedule(
        times, x0, x1,
        np.searchsorted(at, np.arange(len(times) + 1)).astype(np.int32),
        np.array([table.at("jump", events[i].jump) for i in order] or [0], dtype=np.int32),
        args, record_at, keep.astype(np.int32), wanted,
    )  # fmt: skip


def _check(
    table: Table, start: float, end: float, forcings: Mapping[str, Series],
    events: Sequence[Event], records: Sequence[float] | Array,
) -> None:  # fmt: skip
    if not end > start:
        raise EngineError(
            f"the run ends at day {end:g}, not after its start {start:g}", where="the schedule",
            remedy="Give an end after the start",
        )  # fmt: skip
    missing = [n for n in table.forcings if n not in forcings]
    unknown = [n for n in forcings if n not in table.forcings]
    if missing or unknown:
        raise EngineError(
            f"forcings missing: {missing}, unknown: {unknown}", where="the schedule",
            remedy="Give a series for every forcing of the model and no other",
        )  # fmt: skip
    for name, series in forcings.items():
        if not np.isfinite(series.values).all():
            raise EngineError(
                f"{name} is not finite", where="the schedule", remedy="Fill or drop the gaps"
            )
    for event in events:
        if not start <= event.time < end:
            raise EngineError(
                f"{event.jump} at day {event.time:g} lies outside {start:g}..{end:g}",
                where="the schedule", remedy="Leave it out or move the run",
            )  # fmt: skip
        if not all(np.isfinite(v) for v in event.arguments.values()):
            raise EngineError(
                "an amount is not finite", where=f"{event.jump} at day {event.time:g}",
                remedy="Correct the entry",
            )  # fmt: skip
    times = np.asarray(records, dtype=float)
    if len(times) and (times.min() < start or times.max() > end or (np.diff(times) <= 0).any()):
        raise EngineError(
            "record times must rise and lie within the run", where="the schedule",
            remedy="Sort them and drop doubles",
        )  # fmt: skip
