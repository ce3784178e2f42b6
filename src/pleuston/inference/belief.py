"""What is believed of a tank after its readings: weighted members and how they came about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior
from pleuston.inference.score import quantile

Forward = Callable[[Array], Array]
"""Takes values (members, parameters), gives predictions (members, readings) in natural
units; a row that is not finite is a member that did not go through."""


class LearningCancelledError(EngineError):
    """Whoever watched the learning asked it to stop."""


@dataclass(frozen=True)
class Diagnostics:
    """How the learning went."""

    method: str
    """prior, smoother, smoother and re-weighting, or map and laplace."""
    runs: int
    """Members run through the model."""
    failed: int
    """Of these, the members that did not go through."""
    failed_at_last: int
    """Failed members of the last round alone."""
    effective_members: float
    """Members that as many equal ones would be worth."""
    tempered: float = 1.0
    """Power the weights were raised to so that enough members count; 1 is untouched."""
    shift: float = 0.0
    """Largest difference between the smoother's and the final means, in sd."""
    log_evidence: float | None = None
    """Log of the readings' average chance under the prior; None without re-weighting."""
    misread: tuple[float, ...] = ()
    """Chance of each reading to be wrong rather than the model."""
    informed: tuple[float, ...] = field(default=())
    """By parameter, 1 - posterior variance / prior variance: 0 rests on the prior alone."""
    pooled: float = 0.0
    """Power at which what other tanks told was taken in; 0 where nothing was."""

    @property
    def doubtful(self) -> bool:
        """True where another method should confirm the result."""
        few = self.effective_members < 100.0 or self.failed > 0.1 * self.runs
        return few or self.tempered < 1.0 or self.shift > 0.5


@dataclass(frozen=True)
class Posterior:
    """Members as theta and as values, their weights, and what they predict."""

    prior: Prior
    theta: Array
    physical: Array
    weights: Array
    diagnostics: Diagnostics
    predicted: Array | None = None
    """(members, readings) in natural units, where the members were run; else None."""

    def __len__(self) -> int:
        return len(self.theta)

    def mean(self) -> Array:
        """Give the mean of theta by parameter."""
        return np.asarray(self.weights @ self.theta)

    def sd(self) -> Array:
        """Give the sd of theta by parameter."""
        centred = self.theta - self.mean()
        return np.sqrt(np.asarray(self.weights @ (centred * centred)))

    def of(self, name: str) -> Array:
        """Give the values of one parameter."""
        return np.asarray(self.physical[:, self.prior.at(name)])

    def quantile(self, name: str, shares: float | list[float]) -> Array:
        """Give quantiles of one parameter's values."""
        return quantile(self.of(name), shares, self.weights)


def effective_members(weights: Array) -> float:
    """Give the number of equal members that weights summing to one are worth.

    >>> effective_members(np.array([0.5, 0.5, 0.0]))
    2.0
    """
    return float(1.0 / np.square(weights).sum())


def resample(posterior: Posterior, n: int, seed: int | np.random.Generator = 0) -> Posterior:
    """Draw n members of equal weight, each as often as its weight asks for (systematic draw).

    The order is shuffled so that any first part of the members is a fair sample too.
    """
    rng = np.random.default_rng(seed)
    steps = (rng.random() + np.arange(n)) / n
    edges = np.cumsum(posterior.weights)
    chosen = np.searchsorted(edges / edges[-1], steps, side="right")
    chosen = rng.permutation(np.minimum(chosen, len(posterior) - 1))
    predicted = posterior.predicted
    return Posterior(
        prior=posterior.prior,
        theta=posterior.theta[chosen],
        physical=posterior.physical[chosen],
        weights=np.full(n, 1.0 / n),
        diagnostics=posterior.diagnostics,
        predicted=None if predicted is None else predicted[chosen],
    )
