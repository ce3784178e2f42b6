"""Partial pooling against closed forms, and what it is worth on a rack of made-up tanks."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from pleuston.inference.learn import learn
from pleuston.inference.normal import Array
from pleuston.inference.pool import (
    BETWEEN,
    HEARD,
    Law,
    Own,
    pooled,
    pooled_law,
    pooled_laws,
    pooled_prior,
    shared_as,
)
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import IntervalData
from pleuston.inference.tank import FEW, Task, learn_tank, tank_task

from .simulated import START, little_record, reader

NAMES = ("evaporation_factor", "conductivity_factor", "floater1_growth_max", "initial_alkalinity")


def test_the_law_is_that_of_the_normal_hierarchy() -> None:
    """Against brute force: shared part and own part of every tank on a grid of their variances."""
    mean, sd = np.array([0.9, 0.5, 1.4]), np.array([0.4, 0.6, 0.5])
    law = pooled_law(mean, sd)
    grid = np.linspace(-6.0, 6.0, 4801)
    own = 1.0 / sd**2 - 1.0
    value, noise = mean / sd**2 / own, 1.0 / (HEARD * own)
    middle, variance, evidence = [], [], []
    for between in BETWEEN[:-1]:
        each = stats.norm.pdf(value[:, None], grid, np.sqrt(between + noise)[:, None])
        joint = stats.norm.pdf(grid, 0.0, np.sqrt(1.0 - between)) * each.prod(axis=0)
        evidence.append(joint.sum())
        middle.append(joint @ grid / joint.sum())
        variance.append(between + joint @ grid**2 / joint.sum() - middle[-1] ** 2)
    np.testing.assert_allclose(law.middle[:-1], middle, atol=1e-6)
    np.testing.assert_allclose(law.variance[:-1], variance, atol=1e-6)
    np.testing.assert_allclose(law.share[:-1] / law.share[:-1].sum(),
                               np.array(evidence) / np.sum(evidence), atol=1e-6)  # fmt: skip
    assert law.middle[-1] == pytest.approx(0.0, abs=1e-6)
    assert law.variance[-1] == pytest.approx(1.0, abs=1e-6)
    theta = np.linspace(-3.0, 3.0, 7)
    mixed = stats.norm.pdf(theta[:, None], law.middle, np.sqrt(law.variance)) @ law.share
    np.testing.assert_allclose(np.exp(law.log_density(theta)), mixed, rtol=1e-9)


def test_nobody_who_knows_anything_leaves_the_prior() -> None:
    for mean, sd in (([], []), ([0.3, -2.0], [1.0, 0.99]), ([0.1], [1.2])):
        law = pooled_law(np.array(mean), np.array(sd))
        assert (law.mean, law.sd) == pytest.approx((0.0, 1.0), abs=1e-9)


def test_alike_tanks_narrow_and_unlike_ones_do_not() -> None:
    alike = pooled_law(np.full(8, 0.8), np.full(8, 0.2))
    unlike = pooled_law(np.linspace(-1.9, 1.9, 8), np.full(8, 0.2))
    assert alike.mean == pytest.approx(0.8, abs=0.08)
    assert alike.sd < 0.4
    assert unlike.sd > 0.85
    assert abs(unlike.mean) < 0.1
    one = pooled_law(np.array([0.8]), np.array([0.2]))
    assert alike.sd < one.sd < 1.0


def linear(physical: Array) -> Array:
    return physical.copy()


def plain(n: int) -> Prior:
    return Prior(tuple(Uncertain(f"x{i}", "normal", 0.0, spread=1.0) for i in range(n)))


ONE = Law(np.array([1.0]), np.array([0.6]), np.array([0.3**2]))


def conjugate(observed: float, sd: float) -> tuple[float, float]:
    """Posterior of a number that is N(0.6, 0.3) before an exact reading."""
    precision = 1.0 / 0.3**2 + 1.0 / sd**2
    return (0.6 / 0.3**2 + observed / sd**2) / precision, precision**-0.5


def test_weights_and_prior_give_the_conjugate_answer_alike() -> None:
    data = IntervalData.linear([0.2], [0.2], 0.4)
    mean, sd = conjugate(0.2, 0.4)
    own = learn(plain(1), linear, data, members=1024, seed=1)
    helped = pooled(own, {"x0": ONE})
    assert helped.diagnostics.pooled == 1.0
    assert helped.mean()[0] == pytest.approx(mean, abs=0.02)
    assert helped.sd()[0] == pytest.approx(sd, rel=0.05)
    prior = pooled_prior(plain(1), {"x0": ONE})
    anew = learn(prior, linear, data, members=1024, seed=1)
    values = anew.of("x0")
    assert anew.weights @ values == pytest.approx(mean, abs=0.02)
    assert np.sqrt(anew.weights @ (values - mean) ** 2) == pytest.approx(sd, rel=0.05)


def test_help_far_from_all_members_is_taken_in_part() -> None:
    own = learn(plain(1), linear, IntervalData.linear([-2.0], [-2.0], 0.1), members=128, seed=2)
    far = Law(np.array([1.0]), np.array([3.0]), np.array([0.1**2]))
    helped = pooled(own, {"x0": far})
    assert 0.0 < helped.diagnostics.pooled < 1.0
    assert helped.diagnostics.effective_members >= 0.49 * own.diagnostics.effective_members
    assert abs(helped.mean()[0] - own.mean()[0]) < 2.0 * own.sd()[0]


@pytest.mark.parametrize("others", [(0.2, 0.4, 0.3, 0.5), (2.5, 2.2, 2.8, 2.4), (-2.0, 2.0, 0.0)])
def test_a_well_read_tank_hardly_moves(others: tuple[float, ...]) -> None:
    """Whatever the others say, its mean moves by less than its own sd."""
    own = learn(plain(1), linear, IntervalData.linear([-0.6], [-0.6], 0.15), members=256, seed=3)
    law = pooled_law(np.array(others), np.full(len(others), 0.2))
    helped = pooled(own, {"x0": law})
    assert abs(helped.mean()[0] - own.mean()[0]) < own.sd()[0]


def test_shifted_laws_go_there_and_back() -> None:
    parts = (
        Uncertain("a", "lognormal", 2.0, spread=0.5, shift=0.8, width=0.3),
        Uncertain("b", "uniform", 0.0, 1.0, 4.0, shift=-1.0, width=0.5),
        Uncertain("c", "normal", 1.0, spread=3.0, shift=0.2, width=1.5),
    )
    prior = Prior(parts)
    theta = prior.sample(200, seed=1)
    values = prior.to_physical(theta)
    np.testing.assert_allclose(prior.to_theta(values), theta, atol=1e-8)
    assert np.log(values[:, 0]).mean() == pytest.approx(np.log(2.0) + 0.5 * 0.8)
    assert np.log(values[:, 0]).std(ddof=1) == pytest.approx(0.5 * 0.3)
    assert values[:, 2].mean() == pytest.approx(1.0 + 3.0 * 0.2)


def task_of(name: str, weeks: int, litres: float = 30.0) -> Task:
    record = little_record(name, weeks, litres)
    at = START + timedelta(days=7 * weeks)
    return tank_task(record, name, at, names=NAMES, threads=1)


def test_numbers_are_shared_as_what_they_hang_on() -> None:
    case = task_of("Elm", 1).case
    assert shared_as(case, "evaporation_factor") == "evaporation_factor"
    assert shared_as(case, "floater1_growth_max") == "", "growth stands for a tank's own food too"
    assert shared_as(case, "source_copper") == "source_copper of pipe"
    assert shared_as(case, "initial_alkalinity") == ""
    assert shared_as(case, "soil_exchange") == "", "its soil has no name"
    soiled = replace(case, tank=replace(case.tank, soil="garden"))
    assert shared_as(soiled, "soil_exchange") == "soil_exchange of garden"


def test_a_tank_does_not_hear_itself() -> None:
    task = task_of("Elm", 1)
    own = Own("Elm", ("evaporation_factor",), (1.0,), (0.2,))
    assert pooled_laws(task.case, task.prior, [own]) == {}
    laws = pooled_laws(task.case, task.prior, [own, replace(own, tank="Oak")])
    assert set(laws) == {"evaporation_factor"}
    assert Own.read(own.data()) == own


def learned_rack(seed: int) -> tuple[list[Own], Array]:
    """Eight tanks alike and not the same, learned each from five weeks; and a ninth's truth."""
    rng = np.random.default_rng(seed)
    middle = np.sqrt(0.8) * rng.standard_normal(len(NAMES))
    found = []
    for i in range(8):
        task = task_of(f"Tank {i}", 5, 20.0 + 5.0 * i)
        run = task.forward(task.prior)
        truth = middle + np.sqrt(0.2) * rng.standard_normal((1, len(NAMES)))
        data = reader(task.data)(run(task.prior.to_physical(truth)), rng)
        found.append(Own.of(task.case, learn(task.prior, run, data, members=40, seed=i)))
    return found, middle + np.sqrt(0.2) * rng.standard_normal((1, len(NAMES)))


