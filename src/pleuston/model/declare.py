"""The language of the tank model: states, rows, moves of jumps, implicit quantities.

A row is a plain function that returns a rate, with the coefficients of the states
that it changes. Coefficients that chemistry fixes are written CLOSE and solved
exactly, in fractions, so that every conserved thing balances; `close` refuses a
row that can't be balanced, that is solved in more than one way, or that carries
across a boundary what it does not say.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final, TypeVar

from pleuston.base.errors import ModelError

F = TypeVar("F", bound=Callable[..., Any])


class _Close:
    """Marks a coefficient that the builder solves."""

    def __repr__(self) -> str:
        return "CLOSE"


CLOSE: Final = _Close()
Coefficient = int | float | Fraction | _Close


@dataclass(frozen=True)
class State:
    """An amount kept for a tank.

    holds: conserved things in one unit of the state; floor: 0 or None (may be
    negative); typical: a usual amount in a 30 L tank, the scale of the solver's
    absolute tolerance, in the state's unit.
    """

    name: str
    unit: str
    holds: Mapping[str, Fraction]
    floor: float | None = 0.0
    typical: float = 1.0


@dataclass(frozen=True)
class Change:
    """A row (rate) or a move of a jump (amount): a function with its coefficients."""

    name: str
    unit: str
    source: str
    where: str
    coefficients: Mapping[str, Coefficient]
    function: Callable[..., Any]
    crosses: str = ""
    carries: tuple[str, ...] = ()
    jump: str = ""


@dataclass(frozen=True)
class Implicit:
    """A positive quantity found by Newton's method in its logarithm."""

    name: str
    unit: str
    residual: Callable[..., Any]
    start: float


@dataclass(frozen=True)
class Closed:
    """A change with all coefficients solved."""

    name: str
    unit: str
    source: str
    where: str
    coefficients: Mapping[str, Fraction]
    function: Callable[..., Any]
    arguments: Mapping[str, str]
    """Argument of the function -> name in the model (families are expanded here)."""
    crosses: str = ""
    carried: Mapping[str, Fraction] = field(default_factory=dict)
    """What one unit of the change brings into the tank across its boundary."""
    jump: str = ""


def _attach(
    kind: str, jump: str, unit: str, source: str, where: str, crosses: str,
    carries: Iterable[str], coefficients: Mapping[str, Coefficient],
) -> Callable[[F], F]:  # fmt: skip
    def decorate(function: F) -> F:
        name = function.__name__
        for label, text in (("source", source), ("where", where), ("unit", unit)):
            if not text:
                raise ModelError(
                    f"no {label} is given", where=f"{kind} {name}",
                    remedy=f"Give {label}= in the @{kind} line",
                )  # fmt: skip
        if not coefficients:
            raise ModelError("it changes no state", where=f"{kind} {name}", remedy="Give one")
        change = Change(
            name, unit, source, where, dict(coefficients), function, crosses, tuple(carries), jump
        )
        setattr(function, "change", change)  # noqa: B010
        return function

    return decorate


def row(
    unit: str, *, source: str = "", where: str = "", crosses: str = "",
    carries: Iterable[str] = (), **coefficients: Coefficient,
) -> Callable[[F], F]:  # fmt: skip
    """Declare a process: the function returns its rate, never negative.

    unit: of the rate; source, where: reference key and page; coefficients: change of
    each state per unit of the rate, or CLOSE; crosses: the ledger that a boundary row
    goes through; carries: the conserved things that may go through it.
    """
    return _attach("row", "", unit, source, where, crosses, carries, coefficients)


def move(
    jump: str, unit: str, *, source: str = "common_practice", where: str = "definition",
    crosses: str = "", carries: Iterable[str] = (), **coefficients: Coefficient,
) -> Callable[[F], F]:  # fmt: skip
    """Declare one move of a jump: the function returns an amount, never negative."""
    return _attach("move", jump, unit, source, where, crosses, carries, coefficients)


def implicit(name: str, *, residual: Callable[..., Any], unit: str, start: float) -> Implicit:
    """Declare a positive quantity as the root of a residual that has it as an argument."""
    return Implicit(name, unit, residual, start)


# -- families ----------------------------------------------------------------


def instances(name: str, families: Mapping[str, tuple[str, ...]]) -> list[dict[str, str]]:
    """Every way to replace the family words of a name: [{}] when it has none."""
    ways: list[dict[str, str]] = [{}]
    words = name.split("_")
    for family, members in families.items():
        if family in words:
            ways = [{**way, family: member} for way in ways for member in members]
    return ways


def expand(name: str, way: Mapping[str, str]) -> str:
    """The name with its family words replaced: floater_metal -> floater1_copper."""
    return "_".join(way.get(word, word) for word in name.split("_"))


