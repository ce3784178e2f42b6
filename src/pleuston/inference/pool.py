"""Tanks of a rack learn from each other: partial pooling of what has a meaning across tanks.

Every uncertain number is theta ~ N(0, 1) before anything is read. On a rack theta of a tank
is taken as mu + delta: mu, what the rack's tanks share (the room's air, the keeper's pinch
and pen, a soil), and delta, the tank's own. With between-tank
variance t^2 the shared part has variance 1 - t^2, so that a tank alone keeps its prior
exactly, whatever t. The others' own posteriors, each divided by its prior, are normal
readings of their theta; over a grid of t^2, all of it equally likely before, mu and what is
to be expected of a new tank have closed forms (the normal hierarchical model; Gelman et al.
2013, Bayesian Data Analysis, 3rd ed., section 5.4).

What a tank gives to others is always its own posterior, learned from its own record alone,
so that no tank's readings come back to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from pleuston.engine.case import Case
from pleuston.inference.belief import Posterior, effective_members
from pleuston.inference.normal import LOG_ROOT_2PI, Array
from pleuston.inference.prior import Prior

SAME_EVERYWHERE = (
    "evaporation_factor", "conductivity_factor", "feed_factor", "gas_exchange_still",
    "gas_exchange_gentle", "gas_exchange_strong", "gas_exchange_lid",
    "nitrification_capacity", "denitrification_velocity", "detritus_hydrolysis",
    "nitrite_oxidiser_half", "scale_growth",
)  # fmt: skip
"""Numbers that one tank of a rack tells another something of, whatever stands in it.

