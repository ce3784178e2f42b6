"""Which limits hold in a tank, and which of them are crossed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pleuston.planning.limits.criteria import RULES, WaterState, said
from pleuston.planning.limits.declare import (
    GROUPS,
    SEVERITIES,
    Beyond,
    Limit,
    LimitRecord,
    beyonds,
    records,
)
from pleuston.planning.limits.own import applied
from pleuston.records.kinds import LIMITED
from pleuston.records.library import ANIMAL_GROUPS, Species, Value, library
from pleuston.records.own_limits import OwnLimit

KELVIN = 273.15
MEQ_PER_DEGREE = 0.35665
Array = NDArray[np.float64]
Key = tuple[str, str, str]
"""Quantity, side and severity."""


@dataclass(frozen=True, slots=True)
class Breach:
    """A limit and the value beyond it."""

    limit: Limit
    value: float


@dataclass(frozen=True, slots=True)
class Caps:
    """How far an act may move the water in a day."""

    ec: float
    """Share of the conductivity before."""
    ph: float
    temperature: float
    """[K]"""


def limits_for(
    species: Iterable[str | Species], water: WaterState | None = None,
    own: Sequence[OwnLimit] = (),
) -> tuple[Limit, ...]:  # fmt: skip
    """Give the limits of a tank with these animals: of each kind the strictest one.

    Names may be scientific, common or older ones; plants are passed over. Without animals
    there is nothing to protect but what the keeper wants. In order of the files, mild first.
    own: the keeper's own limits in force (records/own_limits.py).
    """
    present = [library().find_species(s) if isinstance(s, str) else s for s in species]
    state = WaterState() if water is None else water
    chosen: dict[Key, Limit] = {}
    animals = list(dict.fromkeys(item for item in present if item.is_animal))
    each = [(_of_animal(animal, state), animal.name) for animal in animals] or [({}, "")]
    for found, name in each:
        for key, limit in applied(found, own, name).items():
            held = chosen.get(key)
            if held is None or limit.is_stricter(held.value):
                chosen[key] = limit
            elif limit.value == held.value:
                chosen[key] = replace(held, who=held.who + limit.who)
    return tuple(sorted(chosen.values(), key=_order))


def _order(limit: Limit) -> tuple[int, str, int]:
    place = list(dict.fromkeys(record.quantity for record in records()))
    place += [item.quantity for item in beyonds() if item.quantity not in place]
    place += [name for name in LIMITED if name not in place]
    return place.index(limit.quantity), limit.side, limit.rank


def _of_animal(animal: Species, water: WaterState) -> dict[Key, Limit]:
    """Limits of one species: its own before those of its groups, severities in order."""
    own: dict[Key, Limit] = {}
    shared: dict[Key, Limit] = {}
    extra: dict[Key, Limit] = {}
    for limit in (*_comfort(animal), *_named(animal, water)):
        _keep_stricter(own, limit)
    for record in records():
        if record.extra and _concerns(record, animal):
            for limit in _resolved(record, animal, water):
                _keep_stricter(extra, limit)
        elif not _names(record) and _concerns(record, animal):
            for limit in _resolved(record, animal, water):
                _keep_stricter(shared, limit)
    found = {**shared, **own}
    for limit in extra.values():
        _keep_stricter(found, limit)
    return _in_order(found, firm={*own, *extra})


def _named(animal: Species, water: WaterState) -> list[Limit]:
    named = [r for r in records() if _names(r) and not r.extra and _concerns(r, animal)]
    return [limit for record in named for limit in _resolved(record, animal, water)]


def _keep_stricter(held: dict[Key, Limit], limit: Limit) -> None:
    key = (limit.quantity, limit.side, limit.severity)
    if key not in held or limit.is_stricter(held[key].value):
        held[key] = limit


def _in_order(found: dict[Key, Limit], firm: set[Key]) -> dict[Key, Limit]:
    """Keep a graver limit from standing inside a milder one.

    What is known of the species itself stays: a milder limit beyond it falls away. A limit
    of the group gives way to what the species is comfortable with.
    """
    result = dict(found)
    for quantity, side in {key[:2] for key in found}:
        milder: Limit | None = None
        for severity in SEVERITIES:
            key = (quantity, side, severity)
            limit = result.get(key)
            if limit is None:
                continue
            if milder is not None and limit.is_stricter(milder.value):
                if key in firm:
                    del result[quantity, side, milder.severity]
                else:
                    limit = replace(limit, value=milder.value)
                    result[key] = limit
            milder = limit
    return result


def _names(record: LimitRecord) -> bool:
    return not set(record.who) <= set(GROUPS)


def _concerns(record: LimitRecord, animal: Species) -> bool:
    """Groups must all fit; of species or genera named, one must."""
    if _names(record):
        return animal.name in record.who or animal.name.split()[0] in record.who
    words = {"animals", animal.group, "breathes_air" if animal.breathes_air else "breathes_water"}
    if animal.group != "fish":
        words.add("invertebrates")
    return set(record.who) <= words


def _resolved(record: LimitRecord, animal: Species, water: WaterState) -> list[Limit]:
    bounds = {"low": record.low, "high": record.high}
    conditions = record.conditions
    if record.rule:
        bounds["high"] = RULES[record.rule](water) * record.factor
        conditions = f"{said(record.rule, water)}; {conditions}"
    return [
        Limit(
            record.quantity, side, bound, record.unit, record.horizon, record.severity,
            (animal.name,), record.word, record.source, record.where, conditions,
            record.grade, record.note,
        )
        for side, bound in bounds.items() if bound is not None
    ]  # fmt: skip


def _comfort(animal: Species) -> list[Limit]:
    """Limits around the comfort ranges that the library gives for a species."""
    ranges = {
        "temperature": (animal.temperature_c, 1.0, KELVIN),
        "ph": (animal.ph, 1.0, 0.0),
        "gh": (animal.gh_dh, MEQ_PER_DEGREE, 0.0),
    }
    result = []
    for item in beyonds():
        value, factor, offset = ranges[item.quantity]
        if value is not None:
            result += _around(item, value, animal, factor, offset)
    return result


def _around(
    item: Beyond, value: Value, animal: Species, factor: float, offset: float
) -> list[Limit]:
    bounds = {
        "low": None if value.low is None else value.low * factor + offset - item.below,
        "high": None if value.high is None else value.high * factor + offset + item.above,
    }
    grade = item.grade if item.below or item.above else value.grade
    return [
        Limit(
            item.quantity, side, bound, item.unit, item.horizon, item.severity, (animal.name,),
            item.word, value.source, f"library of species: {animal.name}",
            f"comfort {_ends(value)}", grade, value.note,
        )
        for side, bound in bounds.items() if bound is not None and bound > 0.0
    ]  # fmt: skip


def _ends(value: Value) -> str:
    low = "" if value.low is None else f"from {value.low:g}"
    high = "" if value.high is None else f"to {value.high:g}"
    return " ".join(word for word in (low, high, value.unit.removeprefix("1")) if word)


def breaches(limits: Sequence[Limit], values: Mapping[str, float]) -> tuple[Breach, ...]:
    """Give the limits that values cross, gravest first; quantities not given are passed over."""
    crossed = [
        Breach(limit, values[limit.quantity])
        for limit in limits
        if limit.quantity in values and limit.is_crossed(values[limit.quantity])
    ]
    return tuple(sorted(crossed, key=lambda breach: -breach.limit.rank))


def conflicts(limits: Sequence[Limit]) -> tuple[tuple[Limit, Limit], ...]:
    """Give pairs of a low and a high limit of one kind that no value satisfies.

    They tell which animals present want different water.
    """
    lows = [limit for limit in limits if limit.side == "low"]
    return tuple(
        (low, high)
        for low in lows
        for high in limits
        if (high.side, high.quantity, high.severity) == ("high", low.quantity, low.severity)
        and low.value > high.value
    )


def state_of(crossed: Iterable[Breach]) -> str:
    """Give the worst severity among breaches: well when there is none."""
    worst = max((b.limit.rank for b in crossed), default=0)
    return next(s.name for s in SEVERITIES.values() if s.rank == worst)


def chance_of_crossing(limit: Limit, values: ArrayLike, weights: ArrayLike | None = None) -> Array:
    """Give the share of members (first axis) beyond a limit."""
    members = np.asarray(values, dtype=np.float64)
    beyond = members < limit.value if limit.side == "low" else members > limit.value
    n = len(members)
    shares = np.full(n, 1.0 / n) if weights is None else np.asarray(weights, dtype=np.float64)
    return np.asarray(np.tensordot(shares / shares.sum(), beyond.astype(np.float64), axes=1))


def caps_for(species: Iterable[str | Species], own: Sequence[OwnLimit] = ()) -> Caps:
    """Give how far an act may move the water of a tank in a day; also without animals."""
    present = [library().find_species(s) if isinstance(s, str) else s for s in species]
    return _caps(tuple(s for s in present if s.group in ANIMAL_GROUPS), tuple(own))


@lru_cache(maxsize=256)
def _caps(animals: tuple[Species, ...], own: tuple[OwnLimit, ...]) -> Caps:
    """The planner asks for the same animals at every plan that it tries."""
    steps = {
        limit.quantity: limit.value
        for limit in limits_for(animals or _any_animal(), own=own)
        if limit.severity == "act"
    }
    return Caps(steps["ec_step"], steps["ph_step"], steps["temperature_step"])


def _any_animal() -> list[Species]:
    return [s for s in library().species.values() if s.is_animal]
