"""The round tells what is left, slips the notice of their region: on paper, page and command."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pleuston.cli.main import run_command
from pleuston.reports.paper.render import as_html, as_pdf
from pleuston.reports.paper.round_sheet import round_sheet
from pleuston.services.paper import Wishes, sheet, sheet_data
from pleuston.store.exchange import write_rack

from .page_words import Words
from .pdf_text import read_pdf, squeezed
from .rack import NOW, act, answer, folder, left_answer, record


@pytest.fixture(scope="module")
def rack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder(tmp_path_factory.mktemp("paper") / "rack")


def test_round_tells_what_is_left_alone_and_what_waits_with_its_consequence() -> None:
    made = round_sheet(left_answer(), ["Fern", "Moss", "Reed"], "", NOW)
    fern, moss, reed = made.data["tanks"]
    assert fern["idle"] == "What there is to do is left for next week: see overleaf."
    assert (moss["idle"], reed["idle"]) == ("", "Nothing to do: leave it alone.")
    assert made.data["alone"] == "Left alone this week: Reed."
    first, reasons = read_pdf(as_pdf(made)).pages
    page = Words(as_html(made)).text
    waits = "1 act is left for next week: more than your minutes hold."
    overleaf = (
        "Left for next week", "Fern: Change 4.2 L, with rain.",
        "Advised 2 weeks ago and not done. Then 3.1 L, now 4.2 L.",
        "If skipped: Salts grow by 40 µS/cm.", "Advised 1 week ago and not done.",
    )  # fmt: skip
    for text in ("Left alone this week: Reed.", waits):
        assert squeezed(text) in first
        assert squeezed(text) in page
    for text in overleaf:
        assert squeezed(text) in reasons
        assert squeezed(text) in page


def test_round_without_anything_left_says_nothing_of_it() -> None:
    data = round_sheet(answer(), [], "", NOW).data
    assert (data["left"], data["left_said"], data["alone"]) == ([], "", "")
    assert "next week" not in as_html(round_sheet(answer(), [], "", NOW)).decode()


def test_acts_left_come_in_walking_order() -> None:
    """Two tanks, the later one named first by the answer."""
    left = [{**act("thin", "Lemna minor", 5.0, "g"), "tank": t} for t in ("Moss", "Fern")]
    data = round_sheet({**left_answer(), "left": left}, ["Fern", "Moss"], "", NOW).data
    assert [a["tank"] for a in data["left"]] == ["Fern", "Moss"]
    assert data["left_said"].startswith("2 acts are left")


def test_minutes_asked_for_on_the_command_leave_the_rest_for_next_week(tmp_path: Path) -> None:
    """No minute at all: what guards animals stays on the sheet, the rest is told as left."""
    rack, target = folder(tmp_path / "rack"), tmp_path / "round.html"
    asked = ["sheet", "round", str(rack), "--at", NOW.isoformat(), "--out", str(target)]
    assert run_command([*asked, "--minutes", "0"]) == 0
    page = Words(target.read_bytes()).text
    before, left = page.split(squeezed("Left for next week"))
    assert squeezed("Keep 75 % of the surface open") in before
    assert squeezed("If skipped:") in left
    assert run_command([*asked, "--minutes", "-1"]) == 2


def test_a_slip_carries_the_notice_of_its_region(rack: Path) -> None:
    """Asked for, else the rack's own; none where neither is known. Always a lead, never law."""
    def slips(source: Path = rack, region: str = "") -> dict[str, Any]:
        data = sheet_data(source, "slip", "Fern", NOW, Wishes(region=region)).data
        return {s["name"]: s for s in data["slips"]}

    plain, eu = slips(), slips(region="eu")
    assert "Rules on invasive plants" in plain["Pistia stratiotes"]["law"]
    assert eu["Pistia stratiotes"]["law"].startswith("European Union: it is reported to be on")
    assert "looked at 2026-11-26" in eu["Pistia stratiotes"]["law"]
    assert "which is no proof" in eu["Lemna minor"]["law"]
    assert "this program knows no list of that place" in slips(region="moon")["Lemna minor"]["law"]
    assert all("heck with your authority" in s["law"] for s in eu.values())
    assert "CHECK FIRST" in eu["Pistia stratiotes"]["restricted"]
    for form in ("pdf", "html"):
        made_of = sheet(rack, "slip", "Fern", NOW, form, Wishes(region="eu"))
        text = read_pdf(made_of).text if form == "pdf" else Words(made_of).text
        assert squeezed("Check with your authority before you pass it on") in text


def test_the_rack_s_own_region_stands_on_its_slips(tmp_path: Path) -> None:
    source = record()
    write_rack(replace(source, rack=replace(source.rack, region="England")), tmp_path / "rack")
    target = tmp_path / "slip.html"
    asked = ["sheet", "slip", str(tmp_path / "rack"), "Fern", "--out", str(target)]
    assert run_command([*asked, "--at", NOW.isoformat()]) == 0
    assert "United Kingdom: " in target.read_text()
    assert run_command([*asked, "--at", NOW.isoformat(), "--region", "us"]) == 0
    assert "United States: " in target.read_text()
    assert "United Kingdom: " not in target.read_text()
