"""The balance of a tank over a period: in, out, stored by pool, and what is unexplained.

Numbers are means of the half of the members nearest to the medians, so that a table
adds up exactly; `ranges` beside them gives what all members say.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.tank import TankBelief
from pleuston.planning.flows import Span, Substance, check_closed, pool_of, span_of, substance
from pleuston.planning.unexplained import OUTPUTS, unexplained

SMALL = 1e-6
"""Flows below this share of all that moved are left out."""


def ledger(
    belief: TankBelief, element: str, start: float, end: float, threads: int | None = None
) -> dict[str, Any]:
    """The ledger of a thing from day to day of a tank's record, as data.

    Raises InputError for an unknown thing or period, BalanceError when it does not close.
    """
    thing = substance(belief.case.table, element)
    span = span_of(belief, start, end, OUTPUTS, threads)
    return ledger_of_span(span, thing)


def ledger_of_span(span: Span, thing: Substance) -> dict[str, Any]:
    """The ledger of members that have been run over a period."""
    effects = span.effects(thing)
    error = check_closed(span, thing, effects)
    flows = grouped(span, effects)
    stored = stored_by_pool(span, thing)
    middle = central({**_keyed("f", flows), **_keyed("s", stored)})
    moved = sum(float(np.abs(v).mean()) for v in flows.values()) or 1.0
    sides: dict[str, dict[str, float]] = {"in": {}, "out": {}, "stored": {}}
    ranges: dict[str, dict[str, list[float]]] = {"in": {}, "out": {}, "stored": {}}
    for (side, word), values in flows.items():
        if float(np.abs(values).max()) > SMALL * moved:
            sides[side][word] = float(values[middle].mean())
            ranges[side][word] = _range(values)
    for pool, values in stored.items():
        sides["stored"][pool] = float(values[middle].mean())
        ranges["stored"][pool] = _range(values)
    why: list[str] = []
    low, high = unexplained(span, thing, flows, why)
    local, clock = span.belief.case.record.local, span.belief.case.clock
    return {
        "tank": span.belief.case.tank.name, "element": thing.name, "unit": thing.unit,
        "from": local(clock.moment(span.start)).isoformat(timespec="minutes"),
        "to": local(clock.moment(span.end)).isoformat(timespec="minutes"),
        **sides, "unexplained": [low, high], "unexplained_from": why, "ranges": ranges,
        "closes_to": error, "model": span.belief.model, "seed": span.belief.seed,
    }  # fmt: skip


def _keyed(mark: str, values: Mapping[Any, Array]) -> dict[tuple[str, Any], Array]:
    return {(mark, key): value for key, value in values.items()}


def _range(values: Array) -> list[float]:
    return [float(v) for v in np.quantile(values, (0.1, 0.5, 0.9))]


def grouped(span: Span, effects: Array) -> dict[tuple[str, str], Array]:
    """(side, word) -> (members,) of what moved, never below zero."""
    found: dict[tuple[str, str], Array] = {}
    for i in np.flatnonzero(np.abs(effects).max(axis=1) > 0.0):
        word = span.changes.word(int(i))
        for side, part in (
            ("in", np.maximum(effects[i], 0.0)), ("out", np.maximum(-effects[i], 0.0)),
        ):  # fmt: skip
            if part.max() > 0.0:
                found[side, word] = found.get((side, word), 0.0) + part
    return found


def stored_by_pool(span: Span, thing: Substance) -> dict[str, Array]:
    """Pool -> (members,) of the change in what it holds."""
    found: dict[str, Array] = {}
    change = (span.after - span.before) * thing.weights
    for i in np.flatnonzero(thing.weights):
        pool = pool_of(span.belief.case.table.states[int(i)])
        found[pool] = found.get(pool, 0.0) + change[:, i]
    return {pool: v for pool, v in found.items() if np.abs(v).max() > 0.0 or pool == "water"}


def central(values: Mapping[Any, Array]) -> np.ndarray:
    """The half of the members that lies nearest to the medians of all values."""
    table = np.array(list(values.values()))
    middle = np.median(table, axis=1, keepdims=True)
    spread = np.quantile(np.abs(table - middle), 0.75, axis=1, keepdims=True)
    far = (np.abs(table - middle) / np.where(spread > 0.0, spread, np.inf)).sum(axis=0)
    return np.argsort(far, kind="stable")[: max(1, (len(far) + 1) // 2)]


def oxygen_budget(
    belief: TankBelief, start: float, end: float, threads: int | None = None
) -> dict[str, Any]:
    """Who gives and who takes oxygen, by theme [mg/d]: p10, p50, p90."""
    span = span_of(belief, start, end, ("water",), threads)
    flows = grouped(span, span.effects(substance(belief.case.table, "O2")))
    days = span.end - span.start
    made: dict[str, Any] = {"unit": "mg/d", "in": {}, "out": {}}
    for (side, word), values in flows.items():
        made[side][word] = _range(values / days)
    return made


def nitrogen_removal(
    belief: TankBelief, start: float, end: float, threads: int | None = None
) -> dict[str, Any]:
    """How much nitrogen left with harvested plants and how much through bacteria."""
    span = span_of(belief, start, end, ("water",), threads)
    effects = -span.effects(substance(belief.case.table, "N"))
    names = [c["name"] for c in span.changes.data]
    crosses = [c["crosses"] for c in span.changes.data]
    plants = effects[[i for i, c in enumerate(crosses) if c == "harvest"]].sum(axis=0)
    bacteria = effects[[i for i, n in enumerate(names) if n.startswith("denitrify")]].sum(axis=0)
    days = span.end - span.start
    share = plants / np.maximum(plants + bacteria, 1e-12)
    return {
        "unit": "mg/d", "plants": _range(plants / days), "bacteria": _range(bacteria / days),
        "share_of_plants": _range(share),
    }  # fmt: skip
