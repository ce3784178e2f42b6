"""Corrects the smoother by the exact chance of every reading.

Adaptive multiple importance sampling (Cornuet et al. 2012, Scandinavian Journal of
Statistics 39:798-812): draws from a heavy-tailed multivariate t around the smoother's
ensemble, then twice from one around the weighted draws; all draws are weighted against the
mixture of both, and weights are cut as in Ionides (2008, Journal of Computational and
Graphical Statistics 17:295-311). A tenth of the draws comes from the prior, so that no
weight can grow beyond ten times the likelihood and no far explanation goes unseen
(defensive mixture; Hesterberg 1995, Technometrics 37:185-194).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import lgamma, log, pi

import numpy as np

from pleuston.inference.belief import Forward, effective_members
from pleuston.inference.drift import filtered
from pleuston.inference.fitted import Planes, normal_law
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior
from pleuston.inference.readings import IntervalData, Mask
from pleuston.inference.update import Smoothed, refuse_if_too_few, run_members, went_through

DEGREES = 7.0
"""Degrees of freedom of the t."""
WIDENED = 1.15
"""The t's covariance relative to the ensemble's."""
FROM_PRIOR = 0.1
"""Share of the draws that comes from the prior."""
NEARBY = 4
"""Runs that a plane is fitted to, for each parameter: the likely ones count most."""
ROUNDS = 3
NARROWEST = 1e-3
"""Smallest sd of a direction of the t, in prior sd."""


@dataclass(frozen=True)
class Student:
    """A multivariate t with a given mean and covariance."""

    mean: Array
    root: Array
    """Root of its scale matrix: draws are mean + root z / sqrt(chi2 / degrees)."""
    log_volume: float

    @classmethod
    def of(cls, mean: Array, covariance: Array) -> Student:
        """Fit the t to a mean and a covariance."""
        scale = covariance * (DEGREES - 2.0) / DEGREES
        values, vectors = np.linalg.eigh(0.5 * (scale + scale.T))
        values = np.maximum(values, NARROWEST**2)
        return cls(mean, vectors * np.sqrt(values), float(0.5 * np.log(values).sum()))

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        """Draw n rows, in pairs of opposite sides."""
        half = -(-n // 2)
        z = rng.standard_normal((half, len(self.mean)))
        z = z / np.sqrt(rng.chisquare(DEGREES, half) / DEGREES)[:, None]
        return np.asarray(self.mean + np.concatenate([z, -z])[:n] @ self.root.T)

    def log_density(self, theta: Array) -> Array:
        """Give the log density of each row."""
        d = len(self.mean)
        scales = np.square(self.root).sum(axis=0)
        z = (theta - self.mean) @ (self.root / scales)
        constant = lgamma(0.5 * (DEGREES + d)) - lgamma(0.5 * DEGREES) - 0.5 * d * log(DEGREES * pi)
        fall = 0.5 * (DEGREES + d) * np.log1p(np.square(z).sum(axis=1) / DEGREES)
        return np.asarray(constant - self.log_volume - fall)


@dataclass(frozen=True)
class Reweighted:
    """Weighted draws from the exact posterior."""

    theta: Array
    predicted: Array
    weights: Array
    runs: int
    failed: int
    failed_at_last: int
    effective: float
    tempered: float
    log_evidence: float


def exactly_weighted(
    prior: Prior, forward: Forward, data: IntervalData, start: Smoothed, draws: int,
    rng: np.random.Generator, tick: Callable[[int], None],
) -> Reweighted:  # fmt: skip
    """Draw around a fitted law and weight by prior times likelihood over the draws' own law."""
    runs = [(t, s, log_target(prior, data, t, s)) for t, s in start.tried[-2:]]
    proposals: list[Student] = []
    rounds: list[Drawn] = []
    for _ in range(ROUNDS):
        proposals.append(_proposal(data, runs))
        new = run_draws(prior, forward, data, defended(proposals[-1], draws, rng))
        tick(draws)
        refuse_if_too_few(new.good, len(prior))
        runs.append((new.theta[new.good], new.scaled[new.good], new.target[new.good]))
        rounds.append(new)
    return weighted(prior, proposals, rounds)


