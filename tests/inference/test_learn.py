"""Learning against exact posteriors: conjugate sums and numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pleuston.base.errors import EngineError, InputError
from pleuston.inference.belief import LearningCancelledError, effective_members, resample
from pleuston.inference.learn import learn
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import IntervalData


def plain(n: int) -> Prior:
    return Prior(tuple(Uncertain(f"x{i}", "normal", 0.0, spread=1.0) for i in range(n)))


A = np.random.default_rng(11).standard_normal((8, 4))
TRUTH = np.array([0.5, -1.2, 0.3, 0.9])
SD = np.full(8, 0.7)
OBSERVED = A @ TRUTH + 0.7 * np.random.default_rng(12).standard_normal(8)


def linear(physical: Array) -> Array:
    return np.asarray(physical @ A.T)


def conjugate() -> tuple[Array, Array]:
    precision = np.eye(4) + (A.T / SD**2) @ A
    covariance = np.linalg.inv(precision)
    return covariance @ (A.T / SD**2) @ OBSERVED, covariance


@pytest.mark.parametrize("width", [0.0, 1e-7, 1e-3])
def test_linear_and_narrow_is_conjugate(width: float) -> None:
    data = IntervalData.linear(OBSERVED - width / 2, OBSERVED + width / 2, SD)
    found = learn(plain(4), linear, data, members=1024, seed=3)
    mean, covariance = conjugate()
    sd = np.sqrt(np.diag(covariance))
    ess = found.diagnostics.effective_members
    assert ess > 1000
    assert found.diagnostics.tempered == 1.0
    assert (np.abs(found.mean() - mean) / sd < 4.0 / np.sqrt(ess)).all()
    assert (np.abs(found.sd() / sd - 1.0) < 4.0 / np.sqrt(2.0 * ess)).all()
    centred = found.theta - found.mean()
    correlation = (centred * found.weights[:, None]).T @ centred / np.outer(sd, sd)
    np.testing.assert_allclose(correlation, covariance / np.outer(sd, sd), atol=0.12)


def test_smoother_alone_is_conjugate_within_its_own_sampling_error() -> None:
    data = IntervalData.linear(OBSERVED, OBSERVED, SD)
    mean, covariance = conjugate()
    sd = np.sqrt(np.diag(covariance))
    found = learn(plain(4), linear, data, members=1024, reweight=False, seed=4)
    assert (np.abs(found.mean() - mean) / sd < 0.2).all()
    assert (np.abs(found.sd() / sd - 1.0) < 0.15).all()
    assert found.diagnostics.method == "smoother"
    assert found.diagnostics.log_evidence is None


def test_evidence_of_exact_readings_is_the_normal_one() -> None:
    data = IntervalData.linear(OBSERVED, OBSERVED, SD)
    found = learn(plain(4), linear, data, members=1024, seed=5)
    expected = stats.multivariate_normal(np.zeros(8), A @ A.T + np.diag(SD**2)).logpdf(OBSERVED)
    assert found.diagnostics.log_evidence == pytest.approx(expected, abs=0.1)


def curved_one(physical: Array) -> Array:
    x = physical[:, 0]
    return np.column_stack([x, np.exp(0.7 * x), x + 0.2 * x**2])


def test_intervals_agree_with_integration_in_one_dimension() -> None:
    data = IntervalData.linear([0.2, 1.0, -np.inf], [1.1, np.inf, 0.6], [0.3, 0.4, 0.3])
    grid = np.linspace(-6.0, 6.0, 24001)
    density = np.exp(-0.5 * grid**2 + data.log_likelihood(curved_one(grid[:, None])))
    density /= density.sum()
    mean = density @ grid
    sd = np.sqrt(density @ (grid - mean) ** 2)
    for reweight, tolerance in ((True, 0.1), (False, 0.25)):
        found = learn(plain(1), curved_one, data, members=1024, reweight=reweight, seed=6)
        assert abs(found.mean()[0] - mean) / sd < tolerance
        assert abs(found.sd()[0] / sd - 1.0) < tolerance


def curved_two(physical: Array) -> Array:
    x, y = physical.T
    return np.column_stack([x * np.exp(0.4 * y), x + y, y - 0.5 * x])


def test_intervals_agree_with_integration_in_two_dimensions() -> None:
    data = IntervalData.linear(
        [0.5, -np.inf, 0.3], [1.5, 2.0, np.inf], [0.25, 0.4, 0.3], lapse=0.02, misread=0.2
    )
    line = np.linspace(-5.5, 5.5, 801)
    x, y = (g.ravel() for g in np.meshgrid(line, line, indexing="ij"))
    points = np.column_stack([x, y])
    prior = -0.5 * (points**2).sum(axis=1)
    density = np.exp(prior + data.log_likelihood(curved_two(points)))
    evidence = np.log(density.sum() / np.exp(prior).sum())
    density /= density.sum()
    mean = density @ points
    covariance = (density[:, None] * (points - mean)).T @ (points - mean)
    sd = np.sqrt(np.diag(covariance))
    found = learn(plain(2), curved_two, data, members=1024, seed=7)
    got = (found.weights[:, None] * (found.theta - found.mean())).T @ (found.theta - found.mean())
    assert (np.abs(found.mean() - mean) / sd < 0.1).all()
    np.testing.assert_allclose(got / np.outer(sd, sd), covariance / np.outer(sd, sd), atol=0.1)
    assert found.diagnostics.log_evidence == pytest.approx(evidence, abs=0.08)


def test_nothing_read_leaves_the_prior() -> None:
    def never(_physical: Array) -> Array:
        raise AssertionError("no run is needed")

    found = learn(plain(3), never, IntervalData.of([]), members=200, seed=1)
    np.testing.assert_allclose(found.mean(), 0.0, atol=1e-12)
    np.testing.assert_allclose(found.theta.std(axis=0, ddof=1), 1.0)
    assert found.diagnostics.method == "prior"
    assert found.diagnostics.runs == 0
    assert found.diagnostics.informed == (0.0, 0.0, 0.0)


def test_a_reading_open_at_both_ends_says_nothing() -> None:
    data = IntervalData.linear([-np.inf], [np.inf], 0.3)
    found = learn(plain(1), lambda x: x, data, members=512, seed=2)
    assert abs(found.mean()[0]) < 0.1
    assert found.sd()[0] == pytest.approx(1.0, abs=0.08)
    assert found.diagnostics.log_evidence == pytest.approx(0.0, abs=0.03)


def test_all_below_the_first_step() -> None:
    """Twelve readings below a bound push under it and no further."""
    data = IntervalData.linear(np.full(12, -np.inf), np.full(12, 0.0), 0.3)
    found = learn(plain(1), lambda x: np.repeat(x, 12, axis=1), data, members=512, seed=8)
    grid = np.linspace(-8.0, 8.0, 16001)
    density = np.exp(-0.5 * grid**2 + 12.0 * stats.norm.logcdf(-grid / 0.3))
    density /= density.sum()
    mean = density @ grid
    sd = np.sqrt(density @ (grid - mean) ** 2)
    assert abs(found.mean()[0] - mean) / sd < 0.12
    assert found.sd()[0] == pytest.approx(sd, rel=0.12)


def test_one_contradiction_is_read_as_a_misreading() -> None:
    exact = np.concatenate([np.full(8, 1.0), [7.0]])
    data = IntervalData.linear(exact - 0.25, exact + 0.25, 0.3, lapse=0.02, misread=1 / 6)
    found = learn(plain(1), lambda x: np.repeat(x, 9, axis=1), data, members=256, seed=9)
    without = IntervalData.linear(
        exact[:8] - 0.25, exact[:8] + 0.25, 0.3, lapse=0.02, misread=1 / 6
    )
    clean = learn(plain(1), lambda x: np.repeat(x, 8, axis=1), without, members=256, seed=9)
    assert found.mean()[0] == pytest.approx(clean.mean()[0], abs=0.03)
    assert found.diagnostics.misread[8] > 0.99
    assert max(found.diagnostics.misread[:8]) < 0.05
    strict = IntervalData.linear(exact - 0.25, exact + 0.25, 0.3)
    dragged = learn(plain(1), lambda x: np.repeat(x, 9, axis=1), strict, members=256, seed=9)
    assert dragged.mean()[0] > clean.mean()[0] + 0.3


def test_two_that_exclude_each_other_keep_both_possible() -> None:
    """Without a majority neither reading is thrown out and the band stays wide."""
    data = IntervalData.linear([-2.2, 1.8], [-1.8, 2.2], 0.2, lapse=0.05, misread=1 / 6)
    found = learn(plain(1), lambda x: np.repeat(x, 2, axis=1), data, members=1024, seed=10)
    low, high = found.quantile("x0", [0.1, 0.9])
    assert low < -1.5
    assert high > 1.5
    assert found.diagnostics.misread == pytest.approx((0.5, 0.5), abs=0.15)


def test_a_seed_gives_the_same_again() -> None:
    data = IntervalData.linear(OBSERVED - 0.5, OBSERVED + 0.5, SD)
    first, second, other = (learn(plain(4), linear, data, members=64, seed=s) for s in (1, 1, 2))
    np.testing.assert_array_equal(first.theta, second.theta)
    np.testing.assert_array_equal(first.weights, second.weights)
    assert first.diagnostics == second.diagnostics
    assert not np.array_equal(first.theta, other.theta)


def test_failed_members_are_replaced_and_counted() -> None:
    """Members beyond a wall fail; the posterior is the truth cut at the wall."""

    def walled(physical: Array) -> Array:
        result = physical.copy()
        result[physical[:, 0] > 0.8] = np.nan
        return result

    data = IntervalData.linear([0.0], [2.0], 0.5)
    found = learn(plain(1), walled, data, members=1024, seed=13)
    grid = np.linspace(-6.0, 0.8, 20001)
    density = np.exp(-0.5 * grid**2 + data.log_likelihood(grid[:, None]))
    density /= density.sum()
    counted = found.weights > 0.0
    assert found.physical[counted, 0].max() <= 0.8
    assert found.mean()[0] == pytest.approx(density @ grid, abs=0.06)
    assert found.diagnostics.failed > 400
    assert found.diagnostics.failed_at_last > 50


def test_too_many_failures_are_refused() -> None:
    data = IntervalData.linear([0.0], [1.0], 0.5)
    with pytest.raises(EngineError, match="went through"):
        learn(plain(1), lambda x: np.full_like(x, np.nan), data, members=64)


def test_predictions_of_the_wrong_shape_are_refused() -> None:
    data = IntervalData.linear([0.0, 1.0], [1.0, 2.0], 0.5)
    with pytest.raises(EngineError, match="shape"):
        learn(plain(1), lambda x: x, data, members=64)


def test_too_few_members_are_refused() -> None:
    with pytest.raises(InputError, match="too few"):
        learn(plain(20), lambda x: x, IntervalData.of([]), members=40)


def test_progress_runs_to_one() -> None:
    seen: list[float] = []
    data = IntervalData.linear(OBSERVED - 0.5, OBSERVED + 0.5, SD)
    learn(plain(4), linear, data, members=64, progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) == 7


def test_cancelling_stops_before_the_next_round() -> None:
    rounds: list[int] = []

    def counted(physical: Array) -> Array:
        rounds.append(len(physical))
        return linear(physical)

    data = IntervalData.linear(OBSERVED - 0.5, OBSERVED + 0.5, SD)
    with pytest.raises(LearningCancelledError):
        learn(plain(4), counted, data, members=64, cancel=lambda: len(rounds) >= 2)
    assert rounds == [64, 64]


def test_what_is_learned_is_told_by_parameter() -> None:
    data = IntervalData.linear([1.0], [1.0], 0.1)
    found = learn(plain(2), lambda x: x[:, :1], data, members=512, seed=14)
    assert found.diagnostics.informed[0] > 0.95
    assert found.diagnostics.informed[1] < 0.2


def test_resampling_keeps_the_law() -> None:
    data = IntervalData.linear(OBSERVED - 0.5, OBSERVED + 0.5, SD)
    found = learn(plain(4), linear, data, members=512, seed=15)
    drawn = resample(found, 400, seed=1)
    again = resample(found, 400, seed=1)
    np.testing.assert_array_equal(drawn.theta, again.theta)
    assert len(drawn) == 400
    assert effective_members(drawn.weights) == pytest.approx(400.0)
    assert (np.abs(drawn.mean() - found.mean()) / found.sd() < 4.0 / np.sqrt(400)).all()
    assert (np.abs(drawn.sd() / found.sd() - 1.0) < 4.0 / np.sqrt(800)).all()
    half = drawn.theta[:200].mean(axis=0)
    assert (np.abs(half - found.mean()) / found.sd() < 4.0 / np.sqrt(200)).all()
    assert drawn.predicted is not None
    np.testing.assert_allclose(drawn.predicted, linear(drawn.physical))
