"""A second way to the same posterior, slower and of another kind, to hold the first against.

From several starts a Levenberg search climbs to the likeliest values: the model is taken as
a plane around the place reached, from central differences run as one ensemble, and the exact
chance of all readings (slow errors summed out) is bent over that plane. At each summit the
same bend gives a normal law (Laplace's approximation; Tierney & Kadane 1986, Journal of the
American Statistical Association 81:82-86). Draws from a heavy-tailed t around it are then
weighted by the same exact target as those of the first method.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.inference.belief import Forward, Posterior
from pleuston.inference.learn import LEAST_MEMBERS, Watch, learn, weighted_posterior
from pleuston.inference.normal import Array
from pleuston.inference.prior import Prior
from pleuston.inference.readings import IntervalData
from pleuston.inference.reweight import (
    Drawn,
    Reweighted,
    Student,
    defended,
    log_target,
    run_draws,
    weighted,
)
from pleuston.inference.update import REACH, refuse_if_too_few

STARTS = 3
PILOT = 64
"""Draws from the prior of which the likeliest are starts beside the prior's middle."""
CLIMBS = 10
"""Most steps of the search."""
STEP = 0.2
"""Half-width of the differences that a slope is taken from [sd of the prior]: well above the
noise that an adaptive integrator leaves."""
DAMPING = (0.0, 0.1, 0.5, 2.0, 10.0, 50.0)
"""Levenberg's damping, all tried in one ensemble."""
SETTLED = 0.05
"""A step that gains less log chance than this ends the search."""
BEND = 0.05
"""Half-width of the differences on a plane, in the sd left beside all other numbers."""
LEAST_PRECISION = 1.0
"""A direction is never less certain than before the readings, which a mixture's dip suggests."""
NEAR = 6.0
"""Summits whose log share lies within this of the largest are drawn from."""
APART = 0.5
"""Squared distance of two summits, per number, from which they count as two."""
ADAPTED = 2
"""Rounds of draws around the weighted draws, after those around the summits."""


@dataclass(frozen=True)
class Agreement:
    """How far two posteriors of the same numbers lie apart."""

    names: tuple[str, ...]
    shift: tuple[float, ...]
    """By parameter, the distance of the means in sd (root mean square of both)."""
    ratio: tuple[float, ...]
    """By parameter, sd of the first over sd of the second."""

    @property
    def largest(self) -> tuple[str, float]:
        """The parameter whose means differ most, and by how many sd."""
        at = int(np.argmax(self.shift))
        return self.names[at], self.shift[at]


def agreement(first: Posterior, second: Posterior) -> Agreement:
    """Hold two posteriors of the same prior against each other."""
    a, b = first.sd(), second.sd()
    both = np.sqrt(np.maximum(0.5 * (a**2 + b**2), 1e-18))
    shift = np.abs(first.mean() - second.mean()) / both
    ratio = a / np.maximum(b, 1e-9)
    return Agreement(
        first.prior.names, tuple(float(x) for x in shift), tuple(float(x) for x in ratio)
    )


def learn_by_summits(
    prior: Prior, forward: Forward, data: IntervalData, *, draws: int = 256, starts: int = STARTS,
    seed: int = 0,
    progress: Callable[[float], None] | None = None, cancel: Callable[[], bool] | None = None,
) -> Posterior:  # fmt: skip
    """Give the members that agree with the prior and with all readings, by the second way.

    draws: members drawn in each round. The same seed gives the same result; `progress` and
    `cancel` are as in `learn`.
    """
    if not len(data):
        members = max(draws, LEAST_MEMBERS, 2 * len(prior) + 2)
        return learn(prior, forward, data, members=members, seed=seed)
    rng = np.random.default_rng(seed)
    most = PILOT + starts * CLIMBS * (2 * len(prior) + 1 + len(DAMPING))
    watch = Watch(most + draws * (starts + ADAPTED), progress, cancel)
    search = _Search(prior, watch.asked(forward), data, watch.tick)
    summits = search.summits(starts, rng)
    proposals = [Student.of(s.theta, s.covariance) for s in summits]
    rounds = [search.drawn(defended(p, draws, rng)) for p in proposals]
    for _ in range(ADAPTED):
        proposals.append(_around(weighted(prior, proposals, rounds), summits[0]))
        rounds.append(search.drawn(defended(proposals[-1], draws, rng)))
    watch.done = watch.total - 1
    watch.tick(1)
    found = weighted(prior, proposals, rounds)
    return weighted_posterior(prior, data, found, summits[0].theta, "map and laplace", search.runs,
                              search.failed)  # fmt: skip


@dataclass(frozen=True)
class _Place:
    """A place of the search, and the model as a plane around it."""

    theta: Array
    target: float
    scaled: Array
    slope: Array
    """(readings, parameters)"""
    gradient: Array
    precision: Array
    """Minus the second derivatives of the log target on the plane, none below the prior's."""

    @property
    def covariance(self) -> Array:
        """Of the normal law around here."""
        return np.asarray(np.linalg.inv(self.precision))

    @property
    def share(self) -> float:
        """Log of the posterior's mass around here as a normal law."""
        return self.target - 0.5 * float(np.linalg.slogdet(self.precision)[1])


