"""How good ensembles are as statements: error, sharpness and honesty of their bands."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pleuston.base.errors import InputError
from pleuston.inference.normal import Array


def _sorted(values: ArrayLike, weights: ArrayLike | None) -> tuple[Array, Array]:
    values = np.asarray(values, dtype=np.float64)
    n = len(values)
    if n == 0:
        raise InputError("an ensemble is empty", "score", "give at least one member")
    shares = np.full(n, 1.0 / n) if weights is None else np.asarray(weights, dtype=np.float64)
    if shares.shape != (n,) or not (shares >= 0.0).all() or not shares.sum() > 0.0:
        raise InputError(
            "weights must be one per member, none negative, not all 0", "score", "correct them"
        )
    shares = shares / shares.sum()
    order = np.argsort(values, axis=0, kind="stable")
    return np.take_along_axis(values, order, axis=0), shares[order]


def quantile(values: ArrayLike, shares: ArrayLike, weights: ArrayLike | None = None) -> Array:
    """Give weighted quantiles along the first axis (members).

    Each member stands at the middle of its own weight; between members the value runs
    straight. The result has the shape of `shares` followed by the other axes.

    >>> quantile([1.0, 2.0, 3.0, 4.0], [0.125, 0.5, 1.0]).tolist()
    [1.0, 2.5, 4.0]
    """
    ordered, weight = _sorted(values, weights)
    middle = np.cumsum(weight, axis=0) - 0.5 * weight
    wanted = np.asarray(shares, dtype=np.float64)
    flat, at = ordered.reshape(len(ordered), -1), middle.reshape(len(ordered), -1)
    columns = [np.interp(wanted.ravel(), at[:, i], flat[:, i]) for i in range(flat.shape[1])]
    return np.array(columns).T.reshape(wanted.shape + ordered.shape[1:])


def crps(values: ArrayLike, observed: ArrayLike, weights: ArrayLike | None = None) -> Array:
    """Give the continuous ranked probability score along the first axis; 0 is perfect.

    Hersbach (2000, Weather and Forecasting 15:559): mean distance to what was observed
    less half the mean distance between members, in the unit of the values.

    >>> float(crps([0.0, 1.0], 0.0))
    0.25
    """
    ordered, weight = _sorted(values, weights)
    distance = (weight * np.abs(ordered - np.asarray(observed, dtype=np.float64))).sum(axis=0)
    before = np.cumsum(weight, axis=0)
    half_spread = (weight * ordered * (2.0 * before - weight - 1.0)).sum(axis=0)
    return np.asarray(distance - half_spread)


def coverage(
    values: ArrayLike, truth: ArrayLike, band: float, weights: ArrayLike | None = None
) -> float:
    """Give the share of truths inside the central band (0.8 for 80 %) of the members."""
    tails = [0.5 - 0.5 * band, 0.5 + 0.5 * band]
    low, high = quantile(values, tails, weights)
    true = np.asarray(truth, dtype=np.float64)
    return float(np.mean((true >= low) & (true <= high)))


def skill(score: ArrayLike, reference: ArrayLike) -> float:
    """Give 1 - mean score / mean reference score: 1 is perfect, 0 no better, below 0 worse.

    >>> skill([0.5], [2.0])
    0.75
    """
    base = float(np.mean(np.asarray(reference, dtype=np.float64)))
    if base == 0.0:
        raise InputError("the reference is perfect", "skill", "take another reference")
    return 1.0 - float(np.mean(np.asarray(score, dtype=np.float64))) / base
