"""Acts carried over, kits as steps, the round's minutes, and what to test, from what is kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.planning.rack import record as small_record

from pleuston.planning.fit import within
from pleuston.planning.gauges import gauge, usual_gauges
from pleuston.records.record import Entry
from pleuston.services.carry import carried_over, rounds_before
from pleuston.services.due_tests import due_data
from pleuston.services.kit_steps import gauges_of, gauges_with
from pleuston.services.kits import EXAMPLES, Kit
from pleuston.services.ticks import skip_row, tick_row
from pleuston.store.beliefs import MadeFrom, put_answers

from .jobs_rack import new_database

NOW = datetime(2026, 4, 20, 9, tzinfo=UTC)
WEEK = timedelta(days=7)


def act(kind: str = "thin", what: str = "Lemna minor", amount: float | None = 12.0,
        **more: Any) -> dict[str, Any]:  # fmt: skip
    return {"act": kind, "what": what, "amount": amount, "unit": "g", "minutes": 1.0,
            "safety": False, "if_skipped": "it waits", **more}  # fmt: skip


def part(*acts: dict[str, Any], state: str = "watch") -> dict[str, Any]:
    return {"tank": "Fern", "state": state, "minutes": 0.2 + len(acts), "acts": list(acts)}


def noted(row: dict[str, Any], at: datetime) -> Entry:
    return Entry(row["id"], at, row["tank"], row["kind"], row["what"], row["low"], row["high"],
                 row["unit"], method=row["method"], note=row["note"])  # fmt: skip


def first(*entries: Entry, before: dict[str, Any] | None = None, amount: float = 25.0,
          at: datetime = NOW, **more: Any) -> dict[str, Any]:  # fmt: skip
    made = carried_over(part(act(amount=amount, **more), state="act"), before,
                        small_record(entries), at)  # fmt: skip
    return dict(made["acts"][0])


def two_weeks_ago() -> dict[str, Any]:
    return carried_over(part(act()), None, small_record(), NOW - 2 * WEEK)


def test_an_act_not_done_comes_back_with_its_weeks_and_what_has_happened() -> None:
    found = first(before=two_weeks_ago())
    assert found["carried_over"] == 2
    assert found["since"] == ("Advised 2 weeks ago and not done. Then 12 g, now 25 g. "
                              "The tank was 'watch' then and is 'act' now.")  # fmt: skip
    again = carried_over(part(act()), {"acts": [found]}, small_record(), NOW + WEEK)["acts"][0]
    assert again["carried_over"] == 3
    assert again["advised_amount"] == 12.0


@pytest.mark.parametrize("kind", ["harvest", "tick"])
def test_an_act_done_by_entry_or_tick_begins_anew(kind: str) -> None:
    row = tick_row("Fern", "thin", "Lemna minor", 9.0, "x", NOW - WEEK)
    done = noted(row if kind == "tick" else {**row, "method": ""}, NOW - WEEK)
    found = first(done, before=two_weeks_ago())
    assert (found["carried_over"], found["since"]) == (0, "")
    other = noted({**row, "what": "Pistia stratiotes"}, NOW - WEEK)
    assert first(other, before=two_weeks_ago())["carried_over"] == 2


def test_what_was_noted_as_left_out_is_followed_without_any_round_kept() -> None:
    skipped = noted(skip_row("Fern", "thin", "Lemna minor", "s", NOW - WEEK), NOW - WEEK)
    assert first(skipped)["carried_over"] == 1
    assert first()["carried_over"] == 0
    old = noted(skip_row("Fern", "thin", "Lemna minor", "s", NOW), NOW - 12 * WEEK)
    assert first(old)["carried_over"] == 0


def test_a_reading_is_the_test_done_as_ion_or_not() -> None:
    before = carried_over(part(act("test", "nitrite", None)), None, small_record(), NOW - WEEK)
    read = Entry("r", NOW - timedelta(days=1), "Fern", "reading", "nitrite_ion", 0.0, 0.1, "mg/L")
    for entries, weeks in (((read,), 0), ((), 1)):
        made = carried_over(part(act("test", "nitrite", None)), before, small_record(entries), NOW)
        assert made["acts"][0]["carried_over"] == weeks


def test_what_waits_longest_comes_first_in_its_tank_when_minutes_are_short() -> None:
    waits, fresh = act("dose", "x", carried_over=2), act("thin", "y", carried_over=0)
    (kept,), (left,) = within([part(fresh, waits)], 1.2)
    assert [a["act"] for a in kept["acts"]] == ["dose"]
    assert (left["tank"], left["act"], left["if_skipped"]) == ("Fern", "thin", "it waits")
    assert kept["minutes"] == 1.2


def test_the_worst_tank_comes_first_and_what_guards_animals_always() -> None:
    guard = act("water_change", "soft", 5.0, safety=True, minutes=6.0)
    bad, calm = part(act("thin"), guard, state="danger"), {**part(act("thin")), "tank": "Alder"}
    kept, left = within([calm, bad], 7.4)
    assert [a["act"] for a in kept[1]["acts"]] == ["thin", "water_change"]
    assert [(a["tank"], a["act"]) for a in left] == [("Alder", "thin")]
    kept, left = within([calm, bad], 0.0)
    assert [a["act"] for t in kept for a in t["acts"]] == ["water_change"]
    assert len(left) == 2


def test_a_source_is_looked_into_once_for_all_its_tanks() -> None:
    look = act("check_source", "tap", None, safety=True, minutes=1.0)
    kept, _ = within([part(look), {**part(look, state="act"), "tank": "Alder"}], 10.0)
    assert [t["minutes"] for t in kept] == [0.2, 1.2]


def test_own_kits_bring_their_own_steps_in_the_unit_that_is_shown() -> None:
    """Steps 0, 5, 10 mg/L of nitrate part at 2.5 and 7.5: as nitrogen 0.565 and 1.69 mg/L."""
    own = Kit("drops", "nitrate_ion", "mg/L", "chart", (0.0, 5.0, 10.0))
    found = {g.reading: g for g in gauges_with([own])}
    assert found["nitrate"].name == "drops"
    ion = 62.004 / 14.007
    assert found["nitrate"].edges[:2] == pytest.approx((2.5 / ion, 7.5 / ion), rel=1e-4)
    assert found["kh"] == gauge("kh")
    shipped = [replace(kit, own=False) for kit in EXAMPLES]
    assert gauges_with(shipped) == usual_gauges()


def test_a_folder_has_the_usual_ways_to_read(tmp_path: Path) -> None:
    assert gauges_of(tmp_path) == usual_gauges()


def test_what_to_test_is_told_with_what_else_would_tell() -> None:
    test = {"tank": "Fern", "what": "kh", "value": 1.0, "minutes": 3.0, "coins": 0.1,
            "last_days": None}  # fmt: skip
    other = {**test, "what": "nitrite", "value": 0.5}
    made = due_data([{"tests": [test, other]}, {}], "now", 3.0)
    assert (made["tests"], made["others"]) == ([test], [other])
    assert (made["minutes"], made["coins"]) == (3.0, 0.1)


def test_a_database_tells_its_last_round_and_nothing_later(tmp_path: Path) -> None:
    db = new_database(tmp_path / "rack.db")
    with db.write() as connection:
        made = MadeFrom(NOW, "m", 1, "r", "{}", NOW)
        put_answers(connection, "Fern", made, [("round", two_weeks_ago())])
    db.close()
    assert rounds_before(tmp_path / "rack.db", NOW)["Fern"] == two_weeks_ago()
    assert rounds_before(tmp_path / "rack.db", NOW - WEEK) == {}
    assert rounds_before(tmp_path, NOW) == {}
