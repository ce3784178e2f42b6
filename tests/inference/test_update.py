"""Pseudo-observations and weights, piece by piece."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import IntervalData
from pleuston.inference.reweight import Student, settled_weights
from pleuston.inference.update import INFLATION, pseudo_observations, smoother_step

MEMBERS = stats.norm(0.4, 0.8).ppf((np.arange(400) + 0.5) / 400)[:, None]


def test_steps_add_up_to_the_whole_information() -> None:
    assert sum(1.0 / a for a in INFLATION) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("low", "high"), [(0.0, 1.0), (-np.inf, 0.0), (2.0, np.inf), (0.9, 0.90001), (5.0, 6.0)]
)
def test_a_pseudo_observation_has_the_effect_of_its_interval(low: float, high: float) -> None:
    """Mean and variance after the pseudo-observation are those after the interval itself."""
    sd = 0.3
    data = IntervalData.linear([low], [high], sd)
    mean, variance = MEMBERS.mean(), MEMBERS.var(ddof=1)
    law = stats.norm(mean, np.sqrt(variance))

    def moment(power: int) -> float:
        def density(z: float) -> float:
            inside = stats.norm.cdf((high - z) / sd) - stats.norm.cdf((low - z) / sd)
            return float(z**power * law.pdf(z) * inside)

        value, _ = integrate.quad(density, mean - 8.0, mean + 8.0, limit=400, epsabs=0.0, points=[
            float(np.clip(b, mean - 7.9, mean + 7.9)) for b in (low, high)
        ])  # fmt: skip
        return float(value)

    total = moment(0)
    wanted_mean = moment(1) / total
    wanted_variance = moment(2) / total - wanted_mean**2
    pseudo = pseudo_observations(data, MEMBERS, robust=False)
    gain = variance / (variance + pseudo.variance[0])
    assert mean + gain * (pseudo.value[0] - mean) == pytest.approx(wanted_mean, rel=1e-4)
    assert variance * (1.0 - gain) == pytest.approx(wanted_variance, rel=1e-4)


def test_a_reading_that_holds_everywhere_is_left_out() -> None:
    data = IntervalData.linear([-50.0, 0.0], [50.0, 1.0], 0.3)
    pseudo = pseudo_observations(data, np.repeat(MEMBERS, 2, axis=1), robust=False)
    assert pseudo.used.tolist() == [False, True]
    assert np.isfinite(pseudo.value).all()


def test_a_quantity_that_no_member_varies_is_left_out() -> None:
    data = IntervalData.linear([0.0], [1.0], 0.3)
    assert not pseudo_observations(data, np.full((50, 1), 0.5), robust=False).used.any()
    theta = np.zeros((50, 2))
    pseudo = pseudo_observations(data, np.full((50, 1), 0.5), robust=False)
    moved = smoother_step(theta, np.full((50, 1), 0.5), pseudo, 1.0, np.random.default_rng(0))
    np.testing.assert_array_equal(moved, theta)


def test_an_unlikely_reading_loses_weight_only_when_asked() -> None:
    data = IntervalData.linear([6.0], [6.5], 0.3, lapse=0.02, misread=1 / 6)
    plain = pseudo_observations(data, MEMBERS, robust=False).variance[0]
    robust = pseudo_observations(data, MEMBERS, robust=True).variance[0]
    assert robust == pytest.approx(50.0 * plain)
    near = IntervalData.linear([0.0], [0.5], 0.3, lapse=0.02, misread=1 / 6)
    plain = pseudo_observations(near, MEMBERS, robust=False).variance[0]
    assert pseudo_observations(near, MEMBERS, robust=True).variance[0] < 1.05 * plain


def test_the_t_has_its_law() -> None:
    rng = np.random.default_rng(3)
    root = rng.standard_normal((3, 3))
    mean, covariance = np.array([1.0, -2.0, 0.5]), root @ root.T
    t = Student.of(mean, covariance)
    expected = stats.multivariate_t(mean, covariance * 5.0 / 7.0, df=7.0)
    points = t.draw(1000, rng)
    np.testing.assert_allclose(t.log_density(points), expected.logpdf(points), rtol=1e-9)
    many = t.draw(200_000, rng)
    np.testing.assert_allclose(many.mean(axis=0), mean, atol=1e-12)
    np.testing.assert_allclose(np.cov(many.T), covariance, atol=0.05 * covariance.max())


def test_weights_are_kept_when_enough_members_count() -> None:
    log_weight = np.random.default_rng(1).normal(0.0, 0.5, 500)
    weights, power = settled_weights(log_weight, 50)
    assert power == 1.0
    expected = np.exp(log_weight)
    np.testing.assert_allclose(weights, expected / expected.sum())


def test_a_single_heavy_member_is_cut_and_tempered() -> None:
    log_weight = np.concatenate([[60.0], np.random.default_rng(1).normal(0.0, 0.5, 399)])
    weights, power = settled_weights(log_weight, 50)
    assert power < 1.0
    assert weights.sum() == pytest.approx(1.0)
    assert 1.0 / np.square(weights).sum() == pytest.approx(50.0, rel=0.05)
    assert weights.argmax() == 0


def test_failed_members_get_no_weight_even_when_tempered() -> None:
    log_weight = np.array([0.0, -np.inf, 40.0, 0.1, -np.inf, 0.2])
    weights, power = settled_weights(log_weight, 3)
    assert power < 1.0
    assert weights[[1, 4]].tolist() == [0.0, 0.0]


def test_one_number_needs_no_special_case() -> None:
    prior = Prior((Uncertain("x", "normal", 0.0, spread=1.0),))
    theta = prior.sample(200, seed=0)
    data = IntervalData.linear([1.0], [1.0], 0.5)
    pseudo = pseudo_observations(data, theta, robust=False)
    moved = smoother_step(theta, theta, pseudo, 1.0, np.random.default_rng(1))
    assert moved.mean() == pytest.approx(0.8, abs=0.02)
    assert moved.std() == pytest.approx(np.sqrt(0.2), rel=0.15)
