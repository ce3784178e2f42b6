"""Racks opened, imported, exported and listed as of a time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.store.racks import FILES, make, with_entry

from pleuston.base.errors import InputError
from pleuston.records.record import Rack, Record
from pleuston.services.demo import write_demo
from pleuston.services.racks import (
    counts,
    export_rack,
    import_rack,
    list_tanks,
    open_rack,
    parse_moment,
)
from pleuston.store.exchange import ImportRefused


def test_moment_of_a_day_is_its_end_on_the_racks_clock(tmp_path: Path) -> None:
    record = open_rack(make(tmp_path / "r"))
    assert parse_moment("2026-01-08", record) == datetime(2026, 1, 8, 23, tzinfo=UTC) - timedelta(
        microseconds=1
    )
    assert parse_moment("2026-01-08T12:00", record) == datetime(2026, 1, 8, 11, tzinfo=UTC)
    assert parse_moment("2026-01-08T12:00Z", record) == datetime(2026, 1, 8, 12, tzinfo=UTC)
    assert parse_moment(" ", record) == datetime(2026, 1, 10, 8, tzinfo=UTC)


def test_a_day_over_the_change_of_the_clocks_is_an_hour_shorter() -> None:
    record = Record(Rack(timezone="Europe/Paris"))
    ends = [parse_moment(f"2026-03-{day}", record) for day in (28, 29)]
    assert ends[1] - ends[0] == timedelta(hours=23)


@pytest.mark.parametrize("text", ["soon", "2026-02-30", "2026-13-01", "2026-03-29T02:30", "1"])
def test_a_time_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="--at"):
        parse_moment(text, Record(Rack(timezone="Europe/Paris")))


def test_a_time_without_offset_needs_a_time_zone() -> None:
    with pytest.raises(InputError, match="time zone"):
        parse_moment("2026-03-01", Record())
    with pytest.raises(InputError, match="no entries"):
        parse_moment("", Record())


def test_tanks_are_listed_as_they_stood(tmp_path: Path) -> None:
    extra = with_entry("2026-01-09T08:00,Fern,death,Neocaridina davidi,2,2,,kim,,")
    folder = make(tmp_path / "r", entries=extra)
    fern, moss = list_tanks(folder)["tanks"]
    assert fern["animals"] == {"Neocaridina davidi": 8.0}
    assert fern["floating_plants"] == [
        {"species": "Lemna minor", "put_in_g": 20.0, "taken_out_g": 35.0}
    ]
    assert fern["last_reading"]["what"] == "ph"
    assert fern["last_reading"]["age_days"] == pytest.approx(0.0)
    assert moss["lid"] == "tight"
    assert moss["animals"] == {}
    assert moss["last_reading"] is None
    earlier = list_tanks(folder, "2026-01-05")["tanks"]
    assert earlier[0]["animals"] == {"Neocaridina davidi": 10.0}
    assert earlier[0]["last_reading"]["what"] == "pen_ppm"
    assert earlier[1]["lid"] == "open"
    assert list_tanks(folder, "2025-12-31")["tanks"] == []


def test_more_deaths_than_animals_leave_none(tmp_path: Path) -> None:
    extra = with_entry("2026-01-09T08:00,Fern,death,Neocaridina davidi,40,40,,kim,,")
    record = open_rack(make(tmp_path / "r", entries=extra))
    assert counts(record.entries_of("Fern")) == {}


def test_import_is_whole_or_nothing(tmp_path: Path) -> None:
    spoilt = FILES["tanks.csv"].replace("partial", "ajar").replace("12.5", "-1")
    source = make(tmp_path / "bad", tanks=spoilt)
    target = tmp_path / "target"
    with pytest.raises(ImportRefused) as refused:
        import_rack(source, target)
    assert len(refused.value.problems) >= 2
    assert all(problem.where.startswith("tanks.csv:") for problem in refused.value.problems)
    assert not target.exists()
    assert [p.name for p in tmp_path.iterdir()] == ["bad"]


def test_import_export_import_gives_the_same_bytes(tmp_path: Path) -> None:
    source = write_demo(tmp_path / "demo")
    assert import_rack(source, None)["written"] is None
    answer = import_rack(source, tmp_path / "rack")
    assert answer["tanks"] == 9
    export_rack(tmp_path / "rack", tmp_path / "out")
    for path in source.iterdir():
        assert (tmp_path / "out" / path.name).read_bytes() == path.read_bytes()


def test_what_is_taken_in_another_form_is_told(tmp_path: Path) -> None:
    source = make(tmp_path / "r", tanks=FILES["tanks.csv"].replace("partial", "Partial"))
    (change,) = [c for c in import_rack(source, None)["changes"] if c["given"] == "Partial"]
    assert change["where"] == "tanks.csv:2:lid"
    assert change["taken"] == "partial"


def test_nothing_is_written_over(tmp_path: Path) -> None:
    source = make(tmp_path / "r")
    other = make(tmp_path / "other")
    with pytest.raises(InputError, match="not empty"):
        import_rack(source, other)
    with pytest.raises(InputError, match="into itself"):
        export_rack(source, source)


def test_a_rack_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportRefused, match="not opened"):
        open_rack(tmp_path / "none")
    (tmp_path / "file").write_text("x")
    with pytest.raises(ImportRefused, match="a file, not a folder"):
        open_rack(tmp_path / "file")
