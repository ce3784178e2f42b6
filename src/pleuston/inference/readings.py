"""Readings as intervals: what a keeper's card, drops or pen say about a quantity.

A colour step, a count of drops or "below the first step" is an interval; an exact
number is a normal error around the quantity. Both are compared with the model on the
scale where errors are alike in size everywhere (log, linear or log-odds).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.inference.normal import Array, log_density, log_interval
from pleuston.inference.slow_error import SlowError
from pleuston.records.near import near_names
from pleuston.records.readings import Interval

Mask = np.ndarray[Any, np.dtype[np.bool_]]


def _log(value: Array, offset: Array | float) -> Array:
    return np.asarray(np.log(np.maximum(value, 0.0) + offset))


def _linear(value: Array, _offset: Array | float) -> Array:
    return value


def _share(value: Array, offset: Array | float) -> Array:
    inside = np.clip(value, 0.0, 1.0)
    return np.asarray(np.log((inside + offset) / (1.0 - inside + offset)))


MEMORY = 45.0
"""Days over which the error of the model in one quantity fades to 1/e: what a model leaves
out of a tank (a kit's own bias, a source it does not know) lasts for weeks to months. An
observation model may say otherwise: what only water and harvest carry off stays longer."""
TRANSFORMS: dict[str, Callable[[Array, Array | float], Array]] = {
    "log": _log,
    "linear": _linear,
    "share": _share,
}


STEP = 0.1
"""A step that nobody noted (a change with another water) is this share of a quantity's range
on the scale of comparison where an observation model says nothing else: a guess."""
STEP_EVERY = 1826.0
"""Days between two such steps where an observation model says nothing else: a guess."""
EXPIRED, EXPIRED_LAPSE = 2.0, 4.0
"""How much coarser readings of a kit past its day are, and how much oftener wrong: a guess."""


@dataclass(frozen=True, slots=True)
class Method:
    """How well one way of reading a quantity works."""

    name: str
    noise: float
    kit: float
    relative: float
    lapse: float
    classes: int
    source: str
    where: str
    grade: str
    note: str

    def worn(self) -> Method:
        """The same way of reading with a kit past its day: coarser, and wrong more often."""
        return replace(
            self, noise=EXPIRED * self.noise, kit=EXPIRED * self.kit,
            relative=EXPIRED * self.relative, lapse=min(EXPIRED_LAPSE * self.lapse, 0.3),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ObservationModel:
    """How readings of one quantity relate to it."""

    quantity: str
    unit: str
    transform: str
    offset: float
    least: float
    most: float
    discrepancy: float
    interval: str
    exact: str
    methods: Mapping[str, Method]
    memory: float = MEMORY
    trend: float = 0.0
    begun: float = 0.0
    step: float = STEP
    step_every: float = STEP_EVERY
    passing: float = 0.0
    """Sd of what the model misses of the hour, as of the swing of a day: no reading tells it."""
    doubted: bool = False
    """Whether the change that the model expects from tomorrow on may not come about."""

    @property
    def slow(self) -> SlowError:
        """The law of what the model leaves out of the quantity."""
        return SlowError(self.discrepancy, 0.0, self.memory, self.trend)

    def scaled(self, value: ArrayLike) -> Array:
        """Put values in the quantity's unit on the scale of comparison."""
        value = np.asarray(value, dtype=np.float64)
        return TRANSFORMS[self.transform](value, self.offset)

    def method(self, text: str, *, exact: bool) -> Method:
        """Give the method a reading names, else the usual one for its kind."""
        words = set(re.findall(r"[a-z]+", text.lower()))
        named = [m for name, m in self.methods.items() if name in words]
        found = named[0] if named else self.methods[self.exact if exact else self.interval]
        return found.worn() if "expired" in words else found

    @property
    def span(self) -> float:
        """Length of the range readings can have, on the scale of comparison."""
        ends = self.scaled([self.least, self.most])
        return float(ends[1] - ends[0])


@cache
def observation_models() -> Mapping[str, ObservationModel]:
    """Give every observation model by the name of its quantity."""
    text = resources.files("pleuston.inference").joinpath("observation.toml").read_text("utf-8")
    return {name: _model(name, table) for name, table in tomllib.loads(text).items()}


def _model(name: str, table: dict[str, Any]) -> ObservationModel:
    methods = {m: Method(name=m, **fields) for m, fields in table.pop("methods").items()}
    model = ObservationModel(quantity=name, methods=methods, **table)
    if model.transform not in TRANSFORMS or not {model.interval, model.exact} <= set(methods):
        raise InputError(
            "it names an unknown transform or method", f"observation model {name}",
            "correct observation.toml",
        )  # fmt: skip
    return model


def observation_model(quantity: str) -> ObservationModel:
    """Give the observation model of a quantity, or say which names are near."""
    models = observation_models()
    if quantity not in models:
        raise UnknownNameError(
            f"readings of {quantity!r} can't be compared with the model", "readings",
            near_names(quantity, models),
        )  # fmt: skip
    return models[quantity]


def with_slow_error(
    quantity: str, values: Array, error: Array, scale: float = 1.0
) -> Array:
    """Add an error on a quantity's scale of comparison to values in `scale` times its unit."""
    model = observation_model(quantity)
    if model.transform == "log":
        offset = model.offset * scale
        return np.asarray(np.maximum((values + offset) * np.exp(error) - offset, 0.0))
    if model.transform == "share":
        share = np.clip(values / scale, 1e-6, 1.0 - 1e-6)
        logit = np.log(share / (1.0 - share)) + error
        return np.asarray(scale / (1.0 + np.exp(-logit)))
    moved = np.asarray(values + error * scale)
    return moved if quantity == "temperature" else np.asarray(np.maximum(moved, 0.0))


@dataclass(frozen=True, slots=True)
class ReadingInterval:
    """One reading in the quantity's canonical unit.

    An open end is None (or infinite, taken as None); low = high is an exact reading.
    """

    quantity: str
    low: float | None
    high: float | None
    time: float
    """Days since the start of the record."""
    method: str = ""

    def __post_init__(self) -> None:
        if self.low == -np.inf:
            object.__setattr__(self, "low", None)
        if self.high == np.inf:
            object.__setattr__(self, "high", None)
        low, high = self.low, self.high
        fault = ""
        if any(bound is not None and not np.isfinite(bound) for bound in (low, high)):
            fault = "a bound is not a finite number"
        elif low is not None and high is not None and low > high:
            fault = f"its low {low:g} is above its high {high:g}"
        if fault:
            where = f"reading of {self.quantity} on day {self.time:g}"
            raise InputError(fault, where, "leave an open end empty, and give low before high")

    @classmethod
    def of(cls, interval: Interval, time: float, method: str = "") -> ReadingInterval:
        """Take what an entry of the record stands for."""
        return cls(interval.quantity, interval.low, interval.high, time, method)

    @property
    def is_exact(self) -> bool:
        return self.low is not None and self.low == self.high


def chart_interval(steps: Sequence[float], index: int) -> tuple[float | None, float | None]:
    """Give the interval a colour step stands for: between the middles to its neighbours.

    The first step is open below and the last is open above.

    >>> chart_interval((0.0, 5.0, 10.0, 20.0), 1), chart_interval((0.0, 5.0, 10.0), 0)
    ((2.5, 7.5), (None, 2.5))
    """
    low = None if index == 0 else 0.5 * (steps[index - 1] + steps[index])
    high = None if index == len(steps) - 1 else 0.5 * (steps[index] + steps[index + 1])
    return low, high


def drops_interval(drops: int, per_drop: float) -> tuple[float | None, float | None]:
    """Give the interval that a count of drops stands for: the colour turned within the last.

    >>> drops_interval(4, 1.0), drops_interval(1, 1.0)
    ((3.0, 4.0), (None, 1.0))
    """
    return (None if drops <= 1 else (drops - 1) * per_drop), drops * per_drop


@dataclass(frozen=True)
class IntervalData:
    """Readings as arrays, one place per reading, bounds on the scale of comparison."""

    quantities: tuple[str, ...]
    times: Array
    low: Array
    high: Array
    sd: Array
    lapse: Array
    misread: Array
    """Chance (intervals) or density (exact readings) that a reading gone wrong falls here."""
    exact: Mask
    offset: Array
    kinds: tuple[str, ...]
    drift: Array = field(default_factory=lambda: np.zeros(0))
    """Part of `sd` that stays for weeks: the model's own error and the kit's; 0 for none."""
    kit: Array = field(default_factory=lambda: np.zeros(0))
    """Part of `drift` that is the kit's: it shows in readings, not in the tank."""
    streams: tuple[str, ...] = ()
    """What readings share that error by: the quantity, and of what where there are several."""
    memory: Array = field(default_factory=lambda: np.zeros(0))
    """Days over which `drift` fades to 1/e."""
    trend: Array = field(default_factory=lambda: np.zeros(0))
    """Share of the model's variance in `drift` that comes by a rate."""
    begun: Array = field(default_factory=lambda: np.zeros(0))
    """Share of the model's error that is none yet when the record begins."""
    step: Array = field(default_factory=lambda: np.zeros(0))
    """Sd of a step of the quantity that nobody noted; 0 where there is none."""
    step_every: Array = field(default_factory=lambda: np.zeros(0))
    """Days between two such steps."""

    def __post_init__(self) -> None:
        if len(self.streams) != len(self.quantities):
            object.__setattr__(self, "streams", self.quantities)
        for name in ("drift", "kit", "trend", "begun", "step"):
            if len(getattr(self, name)) != len(self.quantities):
                object.__setattr__(self, name, np.zeros(len(self.quantities)))
        if len(self.memory) != len(self.quantities):
            object.__setattr__(self, "memory", np.full(len(self.quantities), MEMORY))
        if len(self.step_every) != len(self.quantities):
            object.__setattr__(self, "step_every", np.full(len(self.quantities), STEP_EVERY))

    @classmethod
    def of(
        cls, readings: Sequence[ReadingInterval], streams: Sequence[str] = ()
    ) -> IntervalData:
        """Put readings on their scales, with reader noise and model discrepancy joined."""
        models = [observation_model(reading.quantity) for reading in readings]
        rows = [_row(r, m) for r, m in zip(readings, models, strict=True)]
        low, high, sd, lapse, misread, kit = np.array(rows, dtype=np.float64).reshape(-1, 6).T
        drift = np.sqrt(np.array([m.discrepancy for m in models]) ** 2 + kit**2)
        return cls(
            quantities=tuple(reading.quantity for reading in readings),
            times=np.array([reading.time for reading in readings], dtype=np.float64),
            low=low, high=high, sd=sd, lapse=lapse, misread=misread,
            exact=np.array([reading.is_exact for reading in readings], dtype=np.bool_),
            offset=np.array([model.offset for model in models], dtype=np.float64),
            kinds=tuple(model.transform for model in models), drift=drift, streams=tuple(streams),
            kit=kit, memory=np.array([model.memory for model in models], dtype=np.float64),
            trend=np.array([model.trend for model in models], dtype=np.float64),
            begun=np.array([model.begun for model in models], dtype=np.float64),
            step=np.array([model.step * model.span for model in models], dtype=np.float64),
            step_every=np.array([model.step_every for model in models], dtype=np.float64),
        )  # fmt: skip

    @classmethod
    def linear(
        cls, low: ArrayLike, high: ArrayLike, sd: ArrayLike, *,
        lapse: float = 0.0, misread: float = 1.0,
    ) -> IntervalData:  # fmt: skip
        """Build data on a plain scale, for sums that need no observation model."""
        low, high = np.broadcast_arrays(
            np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
        )
        n = len(low)
        return cls(
            quantities=("number",) * n, times=np.zeros(n), low=low.copy(), high=high.copy(),
            sd=np.broadcast_to(np.asarray(sd, dtype=np.float64), (n,)).copy(),
            lapse=np.full(n, lapse), misread=np.full(n, misread), exact=low == high,
            offset=np.zeros(n), kinds=("linear",) * n,
        )  # fmt: skip

    def __len__(self) -> int:
        return len(self.quantities)

    @property
    def sd_alone(self) -> Array:
        """The error sd with which readings taken as independent tell as much as they do.

        Readings of one quantity share the model's error; each therefore counts it as often
        as it has company within the error's memory.
        """
        if not self.drift.any():
            return self.sd
        drift = np.maximum(self.drift, 1e-12) ** 2
        company = (self.shared_error / drift[:, None]).sum(axis=1)
        return np.asarray(np.sqrt(self.sd**2 + (company - 1.0) * self.drift**2))

    @property
    def shared_error(self) -> Array:
        """(readings, readings) covariance of the errors that stay for weeks."""
        number = {name: i for i, name in enumerate(dict.fromkeys(self.streams))}
        stream = np.array([number[name] for name in self.streams], dtype=int)
        model = np.sqrt(np.maximum(self.drift**2 - self.kit**2, 0.0))
        law = SlowError(
            np.sqrt(model[:, None] * model), np.sqrt(self.kit[:, None] * self.kit),
            0.5 * (self.memory[:, None] + self.memory), 0.5 * (self.trend[:, None] + self.trend),
            0.5 * (self.begun[:, None] + self.begun),
        )  # fmt: skip
        related = law.related(self.times[:, None], self.times)
        return np.asarray(related * (stream[:, None] == stream))

    def scaled(self, predicted: ArrayLike) -> Array:
        """Put predictions (members, readings) in natural units on the scales of comparison."""
        values = np.asarray(predicted, dtype=np.float64)
        result = np.empty_like(values)
        for kind in set(self.kinds):
            at = np.array([k == kind for k in self.kinds])
            result[:, at] = TRANSFORMS[kind](values[:, at], self.offset[at])
        return result

    def with_sd(self, sd: Array) -> IntervalData:
        """Give the same readings with other errors, none of which stays."""
        return replace(self, sd=sd, drift=np.zeros(len(self)), kit=np.zeros(len(self)))

    def log_right(self, scaled: Array) -> Array:
        """Give the log chance of each reading for each member, were none ever wrong."""
        result = np.empty_like(scaled)
        at = self.exact
        result[:, at] = log_density((self.low[at] - scaled[:, at]) / self.sd[at])
        result[:, at] -= np.log(self.sd[at])
        at = ~self.exact
        low = (self.low[at] - scaled[:, at]) / self.sd[at]
        result[:, at] = log_interval(low, (self.high[at] - scaled[:, at]) / self.sd[at])
        return result

    def log_chances(self, scaled: Array) -> Array:
        """Give the log chance of each reading for each member, misreadings allowed for."""
        result = self.log_right(scaled)
        with np.errstate(divide="ignore"):
            right, wrong = np.log1p(-self.lapse), np.log(self.lapse * self.misread)
        return np.asarray(np.logaddexp(result + right, wrong))

    def log_likelihood(self, scaled: Array) -> Array:
        """Give the log likelihood of all readings for each member, each taken by itself."""
        return np.asarray(self.log_chances(scaled).sum(axis=1))


def _row(reading: ReadingInterval, model: ObservationModel) -> tuple[float, ...]:
    exact = reading.is_exact
    method = model.method(reading.method, exact=exact)
    low, high = reading.low, reading.high
    open_low = low is None or (not exact and low <= model.least)
    open_high = high is None or (not exact and high >= model.most)
    known = [b for b, is_open in ((low, open_low), (high, open_high)) if not is_open]
    middle = sum(b for b in known if b is not None) / max(len(known), 1)
    sd = np.sqrt(method.noise**2 + (method.relative * middle) ** 2 + model.discrepancy**2
                 + model.passing**2)  # fmt: skip
    begin = -np.inf if open_low else float(model.scaled(low or 0.0))
    end = np.inf if open_high else float(model.scaled(high or 0.0))
    return begin, end, float(sd), method.lapse, _misread(model, method, begin, end), method.kit


def _misread(model: ObservationModel, method: Method, begin: float, end: float) -> float:
    """The chance, or density where begin is end, of what a reading that is wrong shows.

    It may be any class of a chart; of a scale any place, so that of a display's last digit it is
    the digit's share of the range.
    """
    if begin == end:
        return 1.0 / model.span
    if method.classes > 1 or not np.isfinite(end - begin):
        return 1.0 / max(method.classes, 2)
    return (end - begin) / model.span
