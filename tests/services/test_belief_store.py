"""Beliefs as bytes give the same again; learning happens only where something is new."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from pleuston.base.errors import EngineError
from pleuston.engine.case import tank_case
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.services import belief_store
from pleuston.services.belief_store import belief_for, brought_up, from_bytes, grades_of, to_bytes
from pleuston.services.model_stamp import model_now
from pleuston.store.record_hash import record_about, record_hash
from pleuston.store.session import Database

from .jobs_rack import FEW, NOW, add, entry, new_database, record

LATER = NOW + timedelta(days=1.5)


@pytest.fixture(scope="module")
def belief() -> TankBelief:
    return learn_tank(record(), "Fern", NOW, members=16, threads=1, from_prior=True)


@pytest.fixture
def db(address: str) -> Iterator[Database]:
    made = new_database(address)
    yield made
    made.close()


def same(a: Any, b: Any) -> bool:
    if isinstance(a, np.ndarray):
        return bool(np.array_equal(a, b))
    if isinstance(a, dict):
        return set(a) == set(b) and all(same(a[k], b[k]) for k in a)
    return bool(a == b)


def test_bytes_give_the_same_belief(belief: TankBelief) -> None:
    again = from_bytes(to_bytes(belief), tank_case(record(), "Fern", NOW))
    for part in fields(TankBelief):
        if part.name != "case":
            assert same(getattr(belief, part.name), getattr(again, part.name)), part.name


def test_a_belief_of_another_tank_is_refused(belief: TankBelief) -> None:
    with pytest.raises(EngineError, match="another tank"):
        from_bytes(to_bytes(belief), tank_case(record(), "Iris", NOW))


def test_brought_up_is_as_drawn_at_that_moment(belief: TankBelief) -> None:
    there = learn_tank(record(), "Fern", LATER, members=16, threads=1, from_prior=True)
    moved = brought_up(belief, tank_case(record(), "Fern", LATER), LATER, 1)
    assert moved.at == pytest.approx(belief.at + 1.5)
    np.testing.assert_array_equal(moved.end, there.end)
    assert brought_up(belief, belief.case, NOW, 1) is belief


def test_only_what_is_new_is_learned(db: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    learned: list[str] = []

    def noted(*given: Any, **named: Any) -> TankBelief:
        learned.append(given[1])
        return learn_tank(*given, **named, from_prior=True)

    monkeypatch.setattr(belief_store, "learn_tank", noted)

    def made(at: Any) -> TankBelief:
        with db.read() as connection:
            told, hashed = record_about(connection, "Fern"), record_hash(connection, "Fern")
        belief, source = belief_for(db, told, "Fern", at, hashed, FEW, NOW)
        assert (source.at, source.model, source.record) == (at, model_now(), hashed)
        return belief

    first = made(NOW)
    assert same(made(NOW).end, first.end)
    assert made(LATER).at == pytest.approx(first.at + 1.5)
    assert learned == ["Fern"]
    for moment in (NOW - timedelta(days=1), NOW):
        made(moment)  # a belief knows what came after an earlier moment: that is learned apart
    assert learned == ["Fern", "Fern"]
    made(NOW - timedelta(days=3))
    made(NOW - timedelta(days=1.9))
    assert learned == ["Fern"] * 4, "a reading lies between"
    made(NOW)
    del learned[1:]
    add(db, entry("Iris", 15.0, "reading", "ph", 7.0, 7.5))
    made(NOW)
    assert learned == ["Fern"], "another tank's reading is no reason"
    add(db, entry("Fern", 15.0, "reading", "ph", 7.0, 7.5))
    made(NOW)
    assert learned == ["Fern", "Fern"]
    made(NOW + timedelta(days=8))
    assert learned == ["Fern", "Fern", "Fern"], "brought up a week at most"
    del learned[2:]
    monkeypatch.setattr(belief_store, "model_now", lambda: "another model")
    monkeypatch.setitem(globals(), "model_now", lambda: "another model")
    made(NOW)
    assert learned == ["Fern", "Fern", "Fern"]


def test_grades_count_the_parameters_that_a_tank_runs_on(belief: TankBelief) -> None:
    import json

    counted = json.loads(grades_of(belief.case))
    assert set(counted) <= {"read", "abstract", "derived", "memory", "guess"}
    own = len(set(belief.case.constants) | set(belief.case.opening.parameters))
    assert sum(counted.values()) >= len(belief.case.table.parameters) - own


def test_a_tank_borrows_from_what_is_kept_of_others(db: Database) -> None:
    """Of this moment or earlier, and it keeps from whom, so that it can be made again."""

    def made(tank: str, at: Any) -> TankBelief:
        with db.read() as connection:
            told, hashed = record_about(connection, tank), record_hash(connection, tank)
        return belief_for(db, told, tank, at, hashed, FEW, NOW)[0]

    later = made("Iris", LATER)
    first = made("Fern", NOW)
    assert first.others == (), "what is known of Iris is of a later moment"
    iris = made("Iris", NOW)
    assert [o.tank for o in iris.others] == ["Fern"]
    assert iris.others[0] == first.own
    assert first.own is not None
    assert first.own.names
    fern = made("Fern", LATER + timedelta(days=9))
    assert fern.others == (later.own,)
    with db.read() as connection:
        told = record_about(connection, "Iris")
    again = learn_tank(
        told, "Iris", NOW, seed=FEW.seed, members=FEW.members or 0, learning=FEW.learning or 0,
        threads=1, others=iris.others,
    )  # fmt: skip
    np.testing.assert_array_equal(again.end, iris.end)
    kept = from_bytes(to_bytes(iris), tank_case(told, "Iris", NOW))
    assert (kept.own, kept.others) == (iris.own, iris.others)
