"""The app as a keeper waits for it: first start, pages of a big rack, weight, paint, a tap.

Targets: cold start to the first page 1,500 ms; list of 300 tanks with 100,000 entries 150 ms;
pages 60 kB with charts, gzip; first contentful paint 250 ms; tap to confirmation 150 ms.
"""

from __future__ import annotations

import gzip
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchmarks.store import NOW, big_rack
from pleuston.store.session import open_database
from pleuston.store.whole import put_record

COMMAND = str(Path(sys.executable).with_name("pleuston"))
CHROMIUM = Path("/usr/bin/chromium")
QUIET = ["--no-sandbox", "--disable-quic", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
PAGES = ("/", "/round", "/log", "/t/Dogwood", "/t/Dogwood/outlook", "/t/Dogwood/ledger",
         "/t/Dogwood/log", "/help-now")  # fmt: skip
TAPS = 9


def app(quick: bool) -> dict[str, Any]:
    """The app's times and weights on this machine."""
    with tempfile.TemporaryDirectory() as folder:
        found: dict[str, Any] = {"cold_start_ms": cold_start(Path(folder) / "new.db")}
        found |= big(Path(folder) / "big.db", 10_000 if quick else 100_000)
        demo = Path(folder) / "demo.db"
        subprocess.run([COMMAND, "demo", str(demo), "--this-week"], check=True, capture_output=True)
        chosen = ["Dogwood"] if quick else []
        subprocess.run([COMMAND, "refresh", str(demo), *chosen], check=True, capture_output=True)
        with served(demo) as address:
            weights = {path: weight(address, path) for path in PAGES}
            found["heaviest_page_kb"] = max(weights.values())
            found["page_kb"] = weights
            if CHROMIUM.is_file():
                found |= seen(address)
    return {"app": found}


@contextmanager
def served(rack: Path) -> Iterator[str]:
    """The app without workers, so that nothing else runs while it is timed."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [COMMAND, "serve", str(rack), "--port", str(port), "--workers", "0"]
    serving = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        while True:
            try:
                fetched(address, "/")
                break
            except OSError:
                time.sleep(0.01)
        yield address
    finally:
        serving.terminate()
        serving.wait(30)


def fetched(address: str, path: str) -> bytes:
    """The bytes of a page as they travel."""
    request = urllib.request.Request(address + path, headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return bytes(answer.read())


def cold_start(rack: Path) -> float:
    """From the command on a rack that is not there yet to its first page [ms]."""
    begun = time.perf_counter()
    with served(rack):
        return 1e3 * (time.perf_counter() - begun)


def big(rack: Path, entries: int) -> dict[str, float]:
    """Pages of three hundred tanks [ms]."""
    db = open_database(rack, create=True)
    with db.write() as connection:
        put_record(connection, big_rack(entries), NOW)
    db.close()
    paths = {"list_300_tanks_ms": "/", "round_300_tanks_ms": "/round", "tank_ms": "/t/T001"}
    with served(rack) as address:
        return {name: timed(address, path) for name, path in paths.items()}


def timed(address: str, path: str) -> float:
    """Median time of a page [ms]."""
    times = []
    for _ in range(TAPS):
        begun = time.perf_counter()
        fetched(address, path)
        times.append(1e3 * (time.perf_counter() - begun))
    return statistics.median(times)


def weight(address: str, path: str) -> float:
    """A page with its styles, scripts, and the modules these name, compressed [kB]."""
    page = fetched(address, path)
    text = gzip.decompress(page).decode() if page[:2] == b"\x1f\x8b" else page.decode()
    files = set(re.findall(r'(?:src|href)="(/static/[^"#]+)', text))
    for file in [f for f in files if f.endswith(".js") and "/vendor/" not in f]:
        body = fetched(address, file)
        code = gzip.decompress(body).decode() if body[:2] == b"\x1f\x8b" else body.decode()
        named = re.findall(r'from "\./([^"]+)"', code)
        files |= {f"{file.rpartition('/')[0]}/{name}" for name in named}
    return (len(page) + sum(len(fetched(address, f)) for f in files)) / 1000.0


def seen(address: str) -> dict[str, float]:
    """First contentful paint, and from tap to confirmation, in a real browser [ms]."""
    from playwright.sync_api import sync_playwright

    paint = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=QUIET)
        paints: dict[str, list[float]] = {"/": [], "/t/Dogwood/outlook": []}
        for path, times in paints.items():
            for _ in range(TAPS):
                page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
                page.goto(address + path, wait_until="load")
                page.wait_for_timeout(100)
                times.append(page.evaluate(paint))
                page.context.close()
        page = browser.new_page(viewport={"width": 390, "height": 844})
        taps = [tapped(page, address) for _ in range(TAPS)]
        browser.close()
    return {
        "first_paint_list_ms": statistics.median(paints["/"]),
        "first_paint_outlook_ms": statistics.median(paints["/t/Dogwood/outlook"]),
        "tap_to_confirmation_ms": statistics.median(taps),
    }


def tapped(page: Any, address: str) -> float:
    """One tap on a step of a kit until the page says that it is saved [ms]."""
    page.goto(f"{address}/t/Dogwood/log?kind=reading&what=ph", wait_until="load")
    page.wait_for_timeout(200)
    return float(page.evaluate("""() => new Promise((done) => {
        const said = document.getElementById("said");
        const begun = performance.now();
        new MutationObserver((_, watch) => {
          if (!said.textContent.includes("Saved")) return;
          watch.disconnect();
          done(performance.now() - begun);
        }).observe(said, { childList: true, subtree: true, characterData: true });
        document.querySelector("button[name=pair]").click();
      })"""))
