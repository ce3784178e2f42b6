"""Out and in again: nothing is lost, not a byte."""

from __future__ import annotations

import json
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.store.racks import FILES, make, with_entry

from pleuston.base.errors import InputError
from pleuston.records.given import Given
from pleuston.records.record import Blend, Entry, Rack, Record, Tank, Water
from pleuston.store.exchange import (
    ImportRefused,
    files_of,
    read_rack,
    read_rack_report,
    write_rack,
)
from pleuston.store.exchange_layout import FILES as ALL_FILES


def test_a_sound_rack_comes_in_whole(tmp_path: Path) -> None:
    taken = read_rack_report(make(tmp_path / "rack"))
    record = taken.record
    assert taken.changes == ()
    assert record.rack.name == "Window shelf"
    assert [tank.name for tank in record.tanks] == ["Fern", "Moss"]
    assert record.blends == (Blend("half rain", (("kitchen", 0.5), ("rain", 0.5))),)
    assert len(record.entries) == 12
    assert record.entries[2].at == datetime(2026, 1, 5, 6, 30, tzinfo=UTC)
    assert record.waters[1].valid_from == datetime(2026, 2, 28, 23, tzinfo=UTC)
    assert record.tank("Moss").heater_c is None


def test_files_go_out_as_they_came_in(tmp_path: Path) -> None:
    write_rack(read_rack(make(tmp_path / "in")), tmp_path / "out")
    for name in FILES:
        assert (tmp_path / "out" / name).read_text() == FILES[name]


def test_export_import_export_gives_the_same_bytes(tmp_path: Path) -> None:
    messy = with_entry("2026-01-11 09:00,fern,reading,temperature,75,75,°F,,,").replace(
        "\n", "\r\n"
    )
    write_rack(read_rack(make(tmp_path / "in", entries=messy)), tmp_path / "one")
    write_rack(read_rack(tmp_path / "one"), tmp_path / "two")
    assert sorted(path.name for path in (tmp_path / "one").iterdir()) == sorted(ALL_FILES)
    for name in ALL_FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


texts = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=30)
numbers = st.floats(min_value=0, max_value=1e6, allow_nan=False)
amounts = st.one_of(
    st.none(), numbers, st.decimals(0, 1000, places=2).map(lambda number: Given(f"{number}"))
)
times = st.datetimes(
    min_value=datetime(1950, 1, 1),
    max_value=datetime(2150, 1, 1),
    timezones=st.sampled_from([UTC, ZoneInfo("Europe/Paris"), ZoneInfo("Asia/Kathmandu")]),
)


@st.composite
def entries(draw: st.DrawFn) -> Entry:
    kind, what, unit = draw(
        st.sampled_from(
            [("feed", "flake", "g"), ("harvest", "Lemna minor", "g"), ("top_up", "rain", "L"),
             ("dose", "calcium carbonate", "mg"), ("note", "", ""), ("seen", "film", "")]
        )
    )  # fmt: skip
    low, high = draw(amounts), draw(amounts)
    if low is not None and high is not None and low > high:
        low, high = high, low
    return Entry(
        id=str(draw(st.uuids())),
        at=draw(times),
        tank="Fern",
        kind=kind,
        what=draw(texts) if kind == "note" else what,
        low=low,
        high=high,
        unit="" if low is None and high is None else unit,
        by=draw(texts),
        method=draw(texts),
        note=draw(texts),
    )


@settings(max_examples=60, deadline=None)
@given(
    found=st.lists(entries(), max_size=6, unique_by=lambda entry: entry.id),
    zone=st.sampled_from(["", "UTC", "Europe/Paris", "America/St_Johns"]),
    note=texts,
    surface=st.floats(0.05, 0.5),
)
def test_any_record_goes_out_and_in_and_out_the_same(
    found: list[Entry], zone: str, note: str, surface: float
) -> None:
    record = Record(
        rack=Rack(name="R", timezone=zone, altitude_m=-3.5),
        waters=(Water("tap", calcium_mg_l=1 / 3, valid_from=datetime(2026, 1, 1, tzinfo=UTC)),),
        blends=(Blend("mix", (("tap", 0.25), ("rain", 0.75))),),
        tanks=(Tank("Fern", 30.0, surface, note=note, top_up_water="mix"),),
        entries=tuple(found),
    )
    with tempfile.TemporaryDirectory() as place:
        first, second = Path(place, "one"), Path(place, "two")
        write_rack(record, first)
        again = read_rack(first)
        assert again == record
        write_rack(again, second)
        for name in ALL_FILES:
            assert (first / name).read_bytes() == (second / name).read_bytes()


