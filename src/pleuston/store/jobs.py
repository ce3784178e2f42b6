"""Rows of work in the background: asked, begun, alive, ended.

A kind of work for a tank waits at most once, and a tank is worked on by one process at a
time. Only the process that holds a running row may change it; a row that was lost never
runs again, another is asked in its place. Writers take turns, so nothing comes in between.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, Row, and_, delete, func, or_, select, update

from pleuston.store.tables import JOBS

J = JOBS.c
ATTEMPTS = 3
"""How often work is begun before it counts as failed: what kills its process is left alone."""
OPEN = ("waiting", "running")
ENDED = ("done", "failed", "cancelled", "lost")


def ask(
    connection: Connection, kind: str, tank: str, at: datetime, *,
    urgent: bool = False, attempts: int = 0, asked_at: datetime | None = None,
) -> str:  # fmt: skip
    """Ask for work that answers for a moment; gives its job.

    Where the same waits already, that one is moved on to this moment.
    """
    same = and_(J.kind == kind, J.tank == tank, J.state == "waiting")
    waiting = connection.execute(select(J.job, J.at, J.urgent).where(same)).first()
    if waiting is not None:
        connection.execute(
            update(JOBS).where(J.job == waiting.job)
            .values(at=max(at, waiting.at), urgent=max(int(urgent), waiting.urgent))
        )  # fmt: skip
        return str(waiting.job)
    job = str(uuid4())
    connection.execute(
        JOBS.insert().values(
            job=job, kind=kind, tank=tank, at=at, urgent=int(urgent), attempts=attempts,
            state="waiting", asked_at=at if asked_at is None else asked_at,
        )
    )  # fmt: skip
    return job


def claim(connection: Connection, process: int, now: datetime) -> Row[Any] | None:
    """Begin the work that waits first, of a tank that nobody works on; None where there is none."""
    busy = select(J.tank).where(J.state == "running")
    first = connection.execute(
        select(JOBS).where(J.state == "waiting", J.tank.not_in(busy))
        .order_by(J.urgent.desc(), J.asked_at, J.tank, J.job).limit(1)
    ).first()  # fmt: skip
    if first is None:
        return None
    connection.execute(
        update(JOBS).where(J.job == first.job).values(
            state="running", process=process, attempts=J.attempts + 1, progress=0.0,
            message="Beginning", cancel_asked=0, started_at=now, seen_at=now, ended_at=None,
        )
    )  # fmt: skip
    return row_of(connection, first.job)


def beat(
    connection: Connection, job: str, process: int, now: datetime,
    progress: float | None = None, message: str | None = None,
) -> str:  # fmt: skip
    """Show that a process still works on a job; gives `go on`, `cancel` or `gone`."""
    told: dict[str, Any] = {"seen_at": now}
    if progress is not None:
        told["progress"] = progress
    if message is not None:
        told["message"] = message
    held = and_(J.job == job, J.state == "running", J.process == process)
    changed = connection.execute(update(JOBS).where(held).values(**told))
    if not changed.rowcount:
        return "gone"
    asked = connection.execute(select(J.cancel_asked).where(J.job == job)).scalar()
    return "cancel" if asked else "go on"


def finish(
    connection: Connection, job: str, process: int, state: str, message: str, now: datetime
) -> bool:
    """End a job that a process holds; False when it holds it no longer."""
    held = and_(J.job == job, J.state == "running", J.process == process)
    told: dict[str, Any] = {"state": state, "message": message, "ended_at": now, "seen_at": now}
    if state == "done":
        told["progress"] = 1.0
    return bool(connection.execute(update(JOBS).where(held).values(**told)).rowcount)


def cancel(connection: Connection, job: str, now: datetime) -> bool:
    """Cancel a job: at once while it waits, else its process is asked; False when it has ended."""
    waited = connection.execute(
        update(JOBS).where(J.job == job, J.state == "waiting")
        .values(state="cancelled", message="Cancelled", ended_at=now)
    )  # fmt: skip
    if waited.rowcount:
        return True
    running = and_(J.job == job, J.state == "running")
    return bool(connection.execute(update(JOBS).where(running).values(cancel_asked=1)).rowcount)


def put_back(connection: Connection, job: str, process: int) -> bool:
    """Let a job that a process holds wait again, as if not begun; False when it holds it no longer.

    What was to be cancelled is cancelled, and so is what was asked again meanwhile.
    """
    held = and_(J.job == job, J.state == "running", J.process == process)
    row = connection.execute(select(JOBS).where(held)).first()
    if row is None:
        return False
    values: dict[str, Any] = {
        "state": "waiting", "process": 0, "attempts": row.attempts - 1, "progress": 0.0,
        "message": "", "started_at": None, "seen_at": None,
    }  # fmt: skip
    if row.cancel_asked or _waits(connection, row):
        message = "Cancelled" if row.cancel_asked else "Stopped; it was asked again meanwhile"
        values = {"state": "cancelled", "message": message, "ended_at": row.seen_at}
    connection.execute(update(JOBS).where(J.job == job).values(**values))
    return True


def _waits(connection: Connection, row: Row[Any]) -> bool:
    same = and_(J.kind == row.kind, J.tank == row.tank, J.state == "waiting")
    return connection.execute(select(J.job).where(same)).first() is not None


def lose(
    connection: Connection, now: datetime, dead: Callable[[Row[Any]], bool], why: str
) -> list[str]:
    """Mark running jobs of dead processes as lost, and ask again; gives the lost jobs.

    What was begun `ATTEMPTS` times counts as failed and is not asked again; what was to be
    cancelled is cancelled.
    """
    lost = [r for r in connection.execute(select(JOBS).where(J.state == "running")) if dead(r)]
    for row in lost:
        state, message = "lost", why
        if row.cancel_asked:
            state, message = "cancelled", "Cancelled"
        elif row.attempts >= ATTEMPTS:
            state, message = "failed", f"{why}, {row.attempts} times. Not begun again by itself"
        connection.execute(
            update(JOBS).where(J.job == row.job)
            .values(state=state, message=message, ended_at=now)
        )  # fmt: skip
        if state == "lost":
            ask(connection, row.kind, row.tank, row.at, urgent=bool(row.urgent),
                attempts=row.attempts, asked_at=row.asked_at)  # fmt: skip
    return [str(row.job) for row in lost]


def row_of(connection: Connection, job: str) -> Row[Any] | None:
    """Give a job."""
    return connection.execute(select(JOBS).where(J.job == job)).first()


def in_place_of(connection: Connection, lost: Row[Any]) -> str:
    """The job that was asked in the place of a lost one; empty where there is none."""
    later = or_(J.state.in_(OPEN), J.started_at > lost.started_at)
    same = and_(J.kind == lost.kind, J.tank == lost.tank, J.job != lost.job, later)
    order = (J.attempts == lost.attempts + 1, J.state.in_(OPEN), J.started_at)
    found = select(J.job).where(same).order_by(*(o.desc() for o in order)).limit(1)
    return str(connection.execute(found).scalar() or "")


def open_jobs(connection: Connection, tank: str = "") -> list[Row[Any]]:
    """Give the jobs that run or wait, of one tank or of all, in their order."""
    wanted = and_(J.state.in_(OPEN), J.tank == tank) if tank else J.state.in_(OPEN)
    order = (J.state, J.urgent.desc(), J.asked_at, J.tank)
    return list(connection.execute(select(JOBS).where(wanted).order_by(*order)))


def ended_since(connection: Connection, since: datetime, tank: str = "") -> list[Row[Any]]:
    """Give the jobs that ended at or after a moment, oldest first."""
    wanted = J.ended_at >= since
    if tank:
        wanted = and_(wanted, J.tank == tank)
    return list(connection.execute(select(JOBS).where(wanted).order_by(J.ended_at, J.job)))


def recent_jobs(connection: Connection, limit: int = 50) -> list[Row[Any]]:
    """Give open jobs, then those that ended last."""
    ended = connection.execute(
        select(JOBS).where(J.state.in_(ENDED)).order_by(J.ended_at.desc(), J.job).limit(limit)
    ).all()  # fmt: skip
    return [*open_jobs(connection), *ended][:limit]


def count_ended(connection: Connection, asked_since: datetime, tank: str = "") -> int:
    """How many jobs that were asked for since a moment have ended well or failed."""
    wanted = and_(J.asked_at >= asked_since, J.state.in_(["done", "failed"]))
    if tank:
        wanted = and_(wanted, J.tank == tank)
    return int(connection.execute(select(func.count()).where(wanted)).scalar() or 0)


def given_up(connection: Connection, kind: str, since: datetime) -> set[str]:
    """Tanks whose newest work of a kind, asked for a moment since then, failed or was cancelled."""
    last: dict[str, str] = {}
    wanted = and_(J.kind == kind, J.at >= since)
    for row in connection.execute(select(J.tank, J.state).where(wanted).order_by(J.at, J.ended_at)):
        last[row.tank] = row.state
    return {tank for tank, state in last.items() if state in ("failed", "cancelled")}


def forget(connection: Connection, before: datetime) -> int:
    """Delete the rows of work that ended before a moment."""
    gone = or_(J.ended_at < before, and_(J.ended_at.is_(None), J.state.in_(ENDED)))
    return connection.execute(delete(JOBS).where(gone)).rowcount
