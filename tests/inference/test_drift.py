"""The slow error of a quantity against exact normal sums, and the law fitted to planes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pleuston.inference.drift import filtered
from pleuston.inference.fitted import Planes, normal_law
from pleuston.inference.normal import Array
from pleuston.inference.readings import MEMORY, IntervalData

TIMES = np.array([3.0, 10.0, 24.0, 60.0])
SD, DRIFT, KIT = 0.5, 0.4, 0.2


def readings(values: Array, width: float = 0.0, streams: tuple[str, ...] = ()) -> IntervalData:
    n = len(values)
    return IntervalData(
        ("ph",) * n, TIMES[:n], values - width / 2, values + width / 2, np.full(n, SD),
        np.zeros(n), np.ones(n), np.full(n, width == 0.0), np.zeros(n), ("linear",) * n,
        np.full(n, DRIFT), np.full(n, KIT), streams,
    )  # fmt: skip


def shared(n: int) -> Array:
    return DRIFT**2 * np.exp(-np.abs(TIMES[:n, None] - TIMES[:n]) / MEMORY)


VALUES = np.array([0.7, 0.4, 0.9, 0.1])
MEMBERS = np.array([[0.0, 0.0, 0.0, 0.0], [0.3, -0.1, 0.2, 0.4]])


def test_exact_readings_have_the_chance_of_their_joint_normal_law() -> None:
    found = filtered(readings(VALUES), MEMBERS)
    covariance = shared(4) + (SD**2 - DRIFT**2) * np.eye(4)
    for member, got in zip(MEMBERS, found.log_likelihood, strict=True):
        expected = stats.multivariate_normal(member, covariance).logpdf(VALUES)
        assert got == pytest.approx(expected, rel=1e-9)


def test_what_the_error_is_by_now_is_the_normal_regression_on_all_readings() -> None:
    drift = filtered(readings(VALUES), MEMBERS).drifts["ph"]
    later = TIMES[-1] + 20.0
    with_readings = DRIFT**2 * np.exp(-(later - TIMES) / MEMORY)
    covariance = shared(4) + (SD**2 - DRIFT**2) * np.eye(4)
    weights = np.linalg.solve(covariance, with_readings)
    share = 1.0 - (KIT / DRIFT) ** 2
    mean, sd = drift.at(later)
    np.testing.assert_allclose(mean, share * (VALUES - MEMBERS) @ weights, rtol=1e-9)
    whole = DRIFT**2 - with_readings @ weights
    np.testing.assert_allclose(sd, np.sqrt(share**2 * whole + share * KIT**2), rtol=1e-9)


def test_long_after_the_last_reading_nothing_is_known_of_it() -> None:
    mean, sd = filtered(readings(VALUES), MEMBERS).drifts["ph"].at(20.0 * MEMORY)
    np.testing.assert_allclose(mean, 0.0, atol=1e-6)
    np.testing.assert_allclose(sd, np.sqrt(DRIFT**2 - KIT**2), rtol=1e-6)


def test_narrow_intervals_count_as_exact() -> None:
    exact, narrow = filtered(readings(VALUES), MEMBERS), filtered(readings(VALUES, 1e-3), MEMBERS)
    np.testing.assert_allclose(
        narrow.log_likelihood, exact.log_likelihood + 4.0 * np.log(1e-3), atol=1e-4
    )
    np.testing.assert_allclose(
        narrow.drifts["ph"].mean, exact.drifts["ph"].mean, rtol=1e-3, atol=1e-6
    )


def test_readings_of_different_things_share_no_error() -> None:
    apart = filtered(readings(VALUES, streams=("a", "b", "c", "d")), MEMBERS)
    alone = stats.norm(MEMBERS, SD).logpdf(VALUES).sum(axis=1)
    np.testing.assert_allclose(apart.log_likelihood, alone, rtol=1e-9)


def test_a_shared_error_makes_readings_tell_less_together() -> None:
    data = readings(VALUES)
    assert (data.sd_alone > data.sd).all()
    np.testing.assert_array_equal(data.with_sd(data.sd).sd_alone, data.sd)


@pytest.mark.parametrize("width", [0.0, 1e-4])
def test_the_law_fitted_to_planes_is_the_conjugate_one(width: float) -> None:
    rng = np.random.default_rng(5)
    slope = rng.standard_normal((4, 3))
    theta = rng.standard_normal((400, 3))
    scaled = 0.2 + theta @ slope.T
    planes = Planes.of(theta, scaled, np.full(400, 1.0 / 400))
    exact = Planes(planes.centre, 0.2 + slope @ planes.centre, slope, np.zeros(4))
    mean, covariance = normal_law(exact, readings(VALUES, width))
    error = shared(4) + (SD**2 - DRIFT**2) * np.eye(4)
    wanted = np.linalg.inv(np.eye(3) + slope.T @ np.linalg.solve(error, slope))
    np.testing.assert_allclose(covariance, wanted, atol=1e-3)
    expected = wanted @ slope.T @ np.linalg.solve(error, VALUES - 0.2)
    np.testing.assert_allclose(mean, expected, atol=1e-3)
    np.testing.assert_allclose(planes.slope, slope, atol=0.15)
    assert (planes.rest < 0.02).all()
