"""Every uncertain or fixed value, with its range, source, page and grade."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources.abc import Traversable
from types import MappingProxyType

from pleuston.base import references
from pleuston.base._tables import Table, nearest, packaged, read_folder
from pleuston.base.errors import UnknownNameError

NEEDED = (
    "value", "unit", "low", "high", "spread", "law",
    "conditions", "source", "where", "grade", "note",
)  # fmt: skip
LAWS = frozenset(("lognormal", "uniform", "fixed"))
GRADES = ("read", "abstract", "derived", "memory", "guess")
"""How well a value is supported, best first."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One value: best, range, prior law, and what it rests on.

    `spread` is the standard deviation of the natural logarithm for the law
    "lognormal" and 0 for "fixed"; "uniform" spans low to high.
    """

    name: str
    value: float
    unit: str
    low: float
    high: float
    spread: float
    law: str
    conditions: str
    source: str
    where: str
    grade: str
    note: str


@cache
def load() -> Mapping[str, Parameter]:
    """Give every parameter by its name, read once."""
    return read(packaged("parameters"), references.load())


def read(folder: Traversable, sources: Collection[str]) -> Mapping[str, Parameter]:
    """Read a folder of parameters; gaps, unknown sources and disorder are refused."""
    return MappingProxyType(
        {table.key: _parameter(table, sources) for table in read_folder(folder)}
    )


def _parameter(table: Table, sources: Collection[str]) -> Parameter:
    table.check_fields(NEEDED)
    source = table.text("source")
    if source not in sources:
        raise UnknownNameError(
            f"the source {source!r} is not in the bibliography",
            where=table.where,
            remedy=nearest(source, sources),
        )
    parameter = Parameter(
        name=table.key,
        value=table.number("value"),
        unit=table.text("unit"),
        low=table.number("low"),
        high=table.number("high"),
        spread=table.number("spread"),
        law=table.choice("law", LAWS),
        conditions=table.text("conditions", may_be_empty=True),
        source=source,
        where=table.text("where"),
        grade=table.choice("grade", GRADES),
        note=table.text("note", may_be_empty=True),
    )
    _check_order(table, parameter)
    return parameter


def _check_order(table: Table, p: Parameter) -> None:
    if not p.low <= p.value <= p.high:
        raise table.refuse(
            f"low {p.low}, value {p.value}, high {p.high} are out of order",
            "Give low <= value <= high",
        )
    fits = {"lognormal": p.spread > 0.0, "fixed": p.spread == 0.0, "uniform": p.spread >= 0.0}
    if not fits[p.law]:
        raise table.refuse(
            f"spread {p.spread} does not fit the law {p.law}",
            "Give a spread above 0 for lognormal, and 0 for fixed",
        )
    if p.law == "lognormal" and not p.low > 0.0:
        raise table.refuse("a lognormal value must be above 0", "Use another law, or correct low")
    if p.law == "uniform" and not p.low < p.high:
        raise table.refuse("a uniform value has no range", "Give low < high, or law fixed")
