"""Help in an emergency: the first steps are there at once, and without the network."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def test_the_steps_open_without_the_network(phone: Page) -> None:
    phone.goto("/help-now?tank=Alder")
    phone.context.set_offline(True)
    first = phone.locator("main details").first
    expect(first.locator("li").first).to_be_hidden()
    first.locator("summary").click()
    expect(first.locator("li").first).to_be_visible()
    expect(phone.get_by_role("heading", name="Amounts for Alder")).to_be_visible()


def test_from_anywhere_help_is_two_taps_away(phone: Page) -> None:
    phone.goto("/")
    phone.get_by_role("link", name="Help now").click()
    phone.locator("summary", has_text="Gasping at the surface").click()
    expect(phone.locator("main details[open] li").first).to_be_visible()
