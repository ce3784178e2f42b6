"""Causes of the demo rack, and how signs are weighed."""

from __future__ import annotations

from math import exp, log
from pathlib import Path

import pytest

from pleuston.inference.cause_signs import Sign
from pleuston.inference.causes import cause_data, chance_of, meanwhile, next_test, weighed
from pleuston.inference.evidence import Factor
from pleuston.services.why import why_answer

RACK = Path(__file__).parents[2] / "src" / "pleuston" / "demo_rack"
TOLD = [
    ("Alder", "2026-05-31T20:00", "nothing_wrong"),
    ("Birch", "2026-05-31T20:00", "salt_creep"),
    ("Cedar", "2026-05-31T20:00", "copper_source"),
    ("Dogwood", "2026-05-31T20:00", "overgrown_cover"),
    ("Elder", "2026-06-28T20:00", "potassium_short"),
    ("Fern", "2026-05-31T20:00", "overfeeding"),
    ("Gorse", "2026-05-31T20:00", "hardness_draining"),
    ("Hazel", "2026-06-28T20:00", "nothing_wrong"),
    ("Iris", "2026-04-12T20:00", "young_bacteria"),
]


@pytest.mark.parametrize(("tank", "at", "cause"), TOLD)
def test_the_likeliest_cause_is_the_true_one(tank: str, at: str, cause: str) -> None:
    rows = why_answer(RACK, tank, at, signs_only=True)["causes"]
    assert rows[0]["cause"] == cause
    assert rows[0]["probability"] > 0.5
    assert sum(row["probability"] for row in rows) == pytest.approx(1.0)
    assert {row["cause"] for row in rows} == set(cause_data()["causes"])


@pytest.mark.slow
@pytest.mark.parametrize(("tank", "at", "cause"), TOLD[::4])
def test_the_balance_and_altered_models_agree(tank: str, at: str, cause: str) -> None:
    answer = why_answer(RACK, tank, at)
    assert answer["weighed_by"][:2] == ["signs", "balance"]
    assert answer["causes"][0]["cause"] == cause


@pytest.mark.parametrize("tank", ["Alder", "Hazel"])
@pytest.mark.parametrize("day", ["2026-04-12", "2026-05-10", "2026-05-31", "2026-07-19"])
def test_a_healthy_tank_raises_no_alarm(tank: str, day: str) -> None:
    answer = why_answer(RACK, tank, f"{day}T22:00", signs_only=True)
    assert answer["causes"][0]["cause"] == "nothing_wrong"


def test_what_came_later_is_not_used() -> None:
    early = why_answer(RACK, "Fern", "2026-04-12T20:00", signs_only=True)
    assert early["causes"][0]["cause"] == "nothing_wrong"


def test_without_signs_the_priors_stand() -> None:
    made, causes = weighed({}).hypotheses, cause_data()["causes"]
    nothing, before = made["nothing_wrong",], causes["nothing_wrong"]["prior"]
    for cause, about in causes.items():
        assert made[cause,] / nothing == pytest.approx(about["prior"] / before)
    assert sum(made.values()) == pytest.approx(1.0)


def test_a_sign_as_likely_there_as_not_tells_nothing() -> None:
    assert weighed({"gasping": Sign(0.5, "")}).causes == pytest.approx(weighed({}).causes)


def test_every_sign_named_has_how_usual_it_is() -> None:
    data = cause_data()
    named = {s for about in data["causes"].values() for s in about["signs"]}
    named |= {s for about in data["tests"].values() for s in about["signs"]}
    assert named == set(data["usual"])


def test_two_causes_at_once_are_told_as_such() -> None:
    there = {n: Sign(0.97, n) for n in ("warm", "feed_up", "leftovers", "film", "gasping")}
    there |= {n: Sign(0.03, n) for n in ("cover_closed", "salts_rise", "missing", "melt")}
    made = weighed(there)
    assert next(iter(made.together)) in {("heat", "overfeeding"), ("overfeeding", "heat")}
    assert next(iter(made.together.values())) > 0.5
    assert made.causes["heat"] > 0.25
    assert made.causes["overfeeding"] > 0.25
    assert sum(made.causes.values()) == pytest.approx(1.0)


def test_of_two_causes_either_may_show_a_sign() -> None:
    alone = chance_of(("heat",), "gasping"), chance_of(("overgrown_cover",), "gasping")
    both = chance_of(("heat", "overgrown_cover"), "gasping")
    usual = cause_data()["usual"]["gasping"]
    assert both == pytest.approx(1.0 - (1.0 - alone[0]) * (1.0 - alone[1]) / (1.0 - usual))
    assert chance_of(("nothing_wrong",), "gasping") == pytest.approx(usual)


def test_a_bayes_factor_moves_its_cause_alone() -> None:
    signs = {"film": Sign(0.9, "film")}
    before, after = (weighed(signs, f).hypotheses for f in ({}, {
        "dead_animal": Factor(2.0, None), "grazing": Factor(0.0, None)}))  # fmt: skip
    assert log(after["dead_animal",] / after["nothing_wrong",]) == pytest.approx(
        log(before["dead_animal",] / before["nothing_wrong",]) + 2.0
    )
    assert after["grazing",] / after["nothing_wrong",] == pytest.approx(
        before["grazing",] / before["nothing_wrong",]
    )
    # what is not named is as likely as a mean of those that are
    assert after["unknown",] / after["nothing_wrong",] == pytest.approx(
        before["unknown",] / before["nothing_wrong",] * (exp(2.0) + 1.0) / 2.0
    )


def test_the_test_that_tells_most_is_proposed_and_not_the_one_just_done() -> None:
    warm = weighed({"warm": Sign(0.97, "warm")}).causes
    assert next_test("copper_source", warm, {})["bits"] > 0.0
    asked = next_test("heat", weighed({}).causes, {})
    assert asked["test"] in ("temperature", "look_at_dawn")
    done = next_test("heat", weighed({}).causes, {n: Sign(0.97, n) for n in ("warm", "gasping")})
    assert done["bits"] < asked["bits"]


def test_meanwhile_nothing_is_told_that_harms_under_a_possible_cause() -> None:
    every = dict.fromkeys(cause_data()["causes"], 0.0)
    creep = meanwhile({**every, "salt_creep": 0.8, "hardness_draining": 0.2})
    assert "rain" not in creep
    assert "rain" in meanwhile({**every, "salt_creep": 0.98, "hardness_draining": 0.02})
    assert meanwhile({**every, "nothing_wrong": 1.0}) == "Go on as before."
    assert "change water" in creep


def test_measures_name_causes() -> None:
    data = cause_data()
    for about in data["meanwhile"].values():
        assert set(about["helps"]) | set(about["harms"]) <= set(data["causes"])
        assert not set(about["helps"]) & set(about["harms"])
