"""What is believed of a tank: its own rates, learned from its record up to a moment."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.engine.start import OPENINGS
from pleuston.inference.belief import Diagnostics, Posterior, resample
from pleuston.inference.drift import filtered
from pleuston.inference.foretold import TAKEN, Foretold
from pleuston.inference.learn import learn
from pleuston.inference.pool import Own, pooled, pooled_laws, pooled_prior
from pleuston.inference.prior import Prior, Uncertain
from pleuston.inference.readings import (
    IntervalData,
    ReadingInterval,
    observation_model,
    observation_models,
)
from pleuston.inference.signs import breathing_readings, poison_readings
from pleuston.inference.slow_error import MODEL, RATE
from pleuston.inference.thinning import thinned
from pleuston.records.library import library
from pleuston.records.readings import interval
from pleuston.records.record import Entry, Record

MEMBERS = 200
LEARNING_MEMBERS = 96
FEW = 6
"""With fewer readings than this, what other tanks tell is the prior itself."""
LEARNED = (
    "light_factor", "evaporation_factor", "conductivity_factor", "gas_exchange_still",
    "feed_factor", "nitrification_capacity", "denitrification_velocity",
    "detritus_hydrolysis", "soil_mineralisation", "rooted_growth_max", "rooted_loss",
    "nitrite_oxidiser_half", "scale_growth", "soil_exchange", "soil_oxygen_demand",
)  # fmt: skip
"""Parameters of the model that a tank's own readings may move; the rest keep their records."""
PREDICTED: Mapping[str, str] = {
    "ammonium": "ammonium_concentration", "nitrite": "nitrite_concentration",
    "nitrate": "nitrate_concentration", "phosphate": "phosphate_concentration",
    "potassium": "potassium_concentration", "iron": "iron_concentration",
    "copper": "copper_concentration", "ph": "ph", "kh": "alkalinity_concentration", "gh": "gh",
    "ec25": "conductivity", "temperature": "temperature", "oxygen": "oxygen_concentration",
    "oxygen_saturation": "oxygen_percent", "cover": "canopy_cover", "level_drop": "level_drop",
}  # fmt: skip
"""Quantity of a reading -> the model's quantity that it reads."""
ERROR = "error_"
"""Before the name of a quantity: by how much a member's model is out in it, on the scale
that readings are compared on. It fades with the memory of the quantity's observation model."""
ERROR_RATE = "error_rate_"
"""Before the name of a quantity: what feeds that error, a day, where it has a trend."""
ERROR_STEP = "error_step_"
"""Before the name of a quantity: the part of that error that a step left, and that stays."""


@dataclass(frozen=True)
class TankBelief:
    """Members that agree with a tank's record up to `at`, with their states there.

    values: the learned numbers by name, and the model's slow errors (`error_ph`).
    parameters: (members, parameters); end: (members, states) at `at`; model and seed
    identify how it was made, with `others`, what other tanks told. own: what this one's
    readings alone tell other tanks.
    """

    case: Case
    at: float
    names: tuple[str, ...]
    values: Mapping[str, Array]
    parameters: Array
    start: Array
    end: Array
    diagnostics: Diagnostics
    readings: int
    model: str
    seed: int
    unused: tuple[str, ...]
    own: Own | None = None
    others: tuple[Own, ...] = ()

    def __len__(self) -> int:
        return len(self.parameters)

    @cached_property
    def errors_drawn(self) -> dict[tuple[str, bytes], Array]:
        """Slow errors drawn for outlooks, by output and days: the same for every plan tried."""
        return {}

    @cached_property
    def usual_courses(self) -> dict[int, dict[str, Array]]:
        """By days looked ahead: (days, members) of outputs whose change is doubted, habits going
        on."""
        return {}

    @cached_property
    def held_back(self) -> Array:
        """(members,) share of a doubted change that does not come about, evenly from 0 to 1."""
        return np.random.default_rng([self.seed, *b"held back"]).random(len(self))

    def error_ahead(self, quantity: str, days: ArrayLike) -> tuple[Array, Array]:
        """What each member will be out by some days from now, and the sd of what isn't known.

        Gives (days, members) and (days,), on the scale that readings are compared on.
        """
        model, ahead = observation_model(quantity), np.maximum(np.asarray(days, float), 0.0)
        now = self.values.get(ERROR + quantity)
        if now is None:
            whole = float(np.hypot(model.discrepancy, model.passing))
            return np.zeros((len(ahead), len(self))), np.full(len(ahead), whole)
        rate, step = (
            self.values.get(part + quantity, np.zeros(len(now)))
            for part in (ERROR_RATE, ERROR_STEP)
        )
        along, added = model.slow.over(ahead)
        fades = along[MODEL, MODEL][:, None] * (now - step) + along[MODEL, RATE][:, None] * rate
        known = fades + step
        return known, np.hypot(np.sqrt(np.maximum(added[MODEL, MODEL], 0.0)), model.passing)


