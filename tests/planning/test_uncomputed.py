"""A tank that can't be computed is not left alone in danger; one that can runs on."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from pleuston.engine.case import tank_case
from pleuston.inference.tank import learn_tank
from pleuston.planning.outlook import run_ahead
from pleuston.planning.uncomputed import cannot

from .rack import START, entry, record

AT = START + timedelta(days=30)
WARM = {"heater_c": 30.0, "lid": "open"}


@pytest.mark.parametrize(
    ("what", "low", "high", "unit", "words"),
    [
        ("ammonium", 4.0, 8.0, "mg/L", "total ammonia was read far above what is safe"),
        ("nitrite_ion", 5.0, None, "mg/L", "nitrite was read far above what is safe"),
        ("oxygen", 1.0, 2.0, "mg/L", "oxygen was read far below what is safe"),
        ("temperature", 34.0, 34.0, "C", "water temperature was read far above what is safe"),
    ],
)
def test_readings_alone_ask_for_a_hand(
    what: str, low: float, high: float | None, unit: str, words: str
) -> None:
    read = entry(28.0, "reading", what, low, high=high, unit=unit)
    if high is None:
        object.__setattr__(read, "high", None)
    made = cannot(record([read]), "Fern", AT, "no member went through")
    assert made["state"] == "danger"
    assert [b["word"] for b in made["because"]] == [words]
    acts = {act["act"]: act for act in made["acts"]}
    assert acts["water_change"]["amount"] == pytest.approx(0.3 * record().tanks[0].net_l, abs=0.06)
    assert "siphon" in acts["water_change"]["caution"]
    assert made["acts"][-1]["act"] == "look"
    assert made["acts"][-1]["reason"] == "no member went through"


def test_gasping_asks_for_a_hand_while_it_is_new() -> None:
    seen = entry(28.0, "seen", "gasping", 1.0)
    assert cannot(record([seen]), "Fern", AT, "why")["state"] == "danger"
    assert cannot(record([seen]), "Fern", AT + timedelta(days=5), "why")["state"] == "watch"


def test_readings_that_may_be_fine_or_are_old_do_not() -> None:
    fine = entry(28.0, "reading", "ammonium", 0.0, high=1.0, unit="mg/L")
    old = entry(2.0, "reading", "ammonium", 4.0, high=8.0, unit="mg/L")
    for read in (fine, old):
        made = cannot(record([read]), "Fern", AT, "why")
        assert (made["state"], [a["act"] for a in made["acts"]]) == ("watch", ["look"])


def test_a_fish_that_is_not_fed_for_two_months_runs_on() -> None:
    """Its gut empties by a factor of e more than a hundred times."""
    fish, food = entry(0.0, "stock_in", "Betta splendens", 1.0), entry(1.0, "feed", "flake", 0.1)
    known = record([fish, food])
    belief = learn_tank(known, "Fern", START + timedelta(days=60), members=8, from_prior=True)
    ahead = run_ahead(belief, 7)
    assert np.isfinite(ahead.values("oxygen_dawn")).all()


def test_top_ups_nobody_noted_are_taken_for_granted() -> None:
    known = record([entry(0.0, "reading", "ph", 7.0)], **WARM)
    case = tank_case(known, "Fern", START + timedelta(days=60))
    days = [e.time for e in case.events(60.0) if e.jump == "top_up"]
    assert days == [7.0, 14.0, 21.0, 28.0, 35.0, 42.0, 49.0, 56.0]
    belief = learn_tank(known, "Fern", START + timedelta(days=60), members=8, from_prior=True)
    assert float(run_ahead(belief, 1).values("level_drop").max()) < 100.0


def test_only_gaps_of_three_weeks_are_filled() -> None:
    weekly = [entry(float(d), "top_up", "soft", 1.0) for d in (5, 12, 19, 40)]
    case = tank_case(record(weekly), "Fern", START + timedelta(days=45))
    days = [round(e.time, 6) for e in case.events(45.0) if e.jump == "top_up"]
    assert sorted(days) == [0.0, 7.0, 14.0, 21.0, 28.0, 35.0]  # the clock begins with the first


def test_a_holiday_goes_without_top_ups() -> None:
    away = entry(2.0, "holiday", "", 50.0)
    known = record([entry(0.0, "reading", "ph", 7.0), away])
    case = tank_case(known, "Fern", START + timedelta(days=60))
    days = [e.time for e in case.events(60.0) if e.jump == "top_up"]
    assert days == [56.0]
