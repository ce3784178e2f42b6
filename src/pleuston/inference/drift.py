"""What the model leaves out of a quantity: an error that stays for weeks, learned as it goes.

A model that reads a tank's hardness a degree too high today will do so next week. The
discrepancy of an observation model is therefore one slow error per quantity, not a fresh
one for each reading (Kennedy & O'Hagan 2001, Journal of the Royal Statistical Society B
63:425-464): an Ornstein-Uhlenbeck process about zero. For every member it is filtered
through the readings, each interval taken by its moments (assumed density filtering; Minka
2001). That gives the chance of all readings of a quantity together, and what the error
is by now, which an outlook adds to the member.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.inference.normal import Array, cdf
from pleuston.inference.readings import IntervalData

LEAST = 1e-12
"""Chance of an interval below which a reading moves nothing."""
ROOT_2PI = float(np.sqrt(2.0 * np.pi))


@dataclass(frozen=True)
class Drift:
    """The error that stays of one quantity for each member at its last reading, as compared."""

    mean: Array
    sd: Array
    whole: float
    """Its sd when nothing has been read."""
    kit: float
    """The part of `whole` that is the kit's."""
    time: float
    """Days since the start of the record."""
    memory: float
    """Days over which it fades to 1/e."""

    def at(self, time: float) -> tuple[Array, Array]:
        """Mean and sd of the model's part of the error at a later time.

        It fades to what is known without readings. Readings can't tell the model's error
        from the kit's: of what they show, each has its share by its variance before.
        """
        kept = float(np.exp(-max(time - self.time, 0.0) / self.memory))
        all_of_it = self.whole**2
        variance = kept**2 * self.sd**2 + all_of_it * (1.0 - kept**2)
        share = 1.0 - self.kit**2 / all_of_it if all_of_it > 0.0 else 0.0
        rest = share * self.kit**2
        return share * kept * self.mean, np.sqrt(share**2 * variance + rest)


@dataclass(frozen=True)
class Filtered:
    """Members held against all readings, errors that stay allowed for."""

    log_likelihood: Array
    """(members,)"""
    wrong: Array
    """(members, readings): chance that a reading is wrong rather than the model."""
    drifts: Mapping[str, Drift]


def filtered(data: IntervalData, scaled: Array) -> Filtered:
    """Filter the error of every quantity through its readings, for each member."""
    members = len(scaled)
    names = sorted(set(data.streams))
    steps = _steps(data, names)
    own = [np.array([q == n for q in data.streams]) for n in names]
    whole = np.array([np.sqrt(np.mean(data.drift[at] ** 2)) for at in own])
    kit = np.array([np.sqrt(np.mean(data.kit[at] ** 2)) for at in own])
    mean, variance = np.zeros((members, len(names))), np.tile(whole**2, (members, 1))
    last = np.full(len(names), -np.inf)
    memory = np.array([float(np.mean(data.memory[at])) for at in own])
    total, wrong = np.zeros(members), np.zeros((members, len(data)))
    for step in steps:
        here = np.flatnonzero(step >= 0)
        at = step[here]
        kept = np.exp(-np.minimum((data.times[at] - last[here]) / memory[here], 700.0))
        m = kept * mean[:, here]
        v = kept**2 * variance[:, here] + (1.0 - kept**2) * whole[here] ** 2
        m, v, chance, doubt = _taken(data, at, scaled[:, at], m, v)
        mean[:, here], variance[:, here], last[here] = m, v, data.times[at]
        total += np.log(np.maximum(chance, np.finfo(float).tiny)).sum(axis=1)
        wrong[:, at] = doubt
    sd = np.sqrt(np.maximum(variance, 0.0))
    drifts = {
        n: Drift(mean[:, i], sd[:, i], *(float(x[i]) for x in (whole, kit, last, memory)))
        for i, n in enumerate(names)
    }
    return Filtered(total, wrong, drifts)


def _steps(data: IntervalData, names: list[str]) -> np.ndarray:
    """(steps, quantities): the place of the first, second, ... reading of each; -1 for none."""
    places = [
        sorted((i for i, q in enumerate(data.streams) if q == n), key=data.times.__getitem__)
        for n in names
    ]
    table = np.full((max(map(len, places), default=0), len(names)), -1)
    for column, own in enumerate(places):
        table[: len(own), column] = own
    return table


def _taken(
    data: IntervalData, at: np.ndarray, scaled: Array, m: Array, v: Array
) -> tuple[Array, Array, Array, Array]:
    """Take in one reading of each of some quantities.

    Gives mean and variance of the errors after it, its chance, and the chance that it is wrong.
    """
    noise = np.sqrt(np.maximum(data.sd[at] ** 2 - data.drift[at] ** 2, 1e-18))
    spread = np.sqrt(v + noise**2)
    low = (data.low[at] - scaled - m) / spread
    high = (data.high[at] - scaled - m) / spread
    right, shift, rest = _moments(low, high, data.exact[at])
    right = np.where(data.exact[at], right / spread, right) * (1.0 - data.lapse[at])
    wrong = data.lapse[at] * data.misread[at]
    chance = right + wrong
    belief = right / np.maximum(chance, np.finfo(float).tiny)
    gain = v / spread
    move = gain * shift
    after = v - gain**2 * (1.0 - rest)
    mean = m + belief * move
    variance = belief * after + (1.0 - belief) * (v + belief * move**2)
    return mean, np.maximum(variance, 0.0), chance, 1.0 - belief


def _moments(low: Array, high: Array, exact: np.ndarray) -> tuple[Array, Array, Array]:
    """Chance, mean and variance of a standard normal number in [low, high].

    Of an exact reading the density, the point itself and no variance.
    """
    with np.errstate(invalid="ignore"):  # open at both ends
        flip = low + high > 0.0
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    chance = cdf(b) - cdf(a)
    safe = np.maximum(chance, LEAST)
    at_a, at_b = np.exp(-0.5 * a * a) / ROOT_2PI, np.exp(-0.5 * b * b) / ROOT_2PI
    mean = (at_a - at_b) / safe
    finite_a, finite_b = np.where(np.isfinite(a), a, 0.0), np.where(np.isfinite(b), b, 0.0)
    rest = np.clip(1.0 + (finite_a * at_a - finite_b * at_b) / safe - mean**2, 0.0, 1.0)
    there = (chance > LEAST) & ~exact
    mean = np.where(there, np.where(flip, -mean, mean), np.where(exact, low, 0.0))
    rest = np.where(there, rest, np.where(exact, 0.0, 1.0))
    density = np.exp(-0.5 * np.minimum(low * low, 1400.0)) / ROOT_2PI
    return np.where(exact, density, chance), mean, rest
