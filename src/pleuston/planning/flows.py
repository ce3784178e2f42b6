"""What moved an amount: recorded extents of rows and jumps, summed into flows by cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

import numpy as np

from pleuston.base.errors import BalanceError, InputError
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.kernel import Array, Table
from pleuston.engine.run import run_tank
from pleuston.inference.tank import TankBelief

CLOSED = 1e-9
"""Largest error of a balance, as a share of what is there."""
SOLIDS: Mapping[str, float] = {
    "calcium": 1.0, "magnesium": 1.0, "sodium": 1.0, "potassium": 1.0, "chloride": 1.0,
    "sulfate": 96.06 / 32.06, "nitrate": 62.004 / 14.007, "phosphate": 94.97 / 30.974,
    "alkalinity": 61.017,
}  # fmt: skip
"""Dissolved solids from what is dissolved, alkalinity counted as bicarbonate [mg/mg, mg/meq]."""
WORDS = {"plants_in": "plants", "rooted": "plants", "floating": "plants", "nitrogen": "bacteria",
         "metals": "soil"}  # fmt: skip
POOLS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("soil", ("soil_", "ammonium_soil", "phosphate_soil", "potassium_soil", "calcium_soil",
              "copper_soil", "zinc_soil", "iron_soil", "reduced_soil")),
    ("plants", ("floater", "rooted_")),
    ("algae", ("algae_",)),
    ("detritus", ("detritus_",)),
    ("animals", ("fish_", "shrimp_", "snails_")),
    ("microbes", ("heterotrophs", "ammonia_oxidisers", "nitrite_oxidisers")),
    ("mineral", ("scale", "shell")),
)  # fmt: skip


def pool_of(state: str) -> str:
    """The pool that a state belongs to; what is dissolved is in the water.

    >>> pool_of("nitrate"), pool_of("floater1_nitrogen"), pool_of("ammonium_soil")
    ('water', 'plants', 'soil')
    """
    return next((pool for pool, starts in POOLS if state.startswith(starts)), "water")


@dataclass(frozen=True)
class Substance:
    """A thing that is counted: its name, unit, and how much of it each state holds."""

    name: str
    unit: str
    weights: Array
    whole: bool
    """Whether every place it can be in is counted, so that only boundaries move it."""


def substance(table: Table, name: str) -> Substance:
    """An element, water, `O2` (dissolved oxygen) or `solids`, by any usual spelling.

    Raises InputError for anything else.
    """
    spelt = {c.casefold(): c for c in table.data["conserved"]}
    word = name.strip().casefold()
    if word in ("oxygen", "o2", "o"):
        return Substance("O2", "mg", _of(table, {"oxygen": 1.0}), False)
    if word in ("solids", "dissolved_solids", "dissolved solids", "tds"):
        return Substance("dissolved_solids", "mg", _of(table, SOLIDS), False)
    if word not in spelt or word in ("charge", "oxygen_demand"):
        known = [c for c in table.data["conserved"] if c not in ("charge", "oxygen_demand")]
        raise InputError(
            f"there is no ledger of {name!r}", where="ledger",
            remedy=f"Use one of {', '.join(known)}, O2, dissolved_solids",
        )  # fmt: skip
    element = spelt[word]
    weights = np.array([float(Fraction(s["holds"].get(element, 0))) for s in table.data["states"]])
    return Substance(element, "L" if element == "water" else "mg", weights, True)


def _of(table: Table, weights: Mapping[str, float]) -> Array:
    return np.array([weights.get(s, 0.0) for s in table.states])


@dataclass(frozen=True)
class Changes:
    """Rows and moves of the model in the order of recorded extents."""

    table: Table

    @cached_property
    def data(self) -> list[Mapping[str, Any]]:
        """Rows, then moves."""
        return [*self.table.data["rows"], *self.table.data["moves"]]

    @cached_property
    def matrix(self) -> Array:
        """(changes, states): what one unit of extent changes."""
        made = np.zeros((len(self.data), len(self.table.states)))
        for i, change in enumerate(self.data):
            for state, value in change["coefficients"].items():
                made[i, self.table.at("state", state)] = float(Fraction(value))
        return made

    def word(self, i: int) -> str:
        """The cause of a change in a word: the boundary it crosses, else its theme."""
        change = self.data[i]
        if change["crosses"]:
            crosses = str(change["crosses"])
            return WORDS.get(crosses, crosses)
        return self.theme(i)

    def theme(self, i: int) -> str:
        """The theme of a row in a word."""
        change = self.data[i]
        theme = str(change["module"]).rsplit(".", 1)[-1]
        if "algae" in change["name"]:
            return "algae"
        if theme == "salts":
            return "soil" if "soil" in change["name"] else "mineral"
        return WORDS.get(theme, theme)


@dataclass(frozen=True)
class Span:
    """Members of a belief run over part of their record, with all that moved.

    before, after: (members, states); extents: (changes, members).
    """

    belief: TankBelief
    start: float
    end: float
    before: Array
    after: Array
    extents: Array
    outputs: Mapping[str, Array]
    """Observed quantity -> (2, members), at the start and at the end."""

    @cached_property
    def changes(self) -> Changes:
        """The rows and moves."""
        return Changes(self.belief.case.table)

    def effects(self, thing: Substance) -> Array:
        """(changes, members): how much each change moved of a thing."""
        return np.asarray((self.changes.matrix @ thing.weights)[:, None] * self.extents)


def span_of(
    belief: TankBelief, start: float, end: float, outputs: tuple[str, ...] = (),
    threads: int | None = None,
) -> Span:  # fmt: skip
    """Run the members from the start of their record over a period, recording extents."""
    case = belief.case
    first, last = max(0.0, start), min(end, belief.at)
    if not last > first:
        raise InputError(
            "the period lies outside the record", where=f"tank {case.tank.name}",
            remedy="Give a start before the end, both within the record",
        )  # fmt: skip
    middle = belief.start
    names = list(outputs) or ["water"]
    kept = []
    for a, b, extents in ((0.0, first, False), (first, last, True)):
        if b <= a:
            continue
        run = run_tank(
            case.schedule(a, b, [b]), middle, belief.parameters, outputs=names,
            scale=case.scale, tolerance=INTERACTIVE, extents=extents, threads=threads,
        )  # fmt: skip
        kept.append(run)
        if not extents:
            middle = run.end
    extents_made = kept[-1].extents
    assert extents_made is not None
    ends = {n: np.array([k.of(n)[-1] for k in (kept[0], kept[-1])]) for n in names}
    good = kept[-1].good & kept[0].good
    return Span(
        belief, first, last, middle[good], kept[-1].end[good], extents_made[-1][:, good],
        {n: v[:, good] for n, v in ends.items()},
    )  # fmt: skip


def check_closed(span: Span, thing: Substance, effects: Array) -> float:
    """Largest error of in - out - change, as a share of what is there.

    Raises BalanceError, naming the worst row, when it is more than `CLOSED`.
    """
    change = (span.after - span.before) @ thing.weights
    there = np.abs(span.before) @ np.abs(thing.weights) + np.abs(effects).sum(axis=0)
    errors = np.abs(effects.sum(axis=0) - change) / np.maximum(there, 1e-30)
    worst = float(errors.max()) if len(errors) else 0.0
    if not worst <= CLOSED:
        member = int(np.nanargmax(errors))
        row = span.changes.data[int(np.argmax(np.abs(effects[:, member])))]["name"]
        raise BalanceError(
            f"{thing.name} is off by {worst:.2g} of what is there from day {span.start:g} to "
            f"{span.end:g}, most moved by {row}",
            where=f"tank {span.belief.case.tank.name}, member {member}",
            remedy="Report this: the model must close every balance",
        )  # fmt: skip
    return worst
