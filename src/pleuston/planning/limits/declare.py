"""What a limit is, and the records they are read from."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from pleuston.base.errors import InputError
from pleuston.planning.limits.criteria import RULES

TOPICS = ("ammonia", "nitrogen", "copper", "oxygen", "comfort", "steps")
GRADES = ("read", "abstract", "derived", "memory", "guess")
HORIZONS = ("hour", "day", "week", "month")
OWN = "own_limit"
"""The source of a limit that the keeper set: a record of the references."""
GROUPS = ("animals", "fish", "shrimp", "snails", "invertebrates", "breathes_air", "breathes_water")


@dataclass(frozen=True, slots=True)
class Severity:
    """How bad it is: never shown by colour alone."""

    name: str
    rank: int
    word: str
    icon: str
    colour: str


SEVERITIES: Mapping[str, Severity] = {
    s.name: s
    for s in (
        Severity("well", 0, "well", "tick", "#2b7a4b"),
        Severity("watch", 1, "watch", "eye", "#8a6d00"),
        Severity("act", 2, "act", "hand", "#b4530a"),
        Severity("danger", 3, "danger", "triangle", "#a3123a"),
    )
}


@dataclass(frozen=True, slots=True)
class LimitRecord:
    """A limit as it stands in the files: fixed bounds, or a rule that asks the water."""

    quantity: str
    who: tuple[str, ...]
    unit: str
    horizon: str
    severity: str
    word: str
    source: str
    where: str
    conditions: str
    grade: str
    note: str
    low: float | None = None
    high: float | None = None
    rule: str = ""
    factor: float = 1.0
    extra: bool = False
    """Counts beside limits that name the species, instead of giving way to them."""


@dataclass(frozen=True, slots=True)
class Beyond:
    """How far outside a species' comfort range a limit stands."""

    quantity: str
    below: float
    above: float
    unit: str
    horizon: str
    severity: str
    word: str
    grade: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that holds in one tank: one bound on one side, and all that it rests on."""

    quantity: str
    side: str
    """`low`: crossed by falling below; `high`: crossed by rising above."""
    value: float
    unit: str
    horizon: str
    severity: str
    who: tuple[str, ...]
    """The species it is set for: those present that ask for the strictest value."""
    word: str
    source: str
    where: str
    conditions: str
    grade: str
    note: str

    @property
    def name(self) -> str:
        """The limit's name: limit_WHAT_HORIZON.

        >>> from pleuston.planning.limits import limits_for
        >>> limits_for(["Poecilia wingei"])[0].name
        'limit_ammonia_nh3_month'
        """
        return f"limit_{self.quantity}_{self.horizon}"

    @property
    def key(self) -> str:
        """The name with side and severity: limits of one name differ in these.

        >>> from pleuston.planning.limits import limits_for
        >>> limits_for(["Poecilia wingei"])[0].key
        'limit_ammonia_nh3_month_high_watch'
        """
        return f"{self.name}_{self.side}_{self.severity}"

    @property
    def is_own(self) -> bool:
        """Whether the keeper set it; `where` then says why, `conditions` what the library's is."""
        return self.source == OWN

    @property
    def own(self) -> str:
        """What the keeper's own limit rests on and what the library's is; else empty."""
        return f"{self.where}; {self.conditions}" if self.is_own else ""

    @property
    def icon(self) -> str:
        return SEVERITIES[self.severity].icon

    @property
    def colour(self) -> str:
        return SEVERITIES[self.severity].colour

    @property
    def rank(self) -> int:
        return SEVERITIES[self.severity].rank

    def is_crossed(self, value: float) -> bool:
        """Say whether a value lies beyond the limit; the limit itself is still allowed."""
        return value < self.value if self.side == "low" else value > self.value

    def is_stricter(self, value: float) -> bool:
        """Say whether this limit leaves less room than another value would."""
        return self.value > value if self.side == "low" else self.value < value


@cache
def records() -> tuple[LimitRecord, ...]:
    """Give every limit of the files; gaps and unknown words are refused."""
    return tuple(
        _record(table, topic) for topic in TOPICS for table in _file(topic).get("limit", [])
    )


@cache
def beyonds() -> tuple[Beyond, ...]:
    """Give how far outside the comfort ranges limits stand."""
    return tuple(Beyond(**table) for table in _file("comfort")["beyond"])


@cache
def _file(topic: str) -> dict[str, Any]:
    source = resources.files("pleuston.planning.limits").joinpath(f"{topic}.toml")
    return tomllib.loads(source.read_text("utf-8"))


def _record(table: Mapping[str, Any], topic: str) -> LimitRecord:
    fields = dict(table)
    fields["who"] = tuple(fields["who"])
    record = LimitRecord(**fields)
    bounds = [b for b in (record.low, record.high) if b is not None]
    faults = {
        "it has no bound, or a bound beside a rule": bool(bounds) == bool(record.rule),
        f"it has an unknown rule {record.rule!r}": bool(record.rule) and record.rule not in RULES,
        "its low is above its high": bounds != sorted(bounds),
        "its severity, horizon or grade is unknown": record.severity not in SEVERITIES
        or record.horizon not in HORIZONS
        or record.grade not in GRADES,
        "it does not say for whom, in which words or from where": not (
            record.who and record.word and record.source and record.where
        ),
    }
    for fault, found in faults.items():
        if found:
            place = f"limits of {topic}: {record.quantity} ({record.severity})"
            raise InputError(fault, place, "correct the record")
    return record
