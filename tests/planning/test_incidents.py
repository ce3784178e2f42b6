"""Incident cards keep their manners, name their sources, and refuse gaps."""

from __future__ import annotations

import re
import shutil
from importlib import resources
from pathlib import Path

import pytest

from pleuston.base import references
from pleuston.base.errors import InputError, UnknownNameError
from pleuston.planning.incidents import cautions, incident, incidents
from pleuston.planning.incidents.load import read, read_cautions

NAMES = ["gasping", "ammonia", "deaths", "cloudy", "heat", "power_cut", "wrong_water", "copper"]


def test_cards_in_the_order_of_urgency() -> None:
    assert [card.name for card in incidents()] == NAMES
    assert incident("heat").title == "Heat"
    with pytest.raises(UnknownNameError, match="gasping, ammonia"):
        incident("dragons")


def test_every_step_names_a_known_source_and_place() -> None:
    steps = [step for card in incidents() for step in card.steps]
    assert len(steps) > 60
    assert {s.source for s in steps} <= set(references.load())
    assert all(s.where.strip() and s.text.endswith(".") for s in steps)
    assert {s.grade for s in steps if s.source != "common_practice"} <= {
        "read", "abstract", "derived", "memory"}  # fmt: skip


@pytest.mark.parametrize("card", incidents(), ids=lambda c: c.name)
def test_manners(card) -> None:  # type: ignore[no-untyped-def]
    done = " ".join(s.text for s in (*card.first, *card.measure))
    named = {c.name for c in card.cautions}
    assert "mains" in named or card.name == "copper"
    if re.search(r"[Cc]hange (a|half|water)", done):
        assert {"tap", "method"} & named
        assert "siphon" in named
    assert not re.search(r"raise the pH|skip|add (salt|medicine)|\bdose of\b", done, re.IGNORECASE)
    assert not re.search(r"\b\d+ ?(mg|ml|drops) (of|per)\b", done)
    assert 4 <= len(card.first) <= 7
    assert card.never


def test_what_must_be_said_somewhere() -> None:
    never = {c.name: " ".join(s.text for s in c.never) for c in incidents()}
    assert "Never raise the pH" in never["ammonia"]
    assert "never safe" in " ".join(s.text for s in incident("copper").measure)
    assert "never left out" in cautions()["method"].text
    assert "vet" in cautions()["vet"].text
    ill = [incident(name) for name in ("gasping", "ammonia", "deaths", "cloudy")]
    assert all("vet" in c.ends or "vet" in {x.name for x in c.cautions} for c in ill)


GOOD = """title = "T"
order = 1
signs = ["s"]
cautions = ["mains"]
ends = "e"
never = []
measure = []
[[first]]
text = "Do it."
"""


def folder(path: Path, card: str) -> Path:
    source = resources.files("pleuston.planning.incidents") / "cautions.toml"
    with resources.as_file(source) as file:
        shutil.copy(file, path / "cautions.toml")
    (path / "t.toml").write_text(card, encoding="utf-8")
    return path


def test_a_whole_card_is_read(tmp_path: Path) -> None:
    (card,) = read(folder(tmp_path, GOOD))
    assert (card.name, card.first[0].source) == ("t", "common_practice")


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ('ends = "e"\n', "", "missing or unknown: ends"),
        ('ends = "e"', 'ends = "e"\nodd = 1', "missing or unknown: odd"),
        ('ends = "e"', 'ends = " "', "ends is missing"),
        ("order = 1", 'order = "1"', "whole number"),
        ('signs = ["s"]', "signs = []", "signs and first steps"),
        ('["mains"]', '["dragons"]', "no caution is named 'dragons'"),
        ('text = "Do it."', 'text = ""', "text is missing"),
        ('text = "Do it."', 'text = "Do it."\nodd = 1', "unknown field"),
        ('text = "Do it."', 'text = "Do it."\nsource = "nobody1900"', "bibliography"),
        ('text = "Do it."', 'text = "Do it."\nsource = "emerson1975"', "without a place"),
        ('text = "Do it."', 'text = "Do it."\ngrade = "sure"', "no grade"),
        ("order = 1", "order = ", "no TOML"),
    ],
)
def test_gaps_are_refused(tmp_path: Path, old: str, new: str, word: str) -> None:
    assert old in GOOD
    with pytest.raises(InputError) as refused:
        read(folder(tmp_path, GOOD.replace(old, new)))
    assert word in str(refused.value)


def test_two_cards_of_one_order_and_a_caution_with_a_gap(tmp_path: Path) -> None:
    folder(tmp_path, GOOD)
    (tmp_path / "u.toml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(InputError, match="same order"):
        read(tmp_path)
    (tmp_path / "cautions.toml").write_text('[x]\ntitle = "X"\n', encoding="utf-8")
    with pytest.raises(InputError, match="a title and a text"):
        read_cautions(tmp_path)