@pytest.mark.parametrize(
    "note",
    ["=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2", 'say ""hello""', "a,b;c", "tab\there",
     "two\nlines", "cr\rlf\r\n", " blanks ", "päon 浮萍 🌿", "\u2028", "\ufeffmark"],
)  # fmt: skip
def test_notes_survive_unharmed(tmp_path: Path, note: str) -> None:
    record = read_rack(make(tmp_path / "in"))
    record = replace(record, entries=(replace(record.entries[0], note=note, by=note),))
    write_rack(record, tmp_path / "out")
    back = read_rack(tmp_path / "out").entries[0]
    assert (back.note, back.by) == (note, note)


def test_the_description_names_every_file_and_column(tmp_path: Path) -> None:
    write_rack(read_rack(make(tmp_path / "in")), tmp_path / "out")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text())
    assert [item["path"] for item in package["resources"]] == [*FILES]
    for item in package["resources"]:
        header = FILES[item["path"]].splitlines()[0].split(",")
        assert [column["name"] for column in item["schema"]["fields"]] == header
        assert all(column["description"] for column in item["schema"]["fields"])
        assert item["bytes"] == len((tmp_path / "out" / item["path"]).read_bytes())


def test_times_without_a_written_form_get_their_offset(tmp_path: Path) -> None:
    record = read_rack(make(tmp_path / "in"))
    summer = datetime(2026, 7, 1, 6, tzinfo=UTC)
    moved = replace(record.entries[2], at=summer)  # its old text no longer means this time
    rows = files_of(replace(record, entries=(moved,)))["entries.csv"].decode().splitlines()
    assert rows[1].split(",")[1] == "2026-07-01T08:00:00+02:00"


def test_repeated_local_hour_is_written_so_that_it_reads_back(tmp_path: Path) -> None:
    record = read_rack(make(tmp_path / "in"))
    first = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    two = tuple(
        replace(record.entries[n], at=first + timedelta(hours=n), at_text="") for n in (0, 1)
    )
    write_rack(replace(record, entries=two), tmp_path / "out")
    assert [entry.at for entry in read_rack(tmp_path / "out").entries] == [first, two[1].at]


def test_writing_replaces_an_older_rack_only(tmp_path: Path) -> None:
    record = read_rack(make(tmp_path / "in"))
    write_rack(record, tmp_path / "out")
    fewer = replace(record, entries=record.entries[:1])
    write_rack(fewer, tmp_path / "out")
    assert read_rack(tmp_path / "out") == fewer
    (tmp_path / "out" / "photo.jpg").write_bytes(b"x")
    with pytest.raises(InputError, match=r"photo\.jpg"):
        write_rack(record, tmp_path / "out")
    assert read_rack(tmp_path / "out") == fewer
    with pytest.raises(InputError, match="file of this name"):
        write_rack(record, tmp_path / "out" / "photo.jpg")


def test_a_failed_write_leaves_what_was_there(tmp_path: Path) -> None:
    record = read_rack(make(tmp_path / "in"))
    write_rack(record, tmp_path / "out")
    spoilt = replace(record, tanks=(replace(record.tanks[0], net_l=-1.0),))
    with pytest.raises(
        ImportRefused,
        match=r"not written, 2 problems, the first at tanks\.csv:2:net_l: -1 is below 0",
    ):
        write_rack(spoilt, tmp_path / "out")
    assert read_rack(tmp_path / "out") == record
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in", "out"]


def test_a_failed_move_brings_the_old_rack_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = read_rack(make(tmp_path / "in"))
    write_rack(record, tmp_path / "out")
    move = Path.rename

    def failing(self: Path, target: Path) -> Path:
        if self.name == "new":
            raise OSError("disk full")
        return move(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OSError, match="disk full"):
        write_rack(replace(record, entries=()), tmp_path / "out")
    monkeypatch.undo()
    assert read_rack(tmp_path / "out") == record
