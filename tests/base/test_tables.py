"""The folders of tables: what is read, and how each fault is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from pleuston.base import glossary, parameters, references
from pleuston.base.errors import InputError, PleustonError, UnknownNameError

REFERENCE = """
[smith1999]
title = "On ponds"
authors = "Smith A"
year = 1999
container = "Pond journal"
"""
TERM = """
[nitrate_concentration]
symbol = "NO3"
unit = "mg/L"
meaning = "Nitrate nitrogen in the water."
kind = "quantity"
of = "N"
"""
PARAMETER = """
[lemna_growth_max]
value = 0.3
unit = "1/d"
low = 0.1
high = 0.5
spread = 0.3
law = "lognormal"
conditions = "25 degC"
source = "smith1999"
where = "table 1"
grade = "read"
note = ""
"""
SOURCES = {"smith1999"}


def folder(at: Path, **files: str) -> Path:
    for name, text in files.items():
        (at / f"{name}.toml").write_text(text, encoding="utf-8")
    return at


def test_what_is_packaged_is_whole() -> None:
    assert len(references.load()) > 30
    assert len(glossary.load()) > 80
    assert parameters.load()
    assert references.load() is references.load()


def test_a_reference_is_read(tmp_path: Path) -> None:
    known = references.read(folder(tmp_path, one=REFERENCE))
    assert known["smith1999"].title == "On ponds"
    assert known["smith1999"].year == 1999
    assert known["smith1999"].doi == ""
    with pytest.raises(TypeError):
        known["other"] = known["smith1999"]  # type: ignore[index]


def test_a_term_is_read(tmp_path: Path) -> None:
    term = glossary.read(folder(tmp_path, one=TERM))["nitrate_concentration"]
    assert (term.symbol, term.unit, term.kind, term.of) == ("NO3", "mg/L", "quantity", "N")


def test_a_parameter_is_read(tmp_path: Path) -> None:
    known = parameters.read(folder(tmp_path, one=PARAMETER), SOURCES)
    assert known["lemna_growth_max"].value == 0.3
    assert known["lemna_growth_max"].source == "smith1999"


def test_files_are_taken_together_and_others_are_left(tmp_path: Path) -> None:
    second = REFERENCE.replace("smith1999", "jones2001")
    at = folder(tmp_path, one=REFERENCE, two=second)
    (at / "notes.txt").write_text("[smith1999]", encoding="utf-8")
    assert set(references.read(at)) == {"smith1999", "jones2001"}


def _without(text: str, field: str) -> str:
    return "\n".join(line for line in text.splitlines() if not line.startswith(f"{field} ="))


@pytest.mark.parametrize("field", references.NEEDED)
def test_a_gap_in_a_reference(tmp_path: Path, field: str) -> None:
    with pytest.raises(InputError, match=rf"one.toml \[smith1999\]: {field} missing"):
        references.read(folder(tmp_path, one=_without(REFERENCE, field)))


@pytest.mark.parametrize("field", glossary.NEEDED)
def test_a_gap_in_a_term(tmp_path: Path, field: str) -> None:
    with pytest.raises(InputError, match=rf"one.toml \[nitrate_concentration\]: {field} missing"):
        glossary.read(folder(tmp_path, one=_without(TERM, field)))


@pytest.mark.parametrize("field", parameters.NEEDED)
def test_a_gap_in_a_parameter(tmp_path: Path, field: str) -> None:
    with pytest.raises(InputError, match=rf"one.toml \[lemna_growth_max\]: {field} missing"):
        parameters.read(folder(tmp_path, one=_without(PARAMETER, field)), SOURCES)


def _told(fault: PleustonError) -> str:
    assert fault.what
    assert fault.where
    assert fault.remedy
    assert str(fault).startswith(fault.where)
    return str(fault)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("low = 0.1", "low = 0.4", "out of order"),
        ("high = 0.5", "high = 0.2", "out of order"),
        ("spread = 0.3", "spread = 0.0", "does not fit the law lognormal"),
        ("spread = 0.3", "spread = -1.0", "does not fit the law lognormal"),
        ('law = "lognormal"', 'law = "fixed"', "does not fit the law fixed"),
        ('law = "lognormal"', 'law = "normal"', "Write one of fixed, lognormal, uniform"),
        ("low = 0.1", "low = 0.0", "must be above 0"),
        ('grade = "read"', 'grade = "sure"', "grade is 'sure'"),
        ('where = "table 1"', 'where = " "', "where is ' ', not a text"),
        ("value = 0.3", 'value = "0.3"', "not a number"),
        ("value = 0.3", "value = true", "not a number"),
        ("high = 0.5", "high = inf", "finite number"),
        ("value = 0.3", "value = nan", "finite number"),
        ("note =", "nota =", "note missing"),
    ],
)
def test_a_fault_in_a_parameter(tmp_path: Path, old: str, new: str, told: str) -> None:
    assert old in PARAMETER
    with pytest.raises(InputError) as caught:
        parameters.read(folder(tmp_path, one=PARAMETER.replace(old, new)), SOURCES)
    assert told in _told(caught.value)


def test_a_uniform_value_needs_a_range(tmp_path: Path) -> None:
    text = PARAMETER.replace('"lognormal"', '"uniform"').replace("= 0.1", "= 0.3")
    text = text.replace("= 0.5", "= 0.3").replace("spread = 0.3", "spread = 0")
    with pytest.raises(InputError, match="no range"):
        parameters.read(folder(tmp_path, one=text), SOURCES)


def test_an_unknown_source_names_the_nearest(tmp_path: Path) -> None:
    at = folder(tmp_path, one=PARAMETER.replace("smith1999", "smith1989"))
    with pytest.raises(UnknownNameError, match=r"'smith1989'.*Did you mean smith1999"):
        parameters.read(at, SOURCES)


def test_an_unknown_source_far_from_all(tmp_path: Path) -> None:
    at = folder(tmp_path, one=PARAMETER.replace("smith1999", "zzz"))
    with pytest.raises(UnknownNameError, match="Known are smith1999"):
        parameters.read(at, SOURCES)
    with pytest.raises(UnknownNameError, match="Add it, or correct the name"):
        parameters.read(at, {f"other{n}" for n in range(20)})


def test_an_unknown_field_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(UnknownNameError, match=r"'meening'.*Did you mean meaning"):
        glossary.read(folder(tmp_path, one=TERM + 'meening = "x."\n'))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('kind = "quantity"', 'kind = "thing"', "kind is 'thing'"),
        ("water.", "water", "not a sentence"),
        ("[nitrate_concentration]", "[Nitrate]", "not lower case"),
        ("[nitrate_concentration]", '["two words"]', "not lower case"),
        ('symbol = "NO3"', "symbol = 3", "not a text"),
    ],
)
def test_a_fault_in_a_term(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        glossary.read(folder(tmp_path, one=TERM.replace(old, new)))
    assert told in _told(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("[smith1999]", "[Smith1999]", "lower case"),
        ("year = 1999", "year = 1999.5", "whole number"),
        ("year = 1999", 'year = "1999"', "not a number"),
        ('title = "On ponds"', 'title = ""', "not a text"),
        ("[smith1999]\n", "", "outside a table"),
        ("year = 1999", "year = = 1999", "can't be read"),
    ],
)
def test_a_fault_in_a_reference(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        references.read(folder(tmp_path, one=REFERENCE.replace(old, new)))
    assert told in _told(caught.value)


def test_a_key_in_two_files_is_refused(tmp_path: Path) -> None:
    at = folder(tmp_path, one=REFERENCE, two=REFERENCE)
    with pytest.raises(InputError, match=r"two.toml \[smith1999\]: the key is already in .*one"):
        references.read(at)
