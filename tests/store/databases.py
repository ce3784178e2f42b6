"""Databases to test with: a file, and a server of its own where PostgreSQL is installed."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pleuston.records.record import Rack, Record, Tank
from pleuston.services.who import Who
from pleuston.store.session import Database
from pleuston.store.whole import put_record

NOW = datetime(2026, 5, 2, 9, 0, tzinfo=UTC)
KIM, LEE = Who("kim", "phone of kim", "keeper"), Who("lee", "phone of lee", "helper")
GUEST = Who("guest", "laptop", "viewer")
UUID = "00000000-0000-4000-8000-{:012d}"


def programs() -> Path | None:
    """The folder of PostgreSQL's programs; None where it is not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    here = shutil.which("initdb")
    return Path(here).resolve().parent if here else None


def _as_postgres() -> dict[str, Any]:
    """The server refuses to run as root: then it runs as its own user."""
    if os.getuid() != 0:
        return {}
    try:
        entry = pwd.getpwnam("postgres")
    except KeyError:
        return {}
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


@contextmanager
def server() -> Iterator[str]:
    """A PostgreSQL of our own in a temporary folder, on loopback only; gives its address."""
    bin_ = programs()
    assert bin_ is not None
    folder = Path(tempfile.mkdtemp(prefix="pleuston-pg-"))
    who = _as_postgres()
    if who:
        os.chown(folder, who["user"], who["group"])
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    data = folder / "data"

    def run(*command: str | Path) -> None:
        with (folder.parent / f"{folder.name}.log").open("ab") as log:
            subprocess.run(
                [str(part) for part in command], check=True, cwd="/", stdout=log, stderr=log,
                timeout=60, env={"PATH": "/usr/bin:/bin", "LC_ALL": "C"}, **who,
            )  # fmt: skip

    options = (
        f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories= "
        "-c fsync=off -c max_connections=60"
    )
    try:
        run(bin_ / "initdb", "-D", data, "-U", "rack", "-A", "trust", "-E", "UTF8", "--locale=C",
            "--no-sync")  # fmt: skip
        run(bin_ / "pg_ctl", "-D", data, "-w", "-t", "30", "-o", options, "start")
        try:
            yield f"postgresql+psycopg://rack@127.0.0.1:{port}/postgres"
        finally:
            run(bin_ / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        (folder.parent / f"{folder.name}.log").unlink(missing_ok=True)


def two_tanks(db: Database) -> None:
    """A small rack: two tanks, on the clock of Paris."""
    tanks = (
        Tank("Fern", 30.0, 0.12, started=datetime(2026, 1, 1, 23, tzinfo=UTC),
             started_text="2026-01-02", top_up_water="rain"),
        Tank("Moss", 12.5, 0.06),
    )  # fmt: skip
    with db.write() as connection:
        put_record(connection, Record(Rack("Shelf", "Europe/Paris"), tanks=tanks), NOW)


def ph(value: float, name: int | str = "", **more: Any) -> dict[str, Any]:
    """A row that logs a pH reading; name: the number of its id."""
    entry_id = UUID.format(name) if isinstance(name, int) else name
    return {"id": entry_id, "tank": "Fern", "kind": "reading", "what": "ph",
            "low": value, "high": value, **more}  # fmt: skip
