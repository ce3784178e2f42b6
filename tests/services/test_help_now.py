"""Amounts of the first hours: by hand, with ranges, within caps, and where nothing is known."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.planning.rack import START, belief, entry, record, usual

import pleuston
from pleuston.base.errors import UnknownNameError
from pleuston.cli.main import run_command
from pleuston.planning.correction import EMERGENCY_EC
from pleuston.records.record import Water
from pleuston.services.demo import write_demo
from pleuston.services.help_amounts import amounts_now, fed_lately, nights_ahead
from pleuston.services.help_now import help_of_record
from pleuston.services.plan_ground import Ground

NOW = START + timedelta(days=34)
WELL = {
    "temperature": (23.0, 24.0, 25.0), "ec25": (300.0, 320.0, 340.0), "kh": (3.0, 4.0, 5.0),
    "gh": (5.0, 6.0, 7.0), "ph": (7.0, 7.2, 7.4), "ammonium": (0.01, 0.02, 0.04),
    "nitrite": (0.001, 0.002, 0.004), "copper": (0.0005, 0.001, 0.002),
    "ammonia_nh3": (0.0001, 0.0002, 0.0004),
}  # fmt: skip


def ground(standing: dict[str, Any] | None = None, entries: Any = None, **tank: Any) -> Ground:
    made = record(usual() if entries is None else entries, **tank)
    return Ground(made, "Fern", NOW, WELL if standing is None else standing)


def by_name(ground: Ground, night: Any = None) -> dict[str, dict[str, Any]]:
    return {one["name"]: one for one in amounts_now(ground, night)}


def text(one: dict[str, Any]) -> str:
    return " ".join([one["title"], *one["lines"]])


# -- food -----------------------------------------------------------------------------


def test_food_left_out_by_hand() -> None:
    """Four weeks of five days of 0.05 g: 1 g in 28 days; flake of so much protein.

    Monday 2 March 8 h + 34 days is Sunday: the last 28 days hold 20 meals. 0.05 g x 20 / 28 days
    = 0.0357 g a day. Flake: 45 % protein, 16 % of it nitrogen: 72 mg/g -> 2.57 mg a day; in 30 L
    0.086 mg/L a day.
    """
    fed = fed_lately(ground())
    assert fed is not None
    assert (fed.days, fed.span, fed.unweighed) == (20, 28.0, 0)
    assert fed.per_day == pytest.approx(1.0 / 28.0)
    assert (fed.low, fed.high) == pytest.approx((0.05, 0.05))
    assert fed.nitrogen == pytest.approx(72.0 / 28.0)
    one = by_name(ground())["food"]
    assert one["amounts"]["ammonia_mg_l_per_day"] == pytest.approx(72.0 / 28.0 / 30.0)
    assert one["amounts"]["again_grams"] == pytest.approx(0.5 / 28.0)
    assert "0.036 g a day are left out" in one["title"]
    assert "20 of 28 days, 0.05 to 0.05 g each" in text(one)


def test_food_that_differs_by_day_has_its_range_and_a_young_record_its_own_days() -> None:
    """Ten days of 0.01, 0.02, ... 0.10 g: 10 % stay below 0.019, 90 % below 0.091."""
    meals = [entry(24.2 + d, "feed", "flake", 0.01 * (d + 1)) for d in range(10)]
    fed = fed_lately(ground(entries=[entry(24.0, "seen", "film"), *meals]))
    assert fed is not None
    assert fed.span == pytest.approx(10.0)
    assert (fed.low, fed.high) == pytest.approx((0.019, 0.091))
    assert fed.per_day == pytest.approx(0.055)


@pytest.mark.parametrize(("entries", "said"), [
    ([], "No food is noted in the last 28 days"),
    ([entry(30.0, "feed", "flake")], "The food noted was not weighed in the last 28 days"),
])  # fmt: skip
def test_food_without_a_record_says_so(entries: list[Any], said: str) -> None:
    one = by_name(ground(entries=entries))["food"]
    assert one["title"] == "Give no food now"
    assert said in text(one)
    assert one["amounts"] == {}


def test_meals_without_a_weight_are_told() -> None:
    one = by_name(ground(entries=[*usual(), entry(30.0, "feed", "flake")]))["food"]
    assert "1 meals were not weighed" in text(one)


# -- water ----------------------------------------------------------------------------


def test_a_tank_that_is_well_is_told_to_leave_the_water_and_what_reading_would_change_it() -> None:
    made = by_name(ground())
    calm = made["change_calm"]
    assert calm["amounts"]["litres"] == 0.0
    assert "no change is needed" in calm["title"]
    assert "A test that shows more: change again." in text(calm)
    now = made["change_now"]
    assert now["amounts"]["again_hours"] == 1
    assert now["amounts"]["litres"] > 0.2 * 30.0
    assert "Again after 1 h while they do" in text(now)


def test_ammonia_is_staged_by_the_range_and_stops_at_its_limit() -> None:
    """Nine members in ten below 4 mg/L N at pH 7.8: more stages than for the middle of 2."""
    standing = {**WELL, "ammonium": (1.0, 2.0, 4.0), "ph": (7.4, 7.6, 7.8)}
    calm = by_name(ground(standing))["change_calm"]
    told = calm["amounts"]["poisons"]["ammonium"]
    low, high = told["changes"]
    assert 1 <= low < high
    assert calm["amounts"]["next_hours"] == 24.0
    assert len(told["litres"]) == high
    left = 4.0
    for litres in told["litres"]:
        left *= 1.0 - litres / 30.0
    assert left == pytest.approx(told["until"], rel=1e-3)
    assert f"{low} to {high} of them by the range" in text(calm)


def test_a_limit_passed_at_the_edge_alone_asks_for_a_test_first() -> None:
    standing = {**WELL, "nitrite": (0.001, 0.01, 0.3)}
    calm = by_name(ground(standing))["change_calm"]
    assert calm["title"].startswith("Animals calm: test first; only above the limit change")
    assert calm["amounts"]["poisons"]["nitrite"]["changes"][0] == 0


def test_ammonia_s_limit_falls_with_the_highest_ph_believed() -> None:
    """Of its poisonous part 0.05 mg/L N at most: at pH 8.6 and 24 C a share of 0.17."""
    high = by_name(ground({**WELL, "ph": (8.0, 8.3, 8.6)}))["change_now"]["amounts"]["until"]
    low = by_name(ground())["change_now"]["amounts"]["until"]
    assert high["ammonium"] < 0.05 / 0.16
    assert high["ammonium"] < low["ammonium"]


@settings(max_examples=15, deadline=None)
@given(
    st.floats(0.0, 8.0), st.floats(6.2, 8.4), st.floats(1.0, 12.0), st.floats(120.0, 900.0),
)  # fmt: skip
def test_no_stage_leaves_the_caps_and_none_raises_the_poison(
    ammonium: float, ph: float, kh: float, ec: float
) -> None:
    """Conductivity stays within the cap of a day, an emergency's within that of shock."""
    standing = {
        **WELL, "ammonium": (0.5 * ammonium, ammonium, 1.5 * ammonium), "ph": (ph, ph, ph),
        "kh": (kh, kh, kh), "ec25": (max(ec, 40.0 * kh),) * 3,
    }  # fmt: skip
    here = ground(standing)
    made = by_name(here)
    if "change" in made:
        assert made["change"]["amounts"] == {}
        return
    ec25 = here.water({}).ec25
    calm = made["change_calm"]["amounts"]
    if calm["litres"]:
        water = here.source(calm["water"])
        assert calm["litres"] / 30.0 * abs(water.ec25 - ec25) <= here.caps.ec * ec25 * 1.001
    now = made["change_now"]["amounts"]
    if now["water"]:
        moved = now["litres"] / 30.0 * abs(here.source(now["water"]).ec25 - ec25)
        assert moved <= EMERGENCY_EC * ec25 * 1.001
    assert now["litres"] <= 15.0 + 1e-9


