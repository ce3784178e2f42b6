"""An invented keeper with a colour card: are the bands honest, and is the card well used?

A tank without equations of motion: floating plants grow along a logistic curve, nitrate
falls by what they take and rises by what is fed, carbonate hardness drains. Twelve weekly
rounds are read off a card, drops and a scale; the truth is drawn from the prior, so bands
of the right width hold it as often as they say.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from pleuston.inference.learn import learn
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import (
    MEMORY,
    IntervalData,
    ObservationModel,
    ReadingInterval,
    chart_interval,
    drops_interval,
    observation_model,
)
from pleuston.inference.score import coverage, crps, skill

PRIOR = Prior(
    (
        Uncertain("growth", "lognormal", 0.12, spread=0.5, unit="1/d"),
        Uncertain("capacity", "lognormal", 60.0, spread=0.4, unit="g"),
        Uncertain("fed", "lognormal", 0.25, spread=0.5, unit="mg/L/d"),
        Uncertain("taken", "lognormal", 0.03, spread=0.5, unit="mg/L/d/g"),
        Uncertain("nitrate_start", "lognormal", 6.0, spread=0.6, unit="mg/L"),
        Uncertain("draining", "uniform", 0.02, low=0.0, high=0.02, unit="meq/L/d"),
    )
)
DAYS = 7.0 * np.arange(1, 13)
AHEAD = 7.0 * np.arange(13, 16)
CARD = tuple(step / 4.427 for step in (0.0, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0))
DROP = 0.357
MISREAD = 0.02
REPLICATES = 96


def tank(values: Array, days: Array) -> tuple[Array, Array, Array]:
    """Plants [g], nitrate [mg/L] and hardness [meq/L] by member and day."""
    growth, capacity, fed, taken, start, draining = (column[:, None] for column in values.T)
    plants = capacity / (1.0 + (capacity / 8.0 - 1.0) * np.exp(-growth * days))
    # nitrate relaxes to what is fed over what the standing plants take
    rate = taken * plants / 2.0
    nitrate = start * np.exp(-rate * days) + fed * (1.0 - np.exp(-rate * days)) / rate
    return plants, nitrate, 4.0 - draining * days


def forward(values: Array) -> Array:
    return np.concatenate(tank(values, DAYS), axis=1)


def errors(rng: np.random.Generator, model: ObservationModel, method: str) -> Array:
    """The error of each round: what stays of it for weeks, and what is new each time."""
    how = model.methods[method]
    lasting = np.hypot(model.discrepancy, how.kit)
    kept = float(np.exp(-7.0 / MEMORY))
    path = [lasting * rng.standard_normal()]
    for _ in DAYS[1:]:
        fresh = lasting * np.sqrt(1.0 - kept**2) * rng.standard_normal()
        path.append(kept * path[-1] + fresh)
    passing = np.sqrt(how.noise**2 - how.kit**2)
    return np.array(path) + passing * rng.standard_normal(len(DAYS))


def read(truth: Array, rng: np.random.Generator) -> list[ReadingInterval]:
    plants, nitrate, hardness = (row[0] for row in tank(truth[None, :], DAYS))
    scale, card, drops = (observation_model(n) for n in ("harvest", "nitrate", "kh"))
    readings = []
    for day, mass, error in zip(DAYS, plants, errors(rng, scale, "scale"), strict=True):
        seen = np.exp(np.log(mass + scale.offset) + error) - scale.offset
        readings.append(ReadingInterval("harvest", seen, seen, day))
    edges = [chart_interval(CARD, i)[1] for i in range(len(CARD) - 1)]
    for day, value, error in zip(DAYS, nitrate, errors(rng, card, "chart"), strict=True):
        seen = np.exp(np.log(value + card.offset) + error) - card.offset
        step = int(np.searchsorted(np.array(edges, dtype=float), seen))
        if rng.random() < MISREAD:
            step = int(rng.integers(len(CARD)))
        readings.append(ReadingInterval("nitrate", *chart_interval(CARD, step), day))
    for day, value, error in zip(DAYS, hardness, errors(rng, drops, "titration"), strict=True):
        size = 0.05 * value * rng.standard_normal()
        count = max(1, int(np.ceil((value + error + size) / DROP)))
        readings.append(ReadingInterval("kh", *drops_interval(count, DROP), day))
    return readings


def middles(data: IntervalData) -> IntervalData:
    """The usual short cut: each interval becomes its middle with its half width as sd."""
    low = np.where(np.isfinite(data.low), data.low, np.where(data.offset > 0, np.log(0.5), 0.0))
    high = np.where(np.isfinite(data.high), data.high, low + 1.0)
    at = ~data.exact
    value = np.where(at, 0.5 * (low + high), data.low)
    sd = np.where(at, 0.5 * (high - low), data.sd)
    return IntervalData(
        data.quantities, data.times, value, value, sd, data.lapse, data.misread,
        np.ones(len(data), dtype=np.bool_), data.offset, data.kinds,
    )  # fmt: skip


@dataclass
class Tally:
    """Scores of one way to learn, over all replicates."""

    inside: dict[float, list[float]]
    ahead_inside: dict[float, list[float]]
    error: list[Array]
    ahead_error: list[Array]
    effective: list[float]


@cache
def tally(way: str) -> Tally:
    result = Tally({0.8: [], 0.95: []}, {0.8: [], 0.95: []}, [], [], [])
    for replicate in range(REPLICATES):
        rng = np.random.default_rng([2024, replicate])
        theta = rng.standard_normal(len(PRIOR))
        truth = PRIOR.to_physical(theta)[0]
        data = IntervalData.of(read(truth, rng))
        given = {"prior": IntervalData.of([]), "middles": middles(data)}.get(way, data)
        found = learn(PRIOR, forward, given, members=256, reweight=way == "exact", seed=replicate)
        result.effective.append(found.diagnostics.effective_members)
        ahead = np.log(np.concatenate(tank(found.physical, AHEAD)[:2], axis=1))
        true_ahead = np.log(np.concatenate(tank(truth[None, :], AHEAD)[:2], axis=1))[0]
        result.error.append(crps(found.theta, theta, found.weights))
        result.ahead_error.append(crps(ahead, true_ahead, found.weights))
        for band in (0.8, 0.95):
            result.inside[band].append(coverage(found.theta, theta, band, found.weights))
            result.ahead_inside[band].append(coverage(ahead, true_ahead, band, found.weights))
    return result


# 96 replicates of 6 parameters: were every band right, the standard error of a coverage
# would be near 1.7 points at 80 % and 1 point at 95 % for the rates, and near 2.5 and 1.5
# for the outlook, whose six numbers are closely correlated. Bounds are three of these.
@pytest.mark.parametrize("way", ["smoother", "exact"])
def test_bands_hold_the_truth_as_often_as_they_say(way: str) -> None:
    found = tally(way)
    assert np.mean(found.inside[0.8]) == pytest.approx(0.8, abs=0.05)
    assert np.mean(found.inside[0.95]) == pytest.approx(0.95, abs=0.03)
    assert np.mean(found.ahead_inside[0.8]) == pytest.approx(0.8, abs=0.075)
    assert np.mean(found.ahead_inside[0.95]) == pytest.approx(0.95, abs=0.045)


# Errors that stay for weeks don't average out: were they new at every round, rates would be
# known better by 0.4 and the outlook by 0.5.
@pytest.mark.parametrize(("way", "least"), [("smoother", 0.2), ("exact", 0.3)])
def test_readings_sharpen_rates_and_outlook(way: str, least: float) -> None:
    assert skill(tally(way).error, tally("prior").error) > least
    assert skill(tally(way).ahead_error, tally("prior").ahead_error) > least


def test_exact_weights_score_better_than_the_smoother_alone() -> None:
    assert skill(tally("exact").error, tally("smoother").error) > 0.0
    assert skill(tally("exact").ahead_error, tally("smoother").ahead_error) > 0.0


def test_middles_of_classes_are_over_confident_and_score_worse() -> None:
    """Continuous ranked probability score of the three-week outlook, lower is better."""
    middle, exact = tally("middles"), tally("exact")
    assert skill(exact.ahead_error, middle.ahead_error) > 0.1
    assert skill(exact.error, middle.error) > 0.0
    assert np.mean(middle.ahead_inside[0.95]) < 0.95 - 0.075
    assert np.mean(middle.ahead_inside[0.8]) < np.mean(exact.ahead_inside[0.8]) - 0.05


def test_enough_members_count_after_weighting() -> None:
    assert min(tally("exact").effective) > 100
    assert np.median(tally("exact").effective) > 500
