"""A probe's file from its bytes to its answer: columns, units, clocks, darkness, notes."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.validation.case import OPEN_DATA
from tests.web.racks import NOW, small_database, small_record

from pleuston.base.errors import InputError
from pleuston.chemistry.oxygen import oxygen_at_saturation
from pleuston.cli.show import as_data
from pleuston.inference.readings import observation_models
from pleuston.services.entries import entries_of_tank
from pleuston.services.oxygen_night import METHOD, Asked, note_nights, oxygen_answer
from pleuston.services.who import Who
from pleuston.store.sheets import xlsx_of

START = datetime(2026, 4, 1, 21, 0)
K, USE, FROM = 9.0, 14.0, 8.0
FULL = float(oxygen_at_saturation(297.15, 1.0))
GIVEN = Asked(timezone="UTC", dark="21:00-07:00", pressure_hpa=1013.25)


def curve(count: int = 121) -> list[float]:
    level = FULL - USE / K
    return [level + (FROM - level) * float(np.exp(-K * n / 288.0)) for n in range(count)]


def table(
    head: str = "Date time,DO mg/L,Temp C,pH", mark: str = ",", comma: bool = False,
    form: str = "%Y-%m-%d %H:%M",
) -> bytes:  # fmt: skip
    lines = [head]
    for n, value in enumerate(curve()):
        cells = [(START + timedelta(minutes=5 * n)).strftime(form), f"{value:.2f}", "24.00", "7.2"]
        line = mark.join(cells)
        lines.append(line.replace(".", ",") if comma else line)
    return "\n".join(lines).encode()


def truth(answer: dict) -> None:
    (night,) = answer["nights"]
    assert night["exchange_1_d"]["low"] < K < night["exchange_1_d"]["high"]
    assert night["respiration_mg_l_h"]["low"] < USE / 24 < night["respiration_mg_l_h"]["high"]


def test_a_plain_file_gives_the_truth_back_and_is_plain_data() -> None:
    answer = oxygen_answer(table(), "probe.csv", GIVEN)
    truth(answer)
    assert answer["findings"] == []
    assert json.loads(json.dumps(as_data(answer)))["nights"][0]["told_apart"] is True


def test_decimal_commas_semicolons_and_german_heads_are_read() -> None:
    data = table("Datum Zeit;Sauerstoff (mg/l);Wassertemp;pH", ";", True, "%d/%m/%Y %H:%M")
    truth(oxygen_answer(data, "probe.csv", GIVEN))


def test_a_workbook_is_read_as_its_csv() -> None:
    rows = [line.split(",") for line in table().decode().splitlines()]
    data = xlsx_of([("log", rows)])
    truth(oxygen_answer(data, "probe.xlsx", GIVEN))


@pytest.mark.parametrize(("of", "air"), [("here", 900.0), ("sea", 1013.25)])
def test_per_cent_are_turned_by_the_pressure_they_are_of(of: str, air: float) -> None:
    full = float(oxygen_at_saturation(297.15, air / 1013.25))
    lines = ["Timestamp,DO %,Temperature"]
    for n, value in enumerate(curve()):
        at = (START + timedelta(minutes=5 * n)).isoformat()
        lines.append(f"{at},{value / full * 100:.2f},24")
    asked = Asked(timezone="UTC", dark="21:00-07:00", pressure_hpa=900.0, percent_of=of)
    answer = oxygen_answer("\n".join(lines).encode(), "probe.csv", asked)
    assert answer["nights"][0]["dusk_mg_l"] == pytest.approx(curve()[2], abs=0.01)
    if of == "here":
        unsaid = Asked(timezone="UTC", dark="21:00-07:00", pressure_hpa=900.0)
        told = oxygen_answer("\n".join(lines).encode(), "probe.csv", unsaid)["assumed"]
        assert any("at sea level" in text for text in told)


def test_a_ph_of_16_is_told_and_the_night_still_fitted() -> None:
    lines = table().decode().splitlines()
    lines[40] = lines[40].removesuffix("7.2") + "16"
    answer = oxygen_answer("\n".join(lines).encode(), "probe.csv", GIVEN)
    assert [f["kind"] for f in answer["findings"]] == ["impossible value"]
    assert "pH can't be 16" in answer["findings"][0]["words"]
    truth(answer)


def test_the_longer_part_beside_a_jump_is_used() -> None:
    lines = table().decode().splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[100:]:
        row[1] = f"{float(row[1]) - 1.5:.2f}"
    answer = oxygen_answer("\n".join(",".join(c) for c in cells).encode(), "probe.csv", GIVEN)
    assert [f["kind"] for f in answer["findings"]] == ["jump"]
    assert answer["nights"][0]["readings"] < 100
    truth(answer)


def test_a_clock_of_another_zone_moves_the_night() -> None:
    there = oxygen_answer(
        table(), "probe.csv", Asked(timezone="Etc/GMT-2", dark="21:00-07:00", pressure_hpa=1013.25)
    )
    assert there["nights"][0]["from"].startswith("2026-04-01T19:")
    with pytest.raises(InputError, match="no time zone"):
        oxygen_answer(table(), "probe.csv", Asked(timezone="Nowhere/Here"))


def test_the_light_column_and_the_lamp_tell_the_night() -> None:
    lines = table().decode().splitlines()
    light = [lines[0] + ",PAR", *(f"{x},{80 if n < 12 else 0}" for n, x in enumerate(lines[1:]))]
    asked = Asked(timezone="UTC", pressure_hpa=1013.25)
    found = oxygen_answer("\n".join(light).encode(), "probe.csv", asked)
    assert found["dark_by"] == "the light column"
    assert found["nights"][0]["from"] >= "2026-04-01T22:00"
    record = small_record()
    found = oxygen_answer(table(), "probe.csv", Asked(pressure_hpa=1013.25), record, "Alder")
    assert found["dark_by"] == "the tank's lamp"
    assert found["tonight"]["hours"] == 15.0


def test_files_that_tell_nothing_are_refused_with_a_remedy() -> None:
    for data, words in (
        (b"Time,Temp\n1,2\n", "no line names"),
        (b"Date time,DO mg/L,Temp C\n2026-04-01 10:00,8,24\n", "too few"),
        (table("Date time,DO mg/L,X,pH"), "no temperature"),
    ):
        with pytest.raises(InputError, match=words):
            oxygen_answer(data, "probe.csv", GIVEN)
    with pytest.raises(InputError, match="no column can be"):
        oxygen_answer(table(), "probe.csv", Asked(columns={"salt": "pH"}))


def test_noting_is_thinned_idempotent_and_counted_as_a_meter(tmp_path: Path) -> None:
    db = small_database(tmp_path / "rack.db")
    asked = Asked(timezone="UTC", dark="21:00-07:00", pressure_hpa=1013.25)
    rows = oxygen_answer(table(), "probe.csv", asked, small_record(), "Alder")["rows"]
    for new in (True, False):
        noted = note_nights(db, rows, Who(), NOW)["entries"]
        assert [e["new"] for e in noted] == [new, new]
    kept = [e for e in entries_of_tank(db, "Alder", kind="reading") if e.what == "oxygen"]
    db.close()
    settled = START.replace(tzinfo=UTC) + timedelta(minutes=10)
    assert min(e.at for e in kept) == settled
    assert all(e.low < e.high for e in kept if e.low is not None and e.high is not None)
    assert observation_models()["oxygen"].method(METHOD, exact=False).name == "meter"


def test_the_night_of_the_real_tank() -> None:
    file = OPEN_DATA / "small_tank" / "sonde_20240316.csv"
    if not file.exists():
        pytest.skip(f"the folder of open data is not here: {file.parent}")
    asked = Asked(timezone="UTC", dark="00:10-07:10")
    answer = oxygen_answer(file.read_bytes(), file.name, asked)
    (night,) = answer["nights"]
    assert [f["kind"] for f in answer["findings"]] == ["% of which pressure"]
    assert night["told_apart"]
    assert 8.0 < night["exchange_1_d"]["low"] < 14.0 < night["exchange_1_d"]["high"] < 20.0
    assert 0.2 < night["respiration_mg_l_h"]["low"] < 0.34 < night["respiration_mg_l_h"]["high"]
    assert night["misfit_mg_l"] < 0.03
    later = answer["tonight"]["nights"]
    assert later[0]["lowest_mg_l"]["middle"] == pytest.approx(night["lowest_mg_l"], abs=0.1)
    assert later[-1]["lowest_mg_l"]["middle"] < later[0]["lowest_mg_l"]["middle"]