@pytest.mark.parametrize("standing", [{}, {"temperature": (23.0, 24.0, 25.0)}])
def test_a_tank_not_worked_out_still_has_its_third_and_says_what_is_not_known(
    standing: dict[str, Any]
) -> None:
    made = by_name(ground(standing))
    assert "change_now" not in made
    assert "is not known here" in made["change"]["title"]
    assert "again after 1 h" in text(made["change"])
    assert made["third"]["amounts"]["third_l"] == pytest.approx(10.0)


def test_a_rack_without_waters_says_so() -> None:
    here = ground()
    bare = replace(here, record=replace(here.record, waters=(), blends=()))
    assert "No water of the rack is noted." in text(by_name(bare)["change"])


def test_water_with_copper_is_not_poured_in_while_another_is_there() -> None:
    here = ground()
    laden = Water("pipe", "tap", ph=7.2, kh_dh=4.0, gh_dh=6.0, ec25_us_cm=320.0,
                  copper_ug_l=400.0)  # fmt: skip
    clean = replace(laden, name="clean", copper_ug_l=1.0)
    both = replace(here, record=replace(here.record, waters=(laden, clean), blends=()))
    assert by_name(both)["change_now"]["amounts"]["water"] == "clean"
    alone = replace(here, record=replace(here.record, waters=(laden,), blends=()))
    assert by_name(alone)["change_now"]["amounts"]["water"] == "pipe"


