"""What a background process does: one job from its row to its answers, with signs of life.

The process shows itself in the job's row every second and learns there whether to stop.
Answers are kept only while it holds the row, so a job given to another can't undo its work.
"""

from __future__ import annotations

import contextlib
import logging
import os
import threading
from datetime import UTC, date, datetime, timedelta
from functools import cache
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Row

from pleuston.base.errors import InputError, PleustonError
from pleuston.inference.belief import LearningCancelledError
from pleuston.planning.uncomputed import cannot
from pleuston.records.record import Record
from pleuston.services.belief_store import belief_for
from pleuston.services.carry import carried_over
from pleuston.services.kinds import ELEMENTS, SCORE, Effort
from pleuston.services.kit_steps import gauges_of
from pleuston.services.model_stamp import model_now
from pleuston.services.plan_kinds import KIND as PLAN
from pleuston.services.plan_kinds import is_plan
from pleuston.services.planners import answer_plan
from pleuston.services.score import score_for_job
from pleuston.services.tank_answers import all_answers, ledger_on, span_before
from pleuston.services.what_if import answer_what_if
from pleuston.services.what_if_kinds import KIND, is_what_if
from pleuston.store import beliefs as rows
from pleuston.store import jobs
from pleuston.store.exchange_cells import time_of
from pleuston.store.record_hash import record_about, record_hash
from pleuston.store.session import Database, StoreError, open_database

BEAT = 1.0
"""Seconds between signs of life."""
TOLD_APART = 0.25
"""Seconds between two notes of progress."""
KEPT_PLANS = timedelta(days=7)
"""How long the answers of a what-if are kept."""
LEARNING = 0.65
"""Share of a job that learning takes."""
LOG = logging.getLogger("pleuston.jobs")


class JobStoppedError(PleustonError):
    """The job was cancelled, or another process holds it now."""


def wall_clock() -> datetime:
    """The time now, by which signs of life are judged."""
    return datetime.now(UTC)


@cache
def database(address: str) -> Database:
    """The database that this process works on, opened once."""
    return open_database(address)


class Pulse:
    """Shows in a job's row that its process lives and how far it is; hears whether to stop."""

    def __init__(self, db: Database, job: str) -> None:
        self.db, self.job, self.process = db, job, os.getpid()
        self.verdict = "go on"
        self._told: tuple[float, str] = (0.0, "Beginning")
        self._new, self._over = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._beat, name="pulse", daemon=True)

    def __enter__(self) -> Pulse:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self._over.set()
        self._new.set()
        self._thread.join()

    def tell(self, share: float, words: str) -> None:
        """Note how far the job is [0 to 1]; raises JobStoppedError when it is to stop."""
        self._told = (max(0.0, min(1.0, share)), words)
        self._new.set()
        self.go_on()

    def stopped(self) -> bool:
        """Whether the job is to stop."""
        return self.verdict != "go on"

    def go_on(self) -> None:
        """Raise JobStoppedError when the job is to stop."""
        if self.stopped():
            raise JobStoppedError("the job was stopped", f"job {self.job}", "ask for it again")

    def hold(self, connection: Connection) -> None:
        """Make sure, within a transaction, that the job is still this process's."""
        share, words = self._told
        self.verdict = jobs.beat(connection, self.job, self.process, wall_clock(), share, words)
        self.go_on()

    def _beat(self) -> None:
        while not self._over.is_set():
            self._new.wait(BEAT)
            self._new.clear()
            if self._over.is_set():
                return
            share, words = self._told
            with contextlib.suppress(StoreError), self.db.write() as connection:
                self.verdict = jobs.beat(
                    connection, self.job, self.process, wall_clock(), share, words
                )
            self._over.wait(TOLD_APART)


def work(address: str, job: str, effort: Effort) -> str:
    """Do one job; gives the state it ended in, or `gone` when it is not this process's."""
    db = database(address)
    with db.read() as connection:
        row = jobs.row_of(connection, job)
    if row is None or (row.state, row.process) != ("running", os.getpid()):
        return "gone"
    state, message = "done", "Done"
    with Pulse(db, job) as pulse:
        try:
            _answer(db, row, pulse, effort)
        except (JobStoppedError, LearningCancelledError):
            state, message = "cancelled", "Cancelled"
        except PleustonError as error:
            state, message = "failed", str(error)
        except Exception as error:
            LOG.exception("job %s (%s %s) failed", job, row.kind, row.tank)
            state, message = "failed", f"A fault of this program: {type(error).__name__}: {error}"
    with db.write() as connection:
        held = jobs.finish(connection, job, os.getpid(), state, message, wall_clock())
    return state if held else "gone"


def _answer(db: Database, row: Row[Any], pulse: Pulse, effort: Effort) -> None:
    pulse.tell(0.0, f"Reading the record of {row.tank}")
    with db.read() as connection:
        record = record_about(connection, row.tank)
        made_from = record_hash(connection, row.tank)
    record.tank(row.tank)
    if row.kind == "tank":
        _tank(db, row, record, made_from, pulse, effort)
    elif row.kind == SCORE:
        _score(db, row, record, made_from, pulse, effort)
    elif is_what_if(row.kind) or is_plan(row.kind):
        _what_if(db, row, record, made_from, pulse, effort)
    else:
        _period(db, row, record, made_from, pulse, effort)