def log_score(prior: Prior, weights: Array, values: Array, truth: Array) -> float:
    """Log density of a truth under the normal law of a posterior, in theta of the record."""
    theta = prior.to_theta(values)
    mean = weights @ theta
    sd = np.sqrt(weights @ (theta - mean) ** 2)
    return float(stats.norm.logpdf(truth[0], mean, sd)[:2].sum())


@pytest.mark.slow
def test_a_new_tank_on_a_learned_rack_starts_better_informed() -> None:
    """Before its first reading, and still after a first week of four."""
    before, after = [], []
    for seed in (1, 2, 3):
        others, truth = learned_rack(seed)
        task = task_of("New", 1)
        assert len(task.pairs) < FEW
        laws = pooled_laws(task.case, task.prior, others)
        assert set(laws) == set(NAMES[:2])
        prior = pooled_prior(task.prior, laws)
        run = task.forward(task.prior)
        data = reader(task.data)(
            run(task.prior.to_physical(truth)), np.random.default_rng(100 + seed)
        )
        alone = learn(task.prior, run, data, members=64, seed=1)
        helped = learn(prior, task.forward(prior), data, members=64, seed=1)
        before.append(sum(
            law.log_density(theta)[0] - stats.norm.logpdf(theta[0])
            for law, theta in ((law, truth[:, NAMES.index(n)]) for n, law in laws.items())
        ))  # fmt: skip
        after.append(log_score(task.prior, helped.weights, helped.physical, truth)
                     - log_score(task.prior, alone.weights, alone.physical, truth))  # fmt: skip
    assert min(before) > 0.0, before
    assert np.mean(before) > 0.3, before
    assert np.mean(after) > 0.1, after


def test_a_tank_of_few_readings_is_learned_anew_and_the_belief_says_from_whom() -> None:
    record = little_record("New", 1)
    at = START + timedelta(days=7)
    told = [
        Own(f"Tank {i}", ("evaporation_factor", "feed_factor"), (1.2, -0.9), (0.2, 0.3))
        for i in range(8)
    ]
    alone = learn_tank(record, "New", at, members=64, threads=1)
    helped = learn_tank(record, "New", at, members=64, threads=1, others=told)
    again = learn_tank(record, "New", at, members=64, threads=1, others=helped.others)
    assert (alone.diagnostics.pooled, helped.diagnostics.pooled) == (0.0, 1.0)
    assert helped.others == tuple(told)
    assert helped.own == alone.own, "what it tells others is its own record's alone"
    np.testing.assert_array_equal(helped.end, again.end)
    pinch = [np.log(b.values["feed_factor"]) for b in (alone, helped)]
    assert pinch[1].mean() < pinch[0].mean()
    assert pinch[1].std() < 0.7 * pinch[0].std()
