"""The normal distribution against scipy and direct integration, far into the tails."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, special, stats

from pleuston.inference import normal


def test_scaled_erfc() -> None:
    x = np.concatenate([np.linspace(0.0, 6.0, 2001), np.geomspace(6.0, 1e6, 200)])
    np.testing.assert_allclose(normal.scaled_erfc(x), special.erfcx(x), rtol=4e-15)


def test_cdf() -> None:
    x = np.linspace(-37.0, 37.0, 4001)
    # x * x / 2 is rounded before it is raised: up to 684 half units in the last place
    np.testing.assert_allclose(normal.cdf(x), special.ndtr(x), rtol=3e-13, atol=0.0)


def test_log_cdf() -> None:
    x = np.concatenate([-np.geomspace(1e8, 1e-8, 500), [0.0], np.geomspace(1e-8, 37.0, 500)])
    np.testing.assert_allclose(normal.log_cdf(x), special.log_ndtr(x), rtol=2e-13, atol=1e-300)


def test_log_cdf_at_the_ends() -> None:
    assert normal.log_cdf(np.inf) == 0.0
    assert normal.log_cdf(-np.inf) == -np.inf
    assert np.isfinite(normal.log_cdf(-1e150))


def test_inverse_cdf() -> None:
    chance = np.array([[1e-12, 0.01, 0.3], [0.5, 0.9, 1.0 - 1e-9]])
    np.testing.assert_allclose(normal.inverse_cdf(chance), special.ndtri(chance), rtol=1e-12)


@pytest.mark.parametrize("low", [-np.inf, -30.0, -8.0, -1.0, 0.0, 0.7, 5.0, 25.0])
@pytest.mark.parametrize("width", [1e-9, 1e-5, 1.1e-4, 0.01, 1.0, 6.0, np.inf])
def test_log_interval(low: float, width: float) -> None:
    high = low + width if np.isfinite(low) else width
    if np.isfinite(low) and np.isfinite(high):
        # near the end where the density is largest, so that nothing underflows
        peak = float(np.clip(0.0, low, high))
        value, _ = integrate.quad(
            lambda x: np.exp(0.5 * (peak * peak - x * x)), low, high,
            points=[peak], epsabs=0.0, epsrel=1e-13, limit=200,
        )  # fmt: skip
        expected = np.log(value) + stats.norm.logpdf(peak)
    elif np.isfinite(low):
        expected = stats.norm.logsf(low)
    else:
        expected = stats.norm.logcdf(high)
    got = float(normal.log_interval(low, high))
    assert got == pytest.approx(expected, rel=1e-10, abs=1e-10)
    assert float(normal.log_interval(-high, -low)) == pytest.approx(got, rel=1e-13, abs=1e-13)


def test_log_interval_has_no_step_where_the_method_changes() -> None:
    for middle in (0.0, 2.0, 9.0, 30.0):
        width = normal.NARROW * np.array([0.999999, 1.000001])
        below, above = normal.log_interval(middle - width / 2, middle + width / 2)
        assert above - below == pytest.approx(2e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        (-np.inf, np.inf), (-np.inf, 0.3), (-1.0, 1.0), (0.0, 1e-6), (2.0, np.inf), (5.0, 5.5),
        (-12.0, 3.0), (20.0, 21.0), (-300.0, -200.0), (1e4, np.inf), (-1e4, 1e4),
    ],
)  # fmt: skip
def test_truncated_moments(low: float, high: float) -> None:
    peak = float(np.clip(0.0, low, high))
    reach = 40.0 / max(abs(peak), 1.0)
    start, end = max(low - peak, -reach), min(high - peak, reach)

    def moment(power: int, about: float = 0.0) -> float:
        value, _ = integrate.quad(
            lambda t: (t - about) ** power * np.exp(-t * (peak + 0.5 * t)),
            start, end, points=[0.0], epsabs=1e-13 / max(abs(peak), 1.0), epsrel=1e-11, limit=500,
        )  # fmt: skip
        return float(value)

    total = moment(0)
    shift = 0.0 if (low, high) in {(-np.inf, np.inf), (-1.0, 1.0), (-1e4, 1e4)} else (
        moment(1) / total
    )  # fmt: skip
    mean, variance = normal.truncated_moments(low, high)
    assert float(mean) - peak == pytest.approx(shift, rel=1e-9, abs=1e-13 + np.spacing(abs(peak)))
    assert float(variance) == pytest.approx(moment(2, shift) / total, rel=1e-9)
    assert 0.0 < float(variance) <= 1.0 + 1e-12


def test_truncated_moments_take_arrays() -> None:
    low, high = np.array([[-1.0, -np.inf], [3.0, 0.0]]), np.array([[1.0, 2.0], [5.0, np.inf]])
    mean, variance = normal.truncated_moments(low, high)
    expected = stats.truncnorm(low, high)
    np.testing.assert_allclose(mean, expected.mean(), rtol=1e-8, atol=1e-12)
    np.testing.assert_allclose(variance, expected.var(), rtol=1e-7)
