"""Who borrows from whom: all tanks of a rack together, one by itself, one hardly read."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from pleuston.inference.tank import FEW, TankBelief, believed, learn_rates
from pleuston.services import answers
from pleuston.services.answers import belief_of, learn_all
from pleuston.services.python import round_of

from .jobs_rack import NOW, entries_of, entry, record

MORE = [entry("Iris", 8.0 + i, "reading", "temperature", 23.0, 24.0, "C") for i in range(6)]
LESS = [e for e in entries_of("Fern") if e.what != "ph"]
KNOWN = record(entries=[*LESS, *entries_of("Iris"), *MORE])


@pytest.fixture
def rack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Fern is hardly read, Iris is read more often."""
    monkeypatch.setattr(answers, "learn_rates", partial(learn_rates, learning=64))
    monkeypatch.setattr(answers, "believed", partial(believed, members=16))
    monkeypatch.setattr(answers, "_LEARNED", {})
    monkeypatch.setattr(answers, "_BELIEFS", {})
    (tmp_path / "entries.csv").write_text("what was learned is kept by what its files hold")
    return tmp_path


def heard(belief: TankBelief) -> list[str]:
    return [own.tank for own in belief.others]


def test_a_tank_read_enough_answers_alone_from_its_own_record(rack: Path) -> None:
    alone = belief_of(rack, KNOWN, "Iris", NOW, 1, 1)
    assert alone.readings >= FEW
    assert heard(alone) == []
    together = belief_of(rack, KNOWN, "Iris", NOW, 1, 1, whole=True)
    assert heard(together) == ["Fern"]
    assert together.own == alone.own


def test_a_tank_hardly_read_borrows_even_alone(rack: Path) -> None:
    belief = belief_of(rack, KNOWN, "Fern", NOW, 1, 1)
    assert belief.readings < FEW
    assert heard(belief) == ["Iris"]


def test_the_order_in_which_tanks_are_learned_does_not_matter(
    rack: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    learn_all(rack, KNOWN, NOW, 1)
    first = {n: belief_of(rack, KNOWN, n, NOW, 1, 1, whole=True) for n in ("Fern", "Iris")}
    monkeypatch.setattr(answers, "_LEARNED", {})
    monkeypatch.setattr(answers, "_BELIEFS", {})
    again = {n: belief_of(rack, KNOWN, n, NOW, 1, 1, whole=True) for n in ("Iris", "Fern")}
    for name, belief in first.items():
        np.testing.assert_array_equal(belief.end, again[name].end)


def test_the_round_of_the_python_interface_borrows_too() -> None:
    from pleuston.planning import round as rounds

    seen: list[TankBelief] = []
    patch = pytest.MonkeyPatch()
    patch.setattr(rounds, "round_of", lambda beliefs, at, _: seen.extend(beliefs) or {"at": at})
    patch.setattr("pleuston.services.python.learn_rates", partial(learn_rates, learning=64))
    patch.setattr("pleuston.services.python.believed", partial(believed, members=16))
    try:
        round_of(KNOWN, NOW.isoformat())
    finally:
        patch.undo()
    assert {b.case.tank.name: heard(b) for b in seen} == {"Fern": ["Iris"], "Iris": ["Fern"]}