def unexpanded(name: str, families: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether a name still has a family word."""
    return any(word in families for word in name.split("_"))


def expand_state(
    state: State, families: Mapping[str, tuple[str, ...]], elements: Mapping[str, str]
) -> list[State]:
    """The states of a family: each metal holds its own element."""
    result = []
    for way in instances(state.name, families):
        holds = {
            (elements[way[thing]] if thing in way else thing): amount
            for thing, amount in state.holds.items()
        }
        result.append(
            State(expand(state.name, way), state.unit, holds, state.floor, state.typical)
        )
    return result


# -- closure -----------------------------------------------------------------


def near(name: str, known: Iterable[str]) -> str:
    """A hint with the names closest to one that is not known."""
    close_names = difflib.get_close_matches(name, list(known), n=3)
    return f"Did you mean {', '.join(close_names)}?" if close_names else "See the glossary"


def content(
    coefficients: Mapping[str, Fraction], states: Mapping[str, State]
) -> dict[str, Fraction]:
    """Net amount of each conserved thing in one unit of a change (zeros left out)."""
    total: dict[str, Fraction] = {}
    for name, coefficient in coefficients.items():
        for thing, amount in states[name].holds.items():
            total[thing] = total.get(thing, Fraction(0)) + coefficient * Fraction(amount)
    return {thing: amount for thing, amount in total.items() if amount != 0}


def close(
    change: Change, way: Mapping[str, str], states: Mapping[str, State], elements: Mapping[str, str]
) -> Closed:
    """Solve the CLOSE coefficients of a change for one member of its families."""
    name = expand(change.name, way)
    place = f"{'move' if change.jump else 'row'} {name}"
    known: dict[str, Fraction] = {}
    unknown: list[str] = []
    for raw, coefficient in change.coefficients.items():
        state = expand(raw, way)
        if state not in states:
            raise ModelError(
                f"there is no state {state}", where=place, remedy=near(state, states)
            )
        if isinstance(coefficient, _Close):
            unknown.append(state)
        else:
            known[state] = Fraction(coefficient).limit_denominator(10**12)
    carries = {elements[way[c]] if c in way else c for c in change.carries}
    solved = _solve(place, known, unknown, states, carries)
    coefficients = {s: c for s, c in {**known, **solved}.items() if c != 0}
    net = content(coefficients, states)
    for thing, amount in net.items():
        if thing not in carries:
            raise ModelError(
                f"{thing} does not balance: {amount} per unit", where=place,
                remedy=f"Give the missing state a coefficient, or carry {thing} across a boundary",
            )  # fmt: skip
    missing = carries - set(net)
    if missing or bool(carries) != bool(change.crosses):
        raise ModelError(
            f"it says that it carries {sorted(carries) or 'nothing'} across"
            f" {change.crosses or 'no boundary'}, but {sorted(missing) or 'that'} does not cross",
            where=place, remedy="Make crosses= and carries= say what the coefficients do",
        )  # fmt: skip
    arguments = {a: expand(a, way) for a in argument_names(change.function)}
    return Closed(
        name, change.unit, change.source, change.where, coefficients, change.function,
        arguments, expand(change.crosses, way), net, expand(change.jump, way),
    )  # fmt: skip


def argument_names(function: Callable[..., Any]) -> tuple[str, ...]:
    """Names of a function's arguments, in order."""
    code = function.__code__
    return code.co_varnames[: code.co_argcount + code.co_kwonlyargcount]


def _solve(
    place: str, known: Mapping[str, Fraction], unknown: list[str],
    states: Mapping[str, State], carries: set[str],
) -> dict[str, Fraction]:  # fmt: skip
    """Gauss elimination in fractions over the conserved things that must balance."""
    net = content(known, states)
    things = sorted({t for s in unknown for t in states[s].holds} - carries)
    table = [
        [Fraction(states[s].holds.get(t, 0)) for s in unknown] + [-net.get(t, Fraction(0))]
        for t in things
    ]
    rank = 0
    for column in range(len(unknown)):
        pivot = next((r for r in range(rank, len(table)) if table[r][column] != 0), None)
        if pivot is None:
            raise ModelError(
                f"the coefficient of {unknown[column]} can't be solved: nothing that it holds "
                "has to balance here", where=place, remedy="Give it a number",
            )  # fmt: skip
        table[rank], table[pivot] = table[pivot], table[rank]
        head = table[rank][column]
        table[rank] = [x / head for x in table[rank]]
        for r in range(len(table)):
            if r != rank and table[r][column] != 0:
                factor = table[r][column]
                table[r] = [x - factor * y for x, y in zip(table[r], table[rank], strict=True)]
        rank += 1
    for line in table[rank:]:
        if line[-1] != 0:
            raise ModelError(
                "its CLOSE coefficients can't balance everything at once", where=place,
                remedy="Add a state that holds what is left over, or close fewer",
            )  # fmt: skip
    return {state: table[i][-1] for i, state in enumerate(unknown)}
