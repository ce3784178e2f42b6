"""Work in the background: asked for as rows, done by processes that are kept warm.

`Workers` runs beside an app: a thread hands waiting jobs to processes, one each, and sees
when a process dies; then the job is lost and asked again in a new process, and the app
goes on. Progress is read from the rows, by any program that has the database.
"""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Row

from pleuston.base.errors import PleustonError, UnknownNameError
from pleuston.records.near import near_names
from pleuston.services.kept import ask_old_scores, ask_stale
from pleuston.services.kinds import Effort, job_kind
from pleuston.services.processes import GRACE, NICENESS, WAIT_MOST, Hand, end_processes
from pleuston.store import jobs as rows
from pleuston.store.catalogue import names_of
from pleuston.store.session import Database, open_database

LOOK = 0.5
"""Seconds between two looks for waiting jobs."""
LIMIT = 30.0
"""Seconds without a sign of life after which a process counts as dead."""
KEEP_DAYS = 7
"""Days that rows of ended jobs are kept."""
UPKEEP = 600.0
"""Seconds between two looks for answers that are out of date."""
DIED = "The process that worked on it died"
LOG = logging.getLogger("pleuston.jobs")


def wall_clock() -> datetime:
    """The time now."""
    return datetime.now(UTC)


# -- asking and looking ----------------------------------------------------------


def ask(db: Database, kind: str, tank: str, now: datetime, *, urgent: bool = False) -> str:
    """Ask for answers as of `now`; gives the job that will make them.

    kind: `tank` for all answers, or `ledger:ELEMENT:FIRST-DAY:LAST-DAY`. Where the same
    waits already, that job is given and moved on to `now`. urgent: before all that is not.
    """
    kind = job_kind(kind)
    with db.write() as connection:
        known = names_of(connection, "tank")
        if tank not in known:
            raise UnknownNameError(
                f"there is no tank named {tank!r}", "jobs", near_names(tank, known)
            )
        return rows.ask(connection, kind, tank, now, urgent=urgent)


def cancel(db: Database, job: str, now: datetime) -> bool:
    """Cancel a job: at once while it waits, soon when it runs; False when it has ended."""
    with db.write() as connection:
        if rows.row_of(connection, job) is None:
            raise UnknownNameError("there is no such job", f"job {job}", "look at the list of jobs")
        return rows.cancel(connection, job, now)


def progress(db: Database, job: str) -> dict[str, Any]:
    """How far a job is; `again` names the one asked in its place when it was lost."""
    with db.read() as connection:
        row = rows.row_of(connection, job)
        if row is None:
            raise UnknownNameError("there is no such job", f"job {job}", "look at the list of jobs")
        again = rows.in_place_of(connection, row) if row.state == "lost" else ""
    return {**job_data(row), "again": again}


def list_jobs(db: Database, limit: int = 50) -> list[dict[str, Any]]:
    """Give what runs and waits, then what ended last."""
    with db.read() as connection:
        return [job_data(row) for row in rows.recent_jobs(connection, limit)]


def running(db: Database, tank: str = "") -> dict[str, Any] | None:
    """What goes on in the background in one line, with its share done; None when nothing does.

    Work that was asked for together counts as a whole.
    """
    with db.read() as connection:
        active = rows.open_jobs(connection, tank)
        if not active:
            return None
        asked = min(row.asked_at for row in active)
        ended = rows.count_ended(connection, asked, tank)
    at_work = [row for row in active if row.state == "running"]
    waiting = len(active) - len(at_work)
    words = at_work[0].message if at_work else "Work waits to begin"
    if at_work and waiting:
        words += f"; {waiting} more wait{'s' if waiting == 1 else ''}"
    done = ended + sum(row.progress for row in at_work)
    return {
        "message": words, "progress": round(done / (ended + len(active)), 3),
        "running": len(at_work), "waiting": waiting, "tanks": sorted({r.tank for r in active}),
    }  # fmt: skip


def job_data(row: Row[Any]) -> dict[str, Any]:
    """A job as data."""
    moments = ("at", "asked_at", "started_at", "seen_at", "ended_at")
    held = row._mapping
    return {
        "job": row.job, "kind": row.kind, "tank": row.tank, "state": row.state,
        "progress": round(row.progress, 3), "message": row.message,
        "cancel_asked": bool(row.cancel_asked), "attempts": row.attempts,
        **{m: None if held[m] is None else held[m].isoformat() for m in moments},
    }  # fmt: skip


@dataclass
class Watch:
    """Remembers what was told of jobs, so that only changes are told; of one tank, or of all."""

    tank: str = ""
    since: datetime = field(default_factory=wall_clock)
    told: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    ended: set[str] = field(default_factory=set)

    def look(self, db: Database) -> tuple[list[dict[str, Any]], bool]:
        """Give the jobs that changed since the last look, and whether any is still open."""
        with db.read() as connection:
            ended = rows.ended_since(connection, self.since, self.tank)
            active = rows.open_jobs(connection, self.tank)
        changed = []
        for row in [*ended, *active]:
            state = (row.state, round(row.progress, 3), row.message, row.cancel_asked)
            if self.told.get(row.job) != state and row.job not in self.ended:
                self.told[row.job] = state
                changed.append(job_data(row))
        self.ended.update(row.job for row in ended)
        return changed, bool(active)


def progress_events(
    db: Database, since: datetime | None = None, tank: str = "", every: float = 0.3
) -> Iterator[dict[str, Any]]:
    """Give jobs as they change, those that ended since a moment first; ends when none is open."""
    watch = Watch(tank, since or wall_clock())
    while True:
        changed, active = watch.look(db)
        yield from changed
        if not active:
            return
        time.sleep(every)


# -- recovering -------------------------------------------------------------------


