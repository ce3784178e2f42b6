"""The slow error of a quantity against exact normal sums, and the law fitted to planes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pleuston.inference.drift import filtered
from pleuston.inference.fitted import Planes, normal_law
from pleuston.inference.normal import Array
from pleuston.inference.readings import MEMORY, STEP_EVERY, IntervalData
from pleuston.inference.slow_error import FADE, MODEL, STEP, SlowError
from pleuston.inference.slow_error import KIT as KITS

TIMES = np.array([3.0, 10.0, 24.0, 60.0])
SD, DRIFT, KIT = 0.5, 0.4, 0.2
TRENDS = (0.0, 0.5, 1.0)


def readings(
    values: Array, width: float = 0.0, streams: tuple[str, ...] = (), trend: float = 0.0,
    lapse: float = 0.0, step: float = 0.0, begun: float = 0.0, every: float = STEP_EVERY,
) -> IntervalData:  # fmt: skip
    n = len(values)
    return IntervalData(
        ("ph",) * n, TIMES[:n], values - width / 2, values + width / 2, np.full(n, SD),
        np.full(n, lapse), np.full(n, 0.1), np.full(n, width == 0.0), np.zeros(n), ("linear",) * n,
        np.full(n, DRIFT), np.full(n, KIT), streams, trend=np.full(n, trend),
        begun=np.full(n, begun), step=np.full(n, step), step_every=np.full(n, every),
    )  # fmt: skip


def model_error(days: Array, trend: float = 0.0) -> Array:
    """Covariance of the model's error over days, summed from the rates that feed it.

    By hand: a rate that fades within `fade`, gathered by an error that fades within `memory`.
    """
    fade = FADE * MEMORY
    rate = trend * (DRIFT**2 - KIT**2) * (MEMORY + fade) / (MEMORY**2 * fade)
    # fed: covariance of the error with its rate; MEMORY times that is the error's variance
    since = np.arange(0.0, 40.0 * MEMORY, 0.02)
    fed = rate * np.trapezoid(np.exp(-since / MEMORY - since / fade), since)
    alone = (1.0 - trend) * (DRIFT**2 - KIT**2) * np.exp(-days / MEMORY)
    gathered = np.exp(-days / MEMORY) * MEMORY * fed + fed * fade * MEMORY / (MEMORY - fade) * (
        np.exp(-days / MEMORY) - np.exp(-days / fade)
    )
    return np.asarray(alone + gathered)


def shared(n: int, trend: float = 0.0) -> Array:
    return model_error(np.abs(TIMES[:n, None] - TIMES[:n]), trend) + KIT**2


VALUES = np.array([0.7, 0.4, 0.9, 0.1])
MEMBERS = np.array([[0.0, 0.0, 0.0, 0.0], [0.3, -0.1, 0.2, 0.4]])


@pytest.mark.parametrize("trend", TRENDS)
def test_exact_readings_have_the_chance_of_their_joint_normal_law(trend: float) -> None:
    found = filtered(readings(VALUES, trend=trend), MEMBERS)
    covariance = shared(4, trend) + (SD**2 - DRIFT**2) * np.eye(4)
    for member, got in zip(MEMBERS, found.log_likelihood, strict=True):
        expected = stats.multivariate_normal(member, covariance).logpdf(VALUES)
        assert got == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("trend", TRENDS)
def test_what_the_error_is_by_now_is_the_normal_regression_on_all_readings(trend: float) -> None:
    drift = filtered(readings(VALUES, trend=trend), MEMBERS).drifts["ph"]
    later = TIMES[-1] + 20.0
    with_readings = model_error(later - TIMES, trend)
    covariance = shared(4, trend) + (SD**2 - DRIFT**2) * np.eye(4)
    weights = np.linalg.solve(covariance, with_readings)
    mean, spread = drift.at(later)
    np.testing.assert_allclose(mean[MODEL], (VALUES - MEMBERS) @ weights, rtol=1e-4)
    whole = DRIFT**2 - KIT**2 - with_readings @ weights
    np.testing.assert_allclose(spread[MODEL, MODEL], whole, rtol=1e-4)


def begun_error(first: float, second: float, trend: float) -> float:
    """Covariance of the model's error of two days when it is none on day 0, by a double sum."""
    fade, whole = FADE * MEMORY, DRIFT**2 - KIT**2
    rate = trend * whole * (MEMORY + fade) / (MEMORY**2 * fade)
    # of rates, by the midpoints of 400 spans of each
    a, b = (t * (np.arange(400) + 0.5) / 400 for t in (first, second))
    left = np.exp(-(first - a) / MEMORY)[:, None] * np.exp(-(second - b) / MEMORY)
    fed = (rate * left * np.exp(-np.abs(a[:, None] - b) / fade)).mean() * first * second
    alone = np.exp(-abs(first - second) / MEMORY) - np.exp(-(first + second) / MEMORY)
    # what feeds the error beside its rate keeps the whole at its variance
    both = 2.0 * rate * fade * MEMORY / (MEMORY + fade)
    noise = 2.0 / MEMORY * whole - both
    return float(fed + 0.5 * MEMORY * noise * alone)


@pytest.mark.parametrize("trend", TRENDS)
def test_an_error_that_begins_with_the_record_has_the_chance_of_its_joint_law(
    trend: float,
) -> None:
    data = readings(VALUES, trend=trend, begun=1.0)
    model = np.array([[begun_error(a, b, trend) for a in TIMES] for b in TIMES])
    np.testing.assert_allclose(data.shared_error, model + KIT**2, rtol=1e-4)
    covariance = model + KIT**2 + (SD**2 - DRIFT**2) * np.eye(4)
    for member, got in zip(MEMBERS, filtered(data, MEMBERS).log_likelihood, strict=True):
        expected = stats.multivariate_normal(member, covariance).logpdf(VALUES)
        assert got == pytest.approx(expected, rel=1e-4)


