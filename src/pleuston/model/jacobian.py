"""The linear algebra of a model: coefficients, the fast block of the Jacobian, its LU plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from pleuston.model.assemble import Model, Tracer
from pleuston.model.declare import Closed
from pleuston.model.program import Program, plan
from pleuston.model.trace import Node

ALL = -1
"""The owner of what is always needed."""


@dataclass
class System:
    """Everything a printer needs, with names turned into positions."""

    model: Model
    tracer: Tracer
    index: dict[str, dict[str, int]]
    rates: Program
    rates_jacobian: Program
    observe: Program
    jumps: dict[str, Program]
    jacobian: list[tuple[int, int]]
    """(row, position in the fast list) of each entry that is not zero."""
    entries: list[Node] = field(default_factory=list)

    def owner(self, row: int) -> int:
        """The number of the row's owner among those that may be absent; ALL if it has none."""
        words = self.model.rows[row].name.split("_")
        found = [i for i, owner in enumerate(self.model.owners) if owner in words]
        return found[0] if len(found) == 1 else ALL

    def owner_of_output(self, key: str) -> int:
        """The same for an output of the rates or their derivatives: r<row>, j<entry>, t<n>."""
        number = int(key[1:])
        if key[0] == "j":
            return self.owner(self.jacobian[number][0])
        return self.owner(number) if key[0] == "r" else ALL


def _index(names: Iterable[str]) -> dict[str, int]:
    return {n: i for i, n in enumerate(names)}


def build_system(model: Model) -> System:
    """Trace a model and differentiate its rates by the fast states."""
    tracer = Tracer(model)
    graph = tracer.graph
    index = {
        "state": _index(model.states),
        "parameter": _index(model.parameters),
        "forcing": _index(model.forcings),
        "argument": _index(model.arguments),
        "implicit": _index(model.implicits),
    }
    rates = tracer.rates()
    out = {f"r{i}": n for i, n in enumerate(rates)}
    out |= {f"t{i}": tracer.value(n) for i, n in enumerate(model.tracked)}
    pattern, entries = [], []
    zero = graph.constant(0.0)
    fast = [graph.input("state", n) for n in model.fast]
    for i, rate in enumerate(rates):
        for j, state in enumerate(fast):
            if state.name in model.damped and state.name not in model.rows[i].coefficients:
                continue
            slope = graph.derivative(rate, state)
            if slope is not zero:
                pattern.append((i, j))
                entries.append(slope)
    with_jacobian = out | {f"j{k}": n for k, n in enumerate(entries)}
    observed = {f"o{i}": tracer.value(n) for i, n in enumerate(model.observed)}
    jumps = {
        jump: plan(graph, {f"m{i}": n for i, n in enumerate(tracer.amounts(jump))})
        for jump in model.jumps
    }
    return System(
        model, tracer, index, plan(graph, out), plan(graph, with_jacobian),
        plan(graph, observed), jumps, pattern, entries,
    )  # fmt: skip


def sparse(changes: tuple[Closed, ...], index: dict[str, int]) -> list[list[tuple[int, Fraction]]]:
    """Per change, its (state position, coefficient) pairs in state order."""
    return [sorted((index[s], c) for s, c in change.coefficients.items()) for change in changes]


def matrix_terms(system: System) -> dict[tuple[int, int], list[tuple[float, int]]]:
    """For each entry (i, j) of S_F^T J: the (coefficient, Jacobian entry) terms of its sum."""
    index = system.index["state"]
    fast = [index[n] for n in system.model.fast]
    rows = [dict(r) for r in sparse(system.model.rows, index)]
    terms: dict[tuple[int, int], list[tuple[float, int]]] = {}
    for k, (row, j) in enumerate(system.jacobian):
        for i, state in enumerate(fast):
            coefficient = rows[row].get(state)
            if coefficient:
                terms.setdefault((i, j), []).append((float(coefficient), k))
    return terms


def lu_plan(
    size: int, filled: set[tuple[int, int]]
) -> tuple[list[str], dict[tuple[int, int], int]]:
    """Symbolic LU without pivoting: C statements on entries e<k>, and where entries are kept."""
    pattern = set(filled) | {(i, i) for i in range(size)}
    for k in range(size):
        below = [i for i in range(k + 1, size) if (i, k) in pattern]
        right = [j for j in range(k + 1, size) if (k, j) in pattern]
        pattern |= {(i, j) for i in below for j in right}
    place = {entry: n for n, entry in enumerate(sorted(pattern))}

    def at(i: int, j: int) -> str:
        return f"e{place[i, j]}"

    lines = []
    for k in range(size):
        lines.append(f"{at(k, k)} = over({at(k, k)});")
        for i in range(k + 1, size):
            if (i, k) not in pattern:
                continue
            lines.append(f"{at(i, k)} = {at(i, k)} * {at(k, k)};")
            lines.extend(
                f"{at(i, j)} -= {at(i, k)} * {at(k, j)};"
                for j in range(k + 1, size) if (k, j) in pattern
            )  # fmt: skip
    return lines, place
