"""All answers from one belief: their form, and that they agree with each other."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

import numpy as np
import pytest
from tests.planning.rack import belief as believed

from pleuston.inference.tank import TankBelief
from pleuston.planning.hours import HOURS, NIGHTLY, dark_spans, hours_ahead
from pleuston.planning.outlook import SHARES, SHOWN, outlook_of
from pleuston.services.kinds import ELEMENTS, KINDS
from pleuston.services.state_now import explained, last_readings, readable, rests_on, sharpen
from pleuston.services.tank_answers import MONTHS_DAYS, all_answers


@pytest.fixture(scope="module")
def belief() -> TankBelief:
    return believed()


@pytest.fixture(scope="module")
def told() -> list[tuple[float, str]]:
    return []


@pytest.fixture(scope="module")
def answers(belief: TankBelief, told: list[tuple[float, str]]) -> dict[str, Any]:
    parts = all_answers(belief, 1, lambda share, words: told.append((share, words)))
    return {kind: answer for part in parts for kind, answer in part}


def test_every_kind_is_made_once_as_plain_data(
    answers: dict[str, Any], told: list[tuple[float, str]]
) -> None:
    assert set(answers) == set(KINDS)
    assert list(answers)[-1] == KINDS[-1], "the last kind is made last"
    assert json.loads(json.dumps(answers, allow_nan=False)) == answers
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert all(words for _, words in told)


def test_the_outlook_is_that_of_the_belief(answers: dict[str, Any], belief: TankBelief) -> None:
    plain = outlook_of(belief, 28)
    assert answers["outlook"]["quantities"] == plain["quantities"]
    quantities = {limit["quantity"] for limit in answers["outlook"]["limits"]}
    assert {c["quantity"] for c in plain["crossings"]} <= quantities <= set(SHOWN)


def test_months_are_thinned_and_begin_as_the_outlook(answers: dict[str, Any]) -> None:
    for name, rows in answers["months"]["quantities"].items():
        assert {len(rows[key]) for key in ("times", *SHARES)} == {50}, name
    months, weeks = (answers[k]["quantities"]["nitrate"] for k in ("months", "outlook"))
    assert months["times"][:14] == weeks["times"][:14]
    assert months["p50"][:14] == pytest.approx(weeks["p50"][:14], rel=1e-6)
    first, last = (datetime.fromisoformat(months["times"][i]) for i in (0, -1))
    assert (last - first).days == MONTHS_DAYS - 1


def test_nights_are_dark_and_hourly(answers: dict[str, Any], belief: TankBelief) -> None:
    night = answers["night"]
    assert set(night["quantities"]) == set(NIGHTLY)
    for rows in night["quantities"].values():
        assert len(rows["times"]) == len(rows["p50"]) == HOURS + 1
        assert rows["times"][0] == night["at"]
    dark = dark_spans(belief, belief.at + 2.0)
    assert sum(b - a for a, b in dark) == pytest.approx(2.0 * 15.0 / 24.0, abs=1e-6)
    assert len(night["dark"]) == len(dark)


def test_now_is_the_first_hour_of_the_night(answers: dict[str, Any]) -> None:
    for name in NIGHTLY:
        now, night = answers["now"]["quantities"][name], answers["night"]["quantities"][name]
        assert [now[s] for s in SHARES] == [night[s][0] for s in SHARES]
        assert [now[s] for s in SHARES] == sorted(now[s] for s in SHARES)


def test_ledgers_of_the_last_four_weeks_close(answers: dict[str, Any]) -> None:
    for element in ELEMENTS:
        made = answers[f"ledger:{element}"]
        first, last = (datetime.fromisoformat(made[k]) for k in ("from", "to"))
        assert (last - first).days == 28
        sums = [sum(made[side].values()) for side in ("in", "out", "stored")]
        assert sums[0] - sums[1] == pytest.approx(sums[2], abs=1e-6 * max(1.0, sums[0]))


def test_what_was_never_read_says_what_it_rests_on(
    answers: dict[str, Any], belief: TankBelief
) -> None:
    assert belief.readings == 0
    copper = answers["now"]["quantities"]["copper"]
    assert (copper["basis"], copper["last"], copper["count"]) == ("prior", None, 0)
    level = answers["now"]["quantities"]["level_drop"]
    assert level["basis"] == "reading"
    assert level["last"]["kind"] == "top_up"


def test_the_last_reading_is_told_with_its_interval_and_age() -> None:
    from tests.planning.rack import entry

    read = (
        entry(20.0, "reading", "nitrate_ion", 20.0, high=30.0, unit="mg/L"),
        entry(31.0, "reading", "nitrate_ion", 5.0, high=10.0, unit="mg/L", method="chart"),
    )
    made = believed(extra=read)
    told = rests_on(made, "nitrate", last_readings(made))
    assert told["rests_on"] == "nitrate ion 5 to 10 mg/L, 3 days ago; 2 in all"
    assert (told["last"]["low"], told["last"]["high"], told["last"]["age_days"]) == (5.0, 10.0, 3.0)
    assert rests_on(made, "nitrate_ion", last_readings(made)) == told


def test_a_reading_of_the_thing_itself_narrows_what_is_uncertain(belief: TankBelief) -> None:
    ahead = hours_ahead(belief, threads=1)
    told = readable(belief, ahead)
    found = sharpen("nitrate_ion", ahead.values("nitrate_ion")[0], told)
    assert found["test"] == "nitrate_ion"
    assert 10 <= found["narrows_pct"] <= 100
    assert "nitrate" in found["sharpen"]
    noisy = {quantity: (values, 1e3) for quantity, (values, _) in told.items()}
    assert sharpen("nitrate_ion", ahead.values("nitrate_ion")[0], noisy)["sharpen"] is None


def test_what_a_reading_explains_is_as_theory_has_it() -> None:
    rng = np.random.default_rng(5)
    truth = rng.standard_normal(200_000)
    other = 0.6 * truth + 0.8 * rng.standard_normal(200_000)
    noise = 0.5
    share = explained(truth, other, noise)
    assert share == pytest.approx(0.36 / 1.25, abs=0.01)
    read = other + noise * rng.standard_normal(200_000)
    left = truth - read * (truth @ read) / (read @ read)
    assert left.var() == pytest.approx(1.0 - share, abs=0.01), "a regression leaves just that"
