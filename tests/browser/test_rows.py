"""The phone and the server read a form by the same rules."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from playwright.sync_api import Page

from pleuston.base.errors import InputError
from pleuston.web.log_form import rows_of_form

pytestmark = pytest.mark.browser

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
COMMON = {"tank": "Alder", "entry_id": "44444444-4444-4444-8444-444444444444",
          "when": "2026-05-04T08:00", "kind": "reading", "what": "gh", "unit": "dH"}  # fmt: skip
FORMS: list[dict[str, str]] = [
    {**COMMON, "pair": "7.5|15"},
    {**COMMON, "pair": "|0.05", "method": " chart "},
    {**COMMON, "pair": "80|"},
    {**COMMON, "value": "22,5", "half": "0.25"},
    {**COMMON, "value": "0.3", "half": "0.1"},
    {**COMMON, "value": "2", "half": "5", "least": "0", "most": "100"},
    {**COMMON, "value": "-1", "half": "0.45"},
    {**COMMON, "amount": "3", "times": "1.1"},
    {**COMMON, "amount": "0.060", "unit": "g"},
    {**COMMON, "gross": "40.5", "container": "12", "unit": "g", "method": "scale"},
    {**COMMON, "gross": "40.3", "container": "", "unit": "g"},
    {**COMMON, "preset": "odd | name|0.06|0.06|g"},
    {**COMMON, "preset": "flake|||"},
    {**COMMON, "when": "other", "at_other": "2026-05-01T07:15", "minutes": "-2", "pair": "1|2"},
    {**COMMON, "kind": "note", "what": "", "note": "moved", "bare": "1", "scope": "rack"},
    {"tank": "Alder", "when": "2026-05-04T08:00", "kind.1": "reading", "what.1": "ph",
     "value.1": "7.2", "entry_id.1": "a", "kind.2": "reading", "what.2": "kh", "pair.2": "",
     "kind.7": "reading", "what.7": "gh", "tank.7": "Birch", "value.7": "3", "entry_id.7": "b"},
]  # fmt: skip
REFUSED = [
    {**COMMON, "value": "seven"},
    {**COMMON, "value": ""},
    {**COMMON, "gross": "5", "container": "12"},
    {**COMMON, "pair": "1|2", "when": "other", "at_other": ""},
]  # fmt: skip
READ = """async (fields) => {
  const { rowsOf } = await import("/static/rows.js");
  try { return rowsOf(fields, "").rows; } catch (fault) { return fault.message; }
}"""


def comparable(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows with their numbers as numbers, and without who made them."""
    found = []
    for row in rows:
        row = {key: value for key, value in row.items() if key != "by"}
        for end in ("low", "high"):
            text = row.get(end)
            row[end] = None if text in (None, "") else float(text)
        row["at"] = row["at"].removesuffix(":00") if row["at"].count(":") == 2 else row["at"]
        found.append(row)
    return found


@pytest.mark.parametrize("form", FORMS, ids=range(len(FORMS)))
def test_the_same_rows(phone: Page, form: dict[str, str]) -> None:
    phone.goto("/log")
    here = phone.evaluate(READ, list(form.items()))
    assert comparable(here) == comparable([dict(row) for row in rows_of_form(form, NOW)])


@pytest.mark.parametrize("form", REFUSED, ids=range(len(REFUSED)))
def test_the_same_refusals(phone: Page, form: dict[str, str]) -> None:
    phone.goto("/log")
    assert isinstance(phone.evaluate(READ, list(form.items())), str)
    with pytest.raises(InputError):
        rows_of_form(form, NOW)
