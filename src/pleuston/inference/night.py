"""One tank's night of oxygen: its exchange with the air and what is breathed, with intervals.

In the dark dC/dt = k w(T) (Cs(T) - C) - R, w the warming of exchange from the night's mean
temperature. For each k the curve is linear in its start and in R, so that the whole
posterior is laid on a grid of k and of the autocorrelation of the misfit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pleuston.base.errors import InputError
from pleuston.chemistry.gas_exchange import transfer_warming
from pleuston.chemistry.oxygen import oxygen_at_saturation

Array = NDArray[np.float64]
LEAST_READINGS = 8
RATES = np.geomspace(0.05, 150.0, 81)
"""Exchange rates looked at [1/d]: from a tight lid over deep water to an air stone in a jar."""
FINER = 161
"""Rates of the second look, where the first gave any weight."""
UNLIKELY = 1e-7
CORRELATIONS = np.linspace(0.0, 0.98, 36)
DRAWS = 4000
FALL_LEAST, FALL_MOST = 1.5, 3.0
"""Respiration over ten degrees: twice, within these (common practice)."""
TOLD_APART = 4.0
"""Above this ratio of its interval's ends k is not told by the curve."""
SPREAD_LEAST = 0.003
"""Least misfit taken [mg/L]: a probe prints no more."""
HOURS = 24.0


def follow(k: float, equilibrium: Array, step: Array, start: float, source: Array) -> Array:
    """Oxygen under dC/dt = k (Cs - C) + source, exact where Cs and source are steady in a step."""
    found = np.empty(len(equilibrium))
    found[0] = start
    keep = np.exp(-k * step)
    for n in range(1, len(equilibrium)):
        level = equilibrium[n - 1] + source[n - 1] / k
        found[n] = level + (found[n - 1] - level) * keep[n - 1]
    return found


def linear_parts(
    k: float, equilibrium: Array, step: Array, *sources: Array
) -> tuple[Array, Array]:
    """The curve without start and sources, and what one of each adds to it."""
    none = np.zeros(len(equilibrium))
    base = follow(k, equilibrium, step, 0.0, none)
    columns = [follow(k, none, step, 1.0, none)]
    columns += [follow(k, none, step, 0.0, s) for s in sources]
    return base, np.column_stack(columns)


def linear_fit(k: float, equilibrium: Array, step: Array, seen: Array, *sources: Array) -> tuple[
    float, Array, Array
]:  # fmt: skip
    """Best start and strengths of the sources for an exchange rate: squares, values, misfit."""
    base, design = linear_parts(k, equilibrium, step, *sources)
    values, *_ = np.linalg.lstsq(design, seen - base, rcond=None)
    misfit = np.asarray(seen - base - design @ values, dtype=np.float64)
    return float(misfit @ misfit), np.asarray(values, dtype=np.float64), misfit


def profile(rates: Array, equilibrium: Array, step: Array, seen: Array, *sources: Array) -> tuple[
    tuple[float, float, float], list[tuple[float, float, float]]
]:  # fmt: skip
    """Best, lowest and highest exchange rate (95 %) and the same of each source.

    The likelihood counts as many readings as the misfit's autocorrelation leaves.
    """
    fits = [linear_fit(k, equilibrium, step, seen, *sources) for k in rates]
    squares = np.array([f[0] for f in fits])
    best = int(squares.argmin())
    misfit = fits[best][2]
    lag = max(0.0, float(misfit[1:] @ misfit[:-1] / (misfit @ misfit)))
    counts = max(4.0, len(seen) * (1.0 - lag) / (1.0 + lag))
    inside = counts * np.log(squares / squares[best]) < 3.84
    kept = np.array([fits[n][1][1:] for n in np.flatnonzero(inside)])
    ranges = [
        (float(fits[best][1][1 + n]), float(kept[:, n].min()), float(kept[:, n].max()))
        for n in range(len(sources))
    ]
    k = rates[inside]
    return (float(rates[best]), float(k.min()), float(k.max())), ranges


@dataclass(frozen=True)
class Night:
    """Oxygen of one dark time: days from its first reading, mg/L, K, atm."""

    days: Array
    oxygen: Array
    temperature: Array
    pressure: Array
    salting_out: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what no curve can be laid through."""
        if len(self.days) < LEAST_READINGS or self.hours < 1.0:
            raise InputError(
                what=f"{len(self.days)} readings over {self.hours:.1f} hours of darkness",
                where="night",
                remedy=f"give at least {LEAST_READINGS} readings over an hour or more",
            )

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float(self.days[-1] - self.days[0]) * HOURS if len(self.days) else 0.0

    @cached_property
    def warmth(self) -> float:
        """Mean temperature [K]."""
        return float(self.temperature.mean())

    @cached_property
    def saturation(self) -> Array:
        """Oxygen in balance with the air at each reading [mg/L]."""
        fresh = np.asarray(oxygen_at_saturation(self.temperature, self.pressure), dtype=np.float64)
        return fresh * self.salting_out

    def parts(self, k: float) -> tuple[Array, Array]:
        """The linear parts for an exchange rate at the night's mean temperature."""
        warm = np.asarray(transfer_warming(self.temperature), dtype=np.float64)
        speed = _middle(warm / float(transfer_warming(self.warmth)))
        step = np.diff(self.days) * speed[:-1]
        return linear_parts(k, _middle(self.saturation), step, -1.0 / speed)

    def curve(self, k: float, start: float, use: float) -> Array:
        """The curve of an exchange rate [1/d], a start [mg/L] and respiration [mg/L/d]."""
        base, design = self.parts(k)
        return np.asarray(base + design @ np.array([start, use]), dtype=np.float64)