def recover(db: Database, now: datetime) -> list[str]:
    """Mark running jobs of dead processes as lost and ask for them again; gives the lost.

    now: the time by the clock of the machine, as signs of life are judged by it.
    """

    def dead(row: Row[Any]) -> bool:
        silent = abs((now - (row.seen_at or row.started_at)).total_seconds()) > LIMIT
        return silent or (db.is_sqlite and not is_alive(row.process))

    with db.write() as connection:
        return rows.lose(connection, now, dead, DIED)


def is_alive(process: int) -> bool:
    """Whether a process of this machine may be alive; where that can't be told, yes."""
    if os.name != "posix" or process <= 0:
        return process > 0
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


# -- working ----------------------------------------------------------------------


class Workers:
    """Processes that do the jobs of a database while an app runs."""

    def __init__(
        self, address: str, processes: int | None = None, *, effort: Effort | None = None,
        clock: Callable[[], datetime] = wall_clock, upkeep: bool = True,
        niceness: int = NICENESS,
    ) -> None:  # fmt: skip
        """processes: one a core unless given. clock: the app's time, for answers out of date.

        upkeep: ask by itself for answers that are out of date; niceness: how far the
        processes give way to the app.
        """
        self.address, self.clock, self.upkeep = str(address), clock, upkeep
        count = processes or os.cpu_count() or 1
        self._rung, self._ending = threading.Event(), threading.Event()
        made = effort or Effort()
        self.hands = [Hand(self.address, made, niceness, self._rung.set) for _ in range(count)]
        self._thread: threading.Thread | None = None
        self._db: Database | None = None
        self._next_upkeep = self._next_recovery = 0.0

    def start(self) -> None:
        """Begin to do jobs, those that a crash interrupted first."""
        if self._thread is None:
            self._ending.clear()
            self._thread = threading.Thread(target=self._run, name="workers", daemon=True)
            self._thread.start()

    def wake(self) -> None:
        """Look for waiting jobs now, not only at the next look."""
        self._rung.set()

    def stop(self, grace: float = GRACE) -> None:
        """End all processes; what they were doing waits until the next start."""
        if self._thread is None:
            return
        self._ending.set()
        self._rung.set()
        self._thread.join()
        self._thread = None
        for hand in self.hands:
            hand.settle_start(grace)
        held = [(h.job, h.process) for h in self.hands if h.job]
        if self._db is not None:
            self._put_back(self._db, held)
            self._db.close()
            self._db = None
        before = {h.process for h in self.hands if h.process}
        for hand in self.hands:
            hand.end()
        end_processes(before, grace)

    def processes(self) -> list[int]:
        """The numbers of the processes that are ready or at work."""
        return [h.process for h in self.hands if h.process]

    def _put_back(self, db: Database, held: list[tuple[str, int]]) -> None:
        try:
            with db.write() as connection:
                for job, process in held:
                    rows.put_back(connection, job, process)
        except PleustonError as error:
            LOG.error("jobs could not be put back: %s", error)

    def _run(self) -> None:
        pause = LOOK
        while not self._ending.is_set():
            try:
                self._turn()
                pause = LOOK
            except Exception as error:
                pause = min(WAIT_MOST, 2.0 * pause)
                LOG.error("background work pauses for %g s: %s", pause, error)
            self._rung.wait(pause)
            self._rung.clear()

    def _turn(self) -> None:
        """One look at processes and rows."""
        if self._db is None:
            self._db = open_database(self.address)
        for hand in self.hands:
            lost = hand.settle()
            if lost:
                self._lost(self._db, lost)
        self._keep_up(self._db)
        self._hand_out(self._db)

    def _lost(self, db: Database, job: str) -> None:
        with db.write() as connection:
            rows.lose(connection, wall_clock(), lambda row: row.job == job, DIED)

    def _keep_up(self, db: Database) -> None:
        now = time.monotonic()
        if now >= self._next_recovery:
            self._next_recovery = now + LIMIT / 3.0
            recover(db, wall_clock())
        if self.upkeep and now >= self._next_upkeep:
            self._next_upkeep = now + UPKEEP
            ask_stale(db, self.clock())
            ask_old_scores(db, self.clock())
            with db.write() as connection:
                rows.forget(connection, wall_clock() - timedelta(days=KEEP_DAYS))

    def _hand_out(self, db: Database) -> None:
        """Give waiting jobs to free processes, and start as many as are needed."""
        with db.read() as connection:
            waiting = sum(r.state == "waiting" for r in rows.open_jobs(connection))
        warming = sum(h.pool is not None and h.process == 0 for h in self.hands)
        for hand in self.hands:
            if hand.is_free and waiting:
                with db.write() as connection:
                    row = rows.claim(connection, hand.process, wall_clock())
                if row is None:
                    return
                hand.give(row.job)
                waiting -= 1
        wanted = max(waiting - warming, 0 if any(h.pool for h in self.hands) else 1)
        for hand in self.hands:
            if hand.pool is None and wanted > 0:
                hand.start()
                wanted -= 1


def wait_for(
    db: Database, jobs: Mapping[str, str], told: Callable[[], None], every: float = 0.2
) -> dict[str, tuple[str, str]]:
    """Follow jobs (job -> tank) until all have ended; gives for each tank how, and which job.

    A job that was lost is followed by the one asked in its place. `told` is called at each look.
    """
    ended: dict[str, tuple[str, str]] = {}
    follow = dict(jobs)
    while follow:
        for job, tank in list(follow.items()):
            now = progress(db, job)
            if now["state"] not in rows.ENDED:
                continue
            del follow[job]
            if now["state"] == "lost" and now["again"]:
                follow[now["again"]] = tank
            else:
                ended[tank] = (now["state"], job)
        told()
        if follow:
            time.sleep(every)
    return ended
