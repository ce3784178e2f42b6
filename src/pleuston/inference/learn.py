"""Learns a tank's own rates from its readings: smoother, then exact re-weighting."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pleuston.base.errors import InputError
from pleuston.inference.belief import (
    Diagnostics,
    Forward,
    LearningCancelledError,
    Posterior,
    effective_members,
)
from pleuston.inference.drift import filtered
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior
from pleuston.inference.readings import IntervalData
from pleuston.inference.reweight import ROUNDS, Reweighted, exactly_weighted
from pleuston.inference.update import INFLATION, smooth

LEAST_MEMBERS = 32


def learn(
    prior: Prior, forward: Forward, data: IntervalData, *, members: int = 256,
    reweight: bool = True, seed: int = 0,
    progress: Callable[[float], None] | None = None, cancel: Callable[[], bool] | None = None,
) -> Posterior:  # fmt: skip
    """Give the members that agree with the prior and with all readings.

    Runs 4 x members through `forward`, and 4 x members more with re-weighting. The same
    seed gives the same result. `progress` is told the share done; `cancel` is asked before
    every round of runs and stops the learning when it says so.
    """
    least = max(LEAST_MEMBERS, 2 * len(prior) + 2)
    if members < least:
        raise InputError(f"{members} members are too few", "learning", f"take {least} or more")
    rng = np.random.default_rng(seed)
    if not len(data):
        return _from_prior(prior, members, rng)
    draws = 4 * members // ROUNDS
    watch = Watch(members * len(INFLATION) + reweight * draws * ROUNDS, progress, cancel)
    told = watch.asked(forward)
    smoothed = smooth(prior, told, data, members, rng, watch.tick)
    if not reweight:
        return _smoothed(prior, smoothed.theta, smoothed.runs, smoothed.failed, members)
    found = exactly_weighted(prior, told, data, smoothed, draws, rng, watch.tick)
    return weighted_posterior(
        prior, data, found, smoothed.theta.mean(axis=0), "smoother and re-weighting",
        smoothed.runs + found.runs, smoothed.failed + found.failed,
    )  # fmt: skip


def weighted_posterior(
    prior: Prior, data: IntervalData, found: Reweighted, middle: Array, method: str, runs: int,
    failed: int,
) -> Posterior:  # fmt: skip
    """Weighted draws as a posterior; middle: where the method put them before weighting."""
    mean = found.weights @ found.theta
    variance = found.weights @ np.square(found.theta - mean)
    shift = np.abs(mean - middle) / np.sqrt(np.maximum(variance, 1e-12))
    return Posterior(
        prior, found.theta, prior.to_physical(found.theta), found.weights,
        Diagnostics(
            method=method, runs=runs, failed=failed, failed_at_last=found.failed_at_last,
            effective_members=found.effective, tempered=found.tempered, shift=float(shift.max()),
            log_evidence=found.log_evidence,
            misread=misread_chances(data, found.predicted, found.weights),
            informed=informed_by(variance),
        ),
        predicted=found.predicted,
    )  # fmt: skip


def misread_chances(data: IntervalData, predicted: Array, weights: Array) -> tuple[float, ...]:
    """Give, for each reading, the chance that it is wrong rather than the model."""
    at = weights > 0.0
    wrong = filtered(data, data.scaled(predicted[at])).wrong
    return tuple(float(x) for x in weights[at] @ wrong)


class Watch:
    """Tells progress, and stops when asked to."""

    def __init__(
        self, total: int, progress: Callable[[float], None] | None,
        cancel: Callable[[], bool] | None,
    ) -> None:  # fmt: skip
        self.total, self.done = total, 0
        self.progress, self.cancel = progress, cancel

    def tick(self, members: int) -> None:
        """Note that members were run."""
        self.done += members
        if self.progress is not None:
            self.progress(min(self.done / self.total, 1.0))

    def asked(self, forward: Forward) -> Forward:
        """Wrap forward runs so that each asks first whether to go on."""

        def run(physical: Array) -> Array:
            if self.cancel is not None and self.cancel():
                raise LearningCancelledError("it was cancelled", "learning", "start it again")
            return forward(physical)

        return run


def informed_by(variance: Array) -> tuple[float, ...]:
    """By parameter, how much of the prior's variance the readings took away."""
    return tuple(float(x) for x in np.clip(1.0 - variance, 0.0, 1.0))


def _from_prior(prior: Prior, members: int, rng: np.random.Generator) -> Posterior:
    theta = prior.sample(members, rng)
    weights = np.full(members, 1.0 / members)
    diagnostics = Diagnostics(
        method="prior", runs=0, failed=0, failed_at_last=0, effective_members=float(members),
        log_evidence=0.0, informed=(0.0,) * len(prior),
    )  # fmt: skip
    return Posterior(prior, theta, prior.to_physical(theta), weights, diagnostics)


def _smoothed(prior: Prior, theta: Array, runs: int, failed: int, members: int) -> Posterior:
    weights = np.full(members, 1.0 / members)
    diagnostics = Diagnostics(
        method="smoother", runs=runs, failed=failed, failed_at_last=0,
        effective_members=effective_members(weights),
        informed=informed_by(theta.var(axis=0, ddof=1)),
    )  # fmt: skip
    return Posterior(prior, theta, prior.to_physical(theta), weights, diagnostics)