def _tank(
    db: Database, row: Row[Any], record: Record, made_from: str, pulse: Pulse, effort: Effort
) -> None:
    """Learn what is not known yet and make every answer; a tank that can't be answered says why."""
    now = wall_clock()

    def learning(share: float) -> None:
        pulse.tell(LEARNING * share, f"Learning from {row.tank}'s record")

    def answering(share: float, words: str) -> None:
        pulse.tell(LEARNING + (1.0 - LEARNING) * share, f"{row.tank}: {words}")

    try:
        belief, made = belief_for(
            db, record, row.tank, row.at, made_from, effort, now, learning, pulse.stopped
        )
        for part in all_answers(belief, effort.threads, answering, gauges_of(db)):
            with db.write() as connection:
                pulse.hold(connection)
                told = [(k, _followed(connection, row, record, k, a)) for k, a in part]
                rows.put_answers(connection, row.tank, made, told)
    except (JobStoppedError, LearningCancelledError, StoreError):
        raise
    except PleustonError as error:
        made = rows.MadeFrom(row.at, model_now(), effort.seed, made_from, "{}", now)
        with db.write() as connection:
            pulse.hold(connection)
            part = [("round", cannot(record, row.tank, row.at, str(error)))]
            rows.put_answers(connection, row.tank, made, part)
        raise


def _followed(
    connection: Connection, row: Row[Any], record: Record, kind: str, answer: dict[str, Any]
) -> dict[str, Any]:
    """A tank's part of the round with how long each act waits; other answers as they are."""
    if kind != "round":
        return answer
    before = rows.answer_row(connection, row.tank, "round")
    old = rows.unpack(before.answer) if before is not None and before.at <= row.at else None
    return carried_over(answer, old, record, row.at)


def _what_if(
    db: Database, row: Row[Any], record: Record, made_from: str, pulse: Pulse, effort: Effort
) -> None:
    """Run plans side by side, or a planner, from the belief of now; those of a week ago go."""
    belief, made = belief_for(
        db, record, row.tank, row.at, made_from, effort, wall_clock(),
        progress=lambda share: pulse.tell(0.8 * share, f"Learning from {row.tank}'s record"),
        cancel=pulse.stopped,
    )  # fmt: skip
    pulse.tell(0.8, "Running the plans side by side")
    answered = answer_plan if is_plan(row.kind) else answer_what_if
    answer = answered(belief, row.kind, effort.threads)
    with db.write() as connection:
        pulse.hold(connection)
        for kind in (KIND, PLAN):
            rows.forget_answers(connection, f"{kind}:", wall_clock() - KEPT_PLANS)
        rows.put_answers(connection, row.tank, made, [(row.kind, answer)])


def _score(
    db: Database, row: Row[Any], record: Record, made_from: str, pulse: Pulse, effort: Effort
) -> None:
    """Hold the forecasts of a tank's past against what was read later."""

    def tell(share: float) -> None:
        pulse.tell(share, f"Looking ahead from {row.tank}'s past")

    answer = score_for_job(record, row.tank, row.at, effort, tell, pulse.stopped)
    made = rows.MadeFrom(row.at, model_now(), effort.seed, made_from, "{}", wall_clock())
    with db.write() as connection:
        pulse.hold(connection)
        rows.put_answers(connection, row.tank, made, [(SCORE, answer)])


def _period(
    db: Database, row: Row[Any], record: Record, made_from: str, pulse: Pulse, effort: Effort
) -> None:
    """Make the ledgers of a period, all elements at once, from the belief of today."""
    start, end = period_of(row.kind, record)
    belief, made = belief_for(
        db, record, row.tank, row.at, made_from, effort, wall_clock(),
        progress=lambda share: pulse.tell(0.8 * share, f"Learning from {row.tank}'s record"),
        cancel=pulse.stopped,
    )  # fmt: skip
    pulse.tell(0.8, "Balancing the period")
    day = belief.case.clock.day
    if day(start) >= belief.at or day(end) <= 0.0:
        raise InputError(
            "the period lies outside the record", where=f"tank {row.tank}",
            remedy="Choose days within the record",
        )  # fmt: skip
    span = span_before(belief, day(start), day(end), effort.threads)
    asked, *days = row.kind.split(":")[1:]
    part = [(":".join(["ledger", e, *days]), ledger_on(span, e)) for e in {*ELEMENTS, asked}]
    with db.write() as connection:
        pulse.hold(connection)
        rows.put_answers(connection, row.tank, made, part)


def period_of(kind: str, record: Record) -> tuple[datetime, datetime]:
    """The period of a ledger's kind: from the start of its first day to the end of its last."""
    first, last = (date.fromisoformat(day) for day in kind.split(":")[2:])
    zone = record.rack.zone or UTC
    return (
        time_of(first.isoformat(), zone), time_of((last + timedelta(days=1)).isoformat(), zone)
    )  # fmt: skip
