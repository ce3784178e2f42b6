"""The normal distribution in NumPy alone, exact far into its tails.

The error function follows the rational approximations of Cody (1969,
Mathematics of Computation 23:631-637), which keep a relative error near
1e-16 and give the scaled tail directly, so that logarithms never underflow.
"""

from __future__ import annotations

from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

ROOT_2 = float(np.sqrt(2.0))
LOG_ROOT_2PI = 0.5 * float(np.log(2.0 * np.pi))
NARROW = 1e-4
"""Intervals narrower than this many sd are taken as density times width."""

# Numerator and denominator, highest power first, for |x| up to 15/32 (in x squared),
# from there to 4 (in x), and beyond 4 (in 1 / x squared).
_NEAR = (
    (1.85777706184603153e-1, 3.16112374387056560e0, 1.13864154151050156e2,
     3.77485237685302021e2, 3.20937758913846947e3),
    (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3,
     2.84423683343917062e3),
)  # fmt: skip
_MIDDLE = (
    (2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594e0,
     6.61191906371416295e1, 2.98635138197400131e2, 8.81952221241769090e2,
     1.71204761263407058e3, 2.05107837782607147e3, 1.23033935479799725e3),
    (1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2,
     1.62138957456669019e3, 3.29079923573345963e3, 4.36261909014324716e3,
     3.43936767414372164e3, 1.23033935480374942e3),
)  # fmt: skip
_FAR = (
    (1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1,
     1.25781726111229246e-1, 1.60837851487422766e-2, 6.58749161529837803e-4),
    (1.0, 2.56852019228982242e0, 1.87295284992346725e0, 5.27905102951428412e-1,
     6.05183413124413191e-2, 2.33520497626869185e-3),
)  # fmt: skip
_ROOT_PI_INVERSE = 5.6418958354775628695e-1
_SMALL, _LARGE = 15.0 / 32.0, 4.0


def _horner(coefficients: tuple[float, ...], x: Array) -> Array:
    total = np.full_like(x, coefficients[0])
    for coefficient in coefficients[1:]:
        total = total * x + coefficient
    return total


def _ratio(pair: tuple[tuple[float, ...], tuple[float, ...]], x: Array) -> Array:
    return _horner(pair[0], x) / _horner(pair[1], x)


def scaled_erfc(x: ArrayLike) -> Array:
    """Give exp(x*x) erfc(x) for x >= 0.

    >>> round(float(scaled_erfc(1.0)), 12)
    0.427583576156
    """
    x = np.asarray(x, dtype=np.float64)
    near, middle = x <= _SMALL, (x > _SMALL) & (x <= _LARGE)
    small = np.where(near, x, 0.0)
    result = np.exp(small * small) * (1.0 - small * _ratio(_NEAR, small * small))
    mid = np.where(middle, x, 1.0)
    result = np.where(middle, _ratio(_MIDDLE, mid), result)
    far = np.where(near | middle, 5.0, x)
    inverse = 1.0 / far
    square = inverse * inverse
    tail = inverse * (_ROOT_PI_INVERSE - square * _ratio(_FAR, square))
    return np.asarray(np.where(near | middle, result, tail))


def log_density(x: ArrayLike) -> Array:
    """Give the log of the standard normal density."""
    x = np.asarray(x, dtype=np.float64)
    return np.asarray(-0.5 * x * x - LOG_ROOT_2PI)


def cdf(x: ArrayLike) -> Array:
    """Give the chance that a standard normal number is below x.

    >>> round(float(cdf(1.959963984540054)), 12)
    0.975
    """
    x = np.asarray(x, dtype=np.float64)
    size = np.minimum(np.abs(x), 40.0)
    tail = 0.5 * np.exp(-0.5 * size * size) * scaled_erfc(size / ROOT_2)
    return np.asarray(np.where(x < 0.0, tail, 1.0 - tail))


def log_cdf(x: ArrayLike) -> Array:
    """Give the log of the chance to be below x, finite wherever x is.

    >>> round(float(log_cdf(-40.0)), 4)
    -804.6084
    """
    x = np.asarray(x, dtype=np.float64)
    below = x < 0.0
    size = np.where(np.isfinite(x), np.abs(x), 40.0)
    scaled = 0.5 * scaled_erfc(size / ROOT_2)
    left = np.log(scaled) - 0.5 * size * size
    tail = np.minimum(size, 40.0)
    right = np.log1p(-np.exp(-0.5 * tail * tail) * scaled)
    finite = np.where(below, left, right)
    return np.asarray(np.where(np.isfinite(x), finite, np.where(below, -np.inf, 0.0)))


def inverse_cdf(chance: ArrayLike) -> Array:
    """Give the standard normal number with that chance below it; 0 < chance < 1.

    >>> round(float(inverse_cdf(0.975)), 9)
    1.959963985
    """
    inverse = NormalDist().inv_cdf
    chances = np.asarray(chance, dtype=np.float64)
    flat = [inverse(float(p)) for p in chances.ravel()]
    return np.array(flat, dtype=np.float64).reshape(chances.shape)


def log_interval(low: ArrayLike, high: ArrayLike) -> Array:
    """Give the log of the chance to be between low and high (low < high, may be infinite).

    >>> round(float(np.exp(log_interval(-1.0, 1.0))), 6)
    0.682689
    """
    low, high = np.broadcast_arrays(
        np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    )
    with np.errstate(invalid="ignore"):
        flip = low + high > 0.0
        width = high - low
        middle = 0.5 * (low + high)
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    log_a, log_b = log_cdf(a), log_cdf(b)
    narrow = width < NARROW
    gap = np.where(narrow | np.isneginf(log_a), -1.0, log_a - log_b)
    wide = log_b + np.where(np.isneginf(log_a), 0.0, np.log(-np.expm1(gap)))
    point = np.where(narrow, middle, 0.0)
    size = np.where(narrow, width, 1.0)
    bend = np.log1p(np.maximum((point * point - 1.0) * size * size / 24.0, -0.5))
    thin = log_density(point) + np.log(size) + bend
    return np.asarray(np.where(narrow, thin, wide))


@cache
def _rule() -> tuple[Array, Array]:
    nodes, shares = np.polynomial.legendre.leggauss(80)
    return np.asarray(nodes), np.asarray(shares)


def truncated_moments(low: ArrayLike, high: ArrayLike) -> tuple[Array, Array]:
    """Give mean and variance of a standard normal number known to be in [low, high].

    Both are sums of positive terms over 80 Gauss-Legendre nodes on the part of the
    interval that holds all but 1e-17 of the chance, so that the variance is positive
    however far in a tail the interval lies.

    >>> mean, variance = truncated_moments(0.0, np.inf)
    >>> round(float(mean), 9), round(float(variance), 9)
    (0.797884561, 0.363380228)
    """
    low, high = np.broadcast_arrays(
        np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    )
    nearest = np.clip(0.0, low, high)
    size = np.abs(nearest)
    reach = 78.0 / (np.sqrt(size * size + 78.0) + size)
    start = np.maximum(low - nearest, -reach)
    end = np.minimum(high - nearest, reach)
    nodes, shares = _rule()
    half = 0.5 * (end - start)
    away = (0.5 * (start + end))[..., None] + half[..., None] * nodes
    weight = shares * np.exp(-away * (nearest[..., None] + 0.5 * away))
    weight = weight / weight.sum(axis=-1, keepdims=True)
    shift = (weight * away).sum(axis=-1)
    variance = (weight * (away - shift[..., None]) ** 2).sum(axis=-1)
    return np.asarray(nearest + shift), np.asarray(variance)
