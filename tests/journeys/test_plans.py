"""A keeper plans a holiday, a heat wave and a new tank on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, sync_playwright
from tests.browser.conftest import CHROMIUM, PHONE, QUIET
from tests.journeys.test_first_day import NOTED, SETTINGS, asked, served

pytestmark = pytest.mark.browser
WAIT = 60_000


def open_all(page: Page) -> None:
    """Open what is folded in the main part."""
    page.evaluate("document.querySelectorAll('#main details').forEach(d => d.open = true)")


def fits(page: Page) -> bool:
    """Whether the page is no wider than the phone."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def answered(page: Page, heading: str) -> None:
    """Wait for the answer; the page says when a worker has made it, and a tap shows it."""
    wanted = page.get_by_role("heading", name=heading)
    ready = page.get_by_role("link", name="Show them")
    wanted.or_(ready).first.wait_for(timeout=WAIT)
    if ready.is_visible():
        ready.click()
    wanted.wait_for(timeout=WAIT)


def test_three_plans_on_a_phone(tmp_path: Path) -> None:
    options: Any = PHONE
    with served(tmp_path / "rack.db") as address, sync_playwright() as playwright:
        asked(address, "/api/v1/catalogue/tank", {"rows": [SETTINGS], "new": True}, "PUT")
        entries = [
            {"tank": "Willow", "kind": k, "what": w, "low": a, "high": b, "unit": u}
            for k, w, a, b, u in NOTED
        ]
        asked(address, "/api/v1/entries", {"entries": entries}, "POST")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        page = browser.new_context(base_url=address, **options).new_page()
        holiday(page)
        heat_wave(page)
        new_tank(page)
        browser.close()


def holiday(page: Page) -> None:
    """From the tank's menu to the planner, ten days with a neighbour, and its answer."""
    page.goto("/t/Willow/plan")
    page.get_by_role("link", name="Go on holiday").click()
    page.locator("[name=days]").fill("10")
    page.locator("[name=neighbour]").check()
    page.get_by_role("button", name="Plan", exact=True).click()
    answered(page, "What to do")
    text = page.locator("#main").inner_text()
    assert "for 10 days" in text
    assert "fill to the mark" in text
    assert fits(page)


def heat_wave(page: Page) -> None:
    """A week six kelvin warmer beside going on as now."""
    page.goto("/t/Willow/what-if")
    open_all(page)
    page.locator("[name=name1]").fill("heat wave")
    page.locator("[name=heat1]").fill("6")
    page.locator("form").filter(has=page.locator("[name=heat1]")).locator("button.main").click()
    answered(page, "Chance of breaking each limit")
    text = page.locator("#main").inner_text()
    assert "heat wave" in text
    assert "as now" in text
    assert fits(page)


def new_tank(page: Page) -> None:
    """A planned tank by its inside measures: proofs before animals."""
    page.goto("/plan")
    page.get_by_role("link", name="Start a tank").click()
    for name, value in (("length", "60"), ("width", "30"), ("depth", "27")):
        page.locator(f"[name={name}]").fill(value)
    page.get_by_role("button", name="Plan", exact=True).click()
    answered(page, "What to do")
    assert "ammonia" in page.locator("#main").inner_text().casefold()
    assert fits(page)