Lamps and the growth of plants are not among them: a tank's growth stands for its own light and
food too, and covers were foretold worse with others' help (measured, decision 016).
"""
SAME_SOIL = ("soil_mineralisation", "soil_exchange", "soil_oxygen_demand")
"""Numbers that tanks of one soil share. What a soil still holds hangs on its age instead."""
SAME_WATER = ("source_copper", "pipe_copper")
"""Numbers that tanks of one top-up water share."""
BETWEEN = np.linspace(0.02, 1.0, 50)
"""Between-tank variances looked at [of the prior's]."""
HEARD = 0.3
"""Share of another tank's information that is taken: what the model leaves out bends the rates
of all tanks alike, so that eight tanks are not eight witnesses (measured, decision 016)."""
TOLD = 0.05
"""Least information of a tank's own readings, in that of the prior, to count for others."""
KEPT = 0.5
"""Share of the effective members that pooling leaves at least."""


@dataclass(frozen=True)
class Own:
    """What a tank's own readings told of the numbers it shares: mean and sd of theta."""

    tank: str
    names: tuple[str, ...]
    """What each number is shared as: its name, with the soil or water it hangs on."""
    mean: tuple[float, ...]
    sd: tuple[float, ...]

    @classmethod
    def of(cls, case: Case, posterior: Posterior) -> Own:
        """Sum up a posterior that was learned without the help of other tanks."""
        places = [(i, shared_as(case, n)) for i, n in enumerate(posterior.prior.names)]
        kept = [(i, shared) for i, shared in places if shared]
        mean, sd = posterior.mean(), posterior.sd()
        return cls(
            case.tank.name, tuple(shared for _, shared in kept),
            tuple(float(mean[i]) for i, _ in kept), tuple(float(sd[i]) for i, _ in kept),
        )  # fmt: skip

    @classmethod
    def read(cls, data: Mapping[str, Any]) -> Own:
        """Take it from plain data again."""
        return cls(data["tank"], tuple(data["names"]), tuple(data["mean"]), tuple(data["sd"]))

    def data(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def shared_as(case: Case, name: str) -> str:
    """What a tank's number is shared as across a rack; empty where it is the tank's alone.

    Of a soil or a water by name.
    """
    tank = case.tank
    if name in SAME_EVERYWHERE:
        return name
    if name in SAME_SOIL:
        return f"{name} of {tank.soil}" if tank.soil else ""
    if name in SAME_WATER:
        return f"{name} of {tank.top_up_water}" if tank.top_up_water else ""
    return ""


@dataclass(frozen=True)
class Law:
    """What other tanks lead one to expect of a number's theta: a mixture of normal laws."""

    share: Array
    middle: Array
    variance: Array

    @property
    def mean(self) -> float:
        """The mean of the mixture."""
        return float(self.share @ self.middle)

    @property
    def sd(self) -> float:
        """The sd of the mixture."""
        second = self.share @ (self.variance + self.middle**2)
        return float(np.sqrt(second - self.mean**2))

    def log_density(self, theta: Array) -> Array:
        """The log density at each theta."""
        z = (theta[:, None] - self.middle) ** 2 / self.variance
        each = np.log(self.share) - 0.5 * np.log(self.variance) - 0.5 * z - LOG_ROOT_2PI
        return np.asarray(np.logaddexp.reduce(each, axis=1))


def pooled_law(mean: Array, sd: Array) -> Law:
    """What the posteriors of other tanks (mean and sd of theta, prior N(0, 1)) lead to expect.

    >>> law = pooled_law(np.array([]), np.array([]))
    >>> round(law.mean, 9), round(law.sd, 9)
    (0.0, 1.0)
    """
    told = 1.0 / np.square(sd) - 1.0
    heard = told > TOLD
    value = mean[heard] / np.square(sd[heard]) / told[heard]
    noise = 1.0 / (HEARD * told[heard])
    between = BETWEEN
    shared = np.maximum(1.0 - between, 1e-9)
    total = between[:, None] + noise
    precision = (1.0 / total).sum(axis=1) + 1.0 / shared
    middle = (value / total).sum(axis=1) / precision
    misfit = (value**2 / total).sum(axis=1) - middle**2 * precision
    log = -0.5 * (np.log(total).sum(axis=1) + np.log(shared * precision) + misfit)
    share = np.exp(log - log.max())
    return Law(share / share.sum(), middle, between + 1.0 / precision)


def pooled_laws(case: Case, prior: Prior, others: Sequence[Own]) -> dict[str, Law]:
    """By name of a tank's number, what other tanks lead to expect, where they know anything."""
    found: dict[str, Law] = {}
    for name in prior.names:
        shared = shared_as(case, name)
        at = [
            (o.mean[o.names.index(shared)], o.sd[o.names.index(shared)])
            for o in others if o.tank != case.tank.name and shared in o.names
        ]  # fmt: skip
        mean, sd = np.array(at, dtype=float).reshape(-1, 2).T
        if shared and (1.0 / np.square(sd) - 1.0 > TOLD).any():
            found[name] = pooled_law(mean, sd)
    return found


def pooled_prior(prior: Prior, laws: Mapping[str, Law]) -> Prior:
    """The prior that other tanks lead to, each law taken as the normal one of its moments."""
    return Prior(tuple(
        replace(part, shift=laws[part.name].mean, width=laws[part.name].sd)
        if part.name in laws else part for part in prior
    ))  # fmt: skip


def pooled(posterior: Posterior, laws: Mapping[str, Law]) -> Posterior:
    """A tank's own posterior with other tanks' help instead of its prior: weights alone change.

    Where too few members would count, the help is taken in part (tempered); the power it is
    taken at stands in the diagnostics.
    """
    at = [posterior.prior.at(name) for name in laws]
    gain = np.zeros(len(posterior))
    for place, law in zip(at, laws.values(), strict=True):
        theta = posterior.theta[:, place]
        gain += law.log_density(theta) + 0.5 * theta**2 + LOG_ROOT_2PI
    weights, power = _helped(posterior.weights, gain)
    diagnostics = replace(
        posterior.diagnostics, effective_members=effective_members(weights), pooled=power
    )
    return replace(posterior, weights=weights, diagnostics=diagnostics)


def _helped(weights: Array, gain: Array) -> tuple[Array, float]:
    """Weights times exp(gain), to the largest power up to 1 that leaves enough members."""
    least, top = KEPT * effective_members(weights), gain[weights > 0.0].max()

    def at(power: float) -> Array:
        changed = weights * np.exp(power * np.minimum(gain - top, 0.0))
        return np.asarray(changed / changed.sum())

    if effective_members(at(1.0)) >= least:
        return at(1.0), 1.0
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective_members(at(middle)) >= least else (low, middle)
    return at(low), low
