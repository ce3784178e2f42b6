"""Kits: their steps stand for intervals that leave no gap; own kits replace the examples."""

from __future__ import annotations

from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pleuston.records.kinds import READINGS
from pleuston.services.kits import (
    EXAMPLES,
    Kit,
    kits,
    read_steps,
    remove_kit,
    save_kit,
    steps_of,
)
from pleuston.services.who import NotAllowedError, Who
from pleuston.store.audit import notes_of
from pleuston.store.exchange_problems import ImportRefused
from pleuston.store.session import open_database

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
KEEPER, HELPER = Who("kim"), Who("lee", role="helper")
OWN = {"kit": "blue box", "reading": "nitrate", "unit": "mg/L NO3-N", "way": "chart",
       "steps": "0 1 2.5 5", "note": ""}  # fmt: skip


def shown(way: str, *steps: float) -> list[tuple[str, float | None, float | None]]:
    """Label, low and high of each step of a kit."""
    kit = Kit("any", "gh", "dH", way, steps)
    return [(step.label, step.low, step.high) for step in steps_of(kit)]


def test_a_chart_reaches_halfway_to_its_neighbours() -> None:
    assert shown("chart", 5, 10, 20) == [
        ("below 5", None, 5), ("5", 2.5, 7.5), ("10", 7.5, 15.0), ("20", 15.0, 25.0),
        ("above 20", 20, None),
    ]  # fmt: skip


def test_nought_is_below_the_first_colour() -> None:
    first = steps_of(Kit("x", "nitrite", "mg/L", "chart", (0, 0.5, 1)))[0]
    assert (first.label, first.low, first.high, first.pair) == ("0", None, 0.25, "|0.25")


def test_drops_are_rounded_up() -> None:
    assert shown("titration", 1, 2) == [("1", 0, 1), ("2", 1, 2), ("above 2", 2, None)]


@given(
    st.lists(st.integers(1, 10_000), min_size=1, max_size=30, unique=True),
    st.sampled_from(["chart", "titration"]),
)
def test_steps_leave_no_gap(found: list[int], way: str) -> None:
    steps = steps_of(Kit("x", "nitrate", "mg/L", way, tuple(float(n) for n in sorted(found))))
    inner = [s for s in steps if s.low is not None and s.high is not None]
    assert all(s.low < s.high for s in inner)  # type: ignore[operator]
    assert all(a.high == b.low for a, b in pairwise(inner))
    assert steps[-1].high is None
    assert steps[-1].low is not None
    assert steps[-1].low <= (inner[-1].high or 0.0)


@pytest.mark.parametrize("kit", EXAMPLES, ids=lambda kit: kit.name)
def test_examples_stand_for_possible_values(kit: Kit) -> None:
    reading = READINGS[kit.reading]
    assert kit.unit == reading.unit
    for step in steps_of(kit):
        for end in (step.low, step.high):
            assert end is None or reading.least <= end <= reading.most


@pytest.mark.parametrize(
    "text", ["", "a b", "3 2 1", "1 1", "-1 2", "0", "5 to 1", "1 to 999", "1 nan"]
)
def test_steps_that_are_none(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        read_steps(text)


def test_own_kits_replace_the_example(tmp_path: Path) -> None:
    db = open_database(tmp_path / "rack.db", create=True)
    assert all(not kit.own for kit in kits(db))
    save_kit(db, OWN, KEEPER, NOW)
    save_kit(db, {**OWN, "steps": "0 1 2"}, KEEPER, NOW)
    found = [kit for kit in kits(db) if kit.reading.startswith("nitrate")]
    assert [(kit.name, kit.steps, kit.own) for kit in found] == [("blue box", (0, 1, 2), True)]
    with db.read() as connection:
        assert [note["action"] for note in notes_of(connection)] == ["save kit", "save kit"]
    assert remove_kit(db, "blue box", KEEPER, NOW)
    assert not remove_kit(db, "blue box", KEEPER, NOW)
    assert all(not kit.own for kit in kits(db))
    db.close()


def test_what_is_wrong_with_a_kit_is_said_at_once(tmp_path: Path) -> None:
    db = open_database(tmp_path / "rack.db", create=True)
    with pytest.raises(ImportRefused) as refused:
        save_kit(db, {"kit": " ", "reading": "nitrat", "way": "guess", "steps": "x"}, KEEPER, NOW)
    assert [p.column for p in refused.value.problems] == ["kit", "way", "reading", "steps"]
    with pytest.raises(ImportRefused, match="unit says NO3"):
        save_kit(db, {**OWN, "unit": "mg/L NO3"}, KEEPER, NOW)
    with pytest.raises(NotAllowedError):
        save_kit(db, OWN, HELPER, NOW)
    db.close()


def test_a_kit_past_its_day_says_so_in_what_is_read_with_it(tmp_path: Path) -> None:
    db = open_database(tmp_path / "rack.db", create=True)
    given = {"kit": "drops", "reading": "kh", "unit": "dH", "way": "titration", "steps": "1 to 20"}
    save_kit(db, {**given, "good_until": "2026-03-31"}, KEEPER, NOW)
    for day, expired in ((date(2026, 3, 31), False), (date(2026, 4, 1), True)):
        (kit,) = [k for k in kits(db, day) if k.own]
        assert kit.expired is expired
        assert kit.method == "drops (titration)" + (", expired" if expired else "")
    with pytest.raises(ImportRefused, match=r"good_until.*no day.*2027-03-31"):
        save_kit(db, {**given, "good_until": "next spring"}, KEEPER, NOW)
    db.close()
