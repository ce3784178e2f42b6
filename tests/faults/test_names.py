"""Names and texts that break programs come back as they went in, or are refused in words."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
from tests.store.databases import KIM, NOW

from pleuston.services.catalogue import save_tank
from pleuston.services.log import log_entries, recent_entries
from pleuston.services.racks import export_rack, import_rack, open_rack
from pleuston.services.spreadsheet import csv_table, xlsx_rack
from pleuston.services.tanks import tank_sheet, tanks_glance
from pleuston.store.exchange import ImportRefused
from pleuston.store.session import Database

HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "=1+1", "@SUM(A1:A9)", "+44",
    "'; DROP TABLE entry; --", "a,b;c", 'say "fern"', "\u202egnirts\u202c", "سرخس كبير",
    "日本の水槽", "👩\u200d🌾", "../../etc/passwd", "C:\\tank", "%s %d {x} ${y}", "e\u0301 é",
    "N" * 200, "a\u00a0b", "tab\tin", "NULL", "None", "0",
)  # fmt: skip


WITH_PAGE = tuple(name for name in HOSTILE if "/" not in name)
"""The address of a tank's page can't hold a /."""


def test_hostile_names_come_back_as_they_went_in(db: Database, tmp_path: Path) -> None:
    for name in WITH_PAGE:
        save_tank(db, {"tank": name, "net_l": 20, "surface_m2": 0.1, "lid": "open",
                       "flow": "still", "note": name}, KIM, NOW)  # fmt: skip
        log_entries(db, [{"tank": name, "kind": "note", "note": f"{name}\n{name}"}], KIM, NOW)
    assert [row["tank"] for row in tanks_glance(db, NOW)] == ["Fern", "Moss", *WITH_PAGE]
    for name in WITH_PAGE:
        assert tank_sheet(db, name, NOW)["note"] == name
        assert recent_entries(db, name)[0]["note"] == f"{name}\n{name}"
    export_rack(db.address, tmp_path / "folder")
    import_rack(tmp_path / "folder", tmp_path / "again.db", NOW)
    assert open_rack(tmp_path / "again.db") == open_rack(db.address)


def test_no_spreadsheet_takes_a_text_for_a_formula(db: Database) -> None:
    for name in HOSTILE:
        log_entries(db, [{"tank": "Fern", "kind": "note", "note": name}], KIM, NOW)
    record = open_rack(db.address)
    data = csv_table(record)
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    notes = [row["note"] for row in rows]
    assert [note.removeprefix("'") for note in notes] == [n.removeprefix("'") for n in HOSTILE]
    assert not any(note.startswith(("=", "@", "-", "\t")) for note in notes)
    assert "'=1+1" in notes
    book = openpyxl.load_workbook(io.BytesIO(xlsx_rack(record)))
    cells = [cell for row in book["entries"].iter_rows() for cell in row]
    assert not any(cell.data_type == "f" for cell in cells)
    assert "'=1+1" in [cell.value for cell in cells]
    book.close()


@pytest.mark.parametrize(
    "name", ["x" * 10_000, "n\0l", "half \ud83d", "x" * 201, "../../etc/passwd", "</script>", ".."]
)
def test_names_that_can_t_be_kept_are_refused_by_their_column(db: Database, name: str) -> None:
    row = {"tank": name, "net_l": 20, "surface_m2": 0.1, "lid": "open", "flow": "still"}
    with pytest.raises(ImportRefused) as refused:
        save_tank(db, row, KIM, NOW)
    assert "tank" in [problem.column for problem in refused.value.problems]
    with pytest.raises(ImportRefused) as refused:
        log_entries(db, [{"tank": name, "kind": "note"}], KIM, NOW)
    assert "tank" in [problem.column for problem in refused.value.problems]
    assert len(str(refused.value)) < 1000
    assert [row["tank"] for row in tanks_glance(db, NOW)] == ["Fern", "Moss"]


def test_a_note_of_ten_thousand_letters_is_kept(db: Database) -> None:
    note = "é" * 10_000
    log_entries(db, [{"tank": "Fern", "kind": "note", "note": note}], KIM, NOW)
    assert recent_entries(db)[0]["note"] == note
