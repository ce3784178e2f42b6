"""Every screen, on phone and desk, light and dark: usable by all, and quiet.

Checked with axe-core 4.14.1 (MPL-2.0, beside this file, for tests alone): WCAG 2.2 A and AA
and best practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page
from tests.photo.scenes import Scene, picture
from tests.web.answers import give_answers
from tests.web.racks import HOSTILE

from pleuston.services import people, photos
from pleuston.services.who import Who
from pleuston.web.render import tank_url

from .conftest import DESKTOP, PHONE, App

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"]
PHOTO = "33333333-3333-4333-8333-333333333333"
SCREENS = (
    "/", "/?order=worst", "/round", "/round?minutes=1", "/log", "/log/round", "/log/kits",
    "/log/entries",
    "/help-now", "/more", "/where", "/where?name=oxidise_ammonium", "/api", "/paper",
    "/paper/round.html", "/take-in", "/give-out", "/changes", "/settings", "/people", "/backups",
    "/stores/waters", "/stores/blends", "/stores/feeds", "/stores/soils", "/stores/species",
    "/stores/waters/edit?name=hard%20tap", "/stores/blends/edit", "/tanks/new", "/t/Alder",
    "/t/Alder/outlook", "/t/Alder/outlook?span=night", "/t/Alder/outlook?span=months",
    "/t/Alder/outlook?quantity=cover", "/t/Alder/limits", "/t/Alder/ledger",
    "/t/Alder/ledger?element=N&since=2026-04-01&until=2026-04-28", "/t/Alder/entries",
    "/t/Alder/entries/00000000-0000-4000-8000-000000000006", "/t/Alder/photos",
    "/t/Alder/cover", f"/t/Alder/cover?photo={PHOTO}", "/t/Alder/setup", "/t/Alder/log",
    "/t/Alder/log?kind=reading&what=nitrate_ion", "/t/Alder/log?kind=feed",
    "/t/Alder/log?kind=harvest", "/t/Alder/log?kind=top_up", "/t/Birch", "/t/Birch/outlook",
    "/plan", "/t/Alder/plan", "/plan/stocking?tank=Alder", "/plan/mix?waters=hard+tap&to_gh=6",
    "/plan/start-up?length=60&width=30&depth=27", "/t/Alder/what-if", "/t/Alder/why",
    "/plan/away?tank=Alder", "/plan/feed-budget?tank=Alder", "/plan/soil-age?tank=Alder",
    "/plan/trace?tank=Alder&since=2026-01-01", "/help-now?tank=Alder",
    "/t/Alder/night", "/compare", "/trust", "/t/Alder/trust",
    tank_url(HOSTILE), "/sign-in", "/pair/x", "/nowhere", "/t/Alder/outlook?span=year",
)  # fmt: skip


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The app with answers, a photo and a person in it."""
    served = App(tmp_path_factory.mktemp("full") / "rack.db")
    assert served.db is not None
    now = datetime.now(UTC)
    give_answers(served.db)
    data, _ = picture(Scene())
    photos.add_photo(served.db, "Alder", data, "from above", now, PHOTO, Who(), now)
    people.add_person(served.db, "Kim", "keeper", "a long enough secret", Who(), now)
    yield served
    served.stop()


def looked_at(page: Page, path: str) -> list[str]:
    """What is wrong with a screen."""
    page.goto(path, wait_until="load")
    page.wait_for_timeout(150)
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate(
        "rules => axe.run(document, {runOnly: rules})", RULES
    )
    wrong = [f"{path}: {v['id']}: {v['nodes'][0]['html'][:120]}" for v in found["violations"]]
    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return wrong + ([f"{path}: {over} px too wide"] if over > 0 else [])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", ["phone", "desk", "narrow"])
def test_every_screen_is_for_everybody(
    browser: Browser, full: App, device: str, scheme: str
) -> None:
    options: dict[str, Any] = {
        "phone": PHONE, "desk": DESKTOP, "narrow": {"viewport": {"width": 360, "height": 700}},
    }[device]  # fmt: skip
    context = browser.new_context(
        base_url=full.url, bypass_csp=True, color_scheme=scheme, **options
    )
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    inside = (full.url, "data:", "blob:")
    page.on("request", lambda asked: asked.url.startswith(inside) or faults.append(asked.url))
    wrong = [fault for path in SCREENS for fault in looked_at(page, path)]
    context.close()
    assert wrong + faults == []


def test_no_screen_breaks_its_policy(browser: Browser, full: App) -> None:
    """Under the policy as served, nothing is blocked that a page wants."""
    context = browser.new_context(base_url=full.url, **DESKTOP)
    page = context.new_page()
    said: list[str] = []
    page.on(
        "console",
        lambda line: "Content Security Policy" in line.text and said.append(line.text),
    )
    for path in SCREENS:
        page.goto(path, wait_until="load")
        page.wait_for_timeout(50)
    context.close()
    assert said == []


def test_an_outlook_is_drawn_read_out_and_zoomed_by_button(desktop: Page, app: App) -> None:
    assert app.db is not None
    give_answers(app.db)
    desktop.goto("/t/Alder/outlook?quantity=cover")
    chart = desktop.locator("[data-chart]")
    assert chart.locator("canvas").count() == 1
    box = chart.locator(".u-over").bounding_box()
    assert box is not None
    desktop.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    assert "(80 %), middle" in chart.locator("[data-read]").inner_text()
    chart.get_by_role("button", name="Closer").focus()
    desktop.keyboard.press("Enter")
    assert chart.locator("canvas").count() == 1
    chart.get_by_text("Numbers").click()
    assert chart.get_by_role("row").count() == 29


def test_a_ledger_is_a_picture_at_a_desk_and_bars_on_a_phone(
    desktop: Page, phone: Page, app: App
) -> None:
    assert app.db is not None
    give_answers(app.db)
    desktop.goto("/t/Alder/ledger")
    assert desktop.locator(".flow-picture path").count() == 6
    phone.goto("/t/Alder/ledger")
    assert phone.locator(".flow-picture").is_hidden()
    assert phone.locator(".flow meter").count() == 6
