"""Look ahead from a belief: daily ranges of every quantity, and limits that may be crossed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from pleuston.engine.case import Case
from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.readings import observation_model, observation_models, with_slow_error
from pleuston.inference.tank import TankBelief
from pleuston.planning.habits import Habits, future_events, habits_of, share_each
from pleuston.planning.limits import Limit, WaterState, limits_for
from pleuston.records.library import Species, library
from pleuston.records.own_limits import OwnLimit, own_limits

SHARES = {
    "p02.5": 0.025, "p10": 0.1, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p90": 0.9, "p97.5": 0.975,
}  # fmt: skip
DH = 1.0 / 0.356652


@dataclass(frozen=True)
class Shown:
    """A quantity of the outlook: the model's output, its unit and scale, the reading it is."""

    output: str
    unit: str
    scale: float = 1.0
    shift: float = 0.0
    reading: str = ""


SHOWN: Mapping[str, Shown] = {
    "ammonium": Shown("ammonium_concentration", "mg/L", reading="ammonium"),
    "ammonium_ion": Shown("ammonium_concentration", "mg/L", 18.039 / 14.007, reading="ammonium"),
    "nitrite": Shown("nitrite_concentration", "mg/L", reading="nitrite"),
    "nitrite_ion": Shown("nitrite_concentration", "mg/L", 46.005 / 14.007, reading="nitrite"),
    "nitrate": Shown("nitrate_concentration", "mg/L", reading="nitrate"),
    "nitrate_ion": Shown("nitrate_concentration", "mg/L", 62.004 / 14.007, reading="nitrate"),
    "phosphate_ion": Shown("phosphate_concentration", "mg/L", 94.97 / 30.974, reading="phosphate"),
    "potassium": Shown("potassium_concentration", "mg/L", reading="potassium"),
    "iron": Shown("iron_concentration", "mg/L", reading="iron"),
    "copper": Shown("copper_concentration", "mg/L", reading="copper"),
    "ph": Shown("ph", "", reading="ph"),
    "kh": Shown("alkalinity_concentration", "dH", DH, reading="kh"),
    "gh": Shown("gh", "dH", DH, reading="gh"),
    "ec25": Shown("conductivity", "uS/cm", reading="ec25"),
    "temperature": Shown("temperature", "C", shift=-273.15, reading="temperature"),
    "oxygen": Shown("oxygen_concentration", "mg/L", reading="oxygen"),
    "oxygen_pct": Shown("oxygen_percent", "%", 100.0, reading="oxygen_saturation"),
    "oxygen_dawn": Shown("lowest_oxygen_concentration", "mg/L", reading="oxygen"),
    "cover": Shown("canopy_cover", "%", 100.0, reading="cover"),
    "level_drop": Shown("level_drop", "mm", 1000.0),
    "ammonia_nh3": Shown("ammonia_concentration", "mg/L"),
    "dissolved_solids": Shown("dissolved_solids", "mg/L", reading="ec25"),
}
"""What an outlook shows, named as readings are, as an instrument without fault would show it."""
FROM_MODEL: Mapping[str, Callable[[float], float]] = {
    "kh": lambda v: v * DH, "gh": lambda v: v * DH, "temperature": lambda v: v - 273.15,
    "cover": lambda v: v * 100.0,
}  # fmt: skip
LENGTHS: Mapping[str, int] = {"hour": 1, "day": 1, "week": 7, "month": 28}
"""Days over which limits of each horizon judge a mean."""


@dataclass(frozen=True)
class Ahead:
    """Members run ahead: times [d], the trajectory, and the habits they went by."""

    belief: TankBelief
    times: Array
    run: Trajectory
    habits: Habits

    def values(self, name: str) -> Array:
        """(days, members) of one shown quantity, in its shown unit."""
        shown = SHOWN[name]
        raw = self.run.of(shown.output) * shown.scale + shown.shift
        if name == "ammonia_nh3":
            total = self.run.of(SHOWN["ammonium"].output)
            return np.asarray(raw * self.values("ammonium") / np.maximum(total, 1e-9))
        return with_model_error(raw, shown, self.belief, self.times - self.belief.at)

    def judged(self, name: str, horizon: str = "day") -> Array:
        """(days, members) of what a limit of this horizon judges.

        Of ammonia the highest of each day, of pH and temperature the middle of the day;
        limits for weeks and months judge the mean over their length so far.
        """
        values = self.values(name)
        output = SHOWN[name].output
        if name == "ammonia_nh3":
            now = np.maximum(self.run.of(output), 1e-12)
            values = values * (self.run.of(f"highest_{output}") / now)
        elif name in ("ph", "temperature"):
            middle = 0.5 * (self.run.of(f"lowest_{output}") + self.run.of(f"highest_{output}"))
            values = values + middle - self.run.of(output)
        return trailing_mean(values, LENGTHS[horizon])

    def crossed(self, limit: Limit) -> np.ndarray:
        """(days, members): whether a limit is crossed."""
        return beyond(limit, self.judged(limit.quantity, limit.horizon))

    def crossed_each(self, limits: Iterable[Limit]) -> Iterator[tuple[Limit, np.ndarray]]:
        """Each limit with (days, members) whether it is crossed; what is judged is made once."""
        held: dict[tuple[str, str], Array] = {}
        for limit in limits:
            key = (limit.quantity, limit.horizon)
            if key not in held:
                held[key] = self.judged(*key)
            yield limit, beyond(limit, held[key])


