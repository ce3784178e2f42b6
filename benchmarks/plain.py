"""The rates as plain Python: every quantity and row called as the function that declares it."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np

from benchmarks.rivals import World
from benchmarks.tank import Problem
from pleuston.engine.kernel import Array
from pleuston.model.assemble import Model, Quantity
from pleuston.model.declare import Closed
from pleuston.model.tank import model


@cache
def order() -> list[Quantity]:
    """The quantities that rows need, each after what it needs itself; residuals left out."""
    known: Model = model()
    done: dict[str, Quantity] = {}

    def visit(name: str) -> None:
        if name in known.quantities and name not in done:
            quantity = known.quantities[name]
            for target in quantity.arguments.values():
                visit(target)
            done[name] = quantity

    users: list[Closed | Quantity] = [*known.rows, *known.implicits.values()]
    for user in users:
        for target in user.arguments.values():
            visit(target)
    return list(done.values())


def _after(implicit: str) -> set[str]:
    """Quantities that need an implicit one."""
    names: set[str] = {implicit}
    for quantity in order():
        if names & set(quantity.arguments.values()):
            names.add(quantity.name)
    return names


class PlainTank:
    """One member whose rate of change is worked out in plain Python."""

    def __init__(self, what: Problem, member: int) -> None:
        self.model, self.schedule = model(), what.schedule
        self.parameters = dict(
            zip(what.case.table.parameters, map(float, what.parameters[member]), strict=True)
        )
        self.names = list(self.model.states)
        self.floored = [s.floor is not None for s in self.model.states.values()]
        ((self.implicit, self.start),) = self.model.starts.items()
        late = _after(self.implicit)
        self.before = [q for q in order() if q.name not in late]
        self.late = [q for q in order() if q.name in late]
        self.coefficients = [
            (row, [(self.names.index(s), float(c)) for s, c in row.coefficients.items()])
            for row in self.model.rows
        ]
        self.calls = 0

    def change(self, t: float, y: Array) -> Array:
        """dy/dt."""
        self.calls += 1
        values: dict[str, Any] = dict(self.parameters)
        for name, amount, floored in zip(self.names, y.tolist(), self.floored, strict=True):
            values[name] = max(amount, 0.0) if floored else amount
        values |= self._forcings(t)
        for quantity in self.before:
            values[quantity.name] = _call(quantity, values)
        values[self.implicit] = self.start = self._solved(values)
        for quantity in self.late:
            values[quantity.name] = _call(quantity, values)
        dy = np.zeros(len(y))
        for row, entries in self.coefficients:
            rate = float(row.function(**{a: values[n] for a, n in row.arguments.items()}))
            for at, coefficient in entries:
                dy[at] += coefficient * rate
        return dy

    def _forcings(self, t: float) -> dict[str, float]:
        times = self.schedule.times
        at = min(max(int(np.searchsorted(times, t, side="right")) - 1, 0), len(times) - 2)
        share = (t - times[at]) / (times[at + 1] - times[at])
        x = self.schedule.x0[at] * (1.0 - share) + self.schedule.x1[at] * share
        return dict(zip(self.model.forcings, x.tolist(), strict=True))

    def _solved(self, values: dict[str, Any]) -> float:
        """Newton in the logarithm, slopes by differences, from where it stood last."""
        quantity = self.model.implicits[self.implicit]
        own = dict(values)
        late = [q for q in self.late if q.name in _needs(self.implicit)]

        def residual(log: float) -> float:
            own[self.implicit] = math.exp(log)
            for q in late:
                own[q.name] = _call(q, own)
            return float(_call(quantity, own))

        log = math.log(self.start)
        for _ in range(30):
            here = residual(log)
            step = -here * 1e-6 / (residual(log + 1e-6) - here)
            log += min(max(step, -1.0), 1.0)
            if abs(step) < 1e-9:
                break
        return math.exp(log)


@cache
def _needs(implicit: str) -> frozenset[str]:
    """Quantities that the residual of an implicit one reads, however far back."""
    known = model()
    found: set[str] = set()
    stack = list(known.implicits[implicit].arguments.values())
    while stack:
        name = stack.pop()
        if name in known.quantities and name not in found:
            found.add(name)
            stack.extend(known.quantities[name].arguments.values())
    return frozenset(found)


def _call(quantity: Quantity, values: dict[str, Any]) -> Any:
    return quantity.function(**{a: values[n] for a, n in quantity.arguments.items()})


class PlainWorld(World):
    """One member for a solver: jumps by the compiled kernel, rates by plain Python."""

    def __init__(self, what: Problem, member: int) -> None:
        super().__init__(what, member)
        self.plain = PlainTank(what, member)

    def change(self, t: float, y: Array) -> Array:
        """dy/dt."""
        return self.plain.change(t, y)


def difference(what: Problem) -> float:
    """How far plain rates are from compiled ones, relative to the larger of the compiled
    rate and a millionth of a typical amount a day."""
    plain, compiled = PlainTank(what, 0), World(what, 0)
    y = what.start[0].copy()
    compiled.begin(0, len(what.schedule.times) - 1, y)
    same, fast = plain.change(0.01, y), compiled.change(0.01, y)
    return float(np.max(np.abs(same - fast) / np.maximum(np.abs(fast), 1e-6 * what.scale)))