def _middle(values: Array) -> Array:
    """Means over the steps; the last value stands for itself."""
    return np.append((values[1:] + values[:-1]) / 2.0, values[-1])


@dataclass(frozen=True)
class NightFit:
    """Draws of what a night tells: k [1/d], start [mg/L], respiration [mg/L/d], misfit [mg/L]."""

    night: Night
    k: Array
    start: Array
    use: Array
    spread: Array
    correlation: float

    def range(self, values: Array) -> tuple[float, float, float]:
        """Middle and the ends of 95 %."""
        low, middle, high = np.quantile(values, (0.025, 0.5, 0.975))
        return float(middle), float(low), float(high)

    @property
    def tells_apart(self) -> bool:
        """Whether the curve tells exchange and respiration apart."""
        _, low, high = self.range(self.k)
        inside = low > RATES[0] * 1.5 and high < RATES[-1] / 1.5
        return bool(inside and high / low <= TOLD_APART)

    @property
    def shortfall(self) -> Array:
        """Mean distance below saturation over the night by the fit [mg/L]."""
        return np.full_like(self.k, float((self.night.saturation - self.night.oxygen).mean()))

    @property
    def fall(self) -> Array:
        """Net loss at the night's mean oxygen, R - k (Cs - C) [mg/L/d]: what is told well."""
        return self.use - self.k * self.shortfall

    @property
    def deficit(self) -> Array:
        """How far below saturation the night would end if it lasted, R/k [mg/L]."""
        return self.use / self.k

    @property
    def middle(self) -> Array:
        """The curve of the middle draw nearest to the median of k."""
        n = int(np.argsort(self.k)[len(self.k) // 2])
        near = np.flatnonzero(np.isclose(self.k, self.k[n]))
        return self.night.curve(
            float(self.k[n]), float(self.start[near].mean()), float(self.use[near].mean())
        )


def fit_night(night: Night, seed: int = 1, draws: int = DRAWS) -> NightFit:
    """Lay the posterior of a night on its grid and draw from it.

    Flat in ln k within `RATES`, in the start and in R above 0; 1/sd for the misfit's spread;
    flat in the correlation of neighbouring readings, by their time apart.
    """
    rates, cells, weights = _finest(night)
    shares = np.exp(weights - weights.max()).ravel()
    shares /= shares.sum()
    rng = np.random.default_rng(seed)
    kept: list[tuple[float, float, float, float]] = []
    for n, count in enumerate(rng.multinomial(draws * 2, shares)):
        if count:
            i, j = divmod(n, len(CORRELATIONS))
            kept += _draw(rng, float(rates[i]), cells[i][j], int(count), len(night.days) - 2)
    breathing = np.array([d for d in kept if d[2] >= 0.0])
    if len(breathing) < 0.02 * len(kept):
        raise InputError(
            what="oxygen is made in this time: it rises beyond what the air gives",
            where="night",
            remedy="check the hours of darkness and the pressure",
        )
    few = breathing[rng.choice(len(breathing), min(draws, len(breathing)), replace=False)]
    mean = float(shares.reshape(weights.shape).sum(axis=0) @ CORRELATIONS)
    return NightFit(night, few[:, 0], few[:, 1], few[:, 2], few[:, 3], mean)


def _finest(night: Night) -> tuple[Array, list[list[Cell]], Array]:
    """Rates, their cells and ln weights: a first look over all, a finer one where it matters."""
    _, first = _laid(night, RATES)
    best = first.max(axis=1)
    inside = np.flatnonzero(best > best.max() + np.log(UNLIKELY))
    low, high = max(inside[0] - 1, 0), min(inside[-1] + 1, len(RATES) - 1)
    rates = np.geomspace(RATES[low], RATES[high], FINER)
    cells, weights = _laid(night, rates)
    return rates, cells, weights


def _laid(night: Night, rates: Array) -> tuple[list[list[Cell]], Array]:
    cells = [_cells(night, float(k)) for k in rates]
    return cells, np.array([[cell[0] for cell in row] for row in cells])


Cell = tuple[float, Array, Array, float]
"""ln weight; best start and use; root of their covariance over the spread; squares."""


def _cells(night: Night, k: float) -> list[Cell]:
    base, design = night.parts(k)
    seen = night.oxygen - base
    usual = float(np.median(np.diff(night.days)))
    apart = np.maximum(np.diff(night.days) / usual, 1e-3)
    return [_cell(design, seen, float(c) ** apart if c else 0.0 * apart) for c in CORRELATIONS]


def _cell(design: Array, seen: Array, keep: Array) -> Cell:
    """Weight and solution where neighbours share `keep` of their misfit."""
    fresh = np.sqrt(1.0 - keep**2)
    x = np.vstack([design[:1], (design[1:] - keep[:, None] * design[:-1]) / fresh[:, None]])
    y = np.append(seen[:1], (seen[1:] - keep * seen[:-1]) / fresh)
    inner = x.T @ x
    inverse = np.linalg.inv(inner)
    best = inverse @ (x.T @ y)
    misfit = y - x @ best
    free = len(y) - 2
    squares = float(misfit @ misfit) + SPREAD_LEAST**2 * free
    weight = -float(np.log(fresh).sum()) - 0.5 * float(np.log(np.linalg.det(inner)))
    return weight - 0.5 * free * float(np.log(squares)), best, np.linalg.cholesky(inverse), squares


def _draw(
    rng: np.random.Generator, k: float, cell: Cell, count: int, free: int
) -> list[tuple[float, float, float, float]]:
    """Draws within one cell: k spread over its width, spread by chi square, then the rest."""
    _, best, root, squares = cell
    spread = np.sqrt(squares / rng.chisquare(free, count))
    values = best + spread[:, None] * (rng.standard_normal((count, 2)) @ root.T)
    return [(k, float(v[0]), float(v[1]), float(s)) for v, s in zip(values, spread, strict=True)]


@dataclass(frozen=True)
class Coming:
    """The night to come, by draws: at temperatures [K] and an air pressure [atm]."""

    fits: Sequence[NightFit]
    start_share: float
    """Oxygen at dusk as a share of saturation."""
    hours: float
    pressure: float
    seed: int = 2

    @cached_property
    def draws(self) -> tuple[Array, ...]:
        """k, use, warmth they were found at, spread, and how respiration rises with warmth."""
        k = np.concatenate([f.k for f in self.fits])
        use = np.concatenate([f.use for f in self.fits])
        at = np.concatenate([np.full(len(f.k), f.night.warmth) for f in self.fits])
        spread = np.concatenate([f.spread for f in self.fits])
        rng = np.random.default_rng(self.seed)
        middle = np.sqrt(FALL_LEAST * FALL_MOST)
        sd = np.log(FALL_MOST / FALL_LEAST) / 2.0 / 1.96
        return k, use, at, spread, np.exp(np.log(middle) + sd * rng.standard_normal(len(k)))

    def least(self, temperature: float) -> Array:
        """The lowest oxygen of the night at a temperature [mg/L]: at its end, or its start."""
        k, use, at, spread, rise = self.draws
        warm = float(transfer_warming(temperature)) / np.asarray(transfer_warming(at))
        speed = k * warm
        breathed = use * rise ** ((temperature - at) / 10.0)
        salt = self.fits[0].night.salting_out
        full = float(oxygen_at_saturation(temperature, self.pressure)) * salt
        start, level = self.start_share * full, full - breathed / speed
        end = level + (start - level) * np.exp(-speed * self.hours / HOURS)
        noise = np.random.default_rng(self.seed + 1).standard_normal(len(k)) * spread
        return np.maximum(np.minimum(start, end) + noise, 0.0)

    def too_warm(self, limit: float, low: float, high: float) -> Array:
        """The temperature [K] from which each draw ends below a limit; infinity for none."""
        grid = np.arange(low, high + 0.05, 0.1)
        below = np.array([self.least(float(t)) < limit for t in grid])
        first = np.where(below.any(axis=0), below.argmax(axis=0), -1)
        return np.where(first < 0, np.inf, grid[first])


def dark_by_curve(days: Array, oxygen: Array, smooth: Callable[[Array], Array]) -> list[
    tuple[float, float]
]:  # fmt: skip
    """Spans in which oxygen falls, each to where it turns; shorter than two hours are left."""
    level = smooth(oxygen)
    noise = max(0.02, float(np.median(np.abs(oxygen - level))) * 4.0)
    spans: list[tuple[float, float]] = []
    top = bottom = 0
    for n in range(1, len(level)):
        if level[n] < level[bottom]:
            bottom = n
        elif level[n] > level[bottom] + noise:
            _keep(spans, days, top, bottom)
            top = bottom = n
        if level[n] >= level[top]:
            top = bottom = n
    _keep(spans, days, top, bottom)
    return spans


def _keep(spans: list[tuple[float, float]], days: Array, top: int, bottom: int) -> None:
    if (days[bottom] - days[top]) * HOURS >= 2.0:
        spans.append((float(days[top]), float(days[bottom])))
