"""What to test this week over a rack: the readings that tell most for the choice at hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pleuston.planning.fit import USUAL_MINUTES
from pleuston.store import beliefs as rows
from pleuston.store import catalogue
from pleuston.store.session import Database

if TYPE_CHECKING:
    from pleuston.records.record import Record


def due_data(
    parts: Iterable[Mapping[str, Any]], at: str, minutes: float
) -> dict[str, Any]:
    """The tests that fit into the minutes, most valuable for their price first.

    parts: each tank's part of the round; `others`: what else would tell something.
    """
    from pleuston.planning.value import TOLD, chosen_tests

    found = [test for part in parts for test in part.get("tests", ())]
    chosen = chosen_tests(found, minutes)
    others = [t for t in found if t["value"] >= TOLD and t not in chosen]
    return {
        "at": at, "minutes_given": minutes,
        "minutes": round(sum(t["minutes"] for t in chosen), 1),
        "coins": round(sum(t["coins"] for t in chosen), 2), "tests": chosen, "others": others,
    }  # fmt: skip


def due_answer(rack: Path | str, at: str, minutes: float | None, seed: int) -> dict[str, Any]:
    """What to test over a rack as of a moment, worked out at once.

    minutes: for tests alone; the rack's own for a round, or the usual ones, where none are given.
    """
    from pleuston.planning.value import worths
    from pleuston.planning.view import view_of
    from pleuston.services.answers import belief_of, each_tank, learn_all
    from pleuston.services.kit_steps import gauges_of
    from pleuston.services.racks import open_rack, parse_moment

    record: Record = open_rack(rack)
    moment, gauges = parse_moment(at, record), gauges_of(rack)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        belief = belief_of(rack, record, name, moment, seed, threads, whole=True)
        found = worths(view_of(belief, threads, gauges))
        return {"tank": name, "tests": [w.as_data() for w in found]}

    learn_all(rack, record, moment, seed)
    parts = each_tank(record, moment, "", answer, lambda name, why: {"tank": name, "error": why})
    given = _given(minutes, record.rack.round_minutes)
    made = due_data(parts, record.local(moment).isoformat(timespec="minutes"), given)
    return {**made, "failed": [p for p in parts if "error" in p]}


def kept_tests(db: Database, now: datetime, minutes: float | None = None) -> dict[str, Any]:
    """What to test by the answers as they are kept; nothing is computed."""
    with db.read() as connection:
        found = rows.answers_of_kind(connection, "round")
        rack = catalogue.rack_of(connection)
    parts = [rows.unpack(row.answer) for row in found.values()]
    return due_data(parts, now.isoformat(timespec="minutes"), _given(minutes, rack.round_minutes))


def _given(minutes: float | None, setting: float | None) -> float:
    if minutes is not None:
        return minutes
    return USUAL_MINUTES if setting is None else float(setting)
