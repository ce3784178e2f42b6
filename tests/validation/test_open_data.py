"""The open data are what the cases take them for, and a kit's log goes through the importer."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.store.racks import FILES, make

from pleuston.store.exchange import ImportRefused, read_rack, read_rack_report

from .case import OPEN_DATA, open_rows
from .cases_growth import control, thermal

pytestmark = pytest.mark.skipif(
    not OPEN_DATA.is_dir(), reason="the folder of open data beside the project is not there"
)
STEPS = {
    "Ammonia": (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0),
    "Nitrite": (0.0, 0.25, 0.5, 1.0, 2.0, 5.0),
    "Nitrate": (0.0, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0),
}
"""Colour steps of a liquid kit, assumed: the log does not name it."""
READINGS = {"Ammonia": "ammonium", "Nitrite": "nitrite_ion", "Nitrate": "nitrate_ion"}
HEADER = "id,at,tank,kind,what,low,high,unit,by,method,note"


def test_controls_are_those_of_the_papers() -> None:
    seen = [control("schmitt_7d_exp_7d_rec.csv"), control("hommen_2d_exp_12d_rec.csv")]
    assert seen == pytest.approx([0.385, 0.293], abs=0.0006)
    rows = open_rows("lemna_growth/schmitt_7d_exp_7d_rec.csv")
    assert float(rows[-1]["Control"]) == 220.0 * float(rows[0]["Control"])


def test_runs_over_temperature_are_many_enough() -> None:
    seen = thermal()
    assert list(seen) == [10.0, 15.0, 27.0, 37.0]
    assert min(len(v) for v in seen.values()) >= 10


def test_the_night_of_the_tank_is_sixteen_hours_at_five_minutes() -> None:
    rows = open_rows("small_tank/sonde_20240316.csv")
    oxygen = np.array([float(r["ODO mg/L"]) for r in rows])
    assert len(rows) == 196
    assert 7.0 < oxygen.min() < oxygen.max() < 9.0


def kit_log() -> list[dict[str, str]]:
    return open_rows("small_tank/kit_readings.csv")


def between(step: float, steps: tuple[float, ...]) -> tuple[str, str]:
    """The interval that a colour step stands for: half way to its neighbours."""
    at = steps.index(step)
    low = "" if at == 0 else f"{(steps[at - 1] + step) / 2:g}"
    high = "" if at == len(steps) - 1 else f"{(step + steps[at + 1]) / 2:g}"
    return low, high


def mapped(row: dict[str, str]) -> list[str]:
    """The entries of one dated row of the log; none of a row without readings."""
    month, day, year = (int(part) for part in row["Date"].split("/"))
    at = f"20{year:02d}-{month:02d}-{day:02d}T12:00"
    found = []
    for name, what in READINGS.items():
        if row[name]:
            low, high = between(float(row[name]), STEPS[name])
            found.append(f",{at},Shrimps,reading,{what},{low},{high},mg/L,keeper,colour steps,")
    for name, what in (("dKH", "kh"), ("dGH", "gh")):
        if row[name]:
            low = float(row[name]) - 1.0
            found.append(f",{at},Shrimps,reading,{what},{low:g},{row[name]},dH,keeper,drops,")
    if row["pH"]:
        ph = float(row["pH"])
        found.append(f",{at},Shrimps,reading,ph,{ph - 0.2:g},{ph + 0.2:g},,keeper,colour steps,")
    return found


def shrimp_rack(folder: Path, entries: str) -> Path:
    tanks = FILES["tanks.csv"].splitlines()[0] + "\n"
    tanks += "Shrimps,34,0.13,open,24,8,60,,,,,2024-02-20,gentle,kitchen,,planted\n"
    return make(folder, tanks=tanks, entries=entries)


def test_the_kit_log_becomes_interval_readings(tmp_path: Path) -> None:
    lines = [line for row in kit_log() for line in mapped(row)]
    taken = read_rack_report(
        shrimp_rack(tmp_path / "rack", "\n".join([HEADER, *lines]) + "\n")
    )
    readings = [e for e in taken.record.entries if e.kind == "reading"]
    assert len(readings) == len(lines) == 30
    assert {str(e.at)[:10] for e in readings} == {
        "2024-02-25", "2024-02-26", "2024-02-27", "2024-03-03", "2024-03-04",
    }  # fmt: skip
    nitrite = [e for e in readings if e.what.startswith("nitrite")]
    assert [e.low is None for e in nitrite] == [False] * 5
    assert [e.high is None for e in nitrite] == [False, False, False, True, True]
    none = [e for e in readings if e.what.startswith("nitrate")]
    assert all(e.low is None and float(e.high or 0.0) == 2.5 for e in none)


def test_the_kit_log_as_it_is_is_refused(tmp_path: Path) -> None:
    """The bytes of the log, mark and line ends and all, in the place of the entries."""
    raw = (OPEN_DATA / "small_tank" / "kit_readings.csv").read_bytes()
    folder = shrimp_rack(tmp_path / "rack", "")
    (folder / "entries.csv").write_bytes(raw)
    with pytest.raises(ImportRefused) as caught:
        read_rack(folder)
    found = [p for p in caught.value.problems if p.file == "entries.csv"]
    assert found
    assert all(p.what and p.remedy for p in found)


def test_a_log_in_the_right_columns_is_refused_row_by_row(tmp_path: Path) -> None:
    """Dates month first, no units: each row is refused at its date, with the reason."""
    lines = [
        f",{row['Date']},Shrimps,reading,{what},{row[name]},{row[name]},mg/L,keeper,,"
        for row in kit_log() for name, what in READINGS.items()
    ]  # fmt: skip
    folder = shrimp_rack(tmp_path / "rack", "\n".join([HEADER, *lines]) + "\n")
    with pytest.raises(ImportRefused) as caught:
        read_rack(folder)
    at = {p.line for p in caught.value.problems if (p.file, p.column) == ("entries.csv", "at")}
    assert at == set(range(2, len(lines) + 2))
    empty = {p.line for p in caught.value.problems if p.column == "low"}
    assert empty == {2, 3, 4}


def test_the_log_is_the_one_described() -> None:
    with (OPEN_DATA / "small_tank" / "kit_readings.csv").open(encoding="utf-8-sig") as file:
        rows = list(csv.reader(file))
    assert len(rows) == 7
    assert [cell for cell in rows[1][1:] if cell] == []
