"""Answers over a rack: outlook, ledger, round, run. One function is one use case.

Tanks are answered side by side. A tank that can't be answered says why, and the others
still answer. Beliefs of this process are kept by what they were made from.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.base.errors import PleustonError
from pleuston.inference.pool import Own
from pleuston.inference.tank import (
    FEW,
    Learned,
    TankBelief,
    believed,
    learn_rates,
    learn_tank,
)
from pleuston.planning.explain import with_drivers
from pleuston.planning.ledger import ledger
from pleuston.planning.outlook import outlook_data, outlook_of, run_ahead
from pleuston.planning.round import round_data
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.planning.uncomputed import cannot
from pleuston.records.record import Record
from pleuston.services.carry import carried_over, rounds_before
from pleuston.services.kit_steps import gauges_of
from pleuston.services.racks import Source, fingerprint, open_rack, parse_moment

Key = tuple[str, str, str, int]
_LEARNED: dict[Key, Learned | PleustonError] = {}
_BELIEFS: dict[tuple[Key, bool], TankBelief] = {}
_LOCK = threading.Lock()
KEPT = 64


def belief_of(
    rack: Source, record: Record, tank: str, at: datetime, seed: int, threads: int | None = None,
    whole: bool = False,
) -> TankBelief:  # fmt: skip
    """The belief of a tank, learned once for the same record, moment and seed.

    whole: all tanks are asked for, and each borrows from the others. One by itself is learned
    from its own record, which is quicker, unless that holds too few readings.
    """
    key = (fingerprint(rack), tank, at.isoformat(), seed)
    with _LOCK:
        found = _BELIEFS.get((key, whole))
    if found is None:
        learned = _learned(key, record, at, threads)
        helped = whole or len(learned.task.pairs) < FEW
        others = _others(key, record, at, threads) if helped else []
        found = believed(learned, others)
        _keep(_BELIEFS, (key, whole), found)
    return found


def learn_all(rack: Source, record: Record, at: datetime, seed: int) -> None:
    """Learn all tanks from their own records, side by side."""
    mark = fingerprint(rack)

    def one(name: str) -> None:
        with suppress(PleustonError):  # said again, where the tank is asked for
            _learned((mark, name, at.isoformat(), seed), record, at, 1)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(one, [t.name for t in record.until(at).tanks]))


def _learned(key: Key, record: Record, at: datetime, threads: int | None) -> Learned:
    """What a tank's own readings tell; raises again what its learning raised."""
    with _LOCK:
        found = _LEARNED.get(key)
    if found is None:
        try:
            found = learn_rates(record, key[1], at, seed=key[3], threads=threads)
        except PleustonError as error:
            found = error
        _keep(_LEARNED, key, found)
    if isinstance(found, PleustonError):
        raise found
    return found


def _others(key: Key, record: Record, at: datetime, threads: int | None) -> list[Own]:
    """What all other tanks tell one."""
    found = []
    mark, tank, moment, seed = key
    for name in (t.name for t in record.until(at).tanks if t.name != tank):
        with suppress(PleustonError):
            found.append(_learned((mark, name, moment, seed), record, at, threads).own)
    return found


def _keep(kept: dict[Any, Any], key: Any, found: Any) -> None:
    with _LOCK:
        while len(kept) >= KEPT:
            kept.pop(next(iter(kept)))
        kept[key] = found


def each_tank(
    record: Record, at: datetime, tank: str, answer: Callable[[str, int | None], dict[str, Any]],
    failed: Callable[[str, str], dict[str, Any]],
) -> list[dict[str, Any]]:  # fmt: skip
    """The answer of one tank, or of all side by side."""
    if tank:
        record.tank(tank)
        return [answer(tank, None)]
    names = [t.name for t in record.until(at).tanks]

    def safe(name: str) -> dict[str, Any]:
        try:
            return answer(name, 1)
        except PleustonError as error:
            return failed(name, str(error))

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        return list(pool.map(safe, names))


def _failed(name: str, why: str) -> dict[str, Any]:
    return {"tank": name, "error": why}


def outlook_answer(rack: Source, tank: str, at: str, days: int, seed: int) -> Any:
    """Look ahead: one tank's outlook, or a list over all tanks."""
    record = open_rack(rack)
    moment = parse_moment(at, record)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        belief = belief_of(rack, record, name, moment, seed, threads, whole=not tank)
        ahead = run_ahead(belief, days, threads=threads, extents=True)
        return with_drivers(ahead, outlook_data(ahead))

    if not tank:
        learn_all(rack, record, moment, seed)
    made = each_tank(record, moment, tank, answer, _failed)
    return made[0] if tank else made


def ledger_answer(
    rack: Source, tank: str, element: str, since: str, until: str, at: str, seed: int
) -> Any:
    """The ledger of an element: of one tank, or a list over all tanks."""
    record = open_rack(rack)
    end = parse_moment(until or at, record)
    if until and at:
        end = min(end, parse_moment(at, record))
    start = parse_moment(since, record) if since else end - timedelta(days=28)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        belief = belief_of(rack, record, name, end, seed, threads, whole=not tank)
        first = max(0.0, belief.case.clock.day(start))
        return ledger(belief, element, min(first, belief.at - 1.0 / 24.0), belief.at)

    if not tank:
        learn_all(rack, record, end, seed)
    made = each_tank(record, end, tank, answer, _failed)
    return made[0] if tank else made


def round_answer(
    rack: Source, at: str, seed: int, report: Path | None = None, minutes: float | None = None
) -> dict[str, Any]:
    """This week's round over all tanks; also as an HTML report when a file is named.

    minutes: the keeper's; the rack's own setting, or the usual ones, where None is given.
    """
    record = open_rack(rack)
    moment = parse_moment(at, record)
    views: dict[str, Any] = {}
    gauges, before = gauges_of(rack), rounds_before(rack, moment)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        belief = belief_of(rack, record, name, moment, seed, threads, whole=True)
        view = view_of(belief, threads, gauges)
        views[name] = view
        return carried_over(tank_round(view), before.get(name), record, moment)

    def failed(name: str, why: str) -> dict[str, Any]:
        return cannot(record, name, moment, why)

    learn_all(rack, record, moment, seed)
    parts = each_tank(record, moment, "", answer, failed)
    given = record.rack.round_minutes if minutes is None else minutes
    made = round_data(parts, record.local(moment), given)
    if report is not None:
        from pleuston.reports.round_report import write_round_report

        write_round_report(report, record, made, views)
    return made


def run_answer(
    rack: Source, tank: str, at: str, days: int, members: int, seed: int
) -> dict[str, Any]:
    """Run a tank from literature priors alone, its readings unused."""
    record = open_rack(rack)
    moment = parse_moment(at, record)
    record.tank(tank)
    belief = learn_tank(record, tank, moment, seed=seed, members=members, from_prior=True)
    return outlook_of(belief, days)