def beyond(limit: Limit, values: Array) -> np.ndarray:
    """Whether values, as they are shown, lie beyond a limit."""
    value = shown_bound(limit)
    return np.asarray(values < value if limit.side == "low" else values > value)


def trailing_mean(values: Array, days: int) -> Array:
    """Mean of each day and those before it, at most `days` of them.

    >>> trailing_mean(np.array([[1.0], [3.0], [8.0]]), 2).ravel().tolist()
    [1.0, 2.0, 5.5]
    """
    if days <= 1:
        return values
    total = np.cumsum(values, axis=0)
    total[days:] = total[days:] - np.cumsum(values, axis=0)[:-days]
    count = np.minimum(np.arange(1, len(values) + 1), days)[:, None]
    return np.asarray(total / count)


def shown_bound(limit: Limit) -> float:
    """The value of a limit in the unit its quantity is shown in."""
    turn = FROM_MODEL.get(limit.quantity)
    return turn(limit.value) if turn is not None else limit.value


def run_ahead(
    belief: TankBelief, days: int, habits: Habits | None = None, *,
    threads: int | None = None, extents: bool = False, members: int | None = None,
) -> Ahead:  # fmt: skip
    """Run the members of a belief onward, the keeper going on by these habits."""
    case = belief.case
    usual = habits_of(case, belief.at)
    habits = usual if habits is None else habits
    times = belief.at + np.arange(1, days + 1, dtype=float)
    events = future_events(case, belief.at, days, habits)
    schedule = case.schedule(belief.at, belief.at + days, times, events=events)
    names = sorted(
        {s.output for s in SHOWN.values() if not s.output.startswith(("lowest_", "highest_"))}
        | {f"{slot}_{what}" for slot in case.plants.models for what in ("fresh_mass", "cover")}
        | {"dissolved_carbon_concentration", "chloride_concentration"}
    )
    take = slice(None) if members is None else slice(0, members)
    run = run_tank(
        schedule, belief.end[take], belief.parameters[take], outputs=names,
        scale=case.scale, tolerance=INTERACTIVE, threads=threads, extents=extents,
    )  # fmt: skip
    if habits == usual and members is None:
        belief.usual_courses[days] = {output: run.of(output) for output in _doubted_outputs()}
    return Ahead(belief, times, run, habits)


@cache
def _doubted_outputs() -> frozenset[str]:
    models = observation_models()
    return frozenset(s.output for s in SHOWN.values()
                     if s.reading in models and models[s.reading].doubted)  # fmt: skip


def change_held_back(belief: TankBelief, reading: str, output: str, ahead: Array) -> Array:
    """(days, members) of the change that the model expects, habits going on, but is doubted.

    On the scale that readings are compared on, counted from tomorrow. Each member holds back
    its own share, the same on all days and under every plan: what a plan does is not doubted.
    One that does not get through the usual course holds nothing back.
    """
    model = observation_model(reading)
    if not model.doubted:
        return np.zeros((len(ahead), len(belief)))
    days = max(int(np.ceil(np.max(ahead))), 1)
    if days not in belief.usual_courses:
        run_ahead(belief, days)
    course = model.scaled(belief.usual_courses[days][output])
    at = np.clip(np.asarray(ahead, dtype=float), 1.0, len(course)) - 1.0
    before, part = np.floor(at).astype(int), (at % 1.0)[:, None]
    after = np.minimum(before + 1, len(course) - 1)
    there = (1.0 - part) * course[before] + part * course[after]
    change = there - course[0]
    through = np.isfinite(change).all(axis=0)
    return np.where(through, belief.held_back * change, 0.0)


def with_model_error(values: Array, shown: Shown, belief: TankBelief, ahead: Array) -> Array:
    """Add to members what the model itself leaves out: as its readings tell, fading since.

    values: (days, members); ahead: days from the belief to each. What is not known of the
    error is drawn once for each member, so that days and plans compare like with like. Of a
    change that is doubted a part is taken off again.
    """
    model = observation_models().get(shown.reading)
    if model is None:
        return values
    key = (shown.output, np.asarray(ahead, dtype=float).tobytes())
    error = belief.errors_drawn.get(key)
    if error is None:
        rng = np.random.default_rng([belief.seed, *shown.output.encode()])
        known, left = belief.error_ahead(shown.reading, ahead)
        error = known + left[:, None] * rng.standard_normal(len(belief))
        error -= change_held_back(belief, shown.reading, shown.output, ahead)
        belief.errors_drawn[key] = error
    return with_slow_error(shown.reading, values, error[:, : values.shape[1]], shown.scale)


