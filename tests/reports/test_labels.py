"""The codes on labels can be read back, and open the tank they stand for."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import unquote

import pytest

from pleuston.reports.paper.labels import LEVEL, QUIET, log_address, qr_svg
from pleuston.services.paper import Wishes, sheet, sheet_data

from .pdf_text import read_pdf
from .qr_read import grid_of, level_and_mask, read_qr
from .rack import NOW, folder

BASE = "http://127.0.0.1:8000"


@pytest.mark.parametrize("tank", ["Fern", "A b", "Ö", "x/y?z"])
def test_a_code_reads_back_as_the_tanks_log_page(tank: str) -> None:
    address = log_address(BASE, tank)
    assert read_qr(qr_svg(address)) == address
    assert unquote(address.removeprefix(BASE)) == f"/t/{tank}/log"


def test_codes_are_dark_on_white_with_a_quiet_zone() -> None:
    svg = qr_svg(log_address(BASE, "Fern"))
    grid, quiet = grid_of(svg)
    assert quiet == QUIET == 4
    assert level_and_mask(grid)[0] == LEVEL.upper() == "Q"
    assert 'fill="#fff"' in svg
    assert f'width="{4 * (len(grid) + 8)}"' in svg


def test_labels_in_walking_order_after_the_used_places(tmp_path: Path) -> None:
    rack = folder(tmp_path / "rack")
    data = sheet_data(rack, "labels", "", NOW, Wishes(base_url=BASE, skip=23)).data
    assert data["places"][:23] == [None] * 23
    assert [p["name"] for p in data["places"][23:]] == ["Fern", "Moss"]
    assert [read_qr(p["qr"]) for p in data["places"][23:]] == [
        f"{BASE}/t/Fern/log", f"{BASE}/t/Moss/log"]  # fmt: skip
    found = read_pdf(sheet(rack, "labels", "", NOW, "pdf", Wishes(skip=23)))
    assert ["Fern" in p for p in found.pages] == [True, False]
    assert ["Moss" in p for p in found.pages] == [False, True]


def test_a_name_too_long_for_a_code_says_so(tmp_path: Path) -> None:
    rack = folder(tmp_path / "rack", fern="n" * 600)
    wishes = Wishes(base_url=BASE)
    assert sheet_data(rack, "labels", "", NOW, wishes).data["places"][0]["qr"] == ""
    assert "Nametoolongforacode" in read_pdf(sheet(rack, "labels", "", NOW, "pdf", wishes)).text
    assert b"Name too long for a code" in sheet(rack, "labels", "", NOW, "html", wishes)


def test_label_of_one_tank(tmp_path: Path) -> None:
    rack = folder(tmp_path / "rack")
    moment = datetime(2026, 4, 6, 12, tzinfo=UTC)
    data = sheet_data(rack, "labels", "Moss", moment, Wishes()).data
    assert [p["litres"] for p in data["places"]] == ["12 L"]
