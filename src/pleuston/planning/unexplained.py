"""What a balance leaves unexplained: readings at both ends against the members.

Where nothing was read the bounds come from how far apart the members' own flows lie;
they are wide then, and never nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.readings import observation_models
from pleuston.planning.flows import Span, Substance
from pleuston.records.readings import interval
from pleuston.records.record import Entry

REACH = 10.0
"""How many days from an end of the period a reading may lie."""
NINETY = 1.645
LEAST = 0.01
"""No bound is nearer to zero than this share of what moved: meals and grams are rounded."""
LITRES = 0.05
"""Error of litres that a keeper notes [1]: guess."""
OUTPUTS = (
    "water", "gh", "conductivity", "dissolved_solids", "calcium_concentration",
    "magnesium_concentration", "ammonium_concentration", "nitrite_concentration",
    "nitrate_concentration", "phosphate_concentration", "potassium_concentration",
    "copper_concentration", "iron_concentration",
)  # fmt: skip


@dataclass(frozen=True)
class Read:
    """A reading that tells of a thing: mg/L of it per unit of the reading."""

    quantity: str
    output: str
    factor: Callable[[Mapping[str, Array]], Array] | float = 1.0


def _share(part: str, whole: str) -> Callable[[Mapping[str, Array]], Array]:
    return lambda outputs: np.median(outputs[part] / np.maximum(outputs[whole], 1e-9), axis=1)


TOLD: Mapping[str, tuple[Read, ...]] = {
    "N": (
        Read("nitrate", "nitrate_concentration"), Read("ammonium", "ammonium_concentration"),
        Read("nitrite", "nitrite_concentration"),
    ),
    "P": (Read("phosphate", "phosphate_concentration"),),
    "K": (Read("potassium", "potassium_concentration"),),
    "Cu": (Read("copper", "copper_concentration"),),
    "Fe": (Read("iron", "iron_concentration"),),
    "Ca": (Read("gh", "calcium_concentration", _share("calcium_concentration", "gh")),),
    "Mg": (Read("gh", "magnesium_concentration", _share("magnesium_concentration", "gh")),),
    "dissolved_solids": (
        Read("ec25", "dissolved_solids", _share("dissolved_solids", "conductivity")),
    ),
}  # fmt: skip


def unexplained(
    span: Span, thing: Substance, flows: Mapping[tuple[str, str], Array], why: list[str]
) -> tuple[float, float]:
    """Bounds [mg or L] on what the members' balance can't account for; `why` says from what."""
    least = LEAST * max(
        max((float(np.median(v)) for v in flows.values()), default=0.0), 1e-9
    )  # fmt: skip
    made = _water(span, flows, why) if thing.name == "water" else _by_readings(span, thing, why)
    if made is None:
        why.append("no reading tells of it: as wide as the members' own flows lie apart")
        return _by_spread(flows, least)
    low, high = made
    return min(low, high - 2.0 * least), max(high, low + 2.0 * least)


def _by_spread(flows: Mapping[tuple[str, str], Array], least: float) -> tuple[float, float]:
    """As wide as the sums of what came in and what went out lie apart among members."""
    widest = least
    for side in ("in", "out"):
        parts = [v for (s, _), v in flows.items() if s == side]
        if parts:
            low, high = np.quantile(np.sum(parts, axis=0), (0.025, 0.975))
            widest = max(widest, 0.5 * float(high - low))
    return -widest, widest


def _water(
    span: Span, flows: Mapping[tuple[str, str], Array], why: list[str]
) -> tuple[float, float] | None:
    """Litres noted at top-ups against the litres that the members needed to the mark."""
    noted = [e.amount for e in _entries(span, "top_up") if e.amount is not None]
    filled = flows.get(("in", "top_up"))
    if not noted or filled is None:
        return None
    total = float(sum(noted))
    low, high = total - np.quantile(filled, (0.975, 0.025))
    why.append(f"{len(noted)} top-ups noted, {total:.3g} L, against the members' evaporation")
    return float(low) - LITRES * total, float(high) + LITRES * total


def _by_readings(span: Span, thing: Substance, why: list[str]) -> tuple[float, float] | None:
    """Change of the dissolved stock by readings, less the change in the members."""
    reads = TOLD.get(thing.name, ())
    found = [(r, _near(span, r.quantity, span.start), _near(span, r.quantity, span.end))
             for r in reads]  # fmt: skip
    if not found or found[0][1] is None or found[0][2] is None or found[0][1] is found[0][2]:
        return None
    litres = np.median(span.outputs["water"], axis=1)
    low = high = 0.0
    for read, first, last in found:
        told = span.outputs[read.output]
        factor = read.factor(span.outputs) if callable(read.factor) else np.full(2, read.factor)
        ends = []
        for k, entry in enumerate((first, last)):
            bounds = _bounds(entry) if entry is not None else None
            if bounds is None:
                ends.append(np.quantile(told[k], (0.025, 0.975)) * litres[k])
            else:
                bounds = factor[k] * np.array(bounds)
                top = float(np.quantile(told[k], 0.975))
                ends.append(np.where(np.isinf(bounds), max(bounds[0], top), bounds) * litres[k])
        change = np.quantile(told[1] * litres[1] - told[0] * litres[0], (0.025, 0.975))
        low += float(ends[1][0] - ends[0][1] - change[1])
        high += float(ends[1][1] - ends[0][0] - change[0])
        words = [span.belief.case.record.local(e.at).date().isoformat()
                 for e in (first, last) if e is not None]  # fmt: skip
        why.append(f"{read.quantity} read {' and '.join(words) or 'at no end'}")
    return low, high


def _entries(span: Span, kind: str) -> list[Entry]:
    case = span.belief.case
    return [
        e for e in case.record.entries_of(case.tank.name, kind=kind)
        if e.tank == case.tank.name and span.start <= case.clock.day(e.at) < span.end
    ]  # fmt: skip


def _near(span: Span, quantity: str, day: float) -> Entry | None:
    """The reading of a quantity nearest to a day, at most `REACH` days away."""
    case = span.belief.case
    best: Entry | None = None
    least = REACH
    for entry in case.record.entries_of(case.tank.name, kind="reading"):
        away = abs(case.clock.day(entry.at) - day)
        if entry.tank != case.tank.name or away > least:
            continue
        if interval(entry).quantity == quantity:
            best, least = entry, away
    return best


def _bounds(entry: Entry) -> tuple[float, float]:
    """What a reading allows, the reader's error allowed for: nine times in ten."""
    told = interval(entry)
    model = observation_models()[told.quantity]
    method = model.method(entry.method, exact=told.low == told.high)
    low, high = max(told.low, 0.0), told.high
    if model.transform == "log":
        grow = float(np.exp(NINETY * method.noise))
        low = max((low + model.offset) / grow - model.offset, 0.0)
        return low, (high + model.offset) * grow - model.offset
    widen = NINETY * float(np.hypot(method.noise, method.relative * low))
    return max(low - widen, 0.0), high + widen
