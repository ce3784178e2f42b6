"""The balance of one element of a tank: in, out, stored, and what is unexplained.

The engine keeps how far every row and jump has run. What crossed a boundary is read
from those extents and the composition of what moved; what stayed is the change of the
stores. The two must agree to rounding for every member, or BalanceError is raised.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from pleuston.base.errors import BalanceError, UnknownNameError
from pleuston.engine.ensemble import DEFAULT, run_ensemble
from pleuston.engine.kernel import Array, Table, tank_kernel
from pleuston.inference.tank import TankBelief, tank_readings
from pleuston.model.declare import near

POOLS: Mapping[str, tuple[str, ...]] = {
    "floating plants": ("floater1_", "floater2_", "floater3_"),
    "rooted plants": ("rooted_",),
    "algae": ("algae_",),
    "animals": ("fish_", "shrimp_", "snails_"),
    "detritus": ("detritus_",),
    "microbes": ("heterotrophs", "ammonia_oxidisers", "nitrite_oxidisers"),
    "soil": ("soil_", "ammonium_soil", "phosphate_soil", "potassium_soil", "calcium_soil",
             "copper_soil", "zinc_soil", "reduced_soil"),
    "lime and shells": ("scale", "shell"),
}  # fmt: skip
MEASURED: Mapping[str, tuple[tuple[str, float], ...]] = {
    "N": (("ammonium_concentration", 1.0), ("nitrite_concentration", 1.0),
          ("nitrate_concentration", 1.0)),
    "P": (("phosphate_concentration", 1.0),), "K": (("potassium_concentration", 1.0),),
    "Fe": (("iron_concentration", 1.0),), "Cu": (("copper_concentration", 1.0),),
}  # fmt: skip
"""Concentrations that together are the dissolved stock of an element."""
UNITS = {"water": "L", "charge": "meq"}
CLOSES = 1e-9
"""Largest error of a balance, relative to what the tank holds and what crossed."""


@dataclass(frozen=True)
class Flows:
    """Amounts of one element between two days, by boundary, and their balance."""

    element: str
    inward: Mapping[str, Array]
    outward: Mapping[str, Array]
    stored: Mapping[str, Array]
    error: Array
    """Relative error of the balance of each member."""


def holds(table: Table, element: str) -> Array:
    """What one unit of each state holds of an element."""
    return np.array(
        [float(Fraction(s["holds"].get(element, "0"))) for s in table.data["states"]]
    )


def carried(table: Table, element: str) -> Array:
    """What one unit of each row, then each move, brings in across its boundary."""
    changes = [*table.data["rows"], *table.data["moves"]]
    return np.array([float(Fraction(c["carried"].get(element, "0"))) for c in changes])


def flows(belief: TankBelief, element: str, start: float, end: float) -> Flows:
    """What crossed and what stayed between two days of the record.

    Raises UnknownNameError for an element that is not kept, BalanceError when the
    balance of a member does not close.
    """
    table = belief.case.table
    known = table.data["conserved"]
    if element not in known:
        raise UnknownNameError(
            f"no balance is kept of {element!r}", where="ledger", remedy=near(element, known)
        )
    first, last, extents = _states_and_extents(belief, start, end)
    weight, brought = holds(table, element), carried(table, element)
    names = [c["crosses"] for c in (*table.data["rows"], *table.data["moves"])]
    inward: dict[str, Array] = {}
    outward: dict[str, Array] = {}
    for i in np.flatnonzero(brought):
        amount = brought[i] * extents[i]
        side = inward if brought[i] > 0.0 else outward
        side[names[i]] = side.get(names[i], 0.0) + np.abs(amount)
    stored = _stored(table, weight, last - first)
    gained = (last - first) @ weight
    crossed = brought @ extents
    moved = np.abs(brought) @ np.abs(extents)
    size = np.maximum(np.abs(first) @ np.abs(weight) + moved, 1e-9)
    error = np.abs(gained - crossed) / size
    if (error > CLOSES).any() and (np.abs(gained - crossed) > 1e-9).any():
        _refuse(belief, element, start, end, gained - crossed, error, brought, extents)
    return Flows(element, inward, outward, stored, error)


def _states_and_extents(belief: TankBelief, start: float, end: float) -> tuple[Array, Array, Array]:
    """(members, states) at both ends and (rows + moves, members) run between them."""
    case = belief.case
    begin = case.start(belief.values, len(belief))
    if start > 0.0:
        to_start = case.schedule(0.0, start, [start])
        begin = run_ensemble(
            tank_kernel(), to_start, begin, belief.parameters, outputs=[], scale=case.scale,
            tolerance=DEFAULT,
        ).end  # fmt: skip
    schedule = case.schedule(start, end, [end])
    run = run_ensemble(
        tank_kernel(), schedule, begin, belief.parameters, outputs=[], scale=case.scale,
        tolerance=DEFAULT, extents=True,
    )  # fmt: skip
    assert run.extents is not None
    return begin, run.end, run.extents[-1]


def _stored(table: Table, weight: Array, change: Array) -> dict[str, Array]:
    result: dict[str, Array] = {}
    for i, name in enumerate(table.states):
        if weight[i] == 0.0:
            continue
        pool = next((p for p, heads in POOLS.items() if name.startswith(heads)), "water")
        result[pool] = result.get(pool, 0.0) + weight[i] * change[:, i]
    return result


def _refuse(
    belief: TankBelief, element: str, start: float, end: float, gap: Array, error: Array,
    brought: Array, extents: Array,
) -> None:  # fmt: skip
    table = belief.case.table
    worst = int(np.argmax(error))
    names = [*table.rows, *table.moves]
    row = names[int(np.argmax(np.abs(brought * extents[:, worst])))]
    raise BalanceError(
        f"the balance of {element} does not close: off by {gap[worst]:.3g}"
        f" ({error[worst]:.1e} of what is there) between day {start:g} and {end:g};"
        f" the largest row is {row}",
        where=f"tank {belief.case.tank.name}", remedy="Report it: the table or the engine is wrong",
    )  # fmt: skip


def unexplained(belief: TankBelief, element: str, start: float, end: float) -> tuple[float, float]:
    """Range of the change of the dissolved stock that readings show and the balance does not.

    Readings are intervals, so this is a range. Where the element has no reading at both
    ends, nothing can contradict the balance, and the range is all that its members leave
    open: from the 5 to the 95 % quantile of the change of its stores around their median.
    """
    pairs, _ = tank_readings(belief.case, belief.at)
    litres = belief.case.tank.net_l
    low = high = 0.0
    run_times: list[float] = []
    for output, _ in MEASURED.get(element, ()):
        ends = _readings_near(pairs, output, start, end)
        if ends is None:
            return _open(belief, element, start, end)
        (t0, a0, b0), (t1, a1, b1) = ends
        model = _model_change(belief, output, t0, t1)
        low += (a1 - b0 - model) * litres
        high += (b1 - a0 - model) * litres
        run_times += [t0, t1]
    if not run_times:
        return _open(belief, element, start, end)
    return low, high


def _readings_near(
    pairs: list[Any], output: str, start: float, end: float
) -> tuple[tuple[float, float, float], tuple[float, float, float]] | None:
    """(day, low, high) of the readings nearest to both ends; None unless they are two, closed."""
    found = [
        (r.time, r.low if r.low is not None else 0.0, r.high)
        for r, name in pairs
        if name == output and r.high is not None
    ]
    if len(found) < 2:
        return None
    first = min(found, key=lambda f: abs(f[0] - start))
    last = min(found, key=lambda f: abs(f[0] - end))
    if first[0] >= last[0] or max(abs(first[0] - start), abs(last[0] - end)) > 21.0:
        return None
    return first, last


def _model_change(belief: TankBelief, output: str, start: float, end: float) -> float:
    schedule = belief.case.schedule(0.0, end, [start, end])
    run = run_ensemble(
        tank_kernel(), schedule, belief.case.start(belief.values, len(belief)), belief.parameters,
        outputs=[output], scale=belief.case.scale, tolerance=DEFAULT,
    )  # fmt: skip
    values = np.median(run.of(output), axis=1)
    return float(values[1] - values[0])


def _open(belief: TankBelief, element: str, start: float, end: float) -> tuple[float, float]:
    made = flows(belief, element, start, end)
    total = sum(made.stored.values(), np.zeros(len(belief)))
    low, middle, high = np.quantile(total, [0.05, 0.5, 0.95])
    return float(low - middle), float(high - middle)


def ledger(belief: TankBelief, element: str, start: float, end: float) -> dict[str, Any]:
    """The ledger of one element between two days, medians over the members, as data."""
    made = flows(belief, element, start, end)
    low, high = unexplained(belief, element, start, end)
    local, clock = belief.case.record.local, belief.case.clock

    def middles(amounts: Mapping[str, Array]) -> dict[str, float]:
        values = {n: float(np.median(a)) for n, a in amounts.items()}
        return {n: round(v, 6) for n, v in sorted(values.items(), key=lambda x: -abs(x[1]))}

    def spans(amounts: Mapping[str, Array]) -> dict[str, list[float]]:
        return {n: [round(float(q), 6) for q in np.quantile(a, [0.1, 0.9])] for n, a in amounts.items()}

    return {
        "tank": belief.case.tank.name, "element": element, "unit": UNITS.get(element, "mg"),
        "from": local(clock.moment(start)).isoformat(timespec="minutes"),
        "to": local(clock.moment(end)).isoformat(timespec="minutes"),
        "in": middles(made.inward), "out": middles(made.outward), "stored": middles(made.stored),
        "unexplained": [round(low, 6), round(high, 6)],
        "ranges": {"in": spans(made.inward), "out": spans(made.outward),
                   "stored": spans(made.stored)},
        "closes_to": float(made.error.max()), "model": belief.model, "seed": belief.seed,
    }  # fmt: skip
