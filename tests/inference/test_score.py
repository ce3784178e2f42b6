"""Scores against their definitions."""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.base.errors import InputError
from pleuston.inference.score import coverage, crps, quantile, skill

RNG = np.random.default_rng(4)


def test_crps_is_its_definition() -> None:
    values, weights = RNG.standard_normal((40, 3)), RNG.random(40)
    observed = RNG.standard_normal(3)
    w = weights / weights.sum()
    distance = (w[:, None] * np.abs(values - observed)).sum(axis=0)
    pairs = np.abs(values[:, None, :] - values[None, :, :])
    spread = np.einsum("i,j,ijk->k", w, w, pairs)
    np.testing.assert_allclose(crps(values, observed, weights), distance - 0.5 * spread)


def test_crps_of_a_normal_law_is_the_closed_form() -> None:
    values = RNG.standard_normal(200_000)
    assert float(crps(values, 0.0)) == pytest.approx(
        (np.sqrt(2.0) - 1.0) / np.sqrt(np.pi), abs=2e-3
    )


def test_crps_of_one_member_is_the_distance() -> None:
    assert float(crps([2.0], 5.0)) == 3.0


def test_whole_weights_are_repeats() -> None:
    values, counts = RNG.standard_normal(30), RNG.integers(1, 5, 30)
    repeated = np.repeat(values, counts)
    assert crps(values, 0.2, counts) == pytest.approx(crps(repeated, 0.2), abs=1e-14)


def test_members_without_weight_do_not_count() -> None:
    values = np.concatenate([RNG.standard_normal(50), [100.0]])
    weights = np.concatenate([np.ones(50), [0.0]])
    assert crps(values, 0.0, weights) == pytest.approx(crps(values[:-1], 0.0), abs=1e-14)
    assert quantile(values, 0.9, weights) == pytest.approx(quantile(values[:-1], 0.9))


def test_quantiles_of_equal_weights_are_hazens() -> None:
    values = RNG.standard_normal((101, 2, 3))
    got = quantile(values, [0.1, 0.5, 0.9])
    expected = np.quantile(values, [0.1, 0.5, 0.9], axis=0, method="hazen")
    assert got.shape == (3, 2, 3)
    np.testing.assert_allclose(got, expected)


def test_coverage_counts_truths_inside() -> None:
    values = np.linspace(0.0, 1.0, 1001)[:, None] * np.ones(4)
    assert coverage(values, [0.05, 0.11, 0.89, 0.95], 0.8) == 0.5
    assert coverage(values, [0.05, 0.11, 0.89, 0.95], 0.95) == 1.0


def test_skill() -> None:
    assert skill([1.0, 2.0], [3.0, 3.0]) == 0.5
    assert skill([4.0], [2.0]) == -1.0
    with pytest.raises(InputError):
        skill([1.0], [0.0])


@pytest.mark.parametrize("weights", [[1.0], [0.0, 0.0], [-1.0, 2.0]])
def test_impossible_weights_are_refused(weights: list[float]) -> None:
    with pytest.raises(InputError, match="weights"):
        quantile([1.0, 2.0], 0.5, weights)


def test_an_empty_ensemble_is_refused() -> None:
    with pytest.raises(InputError, match="empty"):
        crps([], 0.0)
