"""Moves an ensemble towards interval readings: a smoother in four small steps.

Ensemble smoother with multiple data assimilation (Emerick & Reynolds 2013, Computers &
Geosciences 55:3-15). An interval is not a number with an error, so each step replaces it
by the normal pseudo-observation with the same effect on the ensemble's mean and variance
(the moment matching of expectation propagation; Minka 2001). Where the ensemble lies
inside the interval already, the pseudo-observation has no weight and nothing moves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.inference.belief import Forward
from pleuston.inference.normal import Array, truncated_moments
from pleuston.inference.prior import Prior
from pleuston.inference.readings import IntervalData, Mask

REACH = 5.0
"""No reading moves a parameter further from its prior [sd]: beyond, the model is not its own."""
INFLATION = (15.0, 7.5, 3.75, 1.875)
"""Inflation of the error variance by step; the inverses sum to one."""
ROBUST_FROM = 2
"""The step from which readings that look wrong lose weight."""
LEAST_INFORMATION = 1e-6
"""Share of variance a reading must take away to be used."""
LEAST_TRUST = 0.02
"""A reading keeps at least this share of its weight in the smoother."""
FURTHEST = 6.0
"""A member is moved as if no reading were further than this many sd away."""
LEAST_SHARE = 0.25
"""Share of members that must go through."""


@dataclass(frozen=True)
class Pseudo:
    """Normal pseudo-observations: which readings count, their values and variances."""

    used: Mask
    value: Array
    variance: Array


def pseudo_observations(data: IntervalData, scaled: Array, *, robust: bool) -> Pseudo:
    """Give each reading as the normal observation with the same effect on the ensemble.

    With ensemble mean m and variance v of the scaled prediction and error sd s, the latent
    reading is N(m, v + s^2) cut to its interval: mean m + e t, variance q t^2, t^2 = v + s^2.
    The matching observation is m + e t / (1 - q) with variance t^2 / (1 - q) - v.
    """
    mean, variance = scaled.mean(axis=0), scaled.var(axis=0, ddof=1)
    own = data.sd_alone
    total = variance + own**2
    root = np.sqrt(total)
    value, error, taken = data.low.copy(), own**2, np.ones(len(data))
    at = ~data.exact
    low, high = (data.low[at] - mean[at]) / root[at], (data.high[at] - mean[at]) / root[at]
    shift, rest = truncated_moments(low, high)
    taken[at] = 1.0 - rest
    informative = np.maximum(taken[at], LEAST_INFORMATION)
    value[at] = mean[at] + shift * root[at] / informative
    error[at] = total[at] / informative - variance[at]
    if robust:
        error = error / np.maximum(1.0 - _wrong(data, mean, root), LEAST_TRUST)
    reach = FURTHEST * np.sqrt(variance + error)
    value = np.clip(value, mean - reach, mean + reach)
    moving = variance > (1e-9 * data.sd) ** 2
    return Pseudo(used=(taken > LEAST_INFORMATION) & moving, value=value, variance=error)


def _wrong(data: IntervalData, mean: Array, root: Array) -> Array:
    """Give the chance of each reading to be wrong, the ensemble as a normal law."""
    right = (1.0 - data.lapse) * np.exp(data.with_sd(root).log_right(mean[None, :])[0])
    wrong = data.lapse * data.misread
    return np.asarray(wrong / np.maximum(right + wrong, np.finfo(float).tiny))


def smoother_step(
    theta: Array, scaled: Array, pseudo: Pseudo, inflation: float, rng: np.random.Generator
) -> Array:
    """Move theta (members, parameters) by one inflated step, solved in ensemble space."""
    used = pseudo.used
    members = len(theta)
    error = np.sqrt(pseudo.variance[used])
    noise = rng.standard_normal((members, len(pseudo.used)))[:, used]
    if not used.any():
        return theta
    noise -= noise.mean(axis=0)
    z = scaled[:, used]
    innovation = (pseudo.value[used] - z) / error + np.sqrt(inflation) * noise
    root = np.sqrt(members - 1.0)
    anomalies = (z - z.mean(axis=0)) / error / root
    u, s, vt = np.linalg.svd(anomalies, full_matrices=False)
    gain = (vt.T * (s / (s * s + inflation))) @ u.T
    moved = theta + innovation @ gain @ (theta - theta.mean(axis=0)) / root
    return np.asarray(np.clip(moved, -REACH, REACH))


@dataclass(frozen=True)
class Smoothed:
    """An ensemble after the smoother, its runs, and how many members failed on the way."""

    theta: Array
    runs: int
    failed: int
    tried: tuple[tuple[Array, Array], ...]
    """By step: theta of the members that went through, and their scaled predictions."""


def smooth(
    prior: Prior, forward: Forward, data: IntervalData, members: int,
    rng: np.random.Generator, tick: Callable[[int], None],
) -> Smoothed:  # fmt: skip
    """Run the smoother from the prior; `tick(members run)` is told after each step."""
    theta = prior.sample(members, rng)
    failed = 0
    tried = []
    for step, inflation in enumerate(INFLATION):
        predicted = run_members(forward, prior.to_physical(theta), data)
        tick(members)
        scaled = data.scaled(predicted)
        good = went_through(scaled)
        failed += int((~good).sum())
        refuse_if_too_few(good, len(prior))
        tried.append((theta[good], scaled[good]))
        pseudo = pseudo_observations(data, scaled[good], robust=step >= ROBUST_FROM)
        moved = smoother_step(theta[good], scaled[good], pseudo, inflation, rng)
        theta = _refilled(theta, moved, good, rng)
    return Smoothed(theta, members * len(INFLATION), failed, tuple(tried))


def run_members(forward: Forward, physical: Array, data: IntervalData) -> Array:
    """Run members and check the shape of what comes back."""
    predicted = np.asarray(forward(physical), dtype=np.float64)
    if predicted.shape != (len(physical), len(data)):
        raise EngineError(
            f"predictions have shape {predicted.shape}, not {(len(physical), len(data))}",
            "learning", "give one row per member and one column per reading",
        )  # fmt: skip
    return predicted


def went_through(scaled: Array) -> Mask:
    """Say which members gave finite predictions only."""
    return np.asarray(np.isfinite(scaled).all(axis=1))


def refuse_if_too_few(good: Mask, parameters: int) -> None:
    """Raise when too few members went through to learn from."""
    least = max(int(LEAST_SHARE * len(good)), 2 * parameters + 2)
    if good.sum() < least:
        raise EngineError(
            f"only {int(good.sum())} of {len(good)} members went through the model",
            "learning",
            "look at the entries before the first reading for an impossible amount",
        )


def _refilled(theta: Array, moved: Array, good: Mask, rng: np.random.Generator) -> Array:
    """Put draws from the good members' normal law in the places of failed ones."""
    result = theta.copy()
    result[good] = moved
    lost = int((~good).sum())
    draws = rng.standard_normal((lost, theta.shape[1]))
    if lost:
        spread = np.cov(moved, rowvar=False).reshape(theta.shape[1], theta.shape[1])
        result[~good] = moved.mean(axis=0) + draws @ _root(spread).T
    return result


def _root(covariance: Array) -> Array:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