def tank_prior(
    case: Case, names: Sequence[str] | None = None, until: float | None = None
) -> Prior:
    """The uncertain things of a tank: rates, its floating plants' growth, its start.

    until: the last day of the record; with it a tap's copper may have changed on any day.
    """
    wanted = list(names) if names is not None else [
        *LEARNED,
        *(f"{slot}_growth_max" for slot in case.plants.slots.values()),
        *OPENINGS,
    ]  # fmt: skip
    if names is None:
        wanted += [n for n, there in _surface(case) if there]
        piped = case.tank.top_up_water and case.maker.piped(0.0, case.tank.top_up_water) > 0.0
        wanted += ["source_copper", "pipe_copper"] if piped and until is not None else []
    kept = []
    for name in wanted:
        record = case.record_of(name)
        if record.law == "fixed":
            continue
        uncertain = Uncertain.of(name, record)
        if case.opening.young and name == "initial_concentration":
            uncertain = Uncertain(name, "lognormal", 1.0, spread=0.1, unit="1")
        kept.append(uncertain)
    if until is not None and "pipe_copper" in wanted:
        kept.append(Uncertain("pipe_copper_day", "uniform", 0.0, 0.0, until, unit="d"))
    return Prior(tuple(kept))


def _surface(case: Case) -> tuple[tuple[str, bool], ...]:
    """What else rules the exchange with the air, where it applies to this tank."""
    tank = case.tank
    return (
        ("gas_exchange_lid", tank.lid != "open"),
        ("gas_exchange_gentle", tank.flow == "gentle"),
        ("gas_exchange_strong", tank.flow == "strong"),
    )


def tank_readings(case: Case, until: float) -> tuple[list[tuple[ReadingInterval, str]], list[str]]:
    """(reading, name of the model's output) pairs up to a day, and what can't be used."""
    found: list[tuple[ReadingInterval, str]] = []
    unused: list[str] = []
    left = _left_by_harvests(case)
    for entry in case.record.entries_of(case.tank.name):
        day = case.clock.day(entry.at)
        if not 0.0 < day <= until or entry.tank != case.tank.name:
            continue
        made = [] if entry.id in left else _as_reading(case, entry, day)
        if made is None and entry.kind == "reading":
            unused.append(entry.what)
        found.extend(made or [])
    found = thinned(found)
    found.extend((r, "oxygen_concentration") for r in breathing_readings(case, until))
    found.extend((r, "copper_concentration") for r in poison_readings(case, until))
    return found, sorted(set(unused))


def _as_reading(
    case: Case, entry: Entry, day: float
) -> list[tuple[ReadingInterval, str]] | None:
    if entry.kind == "reading":
        read = interval(entry)
        output = PREDICTED.get(read.quantity)
        if output is None:
            return None
        return [(ReadingInterval.of(read, day, entry.method), output)]
    if entry.kind == "top_up" and entry.amount is not None:
        drop = entry.amount / 1000.0 / case.tank.surface_m2
        return [(ReadingInterval("level_drop", drop, drop, day), "level_drop")]
    if entry.kind == "harvest" and entry.amount:
        species = library().find_species(entry.what)
        slot = case.plants.slots.get(species.name, "rooted")
        mass = f"{slot}_fresh_mass"
        if slot != "rooted" and entry.id in case.maker.left:
            grown = ReadingInterval("harvest", entry.amount, entry.amount, day, "eye")
            return [(grown, TAKEN + mass)]
        return [(ReadingInterval("harvest", entry.amount, None, day), mass)]
    return None


