"""Causes of the demo rack, and how signs are weighed."""

from __future__ import annotations

from pathlib import Path

import pytest

from pleuston.inference.cause_signs import Sign
from pleuston.inference.causes import cause_data, weighed
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
    answer = why_answer(RACK, tank, at)
    rows = answer["causes"]
    assert rows[0]["cause"] == cause
    assert rows[0]["probability"] > 0.5
    assert sum(row["probability"] for row in rows) == pytest.approx(1.0)
    assert {row["cause"] for row in rows} == set(cause_data()["causes"])


@pytest.mark.parametrize("tank", ["Alder", "Hazel"])
@pytest.mark.parametrize("day", ["2026-04-12", "2026-05-10", "2026-05-31", "2026-07-19"])
def test_a_healthy_tank_raises_no_alarm(tank: str, day: str) -> None:
    assert why_answer(RACK, tank, f"{day}T22:00")["causes"][0]["cause"] == "nothing_wrong"


def test_what_came_later_is_not_used() -> None:
    early = why_answer(RACK, "Fern", "2026-04-12T20:00")
    assert early["causes"][0]["cause"] == "nothing_wrong"


def test_without_signs_the_priors_stand() -> None:
    made, causes = weighed({}), cause_data()["causes"]
    total = sum(about["prior"] for about in causes.values())
    assert made == pytest.approx({c: about["prior"] / total for c, about in causes.items()})


def test_a_sign_as_likely_there_as_not_tells_nothing() -> None:
    assert weighed({"gasping": Sign(0.5, "")}) == pytest.approx(weighed({}))


def test_every_sign_named_has_how_usual_it_is() -> None:
    data = cause_data()
    named = {s for about in data["causes"].values() for s in about["signs"]}
    named |= {s for about in data["tests"].values() for s in about["signs"]}
    assert named == set(data["usual"])