def animals_of(case: Case, until: float) -> dict[Species, float]:
    """Animals present on a day, with their number, from what came, was born, left and died."""
    number: dict[Species, float] = {}
    signs = {"stock_in": 1.0, "birth": 1.0, "stock_out": -1.0, "death": -1.0}
    for entry in case.record.entries_of(case.tank.name, kind=signs):
        if case.clock.day(entry.at) <= until and entry.amount is not None:
            species = library().find_species(entry.what)
            number[species] = number.get(species, 0.0) + signs[entry.kind] * entry.amount
    return {s: n for s, n in number.items() if n >= 0.5}


def own_of(belief: TankBelief) -> tuple[OwnLimit, ...]:
    """The keeper's own limits in force at the moment of a belief."""
    case = belief.case
    return own_limits(case.record, case.tank.name, case.clock.moment(belief.at))


def limits_of(
    ahead: Ahead, present: Mapping[Species, float] | None = None
) -> tuple[Limit, ...]:
    """The limits of the animals present, or of others given, for this water; own ones count."""
    run = ahead.run

    def middle(name: str) -> float:
        return float(np.median(run.of(name)[0]))

    water = WaterState(
        temperature=middle("temperature"), ph=middle("ph"), gh=middle("gh"),
        chloride=middle("chloride_concentration"),
        dissolved_carbon=middle("dissolved_carbon_concentration"),
    )  # fmt: skip
    if present is None:
        present = animals_of(ahead.belief.case, ahead.belief.at)
    return tuple(
        limit for limit in limits_for(present, water, own_of(ahead.belief))
        if limit.quantity in SHOWN
    )  # fmt: skip


def harvestable(ahead: Ahead) -> dict[str, Array]:
    """(days, members) drained grams above the tank's cover target, by floating species."""
    case = ahead.belief.case
    moment = case.clock.moment(ahead.belief.at)
    target = case.record.tank_at(case.tank.name, moment).cover_target
    kept = target if target is not None else 0.4
    each = share_each(kept, len(case.plants.slots))
    result = {}
    for species, slot in case.plants.slots.items():
        cover = np.clip(ahead.run.of(f"{slot}_cover"), 1e-9, 1.0 - 1e-9)
        mass = ahead.run.of(f"{slot}_fresh_mass")
        left = np.log(1.0 - each) / np.log(1.0 - cover)
        result[species] = mass * np.clip(1.0 - left, 0.0, 1.0)
    return result


def crossings(ahead: Ahead, limits: tuple[Limit, ...]) -> list[dict[str, Any]]:
    """For each limit that may be crossed: the chance, and the first days of a 20th and a half."""
    found = []
    for limit in limits:
        turn = FROM_MODEL.get(limit.quantity)
        value = turn(limit.value) if turn is not None else limit.value
        values = ahead.judged(limit.quantity)
        over = values < value if limit.side == "low" else values > value
        ever = np.logical_or.accumulate(over, axis=0).mean(axis=1)
        if ever[-1] < 0.01:
            continue
        found.append(
            {
                "limit": limit.name, "quantity": limit.quantity, "side": limit.side,
                "value": round(value, 6), "unit": SHOWN[limit.quantity].unit,
                "severity": limit.severity, "word": limit.word, "icon": limit.icon,
                "first_day_p5": _first(ever, 0.05), "first_day_p50": _first(ever, 0.5),
                "chance": round(float(ever[-1]), 4), "who": list(limit.who),
                "source": limit.source, "where": limit.where, "grade": limit.grade,
                "own": limit.own,
            }
        )  # fmt: skip
    return found


def _first(ever: Array, share: float) -> int | None:
    reached = np.flatnonzero(ever >= share)
    return int(reached[0]) + 1 if len(reached) else None


def ranges(values: Array, unit: str, times: list[str]) -> dict[str, Any]:
    """The ranges of a quantity as data."""
    made = np.quantile(values, list(SHARES.values()), axis=1)
    rows = {n: [round(float(v), 6) for v in row] for n, row in zip(SHARES, made, strict=True)}
    return {"unit": unit, "times": times, **rows}


def outlook_of(belief: TankBelief, days: int, *, threads: int | None = None) -> dict[str, Any]:
    """The outlook of a tank as data, the keeper going on as before."""
    return outlook_data(run_ahead(belief, days, threads=threads))


def outlook_data(ahead: Ahead) -> dict[str, Any]:
    """The outlook of members run ahead, as data."""
    belief = ahead.belief
    clock = belief.case.clock
    local = belief.case.record.local
    times = [local(clock.moment(float(t))).isoformat(timespec="minutes") for t in ahead.times]
    quantities = {n: ranges(ahead.values(n), s.unit, times) for n, s in SHOWN.items()}
    for species, grams in harvestable(ahead).items():
        quantities[f"harvestable_g {species}"] = ranges(grams, "g", times)
    return {
        "tank": belief.case.tank.name,
        "at": local(clock.moment(belief.at)).isoformat(timespec="minutes"),
        "model": belief.model,
        "seed": belief.seed,
        "readings": belief.readings,
        "quantities": quantities,
        "crossings": crossings(ahead, limits_of(ahead)),
    }
