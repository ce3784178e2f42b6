"""Answers as they were last made, with their age and whether they still hold.

Nothing is computed here: a page shows what is kept and says what it was made from.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from sqlalchemy import Connection, Row

from pleuston.planning.fit import USUAL_MINUTES, within
from pleuston.services.kinds import SCORE, answer_kind
from pleuston.services.model_stamp import model_now
from pleuston.store import beliefs as rows
from pleuston.store import jobs
from pleuston.store.catalogue import rack_of
from pleuston.store.record_hash import record_hash, record_hashes
from pleuston.store.session import Database

OLD = timedelta(days=1)
"""Age at which an answer is made again even where nothing changed."""
SCORES_LAST = timedelta(days=28)
"""Age at which scores of past forecasts are made again."""
RANKS = ("danger", "act", "watch", "well")
LAST_MADE = "ledger:Fe"
"""The answer that is made last of all."""


@dataclass(frozen=True)
class Kept:
    """An answer: the moment it holds for, when it was made, and why it no longer holds.

    grades: JSON, how many of the parameters behind it are of each grade.
    """

    answer: Any
    at: datetime
    made_at: datetime
    stale: bool
    why_stale: str
    model: str = ""
    seed: int = 0
    grades: str = "{}"


def kept_answer(
    db: Database, tank: str, kind: str, now: datetime | None = None
) -> Kept | None:
    """Give the last answer of a kind for a tank; None where none was ever made.

    kind: `round`, `now`, `outlook`, `night`, `months`, `ledger:ELEMENT`, or
    `ledger:ELEMENT:FIRST-DAY:LAST-DAY`. Without `now` its age is not judged.
    """
    return kept_answers(db, tank, [kind], now)[kind]


def kept_answers(
    db: Database, tank: str, kinds: Iterable[str], now: datetime | None = None
) -> dict[str, Kept | None]:
    """Give the last answers of some kinds for a tank, by kind as asked."""
    asked = {kind: answer_kind(kind) for kind in kinds}
    with db.read() as connection:
        found = {k: rows.answer_row(connection, tank, stored) for k, stored in asked.items()}
        record = record_hash(connection, tank) if any(found.values()) else ""
    return {k: None if row is None else _kept(row, record, now) for k, row in found.items()}


def _kept(row: Row[Any], record: str, now: datetime | None) -> Kept:
    why = why_stale(row, record, now)
    return Kept(
        rows.unpack(row.answer), row.at, row.made_at, bool(why), why, row.model, row.seed,
        row.grades,
    )  # fmt: skip


def why_stale(row: Row[Any], record: str, now: datetime | None) -> str:
    """Why an answer no longer holds, in words; empty while it does."""
    if row.record != record:
        return "the record has changed since"
    if row.model != model_now():
        return "the model has changed since"
    if now is not None and now - row.at > OLD:
        days = (now - row.at).days
        return f"it is {days} day{'' if days == 1 else 's'} old"
    return ""


def kept_round(
    db: Database, now: datetime, order: str = "worst", minutes: float | None = None
) -> dict[str, Any]:
    """The round from the last answers of all tanks; each says how old its part is.

    order: `worst` first, or `walk`: as the tanks stand. at: the moment of the oldest part,
    None where there is none yet; a tank without an answer has the state `unknown`. minutes: the
    keeper's; else the rack's own, or the usual ones. `left`: what does not fit into them.
    """
    with db.read() as connection:
        hashes = record_hashes(connection)
        found = rows.answers_of_kind(connection, "round")
        rack = rack_of(connection)
        zone = rack.zone or UTC
        pending = {row.tank: row.state for row in reversed(jobs.open_jobs(connection))}
    parts = [
        {
            **(_part(found[t], record, now, zone) if t in found else _unknown(t)),
            "pending": pending.get(t, ""), "place": place,
        }
        for place, (t, record) in enumerate(hashes.items(), 1)
    ]  # fmt: skip
    setting = USUAL_MINUTES if rack.round_minutes is None else float(rack.round_minutes)
    given = setting if minutes is None else minutes
    parts, left = within(parts, given)
    if order == "worst":
        rank = {state: i for i, state in enumerate(RANKS)}
        parts.sort(key=lambda t: (rank.get(t["state"], len(RANKS)), t["tank"]))
    return {
        "at": min((t["at"] for t in parts if t["at"] is not None), default=None),
        "minutes": round(sum(t["minutes"] for t in parts), 1),
        "minutes_given": given,
        "tanks": parts,
        "left": left,
    }


def _part(row: Row[Any], record: str, now: datetime, zone: tzinfo) -> dict[str, Any]:
    why = why_stale(row, record, now)
    return {
        **rows.unpack(row.answer), "at": row.at.astimezone(zone), "stale": bool(why),
        "why_stale": why,
    }  # fmt: skip


def _unknown(tank: str) -> dict[str, Any]:
    return {
        "tank": tank, "state": "unknown", "because": [], "animals": {}, "minutes": 0.0, "acts": [],
        "at": None, "stale": True, "why_stale": "nothing was computed yet",
    }  # fmt: skip


def stale_tanks(connection: Connection, now: datetime) -> dict[str, str]:
    """The tanks whose answers no longer hold, with the reason."""
    first = rows.answers_of_kind(connection, "round")
    last = rows.answers_of_kind(connection, LAST_MADE)
    told = {}
    for tank, record in record_hashes(connection).items():
        why = "nothing was computed yet"
        if tank in first:
            why = why_stale(first[tank], record, now)
            failed = "error" in rows.unpack(first[tank].answer)
            if not why and not failed:
                why = why_stale(last[tank], record, now) if tank in last else "not all was computed"
        if why:
            told[tank] = why
    return told


def ask_old_scores(db: Database, now: datetime) -> None:
    """Ask anew for scores of tanks once asked for, when they are four weeks old."""
    with db.read() as connection:
        held = rows.answers_of_kind(connection, SCORE)
        left = {r.tank for r in jobs.open_jobs(connection) if r.kind == SCORE}
        left |= jobs.given_up(connection, SCORE, now - SCORES_LAST)
    due = [t for t, row in held.items() if now - row.at >= SCORES_LAST and t not in left]
    if due:
        with db.write() as connection:
            for tank in due:
                jobs.ask(connection, SCORE, tank, now)


def ask_stale(db: Database, now: datetime) -> dict[str, str]:
    """Ask for all tanks whose answers no longer hold; gives tank -> job.

    A tank whose last job failed or was cancelled within a day is left until it is asked for.
    """
    with db.read() as connection:
        told = stale_tanks(connection, now)
        left = {r.tank for r in jobs.open_jobs(connection) if r.kind == "tank"}
        left |= jobs.given_up(connection, "tank", now - OLD)
    wanted = [tank for tank in told if tank not in left]
    if not wanted:
        return {}
    with db.write() as connection:
        return {tank: jobs.ask(connection, "tank", tank, now) for tank in wanted}
