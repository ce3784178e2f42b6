"""Answers over the demo rack: every tank, the agreed form, one that fails beside others."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from pleuston.base.errors import EngineError, InputError
from pleuston.cli.show import as_data
from pleuston.inference.tank import Learned, believed, learn_rates
from pleuston.records.record import Record
from pleuston.services import answers
from pleuston.services.answers import ledger_answer, outlook_answer, round_answer, run_answer
from pleuston.services.demo import write_demo

AT = "2026-06-01T08:00"
TANKS = {"Alder", "Birch", "Cedar", "Dogwood", "Elder", "Fern", "Gorse", "Hazel", "Iris"}
SHARES = ("p02.5", "p10", "p25", "p50", "p75", "p90", "p97.5")
QUANTITIES = {
    "ammonium", "nitrite", "nitrate", "phosphate_ion", "potassium", "copper", "ph", "kh", "gh",
    "ec25", "temperature", "oxygen", "oxygen_dawn", "ammonia_nh3", "cover",
}  # fmt: skip


@pytest.fixture(scope="module")
def rack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("racks") / "demo")


@pytest.fixture(scope="module", autouse=True)
def _few_members() -> Iterator[None]:
    """Few members from the priors: the form of answers does not hang on how many there are."""
    patch = pytest.MonkeyPatch()

    def few(record: Record, name: str, at: datetime, **given: Any) -> Learned:
        return learn_rates(record, name, at, from_prior=True, **given)

    patch.setattr(answers, "learn_rates", few)
    patch.setattr(answers, "believed", partial(believed, members=16))
    yield
    patch.undo()


def test_all_nine_tanks_have_an_outlook(rack: Path) -> None:
    made = outlook_answer(rack, "", AT, 7, 1)
    assert {one["tank"] for one in made} == TANKS
    for one in made:
        assert "error" not in one, one
        assert {"tank", "at", "model", "seed", "quantities", "crossings"} <= set(one)
        assert set(one["quantities"]) >= QUANTITIES
        for rows in one["quantities"].values():
            assert set(rows) == {"unit", "times", *SHARES}
            assert all(len(rows[share]) == len(rows["times"]) == 7 for share in SHARES)
    assert json.loads(json.dumps(as_data(made), allow_nan=False))


def test_a_round_has_every_tank_and_only_known_words(rack: Path, tmp_path: Path) -> None:
    report = tmp_path / "new" / "round.html"
    made = round_answer(rack, AT, 1, report)
    assert {t["tank"] for t in made["tanks"]} == TANKS
    assert made["minutes"] == pytest.approx(sum(t["minutes"] for t in made["tanks"]), abs=0.11)
    order = [("danger", "act", "watch", "well").index(t["state"]) for t in made["tanks"]]
    assert order == sorted(order)
    for tank in made["tanks"]:
        assert "error" not in tank
        for act in tank["acts"]:
            assert set(act) >= {"act", "what", "amount", "unit", "reason", "confidence",
                                "if_skipped"}  # fmt: skip
            assert act["amount"] is None or act["amount"] >= 0.0
    text = report.read_text(encoding="utf-8")
    assert all(f'id="{name}"' in text for name in TANKS)
    for outside in ("<script", "<link", "src=", "@import", "url(http"):
        assert outside not in text
    assert text.count('role="img" aria-label=') == text.count("<figcaption>")
    assert "<metadata" not in text
    assert text.count("<figcaption>") == text.count("<svg") == 4 * len(TANKS)


def test_a_ledger_of_each_tank_closes(rack: Path) -> None:
    made = ledger_answer(rack, "", "P", "2026-05-04", "2026-06-01", "", 1)
    assert {one["tank"] for one in made} == TANKS
    for one in made:
        assert {"element", "unit", "in", "out", "stored", "unexplained"} <= set(one)
        balance = sum(one["in"].values()) - sum(one["out"].values()) - sum(one["stored"].values())
        assert balance == pytest.approx(0.0, abs=1e-6)
        low, high = one["unexplained"]
        assert low < high


def test_one_tank_answers_alone_and_an_unknown_one_is_refused(rack: Path) -> None:
    assert outlook_answer(rack, "Fern", AT, 3, 1)["tank"] == "Fern"
    assert ledger_answer(rack, "Fern", "water", "", "", AT, 1)["unit"] == "L"
    for answer in (
        partial(outlook_answer, rack, "Ferm", AT, 3, 1),
        partial(ledger_answer, rack, "Ferm", "N", "", "", AT, 1),
        partial(run_answer, rack, "Ferm", AT, 3, 8, 1),
    ):
        with pytest.raises(InputError, match="Ferm"):
            answer()
    with pytest.raises(InputError, match="gold"):
        ledger_answer(rack, "Fern", "gold", "", "", AT, 1)


def test_a_run_from_the_priors_has_the_members_asked_for(rack: Path) -> None:
    made = run_answer(rack, "Iris", AT, 5, 9, 1)
    assert made["tank"] == "Iris"
    assert len(made["quantities"]["nitrate"]["p50"]) == 5


def test_a_tank_that_fails_leaves_the_others(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    learned = answers.learn_rates

    def some(record: Record, name: str, at: datetime, **given: Any) -> Learned:
        if name == "Cedar":
            raise EngineError("its feed has no mass", where="tank Cedar", remedy="Correct it")
        return learned(record, name, at, **given)

    monkeypatch.setattr(answers, "learn_rates", some)
    made = {t["tank"]: t for t in round_answer(rack, AT, 2)["tanks"]}
    assert set(made) == TANKS
    assert made["Cedar"]["state"] == "watch"
    assert [a["act"] for a in made["Cedar"]["acts"]] == ["look"]
    assert "its feed has no mass" in made["Cedar"]["acts"][0]["reason"]
    ahead = {one["tank"]: one for one in outlook_answer(rack, "", AT, 2, 2)}
    assert "its feed has no mass" in ahead["Cedar"]["error"]
    assert sum("error" in one for one in ahead.values()) == 1


def test_a_hindcast_does_not_see_what_came_later(rack: Path, tmp_path: Path) -> None:
    cut = write_demo(tmp_path / "cut")
    file = cut / "entries.csv"
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [lines[0], *(line for line in lines[1:] if line.split(",")[1] <= AT)]
    assert len(kept) < len(lines)
    file.write_text("".join(kept), encoding="utf-8")
    whole, early = (outlook_answer(folder, "Dogwood", AT, 5, 3) for folder in (rack, cut))
    assert whole == early
