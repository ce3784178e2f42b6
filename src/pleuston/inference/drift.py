"""Slow errors learned as a record goes: what the model leaves out, and what a kit is out by.

For every member the slow error of each quantity (slow_error.py) is filtered through the
readings, each interval taken by its moments (assumed density filtering; Minka 2001). That
gives the chance of all readings of a quantity together, and what the error is by now, which
an outlook adds to the member. A reading that fits badly is wrong, or a tank has taken a step
that nobody noted (a change with another water): the two are kept apart by what comes after, as
what is believed is the mixture of all three, put together as one normal law (Harrison &
Stevens 1976, Journal of the Royal Statistical Society B 38:205-247).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.inference.normal import Array, cdf
from pleuston.inference.readings import IntervalData
from pleuston.inference.slow_error import KIT, MODEL, PLACES, STEP, SlowError, carried

LEAST = 1e-12
"""Chance of an interval below which a reading moves nothing."""
ROOT_2PI = float(np.sqrt(2.0 * np.pi))


@dataclass(frozen=True)
class Drift:
    """What is known of a quantity's slow error for each member after its last reading.

    mean: (4, members) of model, rate, step and kit; covariance: (4, 4, members).
    """

    mean: Array
    covariance: Array
    law: SlowError
    time: float
    """Days since the start of the record."""

    def at(self, time: float) -> tuple[Array, Array]:
        """Mean (3, members) and covariance (3, 3, members) of all but the kit at a later time."""
        along, added = self.law.over(max(time - self.time, 0.0))
        mean = np.einsum("ij,jm->im", along, self.mean)
        covariance = np.einsum("ij,jkm,lk->ilm", along, self.covariance, along) + added[:, :, None]
        return mean[:KIT], covariance[:KIT, :KIT]

    def drawn(self, time: float, rng: np.random.Generator) -> Array:
        """(3, members) one draw of model, rate and step for each member at a later time."""
        mean, covariance = self.at(time)
        size, turn = np.linalg.eigh(np.moveaxis(covariance, -1, 0))
        off = np.sqrt(np.maximum(size, 0.0)) * rng.standard_normal(mean.T.shape)
        return np.asarray(mean + np.einsum("mij,mj->im", turn, off))


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
    own = [np.array([q == n for q in data.streams]) for n in names]
    law = _laws(data, own)
    mean = np.zeros((PLACES, members, len(names)))
    covariance = np.repeat(law.opening[:, :, None, :], members, axis=2)
    last, read = np.zeros(len(names)), np.zeros(len(names), dtype=bool)
    total, wrong = np.zeros(members), np.zeros((members, len(data)))
    for step in _steps(data, names):
        here = np.flatnonzero(step >= 0)
        at = step[here]
        days = data.times[at] - last[here]
        along, added = _of(law, here).over(days)
        m = np.einsum("ijn,jmn->imn", along, mean[:, :, here])
        c = carried(along[:, :, None, :], covariance[:, :, :, here]) + added[:, :, None, :]
        since = np.where(read[here], days, 0.0)
        m, c, chance, doubt = _taken(data, at, scaled[:, at], m, c, since)
        mean[:, :, here], covariance[:, :, :, here], last[here] = m, c, data.times[at]
        read[here] = True
        total += np.log(np.maximum(chance, np.finfo(float).tiny)).sum(axis=1)
        wrong[:, at] = doubt
    drifts = {
        n: Drift(mean[:, :, i], covariance[:, :, :, i], _of(law, i), float(last[i]))
        for i, n in enumerate(names)
    }
    return Filtered(total, wrong, drifts)


def _laws(data: IntervalData, own: list[np.ndarray]) -> SlowError:
    """The law of each stream's error, as an array over streams."""

    def mean(values: Array) -> Array:
        return np.array([float(np.mean(values[at])) for at in own])

    return SlowError(
        np.sqrt(mean(data.drift**2 - data.kit**2)), np.sqrt(mean(data.kit**2)),
        mean(data.memory), mean(data.trend), mean(data.begun),
    )  # fmt: skip


def _of(law: SlowError, here: np.ndarray | int) -> SlowError:
    fields = (law.model, law.kit, law.memory, law.trend, law.begun)
    return SlowError(*(np.asarray(x)[here] for x in fields))


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
    data: IntervalData, at: np.ndarray, scaled: Array, m: Array, c: Array, days: Array
) -> tuple[Array, Array, Array, Array]:
    """Take in one reading of each of some quantities, `days` after the one before (0: the first).

    Gives mean and covariance of the errors after it, its chance, and the chance that it is
    wrong. Right, wrong, and right after a step that nobody noted are put together.
    """
    stepped = 1.0 - np.exp(-days / data.step_every[at])
    stepped = np.where(data.step[at] > 0.0, stepped, 0.0)
    wrong = data.lapse[at] * data.misread[at]
    chance, mean, covariance = _right(data, at, scaled, m, c)
    weight = chance * (1.0 - data.lapse[at])
    parts = [(weight, mean, covariance), (np.broadcast_to(wrong, weight.shape), m, c)]
    if stepped.any():
        wide = c.copy()
        stays = data.trend[at] > 0.0
        wide[MODEL, MODEL] += np.where(stays, 0.0, data.step[at] ** 2)
        wide[STEP, STEP] += np.where(stays, data.step[at] ** 2, 0.0)
        chance, mean, covariance = _right(data, at, scaled, m, wide)
        parts[0] = (weight * (1.0 - stepped), *parts[0][1:])
        parts.append((stepped * (1.0 - data.lapse[at]) * chance, mean, covariance))
    total = np.sum([w for w, _, _ in parts], axis=0)
    total = np.maximum(total, np.finfo(float).tiny)
    middle = sum(w / total * x for w, x, _ in parts)
    whole = sum(
        w / total * (cov + (x - middle)[:, None] * (x - middle)[None, :]) for w, x, cov in parts
    )
    return np.asarray(middle), np.asarray(whole), total, wrong / total


def _right(
    data: IntervalData, at: np.ndarray, scaled: Array, m: Array, c: Array
) -> tuple[Array, Array, Array]:
    """The chance (or density) of readings that are right, and the errors' law after them."""
    noise = np.sqrt(np.maximum(data.sd[at] ** 2 - data.drift[at] ** 2, 1e-18))
    shared = c[:, MODEL] + c[:, STEP] + c[:, KIT]
    spread = np.sqrt(shared[MODEL] + shared[STEP] + shared[KIT] + noise**2)
    shown = scaled + m[MODEL] + m[STEP] + m[KIT]
    low, high = (data.low[at] - shown) / spread, (data.high[at] - shown) / spread
    right, shift, rest = _moments(low, high, data.exact[at])
    right = np.where(data.exact[at], right / spread, right)
    gain = shared / spread
    after = c - gain[:, None] * gain[None, :] * (1.0 - rest)
    return right, m + gain * shift, after


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
