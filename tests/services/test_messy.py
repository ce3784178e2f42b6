"""Kept tables go in, or are refused cell by cell; nothing is lost in silence."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from tests.store.databases import GUEST, KIM, LEE, NOW

from pleuston.base.errors import InputError
from pleuston.services import messy
from pleuston.services.log import changes_made, recent_entries
from pleuston.services.messy_cells import (
    CellError,
    amount,
    clock,
    date_order,
    day_and_clock,
    number,
)
from pleuston.store.session import Database
from pleuston.store.sheets import read_sheet, xlsx_of

REAL = Path(__file__).parents[3] / "shared" / "data" / "small_tank"

EUROPEAN = (
    "Messwerte Küche;;;;;;;\r\n"
    "\r\n"
    "Datum;Uhrzeit;Becken;pH;NO3 (mg/l);Temp °C;KH;Bemerkung;Laune\r\n"
    "1.3.2026;8:30;Fern;7,2;10-20;24,5;6;;gut\r\n"
    "2.3.2026;8.45;fern;7,25;<5;24;6;Wasser trüb;\r\n"
    "13.3.2026;21:05;Moss;-;>80;n/a;7;;\r\n"
    "14.3.2026;;Moss;7;1.234;23,0;200,5;;gut\r\n"
    "31.2.2026;8:00;Fern;7;10;24;6;;\r\n"
    ";8:00;Fern;7,1;;;;;\r\n"
    "15.3.2026;8:00;Farn;7,1;;;;;\r\n"
)


def whole(report: dict[str, Any], data: bytes, name: str = "x.csv") -> None:
    """Every cell of the body has one fate, and they add up to those of the file."""
    cells = report["cells"]
    parts = ("taken", "refused", "empty", "ignored", "without_use")
    assert sum(cells[part] for part in parts) == cells["all"]
    sheet = read_sheet(data, name)
    above = sum(len(line["cells"]) for line in report["above"])
    assert cells["all"] + above + len(sheet.lines[len(report["above"])].cells) == sum(
        len(line.cells) for line in sheet.lines
    )


def taken(db: Database, text: str, **changes: Any) -> dict[str, Any]:
    data = text.encode()
    mapping = {**messy.preview(data, "log.csv", db)["mapping"], **changes}
    report = messy.take_in(db, data, "log.csv", mapping, KIM, NOW)
    whole(report, data)
    return report


def test_a_european_log_goes_in_and_the_rest_is_refused_cell_by_cell(db: Database) -> None:
    data = EUROPEAN.encode("cp1252")
    shown = messy.preview(data, "becken.csv", db)
    mapping = shown["mapping"]
    assert (mapping["delimiter"], mapping["decimal"], mapping["date_order"]) == (";", ",", "dmy")
    assert mapping["date_order_sure"]
    assert shown["above"] == [{"line": 1, "cells": ["Messwerte Küche", *[""] * 7]}]
    found = {c["column"]: (c["as"], c.get("what"), c.get("unit")) for c in mapping["columns"]}
    assert found["Uhrzeit"][0] == "time"
    assert found["NO3 (mg/l)"] == ("amount", "nitrate_ion", "mg/l")
    assert found["Temp °C"] == ("amount", "temperature", "°C")
    assert found["KH"][:2] == ("amount", "kh")
    assert found["Laune"][0] == "ignore"
    assert any("Windows-1252" in note for note in shown["notes"])
    mapping["columns"][6]["unit"] = "dH"
    tried = messy.dry_run(db, data, "becken.csv", mapping, KIM, NOW)
    assert recent_entries(db) == []
    report = messy.take_in(db, data, "becken.csv", mapping, KIM, NOW)
    assert {**tried, "written": True, "batch": report["batch"]} == report
    whole(report, data)
    refused = {(r["line"], r["column"]): r["what"] for r in report["refused"]}
    assert set(refused) == {
        (7, "NO3 (mg/l)"), (7, "KH"), (8, "Datum"), (9, "Datum"), (10, "Becken"),
    }  # fmt: skip
    assert "two ways" in refused[7, "NO3 (mg/l)"]
    assert "day" in refused[8, "Datum"]
    kept = {
        (e["at"], e["tank"], e["what"]): (e["low"], e["high"], e["unit"])
        for e in recent_entries(db, limit=100) if e["kind"] == "reading"
    }  # fmt: skip
    assert kept["2026-03-01T08:30:00+01:00", "Fern", "nitrate_ion"] == (10.0, 20.0, "mg/L")
    assert kept["2026-03-02T08:45:00+01:00", "Fern", "nitrate_ion"] == (None, 5.0, "mg/L")
    assert kept["2026-03-02T08:45:00+01:00", "Fern", "ph"] == (7.25, 7.25, "")
    assert kept["2026-03-13T21:05:00+01:00", "Moss", "nitrate_ion"] == (80.0, None, "mg/L")
    assert kept["2026-03-14T00:00:00+01:00", "Moss", "temperature"] == (23.0, 23.0, "C")
    notes = [e["note"] for e in recent_entries(db, limit=100) if e["kind"] == "note"]
    assert notes == ["Wasser trüb"]
    assert {c["column"]: c["cells"] for c in report["ignored_columns"]} == {"Laune": 2}


def test_taking_a_file_in_again_adds_nothing_also_by_another_person(db: Database) -> None:
    text = "Date,Tank,pH\n2026-03-01,Fern,7.0\n2026-03-01,Fern,7.0\n"
    assert taken(db, text)["new"] == 2
    again = messy.take_in(
        db, text.encode(), "other.csv", messy.preview(text.encode(), "o.csv", db)["mapping"],
        KIM, NOW,
    )  # fmt: skip
    assert (again["new"], again["already_there"]) == (0, 2)
    assert len(recent_entries(db)) == 2


def test_a_long_table_names_what_it_measures(db: Database) -> None:
    text = (
        "when,aquarium,parameter,result,unit,comment\n"
        "03/25/2026 8:05 PM,Tank Fern,NO3,20 mg/l,,ok\n"
        "03/26/2026,Tank Fern,Temperature,75.2,°F,\n"
        "03/27/2026,Tank Moss,EC,412,µS/cm,\n"
        "03/28/2026,Tank Moss,Wonder,1,mg/L,\n"
        "03/29/2026,Tank Moss,NO3,a lot,mg/L,\n"
    )
    mapping = messy.preview(text.encode(), "long.csv", db)["mapping"]
    assert mapping["words"]["tank"] == {"Tank Fern": "Fern", "Tank Moss": "Moss"}
    assert mapping["words"]["what"]["NO3"] == "nitrate_ion"
    report = messy.take_in(db, text.encode(), "long.csv", mapping, KIM, NOW)
    whole(report, text.encode())
    assert [(r["line"], r["column"]) for r in report["refused"]] == [
        (5, "parameter"), (6, "result"),
    ]  # fmt: skip
    kept = [(e["at"], e["tank"], e["what"], e["low"], e["note"]) for e in recent_entries(db)]
    assert kept == [
        ("2026-03-27T00:00:00+01:00", "Moss", "ec25", 412.0, ""),
        ("2026-03-26T00:00:00+01:00", "Fern", "temperature", 24.0, ""),
        ("2026-03-25T20:05:00+01:00", "Fern", "nitrate_ion", 20.0, "ok"),
    ]


def test_kinds_settings_signs_and_kit_steps_go_in(db: Database) -> None:
    text = "Date;Top up;Thinned;Film;Lid;Nitrite\n2026-03-01;1.5;35;yes;tight;0.25\n"
    data = text.encode()
    mapping = messy.preview(data, "x.csv", db)["mapping"]
    columns = {c["column"]: c for c in mapping["columns"]}
    columns["Top up"].update({"as": "amount", "kind": "top_up", "what": "rain", "unit": "L"})
    columns["Thinned"].update({"as": "amount", "kind": "harvest", "what": "Lemna minor",
                               "unit": "g"})  # fmt: skip
    columns["Film"].update({"as": "ignore"})
    columns["Lid"].update({"as": "amount", "kind": "setting", "what": "lid", "unit": ""})
    columns["Nitrite"]["steps"] = [0, 0.25, 0.5, 1]
    report = messy.take_in(db, data, "x.csv", {**mapping, "tank": "Fern"}, KIM, NOW)
    assert report["refused"] == []
    kept = {(e["kind"], e["what"]): (e["low"], e["high"], e["note"]) for e in recent_entries(db)}
    assert kept == {
        ("top_up", "rain"): (1.5, 1.5, ""), ("harvest", "Lemna minor"): (35.0, 35.0, ""),
        ("setting", "lid"): (None, None, "tight"),
        ("reading", "nitrite_ion"): (0.125, 0.375, ""),
    }  # fmt: skip


def test_a_spreadsheet_goes_in_as_it_is(db: Database) -> None:
    rows = [
        ["My log"], [], ["Date", "Time", "Tank", "pH", "Nitrate (mg/L as N)", "Notes"],
        [date(2026, 3, 1), time(8, 30), "Fern", 7.2, 4, "=1+1"],
        [datetime(2026, 3, 2, 20, 15), None, "Moss", 7, "<1", None],
    ]  # fmt: skip
    data = xlsx_of([("Empty", []), ("Log", rows), ("Other", [["x"]])])
    shown = messy.preview(data, "log.xlsx", db)
    assert shown["sheets"] == ["Empty", "Log", "Other"]
    assert any("Empty, Other" in note for note in shown["notes"])
    report = messy.take_in(db, data, "log.xlsx", shown["mapping"], KIM, NOW)
    assert report["refused"] == []
    whole(report, data, "log.xlsx")
    kept = {(e["at"], e["what"] or e["kind"]): (e["low"], e["high"], e["note"])
            for e in recent_entries(db)}  # fmt: skip
    assert kept["2026-03-01T08:30:00+01:00", "nitrate"] == (4.0, 4.0, "")
    assert kept["2026-03-02T20:15:00+01:00", "nitrate"] == (None, 1.0, "")
    assert kept["2026-03-01T08:30:00+01:00", "note"][2].endswith("=1+1")


def test_refused_lines_can_be_had_with_their_reasons(db: Database) -> None:
    data = EUROPEAN.encode()
    mapping = messy.preview(data, "x.csv", db)["mapping"]
    report = messy.dry_run(db, data, "x.csv", mapping, KIM, NOW)
    told = messy.refused_rows(data, "x.csv", mapping, report).decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(told)))
    assert rows[0][-2:] == ["line", "refused because"]
    assert {row[-2] for row in rows[1:]} == {str(r["line"]) for r in report["refused"]}
    assert all(len(row) == len(rows[0]) for row in rows)


def test_day_and_month_that_can_t_be_told_apart_are_pointed_out(db: Database) -> None:
    data = b"Date,Tank,pH\n3/4/2026,Fern,7\n"
    shown = messy.preview(data, "x.csv", db)
    assert not shown["mapping"]["date_order_sure"]
    assert any("day and month" in note for note in shown["notes"])
    rising = b"Date,Tank,pH\n1/5/26,Fern,7\n2/3/26,Fern,7\n2/9/26,Fern,7\n3/1/26,Fern,7\n"
    assert messy.preview(rising, "x.csv", db)["mapping"]["date_order"] == "mdy"


def test_a_table_without_a_tank_asks_for_one(db: Database) -> None:
    data = b"Date,pH\n2026-03-01,7\n"
    shown = messy.preview(data, "x.csv", db)
    assert any("tank" in note for note in shown["notes"])
    report = messy.dry_run(db, data, "x.csv", shown["mapping"], KIM, NOW)
    assert [r["what"] for r in report["refused"]] == ["the tank is missing"]
    assert messy.preview(data, "Moss 2026.csv", db)["mapping"]["tank"] == "Moss"


def test_only_a_keeper_takes_in_and_it_is_noted(db: Database) -> None:
    data = b"Date,Tank,pH\n2026-03-01,Fern,7\n"
    mapping = messy.preview(data, "x.csv", db)["mapping"]
    for who in (LEE, GUEST):
        with pytest.raises(InputError, match="may not"):
            messy.take_in(db, data, "x.csv", mapping, who, NOW)
    messy.take_in(db, data, "x.csv", mapping, KIM, NOW)
    after = changes_made(db)[0]["after"]
    assert (after["entries"], after["already there"], after["refused"]) == (1, 0, 0)


def test_a_taking_in_can_be_taken_back_whole(db: Database) -> None:
    taken(db, "Date,Tank,pH\n2026-03-01,Moss,6.0\n")
    wrong = taken(db, "Date,Tank,pH\n2026-03-01,Fern,7\n2026-03-02,Fern,7.1\n")
    taken(db, "Date,Tank,pH\n2026-03-05,Moss,6.5\n")
    with pytest.raises(InputError, match="may not"):
        messy.take_back(db, wrong["batch"], LEE, NOW)
    assert messy.take_back(db, wrong["batch"], KIM, NOW)["withdrawn"] == 2
    assert messy.take_back(db, wrong["batch"], KIM, NOW)["withdrawn"] == 0
    assert [entry["low"] for entry in recent_entries(db)] == [6.5, 6.0]
    again = taken(db, "Date,Tank,pH\n2026-03-01,Fern,7\n2026-03-02,Fern,7.1\n")
    assert (again["new"], again["put_back"], again["already_there"]) == (0, 2, 0)
    assert [entry["low"] for entry in recent_entries(db)] == [6.5, 7.1, 7.0, 6.0]
    with pytest.raises(InputError, match="nothing was taken in"):
        messy.take_back(db, 10_000, KIM, NOW)


def test_wrong_mappings_and_files_are_refused_in_words(db: Database) -> None:
    data = b"Date,Tank,pH\n2026-03-01,Fern,7\n"
    good = messy.preview(data, "x.csv", db)["mapping"]
    first = good["columns"][0]
    for change, words in (
        ({"columns": "x"}, "missing"), ({"wat": 1}, "not known"),
        ({"columns": [{**first, "as": "wat"}]}, "'wat' is not known"),
        ({"columns": [{**first, "wat": "at"}]}, "'wat' is not known"),
        ({"columns": [first, first]}, "two columns"), ({"columns": []}, "no column tells the day"),
        ({"columns": [first, {"column": "x", "as": "amount", "kind": "wat"}]}, "kind"),
        ({"decimal": "x"}, "decimal"), ({"date_order": "yyy"}, "order"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=words):
            messy.dry_run(db, data, "x.csv", {**good, **change}, KIM, NOW)
    for wrong, words in (
        (b"", "empty"), (b"\n\n", "no lines"), (b"a\0b", "not a table"),
        (b"PK\x03\x04 broken", "can't be read"), (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=words):
            messy.preview(wrong, "x", db)


def test_a_real_log_of_kits_and_a_probe_goes_in(db: Database) -> None:
    if not REAL.is_dir():
        pytest.skip("the folder of a real tank's log is not beside the project: not tried")
    kit = (REAL / "kit_readings.csv").read_bytes()
    mapping = messy.preview(kit, "kit_readings.csv", db)["mapping"]
    assert (mapping["date_order"], mapping["date_order_sure"]) == ("mdy", True)
    mapping["tank"] = "Moss"
    report = messy.take_in(db, kit, "kit_readings.csv", mapping, KIM, NOW)
    whole(report, kit)
    assert report["refused"] == []
    filled = sum(len([c for c in row[1:] if c]) for row in list(
        csv.reader(io.StringIO(kit.decode("utf-8-sig"))))[1:])  # fmt: skip
    assert report["new"] == filled == 30
    probe = (REAL / "sonde_20240316.csv").read_bytes()
    mapping = {**messy.preview(probe, "sonde.csv", db)["mapping"], "tank": "Moss"}
    report = messy.take_in(db, probe, "sonde.csv", mapping, KIM, NOW)
    whole(report, probe)
    assert report["refused"] == []
    assert report["new"] == 5 * report["lines"]
    first = {e["what"]: (e["at"], e["low"]) for e in report["first"][:5]}
    assert first == {
        "oxygen_pct": ("2024-03-16T01:08:29+01:00", 98.2),
        "oxygen": ("2024-03-16T01:08:29+01:00", 8.11),
        "ec25": ("2024-03-16T01:08:29+01:00", 406.4),
        "ph": ("2024-03-16T01:08:29+01:00", 8.18),
        "temperature": ("2024-03-16T01:08:29+01:00", 24.987),
    }


@pytest.mark.parametrize(("text", "order", "found"), [
    ("24.2.2024 8:05", "dmy", ("2024-02-24", "08:05")),
    ("2/24/24 8:05 PM", "mdy", ("2024-02-24", "20:05")),
    ("Feb 24, 2024", "dmy", ("2024-02-24", "")),
    ("24-Feb-24", "mdy", ("2024-02-24", "")),
    ("Sat, 24. März 2024", "dmy", ("2024-03-24", "")),
    ("2024/02/24T23:59:59", "dmy", ("2024-02-24", "23:59:59")),
])  # fmt: skip
def test_days_are_read_in_their_forms(text: str, order: str, found: tuple[str, str]) -> None:
    assert day_and_clock(text, order) == found


@pytest.mark.parametrize(
    "text", ["", "yesterday", "30.2.2024", "1.13.2024", "2024", "1/2", "25:00"]
)
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(CellError):
        day_and_clock(text, "dmy")


def test_numbers_are_never_guessed() -> None:
    assert number("1.234,5", ",") == "1234.5"
    assert number("0,125", ",") == "0.125"
    assert number("0.125", ",") == "0.125"
    for text, decimal in (("1.234", ","), ("1,234", "."), ("1.2.3", "."), ("", "."), ("1e", ".")):
        with pytest.raises(CellError):
            number(text, decimal)
    assert amount("<=0,5", ",").high == "0.5"
    assert amount("10 to 20 mg/L", ".").unit == "mg/L"
    assert amount("-3", ".").low == "-3"
    assert amount("1e-3", ".").low == "1e-3"
    for text in ("a lot", "5-", "<", "1 2", "5 5 mg"):
        with pytest.raises(CellError):
            amount(text, ".")
    assert clock("0:05") == "00:05"
    assert date_order(["13.1.2024"]) == ("dmy", True)
