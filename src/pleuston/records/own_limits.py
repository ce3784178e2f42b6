"""A keeper's own limits, as the record holds them: entries `limit` and `limit_end`.

`what` names what is limited (LIMITED), `low` is "at least", `high` "at most", `method` says
how bad it is to be beyond and, after a comma, for which species alone, and `note` why. A
`limit_end` names the same and ends it from its day on; without an amount it ends both sides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from pleuston.base.units import convert
from pleuston.records.kinds import LIMIT_KINDS, LIMIT_SEVERITIES, LIMITED, READINGS
from pleuston.records.readings import turned
from pleuston.records.record import Entry, Record

_WORD = re.compile(r"[^\W\d_]{3,}")
SIDES = {"low": "at least", "high": "at most"}


@dataclass(frozen=True, slots=True)
class OwnLimit:
    """One side of a keeper's own limit."""

    id: str
    """Of its entry."""
    tank: str
    """Empty for the whole rack."""
    what: str
    """What is limited, as it was written: nitrate or nitrate_ion."""
    quantity: str
    side: str
    """`low`: at least; `high`: at most."""
    value: float
    """In the unit that limits of this quantity have inside the program."""
    written: float
    """As it was written, in `unit`."""
    unit: str
    severity: str
    species: str
    """Scientific name; empty for all animals."""
    reason: str
    since: str
    """The day from which it holds, on the rack's own calendar."""
    by: str
    at: datetime

    @property
    def key(self) -> tuple[str, str, str, str, str]:
        """What a later one replaces: the same of the same tank and species."""
        return self.tank, self.quantity, self.side, self.severity, self.species


def severity_and_species(method: str) -> tuple[str, str]:
    """The severity and the species that the method of a limit names; empty where it does not.

    >>> severity_and_species("Act, Neocaridina davidi"), severity_and_species("watch")
    (('act', 'Neocaridina davidi'), ('watch', ''))
    """
    first, _, rest = method.partition(",")
    word = first.strip().casefold()
    return (word if word in LIMIT_SEVERITIES else ""), rest.strip()


def is_reason(text: str) -> bool:
    """Whether a text holds a word at least: three letters that are not all the same.

    >>> is_reason("they breed better cooler"), is_reason(" - "), is_reason("xxx"), is_reason("12")
    (True, False, False, False)
    """
    return any(len(set(word.casefold())) > 1 for word in _WORD.findall(text))


def limit_value(what: str, unit: str, value: float) -> float:
    """What is written of a limit in the unit that it has inside the program.

    >>> limit_value("temperature", "C", 26.0), limit_value("ec_step", "%", 5.0)
    (299.15, 0.05)
    """
    item = LIMITED[what]
    if what in READINGS and item.quantity == READINGS[what].quantity:
        return turned(what, unit or item.unit, item.canonical)(value)
    if item.unit in ("", item.canonical):
        return float(value)
    return convert(value, unit or item.unit, item.canonical)


def written_value(quantity: str, value: float) -> tuple[float, str]:
    """A limit's value as a keeper writes it, with the unit.

    >>> written_value("temperature", 299.15), written_value("ph", 7.0)
    ((26.0, 'C'), (7.0, ''))
    """
    item = LIMITED[quantity]
    if not item.unit or item.unit == item.canonical:
        return value, item.unit
    return round(convert(value, item.canonical, item.unit), 9), item.unit


def own_limits(record: Record, tank: str, moment: datetime) -> tuple[OwnLimit, ...]:
    """A tank's own limits in force at a moment, the whole rack's and those for all first.

    Of those alike the last counts, and where several fit an animal the last in this order.
    """
    held: dict[tuple[str, ...], OwnLimit] = {}
    for entry in record.entries_of(tank, until=moment, kind=LIMIT_KINDS):
        severity, species = severity_and_species(entry.method)
        if entry.what not in LIMITED or not severity:
            continue
        if entry.kind == "limit":
            held |= {own.key: own for own in sides_of(record, entry)}
            continue
        ended = [side for side in SIDES if getattr(entry, side) is not None] or list(SIDES)
        for side in ended:
            held.pop((entry.tank, LIMITED[entry.what].quantity, side, severity, species), None)
    return tuple(sorted(held.values(), key=lambda own: (bool(own.tank), bool(own.species))))


def coming_limits(record: Record, tank: str, moment: datetime) -> tuple[OwnLimit, ...]:
    """Own limits of a tank that are dated later than a moment."""
    later = [e for e in record.entries_of(tank, kind="limit") if e.at > moment]
    return tuple(
        own for entry in later for own in sides_of(record, entry)
        if own in own_limits(record, tank, entry.at)
    )  # fmt: skip


def sides_of(record: Record, entry: Entry) -> Iterator[OwnLimit]:
    """The limits that one entry `limit` sets: one for each side it gives."""
    severity, species = severity_and_species(entry.method)
    made = OwnLimit(
        entry.id, entry.tank, entry.what, LIMITED[entry.what].quantity, "", 0.0, 0.0, entry.unit,
        severity, species, entry.note, record.local(entry.at).date().isoformat(), entry.by,
        entry.at,
    )  # fmt: skip
    for side in SIDES:
        value = getattr(entry, side)
        if value is not None:
            inside = limit_value(entry.what, entry.unit, float(value))
            yield replace(made, side=side, value=inside, written=float(value))