def test_a_first_reading_of_a_store_moves_its_error_little() -> None:
    """Read on day 3, all of a distance is the start's; long after, as much as of any other."""
    values = np.array([1.0])
    moved = [
        filtered(readings(values, begun=begun), np.zeros((1, 1))).drifts["ph"].mean[MODEL, 0]
        for begun in (1.0, 0.0)
    ]
    assert 0.0 < moved[0] < 0.25 * moved[1]
    whole = SlowError(0.3, 0.1, 45.0, 0.5, 1.0)
    assert whole.related(np.array(900.0), np.array(900.0)) == pytest.approx(0.1, rel=1e-6)
    assert whole.related(np.array(0.0), np.array(0.0)) == pytest.approx(0.01, rel=1e-6)


def test_steps_that_come_oftener_are_believed_sooner() -> None:
    values = np.array([0.0, 4.0])
    asked = {"lapse": 0.01, "step": 3.0}
    rare, often = (
        filtered(readings(values, every=every, **asked), np.zeros((1, 2)))
        for every in (STEP_EVERY, 60.0)
    )
    assert often.wrong[0, 1] < 0.6 * rare.wrong[0, 1]
    assert often.drifts["ph"].mean[MODEL, 0] > 1.5 * rare.drifts["ph"].mean[MODEL, 0]


def test_long_after_the_last_reading_nothing_is_known_of_it() -> None:
    mean, spread = filtered(readings(VALUES), MEMBERS).drifts["ph"].at(20.0 * MEMORY)
    np.testing.assert_allclose(mean, 0.0, atol=1e-6)
    np.testing.assert_allclose(spread[MODEL, MODEL], DRIFT**2 - KIT**2, rtol=1e-6)


def test_the_kit_is_out_by_the_same_for_ever() -> None:
    drift = filtered(readings(VALUES), MEMBERS).drifts["ph"]
    along, added = drift.law.over(1e6)
    assert along[KITS, KITS] == 1.0
    assert added[KITS, KITS] == 0.0


def test_draws_have_the_mean_and_the_covariance_they_are_drawn_from() -> None:
    many = np.repeat(MEMBERS[:1], 40_000, axis=0)
    drift = filtered(readings(VALUES, trend=0.5), many).drifts["ph"]
    mean, spread = drift.at(70.0)
    drawn = drift.drawn(70.0, np.random.default_rng(3))
    np.testing.assert_allclose(drawn.mean(axis=1), mean[:, 0], atol=0.01)
    np.testing.assert_allclose(np.cov(drawn), spread[:, :, 0], rtol=0.03)


@pytest.mark.parametrize("days", [0.0, 0.4, 7.0, 300.0])
def test_two_spans_in_a_row_do_what_they_do_at_once(days: float) -> None:
    law = SlowError(0.3, 0.1, 60.0, 0.5)
    first, then = law.over(5.0), law.over(days)
    both, added = law.over(5.0 + days)
    np.testing.assert_allclose(then[0] @ first[0], both, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(then[0] @ first[1] @ then[0].T + then[1], added, atol=1e-15)


def test_one_reading_far_off_is_wrong_and_two_alike_are_a_step() -> None:
    asked = {"lapse": 0.01, "step": 3.0, "trend": 0.0}
    one = filtered(readings(np.array([0.0, 0.1, 4.0]), **asked), np.zeros((1, 3)))
    assert one.wrong[0, 2] > 0.5
    more = filtered(readings(np.array([0.0, 4.0, 4.1, 3.9]), **asked), np.zeros((1, 4)))
    assert more.wrong[0, 3] < 0.25
    assert more.drifts["ph"].at(TIMES[3])[0][MODEL, 0] > 3.0
    never = filtered(readings(np.array([0.0, 4.0, 4.1, 3.9]), lapse=0.01), np.zeros((1, 4)))
    assert never.wrong[0, 3] > 0.5


def test_a_step_of_what_water_collects_stays_and_another_fades() -> None:
    """Four readings after a step of 4: a hundred memories on, all of it is there, or nothing."""
    values = np.array([0.0, 4.0, 4.1, 3.9])
    for trend, left in ((0.5, 4.0), (0.0, 0.0)):
        asked = {"lapse": 0.01, "step": 3.0, "trend": trend}
        drift = filtered(readings(values, **asked), np.zeros((1, 4))).drifts["ph"]
        later = drift.at(TIMES[3] + 100.0 * MEMORY)[0][[MODEL, STEP], 0]
        assert later.sum() == pytest.approx(left, abs=0.35)
        assert later[0] == pytest.approx(0.0, abs=1e-9)


def test_a_step_has_the_chance_of_a_wider_error() -> None:
    """Two readings, no lapse: the mixture of a step and none, by hand."""
    values, step = np.array([0.0, 3.0]), 2.0
    got = filtered(readings(values, step=step), np.zeros((1, 2))).log_likelihood[0]
    stepped = 1.0 - np.exp(-(TIMES[1] - TIMES[0]) / STEP_EVERY)
    covariance = shared(2) + (SD**2 - DRIFT**2) * np.eye(2)
    kept = stats.multivariate_normal([0, 0], covariance).pdf(values)
    wider = covariance + np.diag([0.0, step**2])
    moved = stats.multivariate_normal([0, 0], wider).pdf(values)
    expected = np.log((1.0 - stepped) * kept + stepped * moved)
    assert got == pytest.approx(expected, rel=1e-9)


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