def stream_of(reading: ReadingInterval, output: str) -> str:
    """What a reading shares the model's slow error by."""
    return output if reading.quantity == "harvest" else reading.quantity


def _left_by_harvests(case: Case) -> set[str]:
    """Readings of cover that say what a harvest left: the run already starts anew from them."""
    floating = {
        e.id for e in case.record.entries_of(case.tank.name, kind="harvest")
        if library().find_species(e.what).group == "floating"
    }  # fmt: skip
    return {e.id for harvest, e in case.maker.left.items() if harvest in floating}


@dataclass(frozen=True)
class Task:
    """What there is to learn of a tank: its prior, its readings, and what members would read."""

    case: Case
    until: float
    prior: Prior
    pairs: Sequence[tuple[ReadingInterval, str]]
    data: IntervalData
    unused: tuple[str, ...]
    threads: int | None

    def forward(self, prior: Prior) -> Callable[[Array], Array]:
        """What members with values of a prior's numbers would have read."""
        return _forward(self.case, prior, self.pairs, self.until, self.threads)


def tank_task(
    record: Record, name: str, at: datetime, *, threads: int | None = None,
    names: Sequence[str] | None = None,
) -> Task:  # fmt: skip
    """Gather what there is to learn of a tank from its record up to `at`.

    names: the numbers to learn, the usual ones when None.
    """
    case = tank_case(record, name, at)
    until = max(case.clock.day(at), 1.0 / 24.0)
    pairs, unused = tank_readings(case, until)
    data = IntervalData.of([r for r, _ in pairs], [stream_of(r, out) for r, out in pairs])
    prior = tank_prior(case, names, until)
    return Task(case, until, prior, pairs, data, tuple(unused), threads)


@dataclass(frozen=True)
class Learned:
    """A tank's rates as its own readings alone tell them, and how they were learned."""

    task: Task
    posterior: Posterior
    own: Own
    seed: int
    learning: int


def learn_rates(
    record: Record, name: str, at: datetime, *, seed: int = 1, learning: int = LEARNING_MEMBERS,
    threads: int | None = None, from_prior: bool = False,
    taken: Callable[[IntervalData], IntervalData] | None = None,
    progress: Callable[[float], None] | None = None, cancel: Callable[[], bool] | None = None,
) -> Learned:  # fmt: skip
    """Learn a tank's rates from its own record up to `at`; `believed` makes members of them.

    from_prior: leave the readings unused. taken: takes readings in another way than as they
    are, to see what that is worth (inference/without.py).
    """
    task = tank_task(record, name, at, threads=threads)
    if from_prior:
        task = replace(task, pairs=(), data=IntervalData.of([]))
    if taken is not None:
        task = replace(task, data=taken(task.data))
    posterior = learn(
        task.prior, task.forward(task.prior), task.data, members=learning, seed=seed,
        progress=progress, cancel=cancel,
    )  # fmt: skip
    return Learned(task, posterior, Own.of(task.case, posterior), seed, learning)


def believed(
    learned: Learned, others: Sequence[Own] = (), *, members: int = MEMBERS,
    cancel: Callable[[], bool] | None = None,
) -> TankBelief:  # fmt: skip
    """Members that agree with a tank's record and with what other tanks tell, where it stands now.

    others: what the readings of other tanks tell, of this moment or earlier.
    """
    task, seed = learned.task, learned.seed
    heard = tuple(o for o in others if o.tank != task.case.tank.name)
    posterior = _with_help(learned, heard, cancel)
    drawn = resample(posterior, members, seed)
    values = dict(zip(posterior.prior.names, drawn.physical.T, strict=True))
    values |= _slow_errors(task.data, drawn, task.until, seed)
    values, end = _brought_up(task.case, values, members, task.until, task.threads)
    case = task.case
    return TankBelief(
        case, task.until, tuple(values), values, case.parameters(values, members),
        case.start(values, members), end, posterior.diagnostics, len(task.pairs),
        case.table.hash, seed, task.unused, learned.own, heard,
    )  # fmt: skip


