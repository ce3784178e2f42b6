"""Readings drawn from the observation model itself, and where the truth lies among members."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy import stats

from pleuston.base.units import convert
from pleuston.inference.belief import Forward, Posterior
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior
from pleuston.inference.readings import IntervalData, observation_model
from pleuston.records.record import Entry, Rack, Record, Tank, Water

BINS = 8


def read(
    data: IntervalData, scaled: Array, edges: Sequence[Array], ranges: Array,
    rng: np.random.Generator,
) -> IntervalData:  # fmt: skip
    """The same readings made anew of a tank whose quantities are `scaled`.

    edges: by reading, the bounds between its classes; exact readings need none. A reading gone
    wrong falls into any class, or anywhere in its range (readings, 2).
    """
    shown = scaled + rng.standard_normal(len(data)) * np.sqrt(data.sd**2 - data.drift**2)
    shared = data.shared_error + 1e-12 * np.eye(len(data))
    shown = shown + np.linalg.cholesky(shared) @ rng.standard_normal(len(data))
    wrong = rng.random(len(data)) < data.lapse
    low, high = shown.copy(), shown.copy()
    for i in np.flatnonzero(data.exact & wrong):
        low[i] = high[i] = rng.uniform(*ranges[i])
    for i in np.flatnonzero(~data.exact):
        bounds = np.concatenate([[-np.inf], edges[i], [np.inf]])
        right = int(np.searchsorted(edges[i], shown[i]))
        which = int(rng.integers(len(bounds) - 1)) if wrong[i] else right
        low[i], high[i] = bounds[which], bounds[which + 1]
    return replace(data, low=low, high=high)


Turn = tuple[Array, Posterior]
"""A truth, and what was learned from readings of it."""


def turns(
    prior: Prior, forward: Forward, again: Callable[[Array, np.random.Generator], IntervalData],
    learned: Callable[[IntervalData, int], Posterior], count: int, seed: int,
) -> list[Turn]:  # fmt: skip
    """Truths drawn from the prior, and the posterior of readings of each.

    again: readings of a prediction; learned: the posterior of readings, by seed.
    """
    rng = np.random.default_rng(seed)
    made = []
    for turn in range(count):
        truth = rng.standard_normal((1, len(prior)))
        predicted = forward(prior.to_physical(truth))
        made.append((truth, learned(again(predicted, rng), turn)))
    return made


def places(
    made: Sequence[Turn], change: Callable[[Posterior], Array] = lambda posterior: posterior.theta
) -> Array:
    """(turns, numbers): the share of each posterior below its truth.

    Uniform when posteriors are right (Talts et al. 2018, arXiv:1804.06788, for the continuous
    rank). change: members taken in place of the posterior's own.
    """
    return np.array([found.weights @ (change(found) < truth) for truth, found in made])


def uniform_chance(found: Array) -> Array:
    """By number, the chance of ranks at least as uneven as these, were they uniform."""
    chances = []
    for column in found.T:
        counts = np.histogram(column, bins=BINS, range=(0.0, 1.0))[0]
        chances.append(stats.chisquare(counts).pvalue)
    return np.array(chances)


def narrowed(factor: float) -> Callable[[Posterior], Array]:
    """A wrong posterior, on purpose: members drawn towards their mean."""
    return lambda posterior: posterior.mean() + factor * (posterior.theta - posterior.mean())


START = datetime(2026, 3, 2, 9, tzinfo=UTC)
SPECIES = "Lemna minor"


def little_record(name: str = "Elm", weeks: int = 3, litres: float = 30.0) -> Record:
    """Some weeks of a planted tank: its pen, its drops, its cover, a weekly top-up."""
    entries = [_entry(name, 0.0, "plant_in", SPECIES, 5.0, 5.0, "g")]
    for week in range(1, weeks + 1):
        day = 7.0 * week - 0.1
        entries += [
            _entry(name, day, "reading", "ec25", 300.0, 300.0, "uS/cm"),
            _entry(name, day, "reading", "kh", 3.0, 4.0, "dH"),
            _entry(name, day, "reading", "cover", 30.0, 30.0, "%"),
            _entry(name, day + 0.05, "top_up", "pipe", 0.6, 0.6, "L"),
        ]
    tank = Tank(name, litres, litres / 300.0, top_up_water="pipe")
    return Record(
        Rack(name="Shelf", timezone="Etc/UTC"), tanks=(tank,),
        waters=(Water("pipe", kind="tap", kh_dh=4.0, gh_dh=5.0),), entries=tuple(entries),
    )  # fmt: skip


def _entry(
    tank: str, day: float, kind: str, what: str, low: float, high: float, unit: str
) -> Entry:
    at = START + timedelta(days=day)
    return Entry(f"{kind}-{what}-{day}", at, tank, kind, what, low, high, unit)


def reader(data: IntervalData) -> Callable[[Array, np.random.Generator], IntervalData]:
    """Reads a tank's predictions anew as its record's methods would."""
    models = [observation_model(q) for q in data.quantities]
    ranges = np.array([m.scaled([m.least, m.most]) for m in models])
    drops = np.arange(1.0, 20.0) * convert(1.0, "dH", "meq/L")
    edges = [m.scaled(drops) if m.quantity == "kh" else np.zeros(0) for m in models]

    def again(predicted: Array, rng: np.random.Generator) -> IntervalData:
        return read(data, data.scaled(predicted)[0], edges, ranges, rng)

    return again
