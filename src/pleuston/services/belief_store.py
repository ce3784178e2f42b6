"""Beliefs as bytes, what they are made from, and learning only what is not known yet.

A belief holds the learned values and the members' states; all else of it comes from the
record again. With the same record and model it is only brought up to a later moment.
"""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pleuston.base.errors import EngineError
from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.run import run_tank
from pleuston.inference.belief import Diagnostics
from pleuston.inference.pool import Own
from pleuston.inference.tank import LEARNING_MEMBERS, MEMBERS, TankBelief, learn_tank
from pleuston.records.record import Record
from pleuston.services.kinds import Effort
from pleuston.services.model_stamp import model_now
from pleuston.store.beliefs import MadeFrom, last_belief, last_beliefs, put_belief
from pleuston.store.session import Database

FORM = 2
"""Form of the bytes; others are not read."""
MOVED_MOST = timedelta(days=7)
"""How far a belief is brought up before it is learned anew: what readings told of the model's
own error has faded by then."""
LEAST_AGE = 1.0 / 24.0
"""Days of record that a belief spans at least."""


def to_bytes(belief: TankBelief) -> bytes:
    """A belief as bytes, from which `from_bytes` gives the same again."""
    told = {
        "form": FORM, "tank": belief.case.tank.name, "at": belief.at, "names": belief.names,
        "diagnostics": asdict(belief.diagnostics), "readings": belief.readings,
        "model": belief.model, "seed": belief.seed, "unused": belief.unused,
        "states": belief.case.table.states,
        "own": belief.own and belief.own.data(), "others": [o.data() for o in belief.others],
    }  # fmt: skip
    held = {
        "told": np.frombuffer(json.dumps(told).encode(), dtype=np.uint8),
        "values": np.array([belief.values[n] for n in belief.names], dtype=np.float64),
        "end": np.asarray(belief.end, dtype=np.float64),
    }
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, **held)  # type: ignore[arg-type]
    return buffer.getvalue()


def from_bytes(data: bytes, case: Case) -> TankBelief:
    """The belief that was made bytes, on the case of its record up to the same moment.

    Raises EngineError when it is of another tank or model.
    """
    with np.load(io.BytesIO(data), allow_pickle=False) as held:
        told: dict[str, Any] = json.loads(held["told"].tobytes())
        values, end = held["values"], held["end"]
    fits = (FORM, case.tank.name, case.table.hash, list(case.table.states))
    if (told["form"], told["tank"], told["model"], told["states"]) != fits:
        raise EngineError(
            "the belief kept is of another tank or model", where=f"tank {case.tank.name}",
            remedy="Let it be learned again",
        )  # fmt: skip
    named = dict(zip(told["names"], values, strict=True))
    diagnostics = told["diagnostics"]
    for several in ("misread", "informed"):
        diagnostics[several] = tuple(diagnostics[several])
    return TankBelief(
        case, told["at"], tuple(told["names"]), named, case.parameters(named, len(end)),
        case.start(named, len(end)), end, Diagnostics(**diagnostics), told["readings"],
        told["model"], told["seed"], tuple(told["unused"]),
        Own.read(told["own"]) if told["own"] else None,
        tuple(Own.read(o) for o in told["others"]),
    )  # fmt: skip


def own_of(data: bytes) -> Own | None:
    """What a kept belief's own readings tell other tanks; None where its form is another."""
    with np.load(io.BytesIO(data), allow_pickle=False) as held:
        told: dict[str, Any] = json.loads(held["told"].tobytes())
    return Own.read(told["own"]) if told["form"] == FORM and told["own"] else None


def others_of(db: Database, tank: str, at: datetime, seed: int) -> list[Own]:
    """What the beliefs kept of other tanks tell this one: of this moment or earlier."""
    with db.read() as connection:
        rows = last_beliefs(connection, at, model_now(), seed)
    found = [own_of(row.members) for row in rows if row.tank != tank]
    return [own for own in found if own is not None]


def grades_of(case: Case) -> str:
    """JSON: how many of the parameters that this tank runs on are of each grade."""
    own = set(case.constants) | set(case.opening.parameters)
    counted = Counter(
        case.record_of(name).grade for name in case.table.parameters if name not in own
    )
    return json.dumps(dict(sorted(counted.items())))


def brought_up(belief: TankBelief, case: Case, at: datetime, threads: int | None) -> TankBelief:
    """The same belief at another moment: the same values, run through the record up to then."""
    until = max(case.clock.day(at), LEAST_AGE)
    if abs(until - belief.at) < 1e-9:
        return belief
    members = len(belief)
    parameters, start = case.parameters(belief.values, members), case.start(belief.values, members)
    run = run_tank(
        case.schedule(0.0, until, [until]), start, parameters, outputs=[], scale=case.scale,
        tolerance=INTERACTIVE, threads=threads,
    )  # fmt: skip
    good = np.flatnonzero(run.good)
    take = np.arange(members)
    if not len(good):
        raise EngineError(
            "no member goes through the record", where=f"tank {case.tank.name}",
            remedy="Look at its last entries",
        )  # fmt: skip
    take = np.where(run.good, take, np.resize(good, members))
    return replace(
        belief, case=case, at=until, values={n: v[take] for n, v in belief.values.items()},
        parameters=parameters[take], start=start[take], end=run.end[take],
    )  # fmt: skip


def kept_belief(
    db: Database, record: Record, tank: str, at: datetime, record_hash: str, effort: Effort
) -> TankBelief | None:
    """The belief kept of a tank, at this moment; None where record, model or seed are others.

    None, too, where its moment lies after this one or more than `MOVED_MOST` before it, or
    where something of the record happened in between that it did not learn from.
    """
    with db.read() as connection:
        row = last_belief(connection, tank)
    if row is None or (row.model, row.record, row.seed) != (model_now(), record_hash, effort.seed):
        return None
    between = any(row.at < entry.at <= at for entry in record.entries_of(tank))
    if between or not row.at <= at <= row.at + MOVED_MOST:
        return None
    try:
        before = from_bytes(row.members, tank_case(record, tank, row.at))
    except EngineError:
        return None
    if len(before) != (effort.members or MEMBERS):
        return None
    return brought_up(before, tank_case(record, tank, at), at, effort.threads)


def belief_for(
    db: Database, record: Record, tank: str, at: datetime, record_hash: str, effort: Effort,
    now: datetime, progress: Callable[[float], None] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> tuple[TankBelief, MadeFrom]:  # fmt: skip
    """What is believed of a tank at a moment: as kept, brought up, or learned and kept.

    What is learned borrows from what other tanks' kept beliefs tell, and keeps that beside it.
    Raises PleustonError when the record can't be run, or the learning was cancelled.
    """
    found = kept_belief(db, record, tank, at, record_hash, effort)
    learned = found is None
    if found is None:
        found = learn_tank(
            record, tank, at, seed=effort.seed, members=effort.members or MEMBERS,
            learning=effort.learning or LEARNING_MEMBERS, threads=effort.threads,
            others=others_of(db, tank, at, effort.seed),
            progress=progress, cancel=cancel,
        )  # fmt: skip
    made = MadeFrom(at, model_now(), effort.seed, record_hash, grades_of(found.case), now)
    if learned:
        with db.write() as connection:
            put_belief(connection, tank, made, to_bytes(found))
    return found, made
