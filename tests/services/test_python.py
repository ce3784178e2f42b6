"""The Python API gives the answers of the commands."""

from __future__ import annotations

from pathlib import Path

import pytest

import pleuston
from pleuston.services.compare import compare_in
from pleuston.services.oxygen_night import Asked, oxygen_answer
from pleuston.services.why import why_answer

RACK = Path(pleuston.__file__).with_name("demo_rack")
AT = "2026-04-12T20:00"


def test_every_documented_name_is_there() -> None:
    for name in pleuston.__all__:
        assert callable(getattr(pleuston, name))
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = pleuston.nothing


def test_why_is_the_answer_of_the_command() -> None:
    rack = pleuston.load_rack(RACK)
    made = pleuston.why(rack, "Iris", AT, signs_only=True)
    assert made == why_answer(RACK, "Iris", AT, signs_only=True)
    assert made["causes"][0]["cause"] == "young_bacteria"


def test_plans_stand_side_by_side() -> None:
    rack = pleuston.load_rack(RACK)
    made = pleuston.what_if(rack, "Alder", ["now:", "away:holiday=14"], 21, "2026-03-22T20:00")
    assert [plan["name"] for plan in made["plans"]] == ["as now", "now", "away"]


def test_floaters_are_compared() -> None:
    rack = pleuston.load_rack(RACK)
    names = ("Lemna minor", "Spirodela polyrhiza")
    assert pleuston.compare(rack, *names, ["Hazel"]) == compare_in(RACK, *names, ("Hazel",))


def test_a_loggers_file_is_read(tmp_path: Path) -> None:
    file = tmp_path / "night.csv"
    rows = ["Date time,DO mg/L,Temp C"]
    rows += [f"2026-04-0{2 + h // 24}T{h % 24:02d}:{m:02d},{7.0 - 0.2 * max(h - 20, 0):.2f},24.0"
             for h in range(18, 34) for m in (0, 15, 30, 45)]  # fmt: skip
    file.write_text("\n".join(rows) + "\n")
    made = pleuston.oxygen(file, timezone="UTC", dark="20:00-08:00")
    asked = Asked(timezone="UTC", dark="20:00-08:00")
    assert made == oxygen_answer(file.read_bytes(), file.name, asked)
