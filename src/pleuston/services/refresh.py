"""Make and keep the answers of tanks in the foreground, by the same work as in the background."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from pleuston.base.errors import InputError
from pleuston.services.jobs import Workers, ask, progress, running, wait_for, wall_clock
from pleuston.services.kept import stale_tanks
from pleuston.services.kinds import Effort
from pleuston.store.catalogue import names_of, zone_of
from pleuston.store.exchange_cells import BadTimeError, time_of
from pleuston.store.session import Database, open_database


def refresh(
    address: str, tank: str = "", at: str = "", *, every: bool = False, processes: int = 0,
    told: Callable[[dict[str, Any]], None] = lambda _: None, effort: Effort | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Make the answers of one tank, or of all that no longer hold (every: of all), and keep them.

    at: the moment to answer for, the present unless given. `told` hears the share done and
    words. Gives how each tank's work ended.
    """
    db = open_database(address)
    try:
        moment = _moment(db, at)
        with db.read() as connection:
            why = stale_tanks(connection, moment)
            names = names_of(connection, "tank")
        wanted = [tank] if tank else [n for n in names if every or n in why]
        asked = {ask(db, "tank", name, moment, urgent=True): name for name in wanted}
        return {"at": moment.isoformat(), "tanks": _done(db, asked, processes, told, effort)}
    finally:
        db.close()


def _moment(db: Database, at: str) -> datetime:
    if not at:
        return wall_clock()
    with db.read() as connection:
        zone = zone_of(connection)
    try:
        return time_of(at, zone)
    except BadTimeError as bad:
        raise InputError(bad.what, where="--at", remedy=bad.remedy) from None


def _done(
    db: Database, asked: dict[str, str], processes: int,
    told: Callable[[dict[str, Any]], None], effort: Effort | None,
) -> list[dict[str, Any]]:  # fmt: skip
    if not asked:
        return []
    workers = Workers(db.address, processes or None, upkeep=False, effort=effort, niceness=0)
    workers.start()
    try:
        ended = wait_for(db, asked, lambda: told(running(db) or {"progress": 1.0, "message": ""}))
    finally:
        workers.stop()
    return [
        {
            "tank": name, "job": job, "ended": ended[name][0],
            "why": "" if ended[name][0] == "done" else progress(db, ended[name][1])["message"],
        }
        for job, name in asked.items()
    ]  # fmt: skip