# -- air ------------------------------------------------------------------------------


def night(first: float, second: float) -> dict[str, Any]:
    """Two nights from 18 to 8 o'clock, by the hour, the lowest hour at 7."""
    hours = [NOW.replace(hour=0) + timedelta(hours=h) for h in range(12, 60)]
    low = [(first if t < NOW.replace(hour=0) + timedelta(hours=36) else second)
           + (0.0 if t.hour == 7 else 1.0) for t in hours]  # fmt: skip
    start = NOW.replace(hour=0)
    dark = [(start + timedelta(hours=h), start + timedelta(hours=h + 14)) for h in (18, 42)]
    return {
        "quantities": {"oxygen": {
            "times": [t.isoformat() for t in hours], "p10": [x - 1.0 for x in low], "p50": low,
            "p90": [x + 1.0 for x in low]}},
        "dark": [[a.isoformat(), b.isoformat()] for a, b in dark],
    }  # fmt: skip


def test_air_runs_until_the_light_is_back_and_again_where_the_next_night_is_low() -> None:
    one = by_name(ground(), night(3.0, 2.5))["air"]
    until = datetime.fromisoformat(one["amounts"]["until"])
    assert until == NOW.replace(hour=8, minute=0) + timedelta(days=1)
    assert one["amounts"]["oxygen_mg_l"] == pytest.approx([2.0, 3.0, 4.0])
    assert "lowest at about 07:00: 2 to 4 mg/L" in text(one)
    assert "The night after: 1.5 to 3.5 mg/L. Let it run again until Tue 08:00." in text(one)
    calm = by_name(ground(), night(9.0, 9.0))["air"]
    assert "The night after" not in text(calm)
    assert "before the lamp, above" in text(calm)


def test_air_without_a_forecast_or_with_an_old_one_says_so() -> None:
    old = night(3.0, 3.0)
    late = replace(ground(), moment=NOW + timedelta(days=9))
    for one in (by_name(ground())["air"], by_name(late, old)["air"]):
        assert "Tonight was not forecast" in text(one)
        assert "until" not in one["amounts"]
    assert nights_ahead(old, NOW + timedelta(days=9)) == []


def test_air_is_gentle_where_ammonia_may_be_stored() -> None:
    stored = {**WELL, "ammonium": (0.1, 0.3, 0.6)}
    assert "move it gently" in text(by_name(ground(stored))["air"])
    assert "move it gently" not in text(by_name(ground())["air"])


# -- the same by page, command and Python ----------------------------------------------


def test_python_and_command_answer_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rack = write_demo(tmp_path / "demo")
    assert run_command(["help-now", str(rack), "Fern", "--card", "gasping", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["headline"] == "Gasping at the surface"
    assert told["steps"][0]["title"].startswith("Break the surface now")
    names = [one["name"] for one in told["steps"] if one["name"] != "card"]
    assert names[:2] == ["third", "surface"]
    assert {"food", "air"} <= set(names)
    assert {"change_now", "change_calm"} <= set(names)
    made = pleuston.help_now(pleuston.load_rack(rack), "Fern", told["at"], "gasping")
    assert [one["title"] for one in made["steps"]] == [one["title"] for one in told["steps"]]
    assert run_command(["help-now", str(rack), "Fern"]) == 0
    said = capsys.readouterr().out
    assert "g a day are left out" in said
    assert "Caution: Never start a siphon by mouth." in said


@pytest.mark.parametrize(("tank", "card"), [("Nowhere", ""), ("Fern", "sneezing")])
def test_an_unknown_tank_or_card_is_refused(tank: str, card: str) -> None:
    with pytest.raises(UnknownNameError):
        help_of_record(record(usual()), tank, NOW, card)


def test_amounts_come_from_a_belief_too() -> None:
    from pleuston.planning.hours import hours_ahead, night_data
    from pleuston.services.plan_ground import standing_of_belief

    here = belief()
    made = by_name(ground(standing_of_belief(here)), night_data(hours_ahead(here), ()))
    assert "until" in made["air"]["amounts"]
    assert "change_now" in made
