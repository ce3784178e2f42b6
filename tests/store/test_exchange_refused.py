"""Bad input is refused with its place, its reason and a remedy, all of it at once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.store.racks import FILES, ID, make, problems, with_entry

from pleuston.base.errors import InputError
from pleuston.store.exchange import ImportRefused, read_rack, read_rack_report, write_rack

AT = "2026-01-11T09:00"


def spoilt(name: str, old: str, new: str) -> dict[str, str]:
    """A file of the sound rack with one piece of text replaced, which must be there once."""
    assert FILES[f"{name}.csv"].count(old) == 1, old
    return {name: FILES[f"{name}.csv"].replace(old, new)}


CELLS = [
    # file, old, new, line, column, what, remedy
    ("tanks", "Fern,30.0,", "Fern,0,", 2, "net_l", "cannot hold 0 L", "litres"),
    ("tanks", "Fern,30.0,", "Fern,-4,", 2, "net_l", "-4 is below 0", "at least 0"),
    ("tanks", "Fern,30.0,", "Fern,,", 2, "net_l", "missing", "give a number"),
    ("tanks", ",0.120,", ",0,", 2, "surface_m2", "surface is 0", "length times width"),
    ("tanks", ",0.120,", ",1200,", 2, "surface_m2", "0.025 mm deep", "square metres"),
    ("tanks", ",0.120,", ",0.001,", 2, "surface_m2", "3e+04 mm deep", "square metres"),
    ("tanks", ",25,30,", ",150,100,", 2, "soil_mm", "250 mm deep and the water 250", "cap"),
    ("tanks", "partial", "ajar", 2, "lid", "'ajar' is not one of", "open, partial, tight"),
    ("tanks", "gentle", "genle", 3, "flow", "'genle'", "gentle"),
    ("tanks", "garden soil", "gardn soil", 3, "soil", "soil 'gardn soil' is not known", "garden"),
    ("tanks", "half rain", "half rian", 2, "top_up_water", "water 'half rian'", "half rain"),
    ("tanks", ",50,\n", ",150,\n", 2, "cover_target_pct", "150 is above 100", "0 to 100"),
    ("tanks", "Moss", "Fern", 3, "tank", "'Fern' stands twice, first on line 2", "rename"),
    ("tanks", "Fern,30.0", ",30.0", 2, "tank", "cell is empty", "name"),
    ("tanks", "24.0", "24,0", 2, "", "17 cells and the header 16", "decimal point"),
    ("waters", "7.7,6.9", "16,6.9", 2, "ph", "16 is above 14", "from 0 to 14"),
    ("waters", "kitchen,tap,48.0", "kitchen,river,48.0", 2, "kind", "'river'", "tap"),
    ("waters", "kitchen,tap,48.0", "kitchen,tap,nan", 2, "calcium_mg_l", "'nan'", "empty"),
    ("waters", "kitchen,tap,48.0", "kitchen,tap,inf", 2, "calcium_mg_l", "'inf'", "empty"),
    ("waters", "kitchen,tap,48.0", 'kitchen,tap,"48,0"', 2, "calcium_mg_l", "comma", "48.0"),
    ("waters", "2026-03-01", "2026-01-01", 3, "water", "'kitchen 2026-01-01' stands twice", "keep"),
    ("waters", "2026-03-01", "2026-02-30", 3, "from", "not a day or time that exists", "check"),
    ("blends", "rain,0.50", "rain,0.40", 2, "share", "sum to 0.9", "sum to 1"),
    ("blends", "rain,rain", "rain,sea", 3, "part", "water 'sea' is not known", "known"),
    ("blends", "kitchen,0.50", "kitchen,half", 2, "share", "'half' is not a number", "digits"),
    ("feeds", ",42,", ",142,", 2, "protein_pct", "142 is above 100", "0 to 100"),
    ("feeds", ",42,", ",98,", 2, "", "sum to 107.5 %", "at most 100"),
    ("soils", "6.0", "-6.0", 2, "organic_pct", "-6.0 is below 0", "0 to 100"),
    (
        "rack",
        "latitude_deg",
        "latitude",
        4,
        "key",
        "setting 'latitude' is not known",
        "latitude_deg",
    ),
    ("rack", "48.0", "148", 4, "latitude_deg", "148 is above 90", "-90 to 90"),
    ("rack", "Europe/Paris", "Europe/Paaris", 0, "timezone", "'Europe/Paaris'", "IANA"),
    ("rack", "room_c", "name", 6, "key", "'name' stands twice, first on line 2", "keep one"),
]


@pytest.mark.parametrize(
    ("name", "old", "new", "line", "column", "what", "remedy"),
    CELLS,
    ids=[f"{cell[0]}-{cell[4]}-{cell[2].strip()}" for cell in CELLS],
)
def test_a_bad_cell_is_refused_at_its_place(
    tmp_path: Path, name: str, old: str, new: str, line: int, column: str, what: str, remedy: str
) -> None:
    found = problems(make(tmp_path / "rack", **spoilt(name, old, new)))
    hits = [p for p in found if (p.file, p.line, p.column) == (f"{name}.csv", line, column)]
    assert hits, found
    assert any(what in hit.what for hit in hits), hits
    assert any(remedy in hit.remedy for hit in hits), hits


ENTRIES = [
    # row, column, what, remedy
    (f"{AT},Frn,note,,,,", "tank", "tank 'Frn' is not known", "Fern"),
    (f"{AT},,feed,flake,1,1,g", "tank", "the tank is missing", "name the tank"),
    (f"{AT},Fern,feeed,flake,1,1,g", "kind", "'feeed'", "feed"),
    (f"{AT},Fern,harvest,Lemna mino,5,5,g", "what", "species 'Lemna mino'", "Lemna minor"),
    (f"{AT},Fern,harvest,guppy,5,5,g", "what", "of the group fish, not of floating", "kind"),
    (f"{AT},Fern,stock_in,Lemna minor,5,5,", "what", "of the group floating", "kind"),
    (f"{AT},Fern,feed,flakes,1,1,g", "what", "feed 'flakes' is not known", "flake"),
    (f"{AT},Fern,top_up,kitchn,1,1,L", "what", "water 'kitchn' is not known", "kitchen"),
    (f"{AT},Fern,dose,potassium sulphide,1,1,mg", "what", "substance", "potassium sulfate"),
    (f"{AT},Fern,reading,nitrat,1,2,mg/L", "what", "reading 'nitrat'", "nitrate"),
    (f"{AT},Fern,setting,lihgt_hours,8,8,h", "what", "setting 'lihgt_hours'", "light_hours"),
    (f"{AT},Fern,setting,lid,,,,,,ajar", "note", "'ajar' is not a value of lid", "open"),
    (f"{AT},Fern,setting,top_up_water,,,,,,sea", "note", "water 'sea' is not known", "known"),
    (f"{AT},Fern,setting,light_hours,30,30,h", "low", "cannot be 30 h", "0 and 24"),
    (f"{AT},Fern,setting,light_hours,,,h", "low", "new value of light_hours is missing", "give"),
    (f"{AT},Fern,reading,nitrate,1,2,", "unit", "unit is missing", "mg/L"),
    (f"{AT},Fern,feed,flake,1,1,", "unit", "unit is missing", "g"),
    (f"{AT},Fern,reading,nitrate,1,2,furlong", "unit", "'furlong' does not fit", ""),
    (f"{AT},Fern,reading,nitrate,1,2,dH", "unit", "'dH' does not fit", ""),
    (f"{AT},Fern,reading,nitrate,1,2,mg/L NO3", "unit", "its unit says NO3", "nitrate_ion"),
    (f"{AT},Fern,reading,kh,100,110,ppm", "unit", "of what the hardness", "mg/L CaCO3"),
    (f"{AT},Fern,reading,ph,7,7,mg/L", "unit", "pH has no unit", "empty"),
    (f"{AT},Fern,stock_in,guppy,5,5,g", "unit", "a count has no unit", "empty"),
    (f"{AT},Fern,stock_in,guppy,2.5,2.5,", "unit", "2.5 is not a whole number", "count"),
    (f"{AT},Fern,feed,flake,-0.2,-0.2,g", "low", "cannot be negative (-0.2)", "sign"),
    (f"{AT},Fern,reading,nitrate,20,10,mg/L", "low", "low is above high (20 > 10)", "swap"),
    (f"{AT},Fern,reading,ph,16,16,", "low", "ph cannot be 16", "between 0 and 14"),
    (f"{AT},Fern,reading,cover,40,110,%", "high", "cover cannot be 110 %", "0 and 100"),
    (f"{AT},Fern,reading,temperature,250,250,C", "low", "temperature cannot be 250", "60"),
    (f"{AT},Fern,reading,nitrate,,,mg/L", "low", "neither low nor high", "at least one"),
    (f"{AT},Fern,reading,nitrate,<5,5,mg/L", "low", "'<5' is not a number", "leave low empty"),
    (f"{AT},Fern,reading,nitrate,NaN,5,mg/L", "low", "'NaN' is not a number", "empty"),
    (f"{AT},Fern,reading,nitrate,1e999,5,mg/L", "low", "'1e999' is not a number", "digits"),
    (f'{AT},Fern,reading,nitrate,"1,5",2,mg/L,,,', "low", "decimal comma", "1.5"),
    (f"{AT},Fern,reading,pen_ppm,200,200,ppm,,factor 7,", "method", "no possible factor", "0.5"),
    (f"{AT},Fern,seen,,,,", "what", "the sign that was seen is missing", "film"),
    ("2025-12-31T23:00,Fern,note,,,,", "at", "before 'Fern' was started (2026-01-02)", "check"),
    (",Fern,note,,,,", "at", "the time is missing", "when"),
    ("yesterday,Fern,note,,,,", "at", "'yesterday' is not a time", "2026-03-14T08:30"),
    ("11/01/2026,Fern,note,,,,", "at", "is not a time", "2026-03-14"),
    ("0026-01-11T09:00,Fern,note,,,,", "at", "year 26 cannot be meant", "check"),
    ("2026-01-11T25:00,Fern,note,,,,", "at", "not a day or time that exists", "check"),
    ("2026-03-29T02:30,Fern,note,,,,", "at", "does not exist: the clocks", "+02:00"),
    ("2026-10-25T02:30,Fern,note,,,,", "at", "comes twice", "2026-10-25T02:30:00+01:00"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "what", "remedy"), ENTRIES, ids=[row[0][11:60] for row in ENTRIES]
)
def test_a_bad_entry_is_refused_at_its_place(
    tmp_path: Path, row: str, column: str, what: str, remedy: str
) -> None:
    found = problems(make(tmp_path / "rack", entries=with_entry(row)))
    line = FILES["entries.csv"].count("\n") + 1
    hits = [p for p in found if (p.file, p.line, p.column) == ("entries.csv", line, column)]
    assert hits, found
    assert any(what in hit.what for hit in hits), hits
    assert any(remedy in hit.remedy for hit in hits), hits
    assert {(p.file, p.line) for p in found} == {("entries.csv", line)}


def test_ids_are_unique_and_uuids(tmp_path: Path) -> None:
    entries = FILES["entries.csv"].replace(ID.format(5), ID.format(4)).replace(ID.format(6), "six")
    found = problems(make(tmp_path / "rack", entries=entries))
    assert [(p.line, p.column) for p in found] == [(6, "id"), (7, "id")]
    assert "first on line 5" in found[0].what
    assert "'six' is not a UUID" in found[1].what


def test_made_ids_are_the_same_each_time_and_differ_for_repeated_rows(tmp_path: Path) -> None:
    row = f",{AT},Fern,feed,flake,0.1,0.1,g,,,\n"
    folder = make(tmp_path / "rack", entries=FILES["entries.csv"] + row + row)
    ids = [entry.id for entry in read_rack(folder).entries]
    assert len(set(ids)) == len(ids) == 14
    assert ids == [entry.id for entry in read_rack(folder).entries]


def test_times_need_a_zone_or_an_offset(tmp_path: Path) -> None:
    rack = FILES["rack.csv"].replace("Europe/Paris", "")
    found = problems(make(tmp_path / "rack", rack=rack))
    assert {p.what for p in found if p.file == "entries.csv"} == {
        f"'{time}' has no offset and the rack has no time zone"
        for time in (line.split(",")[1] for line in FILES["entries.csv"].splitlines()[3:])
    }
    offset = FILES["entries.csv"].splitlines()[:3]
    tanks = FILES["tanks.csv"].replace("2026-01-02", "")
    waters = FILES["waters.csv"].replace("2026-03-01,\n", ",\n").splitlines()
    make(tmp_path / "bare", rack=rack, entries="\n".join(offset) + "\n", tanks=tanks,
         waters="\n".join((waters[0], waters[2])) + "\n")  # fmt: skip
    assert problems(tmp_path / "bare") == ()


TEXTS: list[tuple[str, bytes, int, str]] = [
    ("tanks", b"", 1, "the file is empty"),
    ("tanks", b"\n\n", 1, "the file is empty"),
    ("entries", FILES["entries.csv"].encode()[:-40], 13, "cells and the header 11"),
    ("entries", FILES["entries.csv"].encode() + b',"2026', 14, "opened and never closed"),
    ("entries", FILES["entries.csv"].replace("them\"", "them\"x").encode(), 12, "closing quote"),
    ("entries", FILES["entries.csv"].replace("chart", "ch\0art", 1).encode(), 4, "NUL byte"),
    ("entries", FILES["entries.csv"].replace("kim", "kim\u00e9", 1).encode("latin-1"), 2, "0xe9"),
    ("entries", FILES["entries.csv"].encode("utf-16"), 1, "UTF-16"),
    ("tanks", FILES["tanks.csv"].replace(",", ";").encode(), 1, "semicolons"),
    ("tanks", FILES["tanks.csv"].replace(",lid,", ",cover,").encode(), 1, "'lid' is missing"),
    ("tanks", FILES["tanks.csv"].replace(",lid,", ",lidd,").encode(), 1, "'lidd' is not known"),
    ("tanks", FILES["tanks.csv"].replace(",flow,", ",lid,").encode(), 1, "'lid' stands twice"),
    ("soils", FILES["soils.csv"].replace("note", "note,extra").encode(), 1, "'extra' is not known"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data", "line", "what"), TEXTS, ids=[row[3] for row in TEXTS])
def test_a_spoilt_file_is_refused(
    tmp_path: Path, name: str, data: bytes, line: int, what: str
) -> None:
    found = problems(make(tmp_path / "rack", **{name: data}))
    hits = [p for p in found if p.file == f"{name}.csv" and p.line == line and what in p.what]
    assert hits, found
    assert all(hit.remedy for hit in hits)


def test_after_an_unclosed_quote_the_rest_is_still_reported(tmp_path: Path) -> None:
    rows = FILES["entries.csv"] + f',{AT},Fern,note,,,,,,,"open\n' + f",{AT},Fren,note,,,,,,,\n"
    found = problems(make(tmp_path / "rack", entries=rows))
    assert [(p.line, p.column) for p in found] == [(14, ""), (15, "tank")]


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    folder = make(
        tmp_path / "rack",
        **spoilt("tanks", "partial", "ajar"),
        **spoilt("blends", "rain,0.50", "rain,0.60"),
        entries=with_entry(f"{AT},Frn,reading,ph,16,15,"),
    )
    with pytest.raises(ImportRefused) as refused:
        read_rack(folder)
    places = [problem.where for problem in refused.value.problems]
    assert places == [
        "blends.csv:2:share", "tanks.csv:2:lid", "entries.csv:14:tank",
        "entries.csv:14:low", "entries.csv:14:high", "entries.csv:14:low",
    ]  # fmt: skip
    assert "6 problems, the first at blends.csv:2:share" in str(refused.value)
    assert refused.value.report().count("\n") == 5
    assert isinstance(refused.value, InputError)
    assert refused.value.exit_code == 2


@pytest.mark.parametrize("name", ["rack.csv", "tanks.csv", "entries.csv"])
def test_a_missing_file_is_refused(tmp_path: Path, name: str) -> None:
    folder = make(tmp_path / "rack")
    (folder / name).unlink()
    assert (name, "the file is missing") in [(p.file, p.what) for p in problems(folder)]


def test_a_file_that_the_description_lists_must_be_there(tmp_path: Path) -> None:
    write_rack(read_rack(make(tmp_path / "in")), tmp_path / "out")
    (tmp_path / "out" / "feeds.csv").unlink()
    found = problems(tmp_path / "out")
    assert "missing, though datapackage.json lists it" in found[0].what


def test_own_waters_feeds_soils_and_blends_are_not_needed(tmp_path: Path) -> None:
    folder = make(
        tmp_path / "rack",
        tanks=FILES["tanks.csv"].replace("garden 2025", "potting soil")
        .replace("half rain", "rain").replace("kitchen", "moderately hard"),
        entries="".join(FILES["entries.csv"].splitlines(keepends=True)[:5]),
    )  # fmt: skip
    for name in ("waters.csv", "blends.csv", "feeds.csv", "soils.csv"):
        (folder / name).unlink()
    assert len(read_rack(folder).entries) == 4


def test_a_cut_off_export_is_noticed_even_inside_a_note(tmp_path: Path) -> None:
    write_rack(read_rack(make(tmp_path / "in")), tmp_path / "out")
    soils = tmp_path / "out" / "tanks.csv"
    soils.write_bytes(soils.read_bytes()[:-3])
    found = problems(tmp_path / "out")
    assert [(p.file, p.line) for p in found] == [("tanks.csv", 3)]
    assert "cut off" in found[0].what


def test_a_last_line_without_a_break_is_taken(tmp_path: Path) -> None:
    folder = make(tmp_path / "rack", soils=FILES["soils.csv"].rstrip("\n"))
    assert read_rack(folder) == read_rack(make(tmp_path / "same"))


def test_a_spoilt_description_is_refused(tmp_path: Path) -> None:
    folder = make(tmp_path / "rack")
    for text in ("{", "[]", '{"resources": 3}', "null"):
        (folder / "datapackage.json").write_text(text)
        assert [p.file for p in problems(folder)] == ["datapackage.json"]
    (folder / "datapackage.json").write_text(json.dumps({"resources": [{"path": "rack.csv"}]}))
    assert problems(folder) == ()


def test_no_folder_and_no_rack(tmp_path: Path) -> None:
    with pytest.raises(ImportRefused, match="no such folder"):
        read_rack(tmp_path / "nowhere")
    (tmp_path / "file").write_text("x")
    with pytest.raises(ImportRefused, match="a file, not a folder"):
        read_rack(tmp_path / "file")
    (tmp_path / "empty").mkdir()
    names = [problem.file for problem in problems(tmp_path / "empty")]
    assert names == ["rack.csv", "tanks.csv", "entries.csv"]


def test_a_stray_table_is_pointed_out(tmp_path: Path) -> None:
    folder = make(tmp_path / "rack")
    (folder / "soil.csv").write_text("soil\n")
    change = read_rack_report(folder).changes[0]
    assert change.file == "soil.csv"
    assert "soils.csv" in change.taken
