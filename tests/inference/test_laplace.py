"""The second method: exact where the answer is known, and beside the first where it is not."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from pleuston.base.errors import EngineError
from pleuston.inference.belief import LearningCancelledError
from pleuston.inference.laplace import agreement, learn_by_summits
from pleuston.inference.learn import learn
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import MEMORY, IntervalData
from pleuston.services.second_opinion import second_opinion


def plain(n: int) -> Prior:
    return Prior(tuple(Uncertain(f"x{i}", "normal", 0.0, spread=1.0) for i in range(n)))


A = np.random.default_rng(21).standard_normal((9, 4))
SD = np.full(9, 0.6)
TIMES = np.linspace(5.0, 61.0, 9)
OBSERVED = A @ np.array([1.1, -0.4, 0.8, -1.0]) + 0.6 * np.random.default_rng(22).normal(size=9)


def linear(physical: Array) -> Array:
    return np.asarray(physical @ A.T)


def exact(drift: float) -> IntervalData:
    """Exact readings of which a part of the error stays."""
    n = len(OBSERVED)
    return IntervalData(
        ("number",) * n, TIMES, OBSERVED, OBSERVED, SD, np.zeros(n), np.ones(n),
        np.ones(n, dtype=bool), np.zeros(n), ("linear",) * n, np.full(n, drift), np.zeros(n),
    )  # fmt: skip


def conjugate(drift: float) -> tuple[Array, Array, float]:
    """Mean and covariance of the numbers, and the log chance of the readings, in closed form."""
    stays = drift**2 * np.exp(-np.abs(TIMES[:, None] - TIMES) / MEMORY)
    noise = stays + np.diag(SD**2 - drift**2)
    covariance = np.linalg.inv(np.eye(4) + A.T @ np.linalg.solve(noise, A))
    mean = covariance @ A.T @ np.linalg.solve(noise, OBSERVED)
    law = stats.multivariate_normal(np.zeros(9), A @ A.T + noise)
    return mean, covariance, float(law.logpdf(OBSERVED))


@pytest.mark.parametrize("drift", [0.0, 0.45])
def test_linear_and_exact_is_conjugate(drift: float) -> None:
    """With and without an error that stays, whose readings then tell less together."""
    found = learn_by_summits(plain(4), linear, exact(drift), draws=512, seed=3)
    mean, covariance, evidence = conjugate(drift)
    sd = np.sqrt(np.diag(covariance))
    effective = found.diagnostics.effective_members
    assert effective > 700
    assert found.diagnostics.method == "map and laplace"
    assert (np.abs(found.mean() - mean) / sd < 4.0 / np.sqrt(effective)).all()
    assert (np.abs(found.sd() / sd - 1.0) < 4.0 / np.sqrt(2.0 * effective)).all()
    assert found.diagnostics.log_evidence == pytest.approx(evidence, abs=0.1)
    # The top of a normal law is its mean: the search alone finds it, without any draw.
    assert found.diagnostics.shift < 4.0 / np.sqrt(effective)


def curved(physical: Array) -> Array:
    """A made-up tank: growth towards a ceiling, evaporation, a product of both."""
    x, y, z = physical.T
    days = np.array([3.0, 10.0, 17.0, 24.0])
    grown = 2.0 / (1.0 + np.exp(1.5 - 0.12 * np.exp(0.5 * x[:, None]) * days))
    salts = np.exp(0.02 * days * np.exp(0.4 * y[:, None])) + 0.2 * z[:, None]
    return np.column_stack([grown, salts, grown[:, -1:] * np.exp(0.3 * z[:, None])])


LOW = [0.4, 0.7, -np.inf, 1.5, 1.0, 1.2, 1.45, 1.7, 1.9]
HIGH = [0.8, 1.1, 1.6, np.inf, 1.2, 1.45, 1.45, np.inf, 2.6]


def test_both_methods_agree_on_curves_and_intervals() -> None:
    data = IntervalData.linear(LOW, HIGH, 0.15, lapse=0.02, misread=0.2)
    first = learn(plain(3), curved, data, members=512, seed=5)
    second = learn_by_summits(plain(3), curved, data, draws=512, seed=6)
    told = agreement(first, second)
    assert told.names == ("x0", "x1", "x2")
    assert told.largest[1] == max(told.shift) < 0.15
    assert all(0.85 < ratio < 1.18 for ratio in told.ratio)
    assert first.diagnostics.log_evidence is not None
    assert second.diagnostics.log_evidence == pytest.approx(
        first.diagnostics.log_evidence, abs=0.15
    )


def test_two_summits_are_both_drawn_from() -> None:
    """A square is the same on both sides: each has half of the mass."""
    data = IntervalData.linear([2.0], [2.0], 0.2)
    found = learn_by_summits(plain(1), np.square, data, draws=512, starts=5, seed=4)
    right = found.weights[found.theta[:, 0] > 0.0].sum()
    assert right == pytest.approx(0.5, abs=0.08)
    assert found.quantile("x0", [0.1, 0.9]) == pytest.approx([-1.45, 1.45], abs=0.15)


def test_agreement_tells_which_number_differs_and_by_how_much() -> None:
    data = IntervalData.linear([1.0], [1.0], 0.5)
    first = learn(plain(2), lambda x: x[:, :1], data, members=512, seed=1)
    other = IntervalData.linear([2.0], [2.0], 0.25)
    second = learn(plain(2), lambda x: x[:, :1], other, members=512, seed=2)
    told = agreement(first, second)
    # Closed form: means 0.8 and 2 / 1.0625, variances 0.2 and 0.0625 / 1.0625.
    variances = np.array([0.2, 0.0625 / 1.0625])
    expected = (2.0 / 1.0625 - 0.8) / np.sqrt(variances.mean())
    assert told.largest[0] == "x0"
    assert told.largest[1] == pytest.approx(expected, rel=0.1)
    assert told.ratio[0] == pytest.approx(np.sqrt(variances[0] / variances[1]), rel=0.1)
    assert told.shift[1] < 0.2


def test_members_that_fail_are_left_out() -> None:
    def walled(physical: Array) -> Array:
        result = physical.copy()
        result[physical[:, 0] > 0.8] = np.nan
        return result

    data = IntervalData.linear([0.0], [2.0], 0.5)
    found = learn_by_summits(plain(1), walled, data, draws=512, seed=13)
    grid = np.linspace(-6.0, 0.8, 20001)
    density = np.exp(-0.5 * grid**2 + data.log_likelihood(grid[:, None]))
    density /= density.sum()
    assert found.physical[found.weights > 0.0, 0].max() <= 0.8
    assert found.mean()[0] == pytest.approx(density @ grid, abs=0.06)
    assert found.diagnostics.failed > 0
    with pytest.raises(EngineError, match="went through"):
        learn_by_summits(plain(1), lambda x: np.full_like(x, np.nan), data, draws=64)


def test_a_seed_gives_the_same_again_and_it_can_be_stopped() -> None:
    told: list[float] = []
    first, second = (
        learn_by_summits(plain(4), linear, exact(0.45), draws=64, seed=1, progress=told.append)
        for _ in range(2)
    )
    np.testing.assert_array_equal(first.theta, second.theta)
    np.testing.assert_array_equal(first.weights, second.weights)
    assert told[: len(told) // 2] == sorted(told[: len(told) // 2])
    assert told[-1] == 1.0
    with pytest.raises(LearningCancelledError):
        learn_by_summits(plain(4), linear, exact(0.0), draws=64, cancel=lambda: len(told) > 0)


def test_nothing_read_leaves_the_prior() -> None:
    found = learn_by_summits(plain(2), linear, IntervalData.of([]), draws=128)
    np.testing.assert_allclose(found.mean(), 0.0, atol=1e-12)
    assert found.diagnostics.method == "prior"


@pytest.mark.slow
def test_both_methods_agree_on_a_tank_of_the_demo() -> None:
    """Some 34 numbers from eight weeks of readings, the compiled model behind both."""
    rack = Path(str(resources.files("pleuston") / "demo_rack"))
    answer = second_opinion(rack, "Fern", "2026-04-26T22:00")
    learned = [row for row in answer["numbers"] if row["learned"]]
    assert len(learned) >= 10
    assert answer["agree"], answer["apart"]
    assert max(row["shift_sd"] for row in learned) < 0.5
    assert all(0.5 < row["ratio_of_sd"] < 2.0 for row in learned)
    both = [answer[way]["log_evidence"] for way in ("first", "second")]
    assert both[0] == pytest.approx(both[1], abs=4.0)
    assert answer["first"]["method"] != answer["second"]["method"]
