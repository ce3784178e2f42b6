"""A keeper's first day in a browser, by command and as data: the same record each time."""

from __future__ import annotations

import json
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect, sync_playwright
from tests.browser.conftest import CHROMIUM, DESKTOP, PHONE, QUIET

pytestmark = pytest.mark.browser
COMMAND = str(Path(sys.executable).with_name("pleuston"))
SETTINGS = {"tank": "Willow", "net_l": "28", "surface_m2": "0.1", "lid": "open", "flow": "still",
            "light_hours": "9", "light_ppfd": "70", "cover_target_pct": "40"}  # fmt: skip
NOTED = (
    ("plant_in", "Lemna minor", 10.0, 10.0, "g"),
    ("stock_in", "Neocaridina davidi", 8.0, 8.0, ""),
    ("feed", "flake", 0.05, 0.05, "g"),
    ("reading", "temperature", 22.25, 22.75, "C"),
    ("reading", "ph", 6.75, 7.25, ""),
)


def run(*arguments: str) -> str:
    made = subprocess.run([COMMAND, *arguments], capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    return made.stdout


@contextmanager
def served(rack: Path) -> Iterator[str]:
    """The app as a keeper starts it, on a new database."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = subprocess.Popen([COMMAND, "serve", str(rack), "--port", str(port), "--workers", "1"])
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(100):
            try:
                urllib.request.urlopen(address, timeout=5).read()
                break
            except OSError:
                time.sleep(0.1)
        yield address
    finally:
        app.terminate()
        app.wait(30)


def asked(address: str, path: str, data: Any = None, method: str = "GET") -> Any:
    body = None if data is None else json.dumps(data).encode()
    request = urllib.request.Request(
        address + path, body, {"Content-Type": "application/json", "Origin": address}, method=method
    )
    return json.load(urllib.request.urlopen(request, timeout=30))


def record(rack: Path, folder: Path) -> tuple[list[tuple[str, ...]], list[str]]:
    """What stands in a rack: its tanks, and its entries without times and ids."""
    run("export", str(rack), str(folder))
    rows = (folder / "entries.csv").read_text().splitlines()[1:]
    cells = [row.split(",") for row in rows]
    noted = sorted((c[3], c[4], c[5], c[6], c[7]) for c in cells)
    return noted, (folder / "tanks.csv").read_text().splitlines()


def as_noted() -> list[tuple[str, ...]]:
    return sorted((k, w, f"{a:g}", f"{b:g}", u) for k, w, a, b, u in NOTED)


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_in_a_browser(tmp_path: Path, device: str) -> None:
    rack = tmp_path / "rack.db"
    options: Any = PHONE if device == "phone" else DESKTOP
    with served(rack) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        page = browser.new_context(base_url=address, **options).new_page()
        page.goto("/")
        page.get_by_role("link", name="Set up a tank").click()
        for name, value in SETTINGS.items():
            field = page.locator(f"[name={name}]")
            if name in ("lid", "flow"):
                field.select_option(value)
            else:
                field.fill(value)
        page.get_by_role("button", name="Save").click()
        page.wait_for_url("**/t/Willow/log*")
        entries = [
            {"tank": "Willow", "kind": k, "what": w, "low": a, "high": b, "unit": u}
            for k, w, a, b, u in NOTED[:2]
        ]
        asked(address, "/api/v1/entries", {"entries": entries}, "POST")
        log_by_hand(page)
        page.goto("/t/Willow/outlook")
        # The page renews itself when the workers have made the tank's outlook.
        page.locator("canvas").first.wait_for(timeout=120_000)
        page.goto("/paper/round.html")
        assert "Willow" in page.locator("body").inner_text()
        assert page.pdf().startswith(b"%PDF")
        page.goto("/backups")
        page.get_by_role("button", name="Make one now").click()
        assert "Written and checked" in page.locator("#main").inner_text()
        browser.close()
    backup = next((tmp_path / "rack-backups").glob("*.db"))
    elsewhere = tmp_path / "elsewhere.db"
    run("restore", str(backup), str(elsewhere))
    noted, tanks = record(elsewhere, tmp_path / "out")
    assert noted == as_noted()
    assert tanks == record(rack, tmp_path / "own")[1]


def log_by_hand(page: Page) -> None:
    """Feed, temperature and pH through the quick log's own forms."""
    said = page.locator("#said")
    page.goto("/t/Willow/log?kind=feed")
    page.locator("select[name=what]").first.select_option("flake")
    page.get_by_role("textbox", name="How much").fill("0.05")
    page.get_by_role("button", name="Save").first.click()
    expect(said).to_contain_text("Saved: Feed flake 0.05 g")
    page.goto("/t/Willow/log?kind=reading&what=temperature")
    page.get_by_role("textbox", name="Shown").fill("22.5")
    page.get_by_role("button", name="Save").first.click()
    expect(said).to_contain_text("Saved: Water temperature")
    page.goto("/t/Willow/log?kind=reading&what=ph")
    page.locator('button[name=pair][value="6.75|7.25"]').first.click()
    expect(said).to_contain_text("Saved: pH")


def test_by_command(tmp_path: Path) -> None:
    rack = tmp_path / "rack.db"
    folder = tmp_path / "start"
    folder.mkdir()
    columns = ("tank,net_l,surface_m2,lid,heater_c,light_hours,light_ppfd,soil,soil_mm,cap_mm,"
               "soil_since,started,flow,top_up_water,cover_target_pct,note")  # fmt: skip
    row = ",".join(SETTINGS.get(name, "") for name in columns.split(","))
    (folder / "rack.csv").write_text("key,value\ntimezone,Etc/UTC\n")
    (folder / "tanks.csv").write_text(f"{columns}\n{row}\n")
    (folder / "entries.csv").write_text("id,at,tank,kind,what,low,high,unit,by,method,note\n")
    run("import", str(folder), str(rack))
    for kind, what, low, high, unit in NOTED:
        much = f"{low:g}" if low == high else f"{low:g}-{high:g}"
        run("log", str(rack), "Willow", kind, what, f"{much}{unit}")
    made = json.loads(run("outlook", str(rack), "Willow", "--days", "3", "--json"))
    assert len(made["quantities"]["ec25"]["p50"]) == 3
    run("sheet", "round", str(rack), "--out", str(tmp_path / "round.pdf"))
    assert (tmp_path / "round.pdf").read_bytes().startswith(b"%PDF")
    told = json.loads(run("backup", str(rack), "--json"))
    run("restore", told["file"], str(tmp_path / "elsewhere.db"))
    assert record(tmp_path / "elsewhere.db", tmp_path / "out")[0] == as_noted()


def test_as_data(tmp_path: Path) -> None:
    rack = tmp_path / "rack.db"
    with served(rack) as address:
        asked(address, "/api/v1/catalogue/tank", {"rows": [SETTINGS], "new": True}, "PUT")
        entries = [
            {"id": f"00000000-0000-4000-8000-00000000000{n}", "tank": "Willow", "kind": k,
             "what": w, "low": a, "high": b, "unit": u}
            for n, (k, w, a, b, u) in enumerate(NOTED)
        ]  # fmt: skip
        for _ in range(2):
            asked(address, "/api/v1/entries", {"entries": entries}, "POST")
        job = asked(address, "/api/v1/tanks/Willow/jobs", {}, "POST")["job"]
        for _ in range(240):
            if asked(address, f"/api/v1/jobs/{job}")["state"] in ("done", "lost"):
                break
            time.sleep(0.5)
        kept = asked(address, "/api/v1/tanks/Willow/answers/outlook")
        assert len(kept["answer"]["quantities"]["ec25"]["p50"]) == 28
        assert asked(address, "/api/v1/round")["tanks"][0]["tank"] == "Willow"
    assert record(rack, tmp_path / "out")[0] == as_noted()
    with sqlite3.connect(rack) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    file.close()
