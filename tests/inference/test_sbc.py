"""Simulation-based calibration (Talts et al. 2018, arXiv:1804.06788).

A truth is drawn from the prior, readings from the truth, a posterior from the readings. If
and only if the learning is right, the truth's place among the posterior's members is uniform
over many turns. Tested by chi-square over eight bins for each number, at a level of 1 % for
all numbers of a test together; the same test has to see a posterior that is too narrow.
"""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from pleuston.inference.belief import Posterior
from pleuston.inference.laplace import learn_by_summits
from pleuston.inference.learn import learn
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import IntervalData
from pleuston.inference.tank import tank_task
from pleuston.inference.without import as_midpoints

from .simulated import (
    START,
    Turn,
    little_record,
    narrowed,
    places,
    read,
    reader,
    turns,
    uniform_chance,
)

LEVEL = 0.01
TURNS = 160
PRIOR = Prior(tuple(Uncertain(f"x{i}", "normal", 0.0, spread=1.0) for i in range(3)))
TIMES = np.tile(np.array([3.0, 10.0, 17.0, 24.0]), 3)
STEPS = np.array([0.25, 0.75, 1.5, 2.5])
"""Bounds between five classes of a card, the lowest open: below detection."""
DROPS = np.arange(0.5, 4.0, 0.5)
SPAN = 5.0


def forward(physical: Array) -> Array:
    """Something eaten, something given off, something that gathers: twelve readings."""
    x, y, z = physical.T[:, :, None]
    days = TIMES[:4]
    eaten = 2.5 * np.exp(0.4 * z - 0.05 * days * np.exp(0.6 * x))
    given = 0.03 * days * np.exp(0.5 * y) + 0.3 * x
    gathers = np.exp(0.012 * days * np.exp(0.5 * y)) + 0.1 * z
    return np.concatenate([eaten, given, gathers], axis=1)


def template() -> IntervalData:
    """A card with misreadings, drops, and a pen whose error stays, four times each."""
    card, drops, pen = (np.repeat(np.arange(3) == i, 4) for i in range(3))
    classes = np.where(card, len(STEPS) + 1.0, len(DROPS) + 1.0)
    sd = np.where(card, 0.25, np.where(drops, 0.2, 0.1))
    return IntervalData(
        ("number",) * 12, TIMES, np.zeros(12), np.ones(12), sd,
        np.where(pen, 0.0, 0.04), np.where(pen, 1.0 / SPAN, 1.0 / classes), pen, np.zeros(12),
        ("linear",) * 12, np.where(drops, 0.1, np.where(pen, 0.08, 0.0)), np.zeros(12),
        ("card",) * 4 + ("drops",) * 4 + ("pen",) * 4,
    )  # fmt: skip


EDGES = [STEPS] * 4 + [DROPS] * 4 + [np.zeros(0)] * 4


def again(predicted: Array, rng: np.random.Generator) -> IntervalData:
    return read(template(), predicted[0], EDGES, np.tile([0.0, SPAN], (12, 1)), rng)


@cache
def learned() -> list[Turn]:
    def first(data: IntervalData, turn: int) -> Posterior:
        return learn(PRIOR, forward, data, members=48, seed=turn)

    return turns(PRIOR, forward, again, first, TURNS, 1)


def passes(found: Array) -> bool:
    """Whether places are as even as uniform ones, at the level of all numbers together."""
    return bool((uniform_chance(found) > LEVEL / found.shape[1]).all())


def test_the_truth_lies_anywhere_among_the_members_alike() -> None:
    assert passes(places(learned())), uniform_chance(places(learned()))


@pytest.mark.parametrize("factor", [0.5, 1.8])
def test_posteriors_too_narrow_or_too_wide_are_seen(factor: float) -> None:
    assert not passes(places(learned(), narrowed(factor)))


def test_posteriors_that_lean_to_one_side_are_seen() -> None:
    assert not passes(places(learned(), lambda p: p.theta + 0.6 * p.sd()))


@pytest.mark.slow
def test_middles_of_classes_taken_as_exact_are_seen() -> None:
    """The usual mistake with a colour card, by the learning itself."""

    def mistaken(data: IntervalData, turn: int) -> Posterior:
        return learn(PRIOR, forward, as_midpoints(data), members=48, seed=turn)

    assert not passes(places(turns(PRIOR, forward, again, mistaken, TURNS, 1)))


def test_the_second_method_is_calibrated_too() -> None:
    def second(data: IntervalData, turn: int) -> Posterior:
        return learn_by_summits(PRIOR, forward, data, draws=64, starts=2, seed=turn)

    found = places(turns(PRIOR, forward, again, second, TURNS // 2, 2))
    assert passes(found), uniform_chance(found)


NAMES = ("evaporation_factor", "conductivity_factor", "initial_alkalinity")


@pytest.mark.slow
def test_the_truth_lies_anywhere_among_members_of_the_tank_model() -> None:
    """The learning of a tank as it is, but for fewer numbers: the compiled model behind it."""
    task = tank_task(little_record(), "Elm", START + timedelta(days=21), names=NAMES, threads=1)
    run = task.forward(task.prior)

    def first(data: IntervalData, turn: int) -> Posterior:
        return learn(task.prior, run, data, members=40, seed=turn)

    made = turns(task.prior, run, reader(task.data), first, 64, 3)
    assert passes(places(made)), uniform_chance(places(made))
    assert not passes(places(made, narrowed(0.45)))
