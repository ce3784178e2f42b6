"""Planning in a browser: a new tank without script, a correction at a desk."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def test_a_new_tank_is_planned_on_a_phone_without_script(plain: Page) -> None:
    plain.goto("/more")
    plain.locator("a[href='/plan']").click()
    plain.get_by_role("link", name="Start a tank").click()
    for label, value in (("Inside length", "60"), ("Inside width", "30"), ("Depth from", "27")):
        plain.get_by_label(label).fill(value)
    plain.get_by_label("Which soil").select_option("garden soil")
    plain.get_by_label("A filtered tank is converted").check()
    plain.get_by_role("button", name="Plan").click()
    expect(plain.get_by_role("heading", name="Animals only after proof")).to_be_visible()
    expect(plain.get_by_text("mg of ammonium chloride")).to_be_visible()
    expect(plain.get_by_text("Keep the filter for")).to_be_visible()
    assert plain.get_by_label("Inside length").input_value() == "60"


def test_what_is_missing_is_told_beside_what_was_typed(plain: Page) -> None:
    plain.goto("/plan/start-up")
    plain.get_by_label("Inside length").fill("60")
    plain.get_by_role("button", name="Plan").click()
    expect(plain.get_by_role("alert")).to_contain_text("Inside width")
    assert plain.get_by_label("Inside length").input_value() == "60"


def test_gasping_puts_the_large_change_first(desktop: Page) -> None:
    desktop.goto("/plan/dilute?tank=Alder")
    for label, value in (
        ("Conductivity of the tank", "400"), ("Carbonate hardness", "6"), ("General hardness", "8"),
        ("pH of the tank", "7.6"), ("Temperature of the tank", "24"), ("Total ammonia", "1"),
        ("It stands at", "40"), ("It is to come to", "20"),
    ):  # fmt: skip
        desktop.get_by_role("textbox", name=label).fill(value)
    desktop.get_by_label("Animals gasp").check()
    desktop.get_by_role("button", name="Plan").click()
    first = desktop.locator("main ol > li").first
    expect(first).to_contain_text("This does not wait")
    expect(desktop.get_by_text("Never start a siphon by mouth")).to_be_visible()
