"""A normal law that agrees with interval readings, from runs that are there already.

Each reading's prediction is fitted as a plane over the runs (weighted least squares with
a little ridge); what the plane leaves counts as error. On planes, expectation propagation
(Minka 2001) finds the normal law near the posterior without any run more: every interval
becomes the normal observation with the same effect, each beside all others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pleuston.inference.belief import effective_members
from pleuston.inference.normal import Array, truncated_moments
from pleuston.inference.readings import IntervalData

RIDGE = 0.02
"""Ridge beside the mean variance of the runs."""
SWEEPS = 12
DAMPING = 0.6
"""Share of a site's new value taken in each sweep; keeps parallel updates from swinging."""
LEAST_TRUST = 0.02
"""A reading keeps at least this share of its weight."""


@dataclass(frozen=True)
class Planes:
    """Predictions as planes over theta: value at the centre, slopes, variance left over."""

    centre: Array
    value: Array
    slope: Array
    rest: Array

    @classmethod
    def of(cls, theta: Array, scaled: Array, weights: Array) -> Planes:
        """Fit planes to weighted runs."""
        centre, value = weights @ theta, weights @ scaled
        x, g = theta - centre, scaled - value
        spread = (x * weights[:, None]).T @ x
        size = theta.shape[1]
        ridge = RIDGE * float(np.trace(spread)) / size * np.eye(size)
        slope = np.linalg.solve(spread + ridge, (x * weights[:, None]).T @ g)
        number = effective_members(weights)
        free = max(1.0 - size / number, 0.2)
        rest = weights @ np.square(g - x @ slope) / free
        return cls(centre, value, slope.T, rest)


def normal_law(planes: Planes, data: IntervalData) -> tuple[Array, Array]:
    """Mean and covariance of theta (standard normal before) given readings of planes.

    Works on what each reading would show without the reader's own error: plane and slow
    error together, so that readings that share an error tell no more than they can.
    """
    slope = planes.slope
    shown = slope @ slope.T + data.shared_error
    error = data.sd**2 - data.drift**2 + planes.rest
    origin = planes.value - slope @ planes.centre
    precision, pull = np.zeros(len(data)), np.zeros(len(data))
    m, v = origin, shown.diagonal()
    for _ in range(SWEEPS):
        new_precision, new_pull = _sites(data, error, m, np.maximum(v, 1e-12), precision, pull)
        precision = precision + DAMPING * (new_precision - precision)
        pull = pull + DAMPING * (new_pull - pull)
        gain, toward = _gain(shown, precision, pull, origin)
        m = origin + shown @ toward
        v = shown.diagonal() - ((shown @ gain) * shown).sum(axis=1)
    covariance = np.eye(slope.shape[1]) - slope.T @ gain @ slope
    return slope.T @ toward, covariance


def _gain(shown: Array, precision: Array, pull: Array, origin: Array) -> tuple[Array, Array]:
    """(shown + 1 / precision)^-1, and that times what the observations say beyond the origin."""
    root = np.sqrt(np.maximum(precision, 1e-30))
    inner = np.linalg.inv(np.eye(len(root)) + root[:, None] * shown * root)
    gain = root[:, None] * inner * root
    return gain, root * (inner @ ((pull - precision * origin) / root))


def _sites(
    data: IntervalData, error: Array, m: Array, v: Array, precision: Array, pull: Array
) -> tuple[Array, Array]:
    """Precision and pull of each reading's normal observation, beside all others."""
    left = np.maximum(1.0 / v - precision, 0.05 / v)
    v_beside = 1.0 / left
    m_beside = (m / v - pull) * v_beside
    total = v_beside + error
    root = np.sqrt(total)
    low, high = (data.low - m_beside) / root, (data.high - m_beside) / root
    at = ~data.exact
    shift, rest = np.where(data.exact, low, 0.0), np.zeros(len(data))
    shift[at], rest[at] = truncated_moments(low[at], high[at])
    taken = np.maximum(1.0 - rest, 1e-9)
    variance = np.maximum(total / taken - v_beside, 1e-12)
    value = m_beside + shift * root / taken
    trust = np.maximum(1.0 - _wrong(data, m_beside, root), LEAST_TRUST)
    return trust / variance, trust * value / variance


def _wrong(data: IntervalData, mean: Array, root: Array) -> Array:
    """Chance of each reading to be wrong, judged by all others."""
    right = (1.0 - data.lapse) * np.exp(data.with_sd(root).log_right(mean[None, :])[0])
    wrong = data.lapse * data.misread
    return np.asarray(wrong / np.maximum(right + wrong, np.finfo(float).tiny))