@dataclass
class _Search:
    prior: Prior
    forward: Forward
    data: IntervalData
    tick: Callable[[int], None]
    runs: int = 0
    failed: int = 0

    def drawn(self, theta: Array) -> Drawn:
        """Run members and count them."""
        found = run_draws(self.prior, self.forward, self.data, theta)
        self.runs += len(theta)
        self.failed += int((~found.good).sum())
        self.tick(len(theta))
        return found

    def summits(self, starts: int, rng: np.random.Generator) -> list[_Place]:
        """Climb from all starts at once; give the summits that count, the likeliest first."""
        pilot = self.drawn(self.prior.sample(PILOT, rng))
        refuse_if_too_few(pilot.good, 0)
        best = np.argsort(-pilot.target, kind="stable")[: starts - 1]
        points = [np.zeros(len(self.prior)), *pilot.theta[best]]
        places = [p for p in self.places(points) if p is not None]
        if not places:
            raise EngineError(
                "no start of the search went through the model", "learning",
                "look at the entries before the first reading for an impossible amount",
            )  # fmt: skip
        climbing = list(range(len(places)))
        for _ in range(CLIMBS):
            moved = self._step([places[i] for i in climbing])
            there = [i for i, point in zip(climbing, moved, strict=True) if point is not None]
            new = self.places([point for point in moved if point is not None])
            climbing = []
            for i, place in zip(there, new, strict=True):
                if place is not None:
                    places[i] = place
                    climbing.append(i)
            if not climbing:
                break
        return _distinct(places)

    def _step(self, places: Sequence[_Place]) -> list[Array | None]:
        """The best of several damped steps from each place; None where none gains enough."""
        tries = np.array([_damped(p, d) for p in places for d in DAMPING])
        targets = self.drawn(tries).target.reshape(len(places), len(DAMPING))
        tries = tries.reshape(len(places), len(DAMPING), -1)
        best = targets.argmax(axis=1)
        return [
            tries[i, k] if targets[i, k] > place.target + SETTLED else None
            for i, (place, k) in enumerate(zip(places, best, strict=True))
        ]

    def places(self, points: Sequence[Array]) -> list[_Place | None]:
        """Take the model as a plane around each point, from one ensemble; None where it fails."""
        if not points:
            return []
        size = len(self.prior)
        away = np.concatenate([np.zeros((1, size)), STEP * np.eye(size), -STEP * np.eye(size)])
        found = self.drawn(np.concatenate([point + away for point in points]))
        rows = 2 * size + 1
        made: list[_Place | None] = []
        for i, point in enumerate(points):
            at = slice(i * rows, (i + 1) * rows)
            good, scaled = found.good[at], found.scaled[at]
            if not good[0]:
                made.append(None)
                continue
            slope = _slopes(scaled, good, size)
            gradient, precision = self._bend(point, scaled[0], slope)
            target = float(found.target[at][0])
            made.append(_Place(point, target, scaled[0], slope, gradient, precision))
        return made

    def _bend(self, theta: Array, scaled: Array, slope: Array) -> tuple[Array, Array]:
        """First and minus second derivatives of the log target on a plane."""
        size = len(theta)
        step = BEND / np.sqrt(1.0 + np.square(slope / self.data.sd[:, None]).sum(axis=0))
        one = np.diag(step)
        i, j = np.triu_indices(size, 1)
        away = np.concatenate([np.zeros((1, size)), one, -one, one[i] + one[j], -one[i] - one[j]])
        value = log_target(self.prior, self.data, theta + away, scaled + away @ slope.T)
        plus, minus = value[1 : size + 1], value[size + 1 : 2 * size + 1]
        gradient = (plus - minus) / (2.0 * step)
        curve = np.zeros((size, size))
        curve[np.arange(size), np.arange(size)] = (plus + minus - 2.0 * value[0]) / step**2
        both = np.split(value[2 * size + 1 :], 2)
        single = plus[i] + minus[i] + plus[j] + minus[j]
        mixed = (both[0] + both[1] + 2.0 * value[0] - single) / (2.0 * step[i] * step[j])
        curve[i, j] = curve[j, i] = mixed
        values, vectors = np.linalg.eigh(-curve)
        return gradient, (vectors * np.maximum(values, LEAST_PRECISION)) @ vectors.T


def _slopes(scaled: Array, good: np.ndarray, size: int) -> Array:
    """(readings, parameters) by central differences; one-sided, or none, where members failed."""
    slope = np.zeros((scaled.shape[1], size))
    for k in range(size):
        ends = [row for row in (1 + k, 1 + size + k) if good[row]]
        if len(ends) == 2:
            slope[:, k] = (scaled[ends[0]] - scaled[ends[1]]) / (2.0 * STEP)
        elif ends:
            away = STEP if ends[0] == 1 + k else -STEP
            slope[:, k] = (scaled[ends[0]] - scaled[0]) / away
    return slope


def _damped(place: _Place, damping: float) -> Array:
    """Levenberg's step, damped in each number's own scale (Marquardt 1963)."""
    damped = place.precision + damping * np.diag(np.diagonal(place.precision))
    moved = place.theta + np.linalg.solve(damped, place.gradient)
    return np.asarray(np.clip(moved, -REACH, REACH))


def _distinct(places: Sequence[_Place]) -> list[_Place]:
    """The summits that hold mass and are not the same twice, the heaviest first."""
    ranked = sorted(places, key=lambda p: -p.share)
    kept: list[_Place] = []
    for place in ranked:
        if place.share < ranked[0].share - NEAR:
            break
        gaps = [place.theta - other.theta for other in kept]
        far = [g @ o.precision @ g > APART * len(g) for g, o in zip(gaps, kept, strict=True)]
        if all(far):
            kept.append(place)
    return kept


def _around(found: Reweighted, summit: _Place) -> Student:
    """The t around weighted draws; their covariance is leant on as far as enough of them count."""
    mean = found.weights @ found.theta
    x = found.theta - mean
    told = found.effective / (found.effective + 2.0 * len(mean))
    covariance = (x * found.weights[:, None]).T @ x
    return Student.of(mean, told * covariance + (1.0 - told) * summit.covariance)
