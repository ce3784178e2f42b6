"""Put states, quantities, rows and moves together into one model, and trace it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pleuston.base.errors import ModelError
from pleuston.model.declare import (
    Change,
    Closed,
    Implicit,
    State,
    argument_names,
    close,
    expand,
    expand_state,
    instances,
    near,
    unexpanded,
)
from pleuston.model.trace import Graph, Node

Families = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Quantity:
    """A derived quantity: a function whose arguments are names of the model."""

    name: str
    function: Callable[..., Any]
    arguments: Mapping[str, str]


@dataclass(frozen=True)
class Model:
    """A closed model, ready to be traced into a kernel."""

    name: str
    states: Mapping[str, State]
    quantities: Mapping[str, Quantity]
    implicits: Mapping[str, Quantity]
    starts: Mapping[str, float]
    rows: tuple[Closed, ...]
    moves: tuple[Closed, ...]
    parameters: tuple[str, ...]
    forcings: tuple[str, ...]
    arguments: tuple[str, ...]
    fast: tuple[str, ...]
    observed: tuple[str, ...]
    tracked: tuple[str, ...]
    elements: tuple[str, ...]
    damped: tuple[str, ...] = ()
    """Fast states that are implicit only in the rows that change them: the steep part of
    what they do is to themselves, and a column for all rows that read them would cost much."""

    owners: tuple[str, ...] = ()
    """Who may be absent. Their states and rows have their name as a word; the rows stand still
    while all those states are zero, and no other row changes them: the kernel leaves them out."""

    def states_of(self, owner: str) -> tuple[str, ...]:
        """The states of one who may be absent."""
        return tuple(n for n in self.states if owner in n.split("_"))

    @property
    def jumps(self) -> tuple[str, ...]:
        """Names of the jumps, in the order of their first move."""
        return tuple(dict.fromkeys(m.jump for m in self.moves))

    def kind_of(self, name: str) -> str:
        """What a name is: state, quantity, implicit, forcing, argument or parameter."""
        for kind in ("states", "quantities", "implicits"):
            if name in getattr(self, kind):
                return {"states": "state", "quantities": "quantity"}.get(kind, "implicit")
        for kind in ("forcings", "arguments", "parameters"):
            if name in getattr(self, kind):
                return kind[:-1]
        raise ModelError(f"{name} is not a name of the model", where=self.name, remedy="See states")


def changes_in(modules: Iterable[Any], jumps: bool = False) -> list[Change]:
    """The rows (or the moves of jumps) declared in some modules, in order."""
    found = []
    for module in modules:
        for value in vars(module).values():
            change = getattr(value, "change", None)
            here = getattr(value, "__module__", None) == module.__name__
            if isinstance(change, Change) and here and bool(change.jump) == jumps:
                found.append(change)
    return found


def _quantities(functions: Iterable[Callable[..., Any]], families: Families) -> dict[str, Quantity]:
    result: dict[str, Quantity] = {}
    for function in functions:
        for way in instances(function.__name__, families):
            name = expand(function.__name__, way)
            if name in result:
                raise ModelError("the quantity is defined twice", where=name, remedy="Keep one")
            arguments = {a: expand(a, way) for a in argument_names(function)}
            result[name] = Quantity(name, function, arguments)
    return result


def assemble(
    name: str, *, states: Iterable[State], rows: Iterable[Change], moves: Iterable[Change] = (),
    quantities: Iterable[Callable[..., Any]] = (), implicits: Iterable[Implicit] = (),
    parameters: Iterable[str], forcings: Iterable[str] = (), arguments: Iterable[str] = (),
    fast: Iterable[str] = (), observed: Iterable[str] = (), tracked: Iterable[str] = (),
    families: Families | None = None, elements: Mapping[str, str] | None = None,
    conserved: Iterable[str] = (), damped: Iterable[str] = (), owners: Sequence[str] = (),
) -> Model:  # fmt: skip
    """Expand the families, close every row and move, and resolve every name.

    Raises ModelError naming the row, the place and what to do.
    """
    families, elements = families or {}, elements or {}
    kept = {s.name: s for state in states for s in expand_state(state, families, elements)}
    known = _quantities(quantities, families)
    implicit = {
        i.name: Quantity(i.name, i.residual, {a: a for a in argument_names(i.residual)})
        for i in implicits
    }
    closed_rows, closed_moves = (
        tuple(close(c, way, kept, elements) for c in changes for way in instances(c.name, families))
        for changes in (rows, moves)
    )
    possible, given = (
        {expand(n, way): None for n in names for way in instances(n, families)}
        for names in (parameters, arguments)
    )
    used = _resolve(
        [*known.values(), *implicit.values(), *closed_rows, *closed_moves],
        {*kept, *known, *implicit, *forcings, *given}, set(possible), families,
    )  # fmt: skip
    names = [*kept, *known, *(c.name for c in closed_rows), *(c.name for c in closed_moves)]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise ModelError(f"{twice} name more than one thing", where=name, remedy="Rename")
    strange = {t for s in kept.values() for t in s.holds} - set(conserved)
    if strange:
        raise ModelError(f"{sorted(strange)} are not conserved", where=name, remedy="Add them")
    _check_owners(owners, kept, closed_rows)
    return Model(
        name, kept, known, implicit, {i.name: i.start for i in implicits}, closed_rows,
        closed_moves, tuple(sorted(used)), tuple(forcings), tuple(given), (*fast, *damped),
        tuple(observed), tuple(tracked), tuple(conserved), tuple(damped), tuple(owners),
    )  # fmt: skip


def _check_owners(owners: Iterable[str], states: Iterable[str], rows: Iterable[Closed]) -> None:
    """Refuse one who may be absent when a row of others changes its states."""
    for owner in owners:
        own = {n for n in states if owner in n.split("_")}
        foreign = [
            r.name for r in rows if own & set(r.coefficients) and owner not in r.name.split("_")
        ]
        if foreign or not own:
            raise ModelError(
                f"{foreign[0]} changes its states" if foreign else "it has no state",
                where=f"{owner}, who may be absent", remedy="Take it off the list of owners",
            )  # fmt: skip


def _resolve(
    users: Iterable[Quantity | Closed], known: set[str], possible: set[str], families: Families
) -> set[str]:
    """Names of the parameters in use; refuses a name that nothing defines."""
    used = set()
    for user in users:
        for raw, target in user.arguments.items():
            if target in known:
                continue
            if target in possible:
                used.add(target)
                continue
            hint = near(target, known | possible)
            if unexpanded(raw, families) and raw == target:
                hint = "A function over all members of a family names each of them"
            raise ModelError(f"{target} is not defined", where=user.name, remedy=hint)
    return used


class Tracer:
    """Traces the quantities, rows and moves of a model into one graph."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.graph = Graph()
        self._values: dict[str, Node] = {}
        self._busy: list[str] = []
        self.residuals: dict[str, Node] = {}
        for name, quantity in model.implicits.items():
            node = self.graph.input("implicit", name)
            self._values[name] = node
            self.residuals[name] = self._call(quantity)
            self.graph.implicit[node] = self.residuals[name]

    def value(self, name: str) -> Node:
        """The node of a state, quantity, parameter, forcing or argument."""
        if name in self._values:
            return self._values[name]
        if name in self._busy:
            chain = " -> ".join([*self._busy[self._busy.index(name) :], name])
            raise ModelError(f"it needs itself: {chain}", where=name, remedy="Break the circle")
        model = self.model
        if name in model.quantities:
            self._busy.append(name)
            node = self._call(model.quantities[name])
            self._busy.pop()
        else:
            node = self.graph.input(model.kind_of(name), name)
        self._values[name] = node
        return node

    def _call(self, user: Quantity | Closed) -> Node:
        values = {a: self.value(target) for a, target in user.arguments.items()}
        return self.graph.lift(user.function(**values))

    def rates(self) -> list[Node]:
        """The rate of every row, in order."""
        return [self._call(row) for row in self.model.rows]

    def amounts(self, jump: str) -> list[Node]:
        """The amount of every move of a jump, in order."""
        return [self._call(m) for m in self.model.moves if m.jump == jump]
