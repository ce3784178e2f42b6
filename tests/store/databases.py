"""Databases to test with: a file, and a server of its own where PostgreSQL is installed."""

from __future__ import annotations

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
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
    port = _free_port()
    data = folder / "data"

    def run(*command: str | Path) -> None:
        with (folder.parent / f"{folder.name}.log").open("ab") as log:
            subprocess.run(
                [str(part) for part in command], check=True, cwd="/", stdout=log, stderr=log,
                timeout=60, env={"PATH": "/usr/bin:/bin", "LC_ALL": "C"}, **who,
            )  # fmt: skip

    settings = {
        "listen_addresses": "127.0.0.1", "port": port, "unix_socket_directories": "",
        "fsync": "off", "max_connections": 60,
    }  # fmt: skip
    address = f"postgresql+psycopg://rack@127.0.0.1:{port}/postgres"
    log = folder.parent / f"{folder.name}.log"
    try:
        run(bin_ / "initdb", "-D", data, "-U", "rack", "-A", "trust", "-E", "UTF8", "--locale=C",
            "--no-sync")  # fmt: skip
        chosen = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
        with log.open("ab") as written:
            serving = subprocess.Popen(
                [str(bin_ / "postgres"), "-D", str(data), *chosen], cwd="/", stdout=written,
                stderr=written, env={"PATH": "/usr/bin:/bin", "LC_ALL": "C"},
                preexec_fn=_ends_with_us, **who,
            )  # fmt: skip
        try:
            _wait_for(address, serving, log)
            yield address
        finally:
            serving.send_signal(signal.SIGQUIT)
            serving.wait(30)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        log.unlink(missing_ok=True)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _ends_with_us() -> None:
    """Let the server stop when the tests are killed."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGQUIT)


def _wait_for(address: str, serving: subprocess.Popen[bytes], log: Path) -> None:
    """Wait until the server answers."""
    from psycopg import OperationalError, connect

    plain = address.replace("+psycopg", "")
    for _ in range(600):
        if serving.poll() is not None:
            raise RuntimeError(f"PostgreSQL did not start: {log.read_text()[-1000:]}")
        try:
            connect(plain).close()
        except OperationalError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError("PostgreSQL does not answer")


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
