"""Whatever is sent or taken in: kept, or refused in words; never another kind of error."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.store.databases import KIM, NOW

from pleuston.base.errors import PleustonError
from pleuston.records.kinds import KINDS, READINGS
from pleuston.services import messy
from pleuston.services.catalogue import save_item
from pleuston.services.log import log_entries, recent_entries
from pleuston.services.racks import open_rack
from pleuston.store.catalogue import ROWS as ROWS_OF
from pleuston.store.exchange import files_of, read_rack, write_rack
from pleuston.store.exchange_layout import ENTRIES
from pleuston.store.session import Database

QUICK = settings(
    max_examples=120, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
LIKELY = st.sampled_from([
    "Fern", "Moss", *KINDS, *READINGS, "flake", "rain", "Lemna minor", "mg/L", "g", "L", "°C", "5",
    "0.25", "<0.5", "7,2", "10-20", "2026-03-01", "1.3.2026", "13/3/26 8:05 PM", "8:30", "",
    "n/a", "open", "tight", "1e400", "-1", "+1", "=1+1", "2026-02-30", "9999-12-31T23:59",
])  # fmt: skip
WORDS = LIKELY | st.text(max_size=12)
NUMBERS = st.floats() | st.integers(-(10**30), 10**30) | st.booleans()
VALUES: st.SearchStrategy[Any] = WORDS | NUMBERS | st.none()


@pytest.fixture
def keeps_whole(db_file: Database, tmp_path: Path) -> Iterator[Database]:
    """A database whose record still reads back after the test."""
    yield db_file
    record = open_rack(db_file.address)
    assert files_of(record)
    write_rack(record, tmp_path / "whole")


GOOD = st.sampled_from([
    {}, {"tank": "Fern", "kind": "reading", "what": "ph", "low": 7, "high": 7.5},
    {"tank": "Fern", "kind": "reading", "what": "nitrate_ion", "low": "5", "unit": "mg/L"},
    {"tank": "Moss", "kind": "feed", "what": "flake", "low": 0.1, "high": 0.1, "unit": "g"},
    {"tank": "Fern", "kind": "top_up", "what": "rain", "low": 1, "high": 1, "unit": "L"},
    {"tank": "Fern", "kind": "note"}, {"kind": "power_off"},
])  # fmt: skip
ROWS = st.builds(
    lambda good, more: {**good, **more}, GOOD,
    st.dictionaries(st.sampled_from([*ENTRIES.names, "wat"]), VALUES, max_size=4),
)  # fmt: skip
ITEMS: dict[str, dict[str, Any]] = {
    "tank": {"tank": "Ivy", "net_l": 20, "surface_m2": 0.1, "lid": "open", "flow": "still"},
    "water": {"water": "well", "kind": "well"}, "feed": {"feed": "mine"},
    "soil": {"soil": "mine"}, "blend": {"blend": "mix", "part": "rain", "share": 1},
}  # fmt: skip


@QUICK
@given(rows=st.lists(ROWS, min_size=1, max_size=3))
def test_any_entry_is_kept_or_refused_in_words(
    keeps_whole: Database, rows: list[dict[str, Any]]
) -> None:
    before = len(recent_entries(keeps_whole, limit=1000))
    new = 0
    with suppress(PleustonError):
        made = log_entries(keeps_whole, rows, KIM, NOW)["entries"]
        new = sum(entry["new"] for entry in made)
    assert len(recent_entries(keeps_whole, limit=1000)) == min(1000, before + new)


@QUICK
@given(kind=st.sampled_from(["tank", "water", "feed", "soil", "blend"]), data=st.data())
def test_anything_of_the_catalogue_is_kept_or_refused_in_words(
    keeps_whole: Database, kind: str, data: st.DataObject
) -> None:
    own = ROWS_OF[kind][0].names
    more = data.draw(st.dictionaries(st.sampled_from(own), VALUES, max_size=3))
    with suppress(PleustonError):
        save_item(keeps_whole, kind, {**ITEMS[kind], **more}, KIM, NOW)


HEADERS = st.sampled_from([
    "Date", "Datum", "Time", "Tank", "pH", "NO3 (mg/l)", "Temp °C", "KH", "Notes", "what", "kind",
    "value", "unit", "Mood", "WC", "Ammonia",
])  # fmt: skip


@QUICK
@given(
    header=st.lists(HEADERS, min_size=1, max_size=6),
    body=st.lists(st.lists(WORDS, max_size=7), max_size=5),
    mark=st.sampled_from([",", ";", "\t"]),
)
def test_every_cell_of_any_table_is_accounted_for(
    keeps_whole: Database, header: list[str], body: list[list[str]], mark: str
) -> None:
    rows = [["Date", *header], *(["2026-03-01", *row] for row in body)]
    text = "\n".join(mark.join(f'"{c.replace(chr(34), "")}"' for c in row) for row in rows)
    data = text.encode(errors="replace")
    try:
        mapping = {**messy.preview(data, "log.csv", keeps_whole)["mapping"], "tank": "Fern"}
        report = messy.dry_run(keeps_whole, data, "log.csv", mapping, KIM, NOW)
    except PleustonError:
        return
    cells = report["cells"]
    parts = ("taken", "refused", "empty", "ignored", "without_use")
    assert sum(cells[part] for part in parts) == cells["all"]
    assert (cells["refused"] > 0) <= (len(report["refused"]) > 0)
    if report["entries"] == 0:
        assert cells["taken"] == 0
    messy.take_in(keeps_whole, data, "log.csv", mapping, KIM, NOW)
    again = messy.take_in(keeps_whole, data, "log.csv", mapping, KIM, NOW)
    assert again["new"] == 0


def test_what_the_tables_give_reads_back_as_a_folder(keeps_whole: Database, tmp_path: Path) -> None:
    from pleuston.services.racks import export_rack

    log_entries(keeps_whole, [{"tank": "Fern", "kind": "note", "note": " a\r\nb "}], KIM, NOW)
    export_rack(keeps_whole.address, tmp_path / "out")
    assert read_rack(tmp_path / "out") == open_rack(keeps_whole.address)
