"""A real browser, on a phone and at a desk, and the app served to it from a small rack."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright
from tests.web.racks import small_database

from pleuston.store.session import Database, open_database
from pleuston.web.app import create_app
from pleuston.web.site import Settings

CHROMIUM = "/usr/bin/chromium"
QUIET = (
    "--no-sandbox", "--disable-quic", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
)  # fmt: skip
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESKTOP = {"viewport": {"width": 1280, "height": 800}}


class App:
    """The app on a port of its own; it can be stopped and started again on the same one."""

    def __init__(self, file: Path) -> None:
        self.file = file
        small_database(file, datetime.now(UTC)).close()
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.db: Database | None = None
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None
        self.start()

    def start(self) -> None:
        """Serve; returns when the port answers."""
        self.db = open_database(self.file)
        config = uvicorn.Config(
            create_app(self.db, Settings(address=self.url)), host="127.0.0.1", port=self.port,
            log_level="error", access_log=False, timeout_graceful_shutdown=1,
        )  # fmt: skip
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        for _ in range(200):
            if self._server.started:
                return
            self._thread.join(0.05)
        raise RuntimeError("the app did not start")

    def stop(self) -> None:
        """Stop serving: the port answers nobody."""
        if self._server is None or self._thread is None or self.db is None:
            return
        self._server.should_exit = True
        self._thread.join(10)
        self.db.close()
        self._server = None


@pytest.fixture(scope="session")
def playwright_here() -> Iterator[Playwright]:
    """Playwright, driving the browser of this machine."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright_here: Playwright) -> Iterator[Browser]:
    """One browser for all tests."""
    launched = playwright_here.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
    yield launched
    launched.close()


@pytest.fixture
def app(tmp_path: Path) -> Iterator[App]:
    """The app on a fresh small rack."""
    served = App(tmp_path / "rack.db")
    yield served
    served.stop()


def _page(browser: Browser, app: App, **options: object) -> Iterator[Page]:
    context: BrowserContext = browser.new_context(base_url=app.url, **options)  # type: ignore[arg-type]
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    yield page
    context.close()
    assert not faults, faults


@pytest.fixture
def phone(browser: Browser, app: App) -> Iterator[Page]:
    """A page on a phone; a fault of a script fails the test."""
    yield from _page(browser, app, **PHONE)


@pytest.fixture
def desktop(browser: Browser, app: App) -> Iterator[Page]:
    """A page at a desk; a fault of a script fails the test."""
    yield from _page(browser, app, **DESKTOP)


@pytest.fixture
def plain(browser: Browser, app: App) -> Iterator[Page]:
    """A page on a phone without script."""
    yield from _page(browser, app, java_script_enabled=False, **PHONE)
