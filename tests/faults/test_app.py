"""The app under many clients, killed while a phone resends, and given anything at all."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from tests.web.racks import small_database

from pleuston.services.entries import entries_of_tank
from pleuston.store.session import open_database

COMMAND = str(Path(sys.executable).with_name("pleuston"))
CLIENTS, SECONDS = 50, 60.0


class Served:
    """The app in a process of its own, to be killed and started again on the same port."""

    def __init__(self, rack: Path) -> None:
        self.rack = rack
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        command = [COMMAND, "serve", str(self.rack), "--port", str(self.port), "--workers", "0"]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        for _ in range(200):
            try:
                self.get("/api/v1/rack")
                return
            except OSError:
                time.sleep(0.05)
        pytest.fail("the app did not answer")

    def get(self, path: str) -> bytes:
        with urllib.request.urlopen(self.address + path, timeout=30) as answer:
            return bytes(answer.read())

    def note(self, name: str, note: str) -> int:
        """Send one entry; gives the status."""
        row = {"id": name, "tank": "Birch", "kind": "note", "note": note}
        request = urllib.request.Request(
            f"{self.address}/api/v1/entries", json.dumps({"entries": [row]}).encode(),
            {"Content-Type": "application/json", "Origin": self.address},
        )  # fmt: skip
        with urllib.request.urlopen(request, timeout=30) as answer:
            return int(answer.status)

    def end(self, how: int = signal.SIGTERM) -> None:
        os.kill(self.process.pid, how)
        self.process.wait(30)


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    small_database(tmp_path / "rack.db").close()
    return tmp_path / "rack.db"


def noted(rack: Path) -> Counter[str]:
    """How often each entry of the test stands in the record."""
    db = open_database(rack)
    try:
        return Counter(e.id for e in entries_of_tank(db, "Birch", kind="note"))
    finally:
        db.close()


@pytest.mark.slow
def test_fifty_clients_for_a_minute_lose_and_double_nothing(rack: Path) -> None:
    app = Served(rack)
    acknowledged: list[str] = []
    faults: list[str] = []
    ends = time.monotonic() + SECONDS

    def client(number: int) -> None:
        while time.monotonic() < ends:
            name = str(uuid.uuid4())
            try:
                statuses = {app.note(name, f"client {number}") for _ in range(2)}
                app.get("/" if number % 2 else "/t/Birch/entries")
                acknowledged.append(name)
                if statuses != {200, 201}:
                    faults.append(f"{statuses}")
            except OSError as fault:
                faults.append(str(fault))
            time.sleep(0.4)

    threads = [threading.Thread(target=client, args=(n,)) for n in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    app.end()
    assert faults == []
    assert len(acknowledged) > 10 * CLIENTS
    assert noted(rack) == Counter(acknowledged)


@pytest.mark.slow
def test_a_server_killed_while_a_phone_resends_keeps_each_entry_once(rack: Path) -> None:
    app = Served(rack)
    waiting = [str(uuid.uuid4()) for _ in range(120)]
    sent: list[str] = []
    for number, name in enumerate(waiting):
        if number in (30, 70):
            threading.Timer(0.01, app.end, [signal.SIGKILL]).start()
        try:
            app.note(name, "from the queue")
            sent.append(name)
        except OSError:
            app.process.wait(30)
            app.start()
    held = noted_now(app)
    assert set(sent) <= held
    for name in waiting:
        assert app.note(name, "from the queue") == (200 if name in held else 201)
    app.end()
    assert noted(rack) == Counter(waiting)
    assert len(sent) < len(waiting)


def noted_now(app: Served) -> set[str]:
    """The entries that the app says it holds."""
    rows: list[dict[str, Any]] = json.loads(app.get("/api/v1/entries?tank=Birch&limit=1000"))
    return {row["id"] for row in rows}


@pytest.mark.slow
def test_anything_at_all_is_answered_as_described(rack: Path, tmp_path: Path) -> None:
    """Schemathesis over the whole description: no 5xx, no answer that is not described.

    Left out: that what fits the schema is accepted, as an entry must also make sense.
    """
    app = Served(rack)
    command = [
        str(Path(sys.executable).with_name("schemathesis")), "run",
        f"{app.address}/api/v1/openapi.json", "--max-examples", "20", "--seed", "1",
        "--exclude-checks", "positive_data_acceptance", "--header", f"Origin: {app.address}",
    ]  # fmt: skip
    made = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False)
    app.end()
    assert made.returncode == 0, made.stdout[-4000:]


def test_a_server_that_is_away_is_told_to_the_client(rack: Path) -> None:
    app = Served(rack)
    app.end(signal.SIGKILL)
    with pytest.raises(urllib.error.URLError):
        app.get("/")
    app.start()
    assert b"Birch" in app.get("/")
    app.end()
