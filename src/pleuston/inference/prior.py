"""What is believed of a tank's rates before its own readings speak.

Every uncertain number is carried by a standard normal theta, so that updates work
on one scale and can never leave the range a law allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from pleuston.base.errors import InputError
from pleuston.inference.normal import Array, cdf, inverse_cdf

LAWS = ("lognormal", "uniform", "normal")
EDGE = 1e-12
"""Share of a uniform law's range that stays between a value and its bounds."""


class Recorded(Protocol):
    """The fields of a parameter record that a law needs."""

    @property
    def value(self) -> float: ...
    @property
    def unit(self) -> str: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def spread(self) -> float: ...
    @property
    def law(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Uncertain:
    """One uncertain number and its law.

    lognormal: median `value`, `spread` is the sd of its logarithm.
    uniform: anywhere between `low` and `high`.
    normal: mean `value`, sd `spread`, for offsets that may have either sign.
    shift, width: mean and sd of what these laws take as standard normal, where something
    beyond the record is known; 0 and 1 leave them as they are.
    """

    name: str
    law: str
    value: float
    low: float = -np.inf
    high: float = np.inf
    spread: float = 0.0
    unit: str = "1"
    shift: float = 0.0
    width: float = 1.0

    def __post_init__(self) -> None:
        fault = ""
        if not (np.isfinite([self.shift, self.width]).all() and self.width > 0.0):
            fault = "its width must be above 0 and its shift finite"
        elif self.law not in LAWS:
            fault = f"its law {self.law!r} is none of {', '.join(LAWS)}"
        elif self.law == "uniform":
            if not (np.isfinite([self.low, self.high]).all() and self.low < self.high):
                fault = "a uniform law needs a low below its high"
        elif not (np.isfinite(self.spread) and self.spread > 0.0):
            fault = "its spread must be above 0"
        elif self.law == "lognormal" and not (np.isfinite(self.value) and self.value > 0.0):
            fault = "a lognormal law needs a median above 0"
        if fault:
            raise InputError(fault, f"uncertain number {self.name}", "correct its record")

    @classmethod
    def of(cls, name: str, record: Recorded) -> Uncertain:
        """Take the law from a parameter record."""
        return cls(
            name, record.law, float(record.value), float(record.low), float(record.high),
            float(record.spread), record.unit,
        )  # fmt: skip

    def to_physical(self, theta: ArrayLike) -> Array:
        """Turn standard normal numbers into values.

        >>> x = Uncertain("growth", "lognormal", 2.0, spread=0.5).to_physical([-2.0, 0.0, 2.0])
        >>> x.round(3).tolist()
        [0.736, 2.0, 5.437]
        """
        theta = self.shift + self.width * np.asarray(theta, dtype=np.float64)
        if self.law == "lognormal":
            return np.asarray(self.value * np.exp(self.spread * theta))
        if self.law == "uniform":
            return np.asarray(self.low + (self.high - self.low) * cdf(theta))
        return np.asarray(self.value + self.spread * theta)

    def to_theta(self, value: ArrayLike) -> Array:
        """Turn values into standard normal numbers; bounds count as just inside."""
        return np.asarray((self._recorded(value) - self.shift) / self.width)

    def _recorded(self, value: ArrayLike) -> Array:
        """Values as standard normal numbers of the record's own law."""
        value = np.asarray(value, dtype=np.float64)
        if self.law == "lognormal":
            if not (value > 0.0).all():
                raise InputError(
                    "a value is not above 0", f"uncertain number {self.name}", "give one above 0"
                )
            return np.asarray(np.log(value / self.value) / self.spread)
        if self.law == "uniform":
            share = (value - self.low) / (self.high - self.low)
            if not ((share >= 0.0) & (share <= 1.0)).all():
                raise InputError(
                    f"a value lies outside {self.low:g} to {self.high:g} {self.unit}",
                    f"uncertain number {self.name}", "give one inside",
                )  # fmt: skip
            return inverse_cdf(np.clip(share, EDGE, 1.0 - EDGE))
        return np.asarray((value - self.value) / self.spread)


@dataclass(frozen=True, slots=True)
class Prior:
    """The uncertain numbers in a fixed order, independent of each other."""

    parts: tuple[Uncertain, ...]

    def __post_init__(self) -> None:
        names = self.names
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError(f"{', '.join(twice)} named twice", "prior", "name each once")
        if not names:
            raise InputError("nothing is uncertain", "prior", "name at least one number")

    @classmethod
    def of(cls, records: Mapping[str, Recorded], names: Sequence[str] | None = None) -> Prior:
        """Build from parameter records: those named, else all whose law is not `fixed`."""
        chosen = names if names is not None else [n for n, r in records.items() if r.law != "fixed"]
        return cls(tuple(Uncertain.of(name, records[name]) for name in chosen))

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(part.name for part in self.parts)

    def __len__(self) -> int:
        return len(self.parts)

    def __iter__(self) -> Iterator[Uncertain]:
        return iter(self.parts)

    def at(self, name: str) -> int:
        """Give the place of a name."""
        return self.names.index(name)

    def sample(self, n: int, seed: int | np.random.Generator = 0) -> Array:
        """Draw n rows of theta, standardised so that mean is 0 and sd is 1 in each column.

        The first rows are not a smaller sample of their own: ask for the number needed.
        """
        theta = np.random.default_rng(seed).standard_normal((n, len(self)))
        if n > 2:
            theta = (theta - theta.mean(axis=0)) / theta.std(axis=0, ddof=1)
        return theta

    def to_physical(self, theta: ArrayLike) -> Array:
        """Turn rows of theta into rows of values."""
        theta = self._rows(theta)
        return np.column_stack([p.to_physical(theta[:, i]) for i, p in enumerate(self.parts)])

    def to_theta(self, values: ArrayLike) -> Array:
        """Turn rows of values into rows of theta."""
        values = self._rows(values)
        return np.column_stack([p.to_theta(values[:, i]) for i, p in enumerate(self.parts)])

    def log_density(self, theta: ArrayLike) -> Array:
        """Give the log of the joint standard normal density of each row of theta."""
        theta = self._rows(theta)
        constant = 0.5 * len(self) * np.log(2.0 * np.pi)
        return np.asarray(-0.5 * (theta * theta).sum(axis=1) - constant)

    def _rows(self, values: ArrayLike) -> Array:
        rows = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if rows.ndim != 2 or rows.shape[1] != len(self):
            raise InputError(
                f"rows of {len(self)} numbers are needed, not of shape {rows.shape}",
                "prior", "give one column per uncertain number",
            )  # fmt: skip
        return rows