@dataclass(frozen=True)
class Drawn:
    """Draws run through the model, with the log of prior times likelihood of each."""

    theta: Array
    predicted: Array
    scaled: Array
    good: Mask
    """Which went through; the others' target is minus infinity."""
    target: Array


def run_draws(prior: Prior, forward: Forward, data: IntervalData, theta: Array) -> Drawn:
    """Run draws and hold them against all readings."""
    predicted = run_members(forward, prior.to_physical(theta), data)
    scaled = data.scaled(predicted)
    good = went_through(scaled)
    target = np.full(len(theta), -np.inf)
    target[good] = log_target(prior, data, theta[good], scaled[good])
    return Drawn(theta, predicted, scaled, good, target)


def log_target(prior: Prior, data: IntervalData, theta: Array, scaled: Array) -> Array:
    """Log of prior times likelihood; the model's own slow errors are summed out."""
    if data.drift.any():
        return prior.log_density(theta) + filtered(data, scaled).log_likelihood
    return prior.log_density(theta) + data.log_likelihood(scaled)


def _proposal(data: IntervalData, runs: Sequence[tuple[Array, Array, Array]]) -> Student:
    """Give the t around the law fitted to the runs so far, near the likely ones of them."""
    theta = np.concatenate([r[0] for r in runs])
    target = np.concatenate([r[2] for r in runs])
    nearby, _ = settled_weights(target, min(NEARBY * theta.shape[1], 0.6 * len(theta)))
    planes = Planes.of(theta, np.concatenate([r[1] for r in runs]), nearby)
    mean, covariance = normal_law(planes, data)
    return Student.of(mean, WIDENED * covariance)


def defended(proposal: Student, n: int, rng: np.random.Generator) -> Array:
    """Draw n rows from the t, some of them from the prior instead."""
    wide = int(FROM_PRIOR * n)
    prior = rng.standard_normal((wide, len(proposal.mean)))
    return np.concatenate([proposal.draw(n - wide, rng), prior])


def log_mixture(prior: Prior, proposals: Sequence[Student], theta: Array) -> Array:
    """Give the log density of defended draws from all proposals, as many each, as one mixture."""
    narrow = np.logaddexp.reduce([p.log_density(theta) for p in proposals], axis=0)
    narrow = narrow + log((1.0 - FROM_PRIOR) / len(proposals))
    return np.asarray(np.logaddexp(narrow, prior.log_density(theta) + log(FROM_PRIOR)))


def weighted(prior: Prior, proposals: Sequence[Student], rounds: Sequence[Drawn]) -> Reweighted:
    """Weight all draws by their target over the mixture they come from, a round per proposal."""
    theta = np.concatenate([r.theta for r in rounds])
    target = np.concatenate([r.target for r in rounds])
    log_weight = target - log_mixture(prior, proposals, theta)
    weights, tempered = settled_weights(log_weight, 2 * theta.shape[1] + 20)
    top = float(log_weight.max())
    return Reweighted(
        theta=theta,
        predicted=np.concatenate([r.predicted for r in rounds]),
        weights=weights,
        runs=len(theta),
        failed=int(np.isneginf(log_weight).sum()),
        failed_at_last=int((~rounds[-1].good).sum()),
        effective=effective_members(weights),
        tempered=tempered,
        log_evidence=top + float(np.log(np.exp(log_weight - top).mean())),
    )


def settled_weights(log_weight: Array, least: float) -> tuple[Array, float]:
    """Cut weights at n^-1/2 of their sum, and temper them if fewer than `least` would count.

    Gives the weights, summing to one, and the power they were raised to (1 when untouched).
    """
    weights = _cut(log_weight)
    if effective_members(weights) >= least:
        return weights, 1.0
    low, high = 1e-9, 1.0
    for _ in range(40):
        power = 0.5 * (low + high)
        if effective_members(_cut(power * log_weight)) >= least:
            low = power
        else:
            high = power
    return _cut(low * log_weight), low


def _cut(log_weight: Array) -> Array:
    weights = np.exp(log_weight - log_weight.max())
    weights = np.minimum(weights, weights.mean() * np.sqrt(len(weights)))
    return np.asarray(weights / weights.sum())
