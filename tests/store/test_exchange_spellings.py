"""Common spellings are taken and told; digits change only when the unit does."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.store.racks import FILES, make, with_entry

from pleuston.store.exchange import read_rack, read_rack_report

AT = "2026-01-11T09:00"

UNITS = [
    # kind, what, value, unit -> value, unit
    ("reading", "ec25", "310", "µS/cm", 310.0, "uS/cm"),
    ("reading", "ec25", "0.31", "mS/cm", 310.0, "uS/cm"),
    ("reading", "temperature", "75.2", "°F", 24.0, "C"),
    ("reading", "temperature", "24.5", "°C", 24.5, "C"),
    ("reading", "kh", "4.50", "°dH", 4.5, "dH"),
    ("reading", "kh", "100", "mg/L CaCO3", 5.603, "dH"),
    ("reading", "kh", "2", "meq/L", 5.6077, "dH"),
    ("reading", "gh", "10", "°e", 7.986, "dH"),
    ("reading", "gh", "10", "°f", 5.603, "dH"),
    ("reading", "nitrate_ion", "20", "mg/l", 20.0, "mg/L"),
    ("reading", "nitrate_ion", "20", "ppm", 20.0, "mg/L"),
    ("reading", "nitrate_ion", "20", "mg/L NO3", 20.0, "mg/L"),
    ("reading", "nitrate", "5", "mg/L as N", 5.0, "mg/L"),
    ("reading", "ammonium", "0.5", "mg/L NH4-N", 0.5, "mg/L"),
    ("reading", "copper", "20", "ug/L", 0.02, "mg/L"),
    ("reading", "light_ppfd", "80", "umol m-2 s-1", 80.0, "umol/m2/s"),
    ("reading", "level_drop", "1.2", "cm", 12.0, "mm"),
    ("reading", "ph", "7.2", "pH", 7.2, ""),
    ("top_up", "rain", "1", "US gal", 3.785411784, "L"),
    ("top_up", "rain", "1", "imp gal", 4.54609, "L"),
    ("top_up", "rain", "500", "mL", 0.5, "L"),
    ("top_up", "rain", "10", "mm", 1.2, "L"),
    ("feed", "flake", "100", "mg", 0.1, "g"),
    ("harvest", "Lemna minor", "1", "oz", 28.349523125, "g"),
    ("dose", "calcium carbonate", "1.5", "g", 1500.0, "mg"),
    ("holiday", "", "2", "week", 14.0, "day"),
]


@pytest.mark.parametrize(
    ("kind", "what", "value", "unit", "expected", "written"), UNITS, ids=lambda v: str(v)
)
def test_units_are_converted_to_the_written_one(
    tmp_path: Path, kind: str, what: str, value: str, unit: str, expected: float, written: str
) -> None:
    row = f"{AT},Fern,{kind},{what},{value},{value},{unit}"
    taken = read_rack_report(make(tmp_path / "rack", entries=with_entry(row)))
    entry = taken.record.entries[-1]
    assert entry.low == pytest.approx(expected, rel=2e-4)
    assert entry.high == entry.low
    assert entry.unit == written
    told = [change for change in taken.changes if change.column == "unit"]
    assert [(change.given, change.taken) for change in told] == [(unit, written)]


def test_a_mere_spelling_leaves_the_digits_alone(tmp_path: Path) -> None:
    row = f"{AT},Fern,reading,kh,4.50,5.00,°dH"
    taken = read_rack_report(make(tmp_path / "rack", entries=with_entry(row)))
    assert taken.record.entries[-1].low.text == "4.50"  # type: ignore[union-attr]
    assert not [change for change in taken.changes if change.column in ("low", "high")]


@pytest.mark.parametrize(
    ("kind", "word", "name"),
    [
        ("harvest", "common duckweed", "Lemna minor"),
        ("plant_in", "water lettuce", "Pistia stratiotes"),
        ("stock_in", "cherry shrimp", "Neocaridina davidi"),
        ("stock_in", "Neocaridina heteropoda", "Neocaridina davidi"),
    ],
)
def test_species_are_stored_by_their_scientific_name(
    tmp_path: Path, kind: str, word: str, name: str
) -> None:
    unit = "" if kind == "stock_in" else "g"
    row = f"{AT},Fern,{kind},{word},3,3,{unit}"
    taken = read_rack_report(make(tmp_path / "rack", entries=with_entry(row)))
    assert taken.record.entries[-1].what == name
    assert (word, name) in [(change.given, change.taken) for change in taken.changes]


def test_names_are_taken_in_any_case(tmp_path: Path) -> None:
    row = f"{AT},FERN,Feed,Green Flake,0.1,0.1,g"
    entry = read_rack(make(tmp_path / "rack", entries=with_entry(row))).entries[-1]
    assert (entry.tank, entry.kind, entry.what) == ("Fern", "feed", "green flake")


def test_other_signs_are_kept_and_pointed_out(tmp_path: Path) -> None:
    row = f"{AT},Fern,seen,gaspng,,,"
    taken = read_rack_report(make(tmp_path / "rack", entries=with_entry(row)))
    assert taken.record.entries[-1].what == "gaspng"
    assert any("gasping" in change.taken for change in taken.changes)


def test_open_readings_and_unknown_amounts_are_taken(tmp_path: Path) -> None:
    rows = with_entry(f"{AT},Fern,reading,nitrate_ion,,5,mg/L")
    rows += f",{AT},Fern,reading,nitrate_ion,80,,mg/L,,,\n,{AT},Fern,harvest,Lemna minor,,,,,,\n"
    below, above, amount = read_rack(make(tmp_path / "rack", entries=rows)).entries[-3:]
    assert (below.low, below.high) == (None, 5.0)
    assert (above.low, above.high) == (80.0, None)
    assert amount.amount is None


def test_windows_files_are_taken(tmp_path: Path) -> None:
    marked = {
        name.removesuffix(".csv"): b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
        for name, text in FILES.items()
    }
    assert read_rack(make(tmp_path / "rack", **marked)) == read_rack(make(tmp_path / "plain"))


def test_columns_may_stand_in_another_order(tmp_path: Path) -> None:
    lines = [line.split(",") for line in FILES["soils.csv"].splitlines()]
    turned = "".join(",".join(reversed(cells)) + "\n" for cells in lines)
    assert read_rack(make(tmp_path / "rack", soils=turned)) == read_rack(make(tmp_path / "plain"))


def test_a_heater_is_switched_off_by_an_empty_value(tmp_path: Path) -> None:
    record = read_rack(
        make(tmp_path / "rack", entries=with_entry(f"{AT},Fern,setting,heater_c,,,C"))
    )
    assert record.tank_at("Fern", record.entries[-1].at).heater_c is None


def test_a_day_alone_is_its_first_moment_and_is_told(tmp_path: Path) -> None:
    row = "2026-01-11,Fern,note,,,,"
    taken = read_rack_report(make(tmp_path / "rack", entries=with_entry(row)))
    assert taken.record.entries[-1].at == datetime(2026, 1, 10, 23, tzinfo=UTC)
    assert [change.taken for change in taken.changes if change.column == "at"] == [
        "the first moment of that day"
    ]