def _with_help(
    learned: Learned, others: Sequence[Own], cancel: Callable[[], bool] | None
) -> Posterior:
    """Other tanks' help as weights; where few readings leave members far off, as the prior."""
    task = learned.task
    laws = pooled_laws(task.case, task.prior, others)
    if not laws:
        return learned.posterior
    if len(task.pairs) >= FEW:
        return pooled(learned.posterior, laws)
    prior = pooled_prior(task.prior, laws)
    made = learn(prior, task.forward(prior), task.data, members=learned.learning,
                 seed=learned.seed, cancel=cancel)  # fmt: skip
    return replace(made, diagnostics=replace(made.diagnostics, pooled=1.0))


def learn_tank(
    record: Record, name: str, at: datetime, *, seed: int = 1, members: int = MEMBERS,
    learning: int = LEARNING_MEMBERS, threads: int | None = None, from_prior: bool = False,
    others: Sequence[Own] = (),
    progress: Callable[[float], None] | None = None, cancel: Callable[[], bool] | None = None,
) -> TankBelief:  # fmt: skip
    """Learn a tank's rates from its record up to `at`, and bring the members there.

    from_prior: leave the readings unused. others: what other tanks' own readings tell, which
    this one borrows from (partial pooling). Raises PleustonError when the record can't be
    run or the learning was cancelled.
    """
    learned = learn_rates(
        record, name, at, seed=seed, learning=learning, threads=threads, from_prior=from_prior,
        progress=progress, cancel=cancel,
    )  # fmt: skip
    return believed(learned, others, members=members, cancel=cancel)


def _slow_errors(data: IntervalData, drawn: Posterior, until: float, seed: int) -> dict[str, Array]:
    """By `error_name` of the quantity: the model's slow error of each member by now."""
    if drawn.predicted is None or not len(data):
        return {}
    drifts = filtered(data, data.scaled(drawn.predicted)).drifts
    found = {}
    for name, drift in drifts.items():
        model = observation_models().get(name)
        if model is None or model.discrepancy <= 0.0:
            continue
        off, rate, step = drift.drawn(until, np.random.default_rng([seed, *name.encode()]))
        found[ERROR + name] = off + step
        if model.trend > 0.0:
            found[ERROR_RATE + name], found[ERROR_STEP + name] = rate, step
    return found


def _forward(
    case: Case, prior: Prior, pairs: Sequence[tuple[ReadingInterval, str]], until: float,
    threads: int | None,
) -> Callable[[Array], Array]:  # fmt: skip
    """What members would have read: (members, parameters) -> (members, readings)."""
    asked = Foretold(case, pairs, until, threads)
    schedule = asked.schedule(0.0, until)

    def forward(physical: Array) -> Array:
        values, members = dict(zip(prior.names, physical.T, strict=True)), len(physical)
        run = asked.run(schedule, case.start(values, members), case.parameters(values, members))
        predicted = np.empty((members, len(pairs)))
        asked.put(run, 0.0, until, predicted)
        return predicted

    return forward


def _brought_up(
    case: Case, values: Mapping[str, Array], members: int, until: float, threads: int | None
) -> tuple[dict[str, Array], Array]:
    """Run members to `until`; those that fail are replaced by ones that go through."""
    last = run_tank(
        case.schedule(0.0, until, [until]), case.start(values, members),
        case.parameters(values, members), outputs=[], scale=case.scale, tolerance=INTERACTIVE,
        threads=threads,
    )  # fmt: skip
    take = np.arange(members)
    if not last.good.all():
        take = np.where(last.good, take, np.resize(np.flatnonzero(last.good), members))
    return {n: v[take] for n, v in values.items()}, last.end[take]
