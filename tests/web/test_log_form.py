"""Forms of the log read as rows: every way to give an amount, times, what was left empty."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from pleuston.base.errors import InputError
from pleuston.store.exchange_problems import ImportRefused
from pleuston.web.log_form import rows_of_form

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
READING = {"kind": "reading", "tank": "Alder", "what": "nitrate_ion", "unit": "mg/L"}


def ends(**fields: str) -> tuple[str, str]:
    (row,) = rows_of_form({**READING, **fields}, NOW)
    return row["low"], row["high"]


@pytest.mark.parametrize(
    ("fields", "low", "high"),
    [
        ({"pair": "7.5|15"}, "7.5", "15"),
        ({"pair": "|1"}, "", "1"),
        ({"pair": "80|"}, "80", ""),
        ({"value": "22,5", "half": "0.25"}, "22.25", "22.75"),
        ({"value": "2", "half": "5", "least": "0", "most": "100"}, "0", "7"),
        ({"value": "98", "half": "5", "least": "0", "most": "100"}, "93", "100"),
        ({"value": "24.50"}, "24.50", "24.50"),
        ({"amount": "0.060"}, "0.060", "0.060"),
        ({"amount": "3", "times": "1.5"}, "4.5", "4.5"),
        ({"amount": "0.1", "times": "3"}, "0.3", "0.3"),
        ({"gross": "40.5", "container": "12"}, "28.5", "28.5"),
        ({"gross": "40.5", "container": ""}, "40.5", "40.5"),
    ],
)
def test_the_amount(fields: dict[str, str], low: str, high: str) -> None:
    assert ends(**fields) == (low, high)


def test_a_button_says_what_and_how_much() -> None:
    form = {"kind": "feed", "tank": "Alder", "preset": "odd | name|0.06|0.06|g"}
    (row,) = rows_of_form(form, NOW)
    found = [row[name] for name in ("what", "low", "high", "unit")]
    assert found == ["odd | name", "0.06", "0.06", "g"]


def test_the_container_is_remembered_in_the_method() -> None:
    (row,) = rows_of_form(
        {"kind": "harvest", "tank": "Alder", "what": "Lemna minor", "unit": "g", "gross": "40",
         "container": "12", "method": "scale"}, NOW,
    )  # fmt: skip
    assert row["method"] == "scale, container 12 g"


def test_what_is_left_empty_is_no_entry() -> None:
    form = {
        "tank": "Alder", "kind.1": "reading", "what.1": "ph", "value.1": "7.2",
        "kind.2": "reading", "what.2": "kh", "pair.2": "", "kind.3": "reading", "what.3": "gh",
        "value.3": " ",
    }  # fmt: skip
    assert [row["what"] for row in rows_of_form(form, NOW)] == ["ph"]


def test_nothing_filled_in_is_refused() -> None:
    with pytest.raises(InputError, match="nothing was filled in"):
        rows_of_form({**READING, "value": ""}, NOW)


def test_every_flaw_is_named_at_once() -> None:
    form = {
        "tank": "Alder", "kind.1": "reading", "what.1": "ph", "value.1": "seven",
        "kind.2": "reading", "what.2": "kh", "value.2": "1e999",
    }  # fmt: skip
    with pytest.raises(ImportRefused) as refused:
        rows_of_form(form, NOW)
    assert [p.what for p in refused.value.problems] == [
        "'seven' is not a number", "'1e999' is not a number",
    ]  # fmt: skip


def test_a_container_heavier_than_all_is_refused() -> None:
    with pytest.raises(ImportRefused, match="container weighs more"):
        rows_of_form({**READING, "gross": "5", "container": "12"}, NOW)


@pytest.mark.parametrize(
    ("fields", "at"),
    [
        ({}, ""),
        ({"when": "2026-05-04T08:00"}, "2026-05-04T08:00"),
        ({"when": "other", "at_other": "2026-05-01T07:15"}, "2026-05-01T07:15"),
        ({"minutes": "-2"}, "2026-05-04T09:28:00+00:00"),
        ({"when": "2026-05-04T08:00", "minutes": "-2"}, "2026-05-04T07:58:00"),
    ],
)
def test_the_time(fields: dict[str, str], at: str) -> None:
    (row,) = rows_of_form({**READING, "pair": "1|2", **fields}, NOW)
    assert row["at"] == at


def test_another_time_must_be_given() -> None:
    with pytest.raises(ImportRefused, match="time is missing"):
        rows_of_form({**READING, "pair": "1|2", "when": "other", "at_other": ""}, NOW)


def test_what_needs_no_amount() -> None:
    (row,) = rows_of_form({"kind": "note", "tank": "Alder", "bare": "1", "note": "moved"}, NOW)
    assert (row["note"], row.get("low"), row["unit"]) == ("moved", None, "")


def test_the_whole_rack() -> None:
    (row,) = rows_of_form(
        {"kind": "power_off", "tank": "Alder", "bare": "1", "scope": "rack"}, NOW
    )
    assert row["tank"] == ""
