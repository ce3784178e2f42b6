"""The demo rack is up to date, sound, and tells the nine stories it is meant to tell."""

from __future__ import annotations

import csv
import subprocess
import sys
import tomllib
from collections import Counter
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import mean

import pytest

from pleuston.base.errors import InputError
from pleuston.records.kinds import SIGNS
from pleuston.records.readings import Interval, interval
from pleuston.records.record import Entry, Record
from pleuston.services.demo import write_demo
from pleuston.store.exchange import files_of, read_rack_report

ROOT = Path(__file__).resolve().parents[2]
RACK = ROOT / "src" / "pleuston" / "demo_rack"
START = datetime(2026, 3, 1, 23, tzinfo=UTC)
"""Monday 2 March 2026, midnight on the rack's clock."""
CAUSES = {
    "Alder": "nothing_wrong", "Birch": "salt_creep", "Cedar": "copper_source",
    "Dogwood": "overgrown_cover", "Elder": "potassium_short", "Fern": "overfeeding",
    "Gorse": "hardness_draining", "Hazel": "nothing_wrong", "Iris": "young_bacteria",
}  # fmt: skip


@cache
def record() -> Record:
    return read_rack_report(RACK).record


@cache
def truth() -> dict[str, list[dict[str, str]]]:
    return tomllib.loads((ROOT / "demo" / "truth.toml").read_text(encoding="utf-8"))


@cache
def hidden() -> dict[str, list[dict[str, str]]]:
    """The rows of truth.csv by tank."""
    found: dict[str, list[dict[str, str]]] = {}
    with (ROOT / "demo" / "truth.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["tank"], []).append(row)
    return found


def true(tank: str, column: str) -> list[float]:
    return [float(row[column]) for row in hidden()[tank]]


def week(entry: Entry) -> int:
    return (entry.at - START).days // 7 + 1


def noted(tank: str, kind: str, what: str = "") -> list[Entry]:
    """The entries of a tank of one kind, without the seven that are wrong."""
    wrong = {slip["id"] for slip in truth()["wrong"]}
    return [
        entry
        for entry in record().entries_of(tank, kind=kind)
        if entry.tank == tank and what in ("", entry.what) and entry.id not in wrong
    ]


def intervals(tank: str, what: str, weeks: range) -> list[Interval]:
    return [interval(e) for e in noted(tank, "reading", what) if week(e) in weeks]


def grams(tank: str, what: str, weeks: range) -> float:
    return sum(e.amount or 0.0 for e in noted(tank, "harvest", what) if week(e) in weeks)


def signs(tank: str) -> Counter[str]:
    return Counter(entry.what for entry in noted(tank, "seen"))


def test_a_fresh_run_gives_the_same_bytes() -> None:
    run = subprocess.run(
        [sys.executable, str(ROOT / "demo" / "generate.py"), "--check"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr


def test_it_reads_without_any_change_and_writes_the_same_bytes() -> None:
    taken = read_rack_report(RACK)
    assert taken.changes == ()
    written = files_of(taken.record)
    assert {p.name: p.read_bytes() for p in RACK.iterdir()} == written


def test_nine_tanks_over_twenty_weeks() -> None:
    assert [tank.name for tank in record().tanks] == list(CAUSES)
    times = [entry.at for entry in record().entries]
    assert times == sorted(times)
    assert timedelta(0) <= times[0] - START < timedelta(days=1)
    assert timedelta(days=139) < times[-1] - START < timedelta(days=140)
    assert 2500 <= len(times) <= 4500
    for tank in CAUSES:
        rounds = [week(e) for e in noted(tank, "reading", "temperature")][1:]
        assert len(rounds) == len(set(rounds)) >= 17
        assert set(rounds) <= set(range(1, 21)) - {12}


def test_the_rack_says_that_it_is_invented() -> None:
    assert record().rack.name == "Invented demo rack"
    assert record().rack.timezone.startswith("Etc/")
    assert {entry.by for entry in record().entries} == {"keeper"}


def test_the_first_day_tells_what_was_there() -> None:
    for tank in CAUSES:
        first = [e for e in record().entries_of(tank) if e.at < START + timedelta(days=1)]
        kinds = {e.kind for e in first}
        assert "plant_in" in kinds
        assert ("stock_in" in kinds) == (tank != "Iris")
        assert {"kh", "nitrate_ion", "cover"} <= {e.what for e in first}


def test_every_sign_is_a_known_one() -> None:
    assert {e.what for e in record().entries if e.kind == "seen"} <= set(SIGNS)


def test_readings_hold_the_truth_about_as_often_as_such_kits_do() -> None:
    """On Sundays the hidden state is known; drops within one degree, conductivity within 8 %."""
    drops, pens = [], []
    for tank in CAUSES:
        rows = {row["day"]: row for row in hidden()[tank]}
        for entry in noted(tank, "reading"):
            row = rows.get(record().local(entry.at).date().isoformat())
            # the rounds before a top-up read stronger water than the state after it
            if row is None or tank not in ("Alder", "Hazel", "Fern"):
                continue
            if entry.what == "kh":
                drops.append(abs((entry.high or 0.0) - 0.5 - float(row["kh_dh"])))
            if entry.what in ("ec25", "pen_ppm"):
                found = interval(entry)
                pens.append(0.5 * (found.low + found.high) / float(row["ec25_us_cm"]) - 1.0)
    assert len(drops) >= 15
    assert sorted(drops)[int(0.9 * len(drops))] < 1.5
    assert len(pens) >= 45
    assert 0.01 < mean(pens) < 0.06
    assert max(abs(p) for p in pens) < 0.10


def test_alder_is_steady() -> None:
    conductivity = true("Alder", "ec25_us_cm")
    assert max(conductivity) < 1.1 * min(conductivity)
    assert max(true("Alder", "nitrite_mg_l_n")) < 0.02
    assert len(noted("Alder", "death")) <= 2


def test_birch_creeps() -> None:
    conductivity = true("Birch", "ec25_us_cm")
    first_of_month = conductivity[::4]
    assert all(late > early for early, late in pairwise(first_of_month))
    assert conductivity[-1] > 1.4 * conductivity[0]
    read = [0.5 * (i.low + i.high) for i in intervals("Birch", "ec25", range(1, 21))]
    assert mean(read[-3:]) > 1.4 * mean(read[:3])
    assert {e.what for e in noted("Birch", "top_up")} == {"hard tap"}


def test_cedar_loses_shrimp_while_the_kit_shows_nothing() -> None:
    copper = true("Cedar", "copper_mg_l")
    assert max(copper[:8]) < 0.012
    assert min(copper[12:]) > 0.015
    deaths = [week(e) for e in noted("Cedar", "death", "Neocaridina davidi")]
    assert sum(w <= 9 for w in deaths) <= 2
    assert sum(w >= 10 for w in deaths) >= 8
    kit = intervals("Cedar", "copper", range(1, 21))
    assert len(kit) >= 3
    assert sum(i.is_censored for i in kit) > len(kit) / 2
    assert {w.copper_ug_l for w in record().waters if w.name == "cellar tap"} == {None}


def test_dogwood_closes_and_gasps() -> None:
    assert all(week(e) <= 4 for e in noted("Dogwood", "harvest", "Lemna minor"))
    late = intervals("Dogwood", "cover", range(8, 21))
    assert len(late) >= 10
    assert min(0.5 * (i.low + i.high) for i in late) > 0.85
    gasps = noted("Dogwood", "seen", "gasping")
    assert len(gasps) >= 5
    assert all(record().local(e.at).hour < 8 for e in gasps)
    assert mean(true("Dogwood", "oxygen_dawn_mg_l")[12:]) < 2.5


def test_elder_stalls_while_nitrate_rises() -> None:
    assert grams("Elder", "Lemna minor", range(13, 21)) < 0.6 * grams(
        "Elder", "Lemna minor", range(1, 9)
    )
    assert true("Elder", "nitrate_mg_l_n")[-1] > 2.0 * true("Elder", "nitrate_mg_l_n")[3]
    assert true("Elder", "potassium_mg_l")[-1] < 0.7
    assert signs("Elder")["pinholes"] >= 3
    assert signs("Elder")["pale_leaves"] >= 1


def test_fern_is_overfed() -> None:
    early = [e.amount or 0.0 for e in noted("Fern", "feed") if week(e) < 8]
    late = [e.amount or 0.0 for e in noted("Fern", "feed") if week(e) >= 8]
    assert mean(late) == pytest.approx(3.0 * mean(early), rel=0.1)
    for column in ("nitrate_mg_l_n", "phosphate_mg_l_p"):
        assert true("Fern", column)[-1] > 3.0 * true("Fern", column)[6]
    seen = intervals("Fern", "ammonium_ion", range(9, 21))
    assert sum(i.low > 0 for i in seen) > len(seen) / 2
    assert signs("Fern")["film"] >= 3
    assert signs("Fern")["cloudy"] >= 1


def test_gorse_drains_then_loses_snails_then_shows_ammonia() -> None:
    hardness = true("Gorse", "kh_dh")
    assert hardness[0] > 2.5
    assert hardness[-1] < 0.5
    deaths = [week(e) for e in noted("Gorse", "death", "Planorbella duryi")]
    assert sum(w < 10 for w in deaths) <= 2
    assert len(deaths) >= 10
    assert signs("Gorse")["shells_pitted"] >= 3
    assert signs("Gorse")["snails_up"] >= 2
    ammonium = true("Gorse", "ammonium_mg_l_n")
    assert max(ammonium[14:]) > 3.0 * max(ammonium[:10])


def test_hazel_weighs_three_plants_every_week() -> None:
    counts = Counter(e.what for e in noted("Hazel", "harvest"))
    three = [counts[name] for name in ("Lemna minor", "Spirodela polyrhiza", "Salvinia natans")]
    assert three == [19, 19, 19]


def test_iris_starts_up() -> None:
    ammonium, nitrite = true("Iris", "ammonium_mg_l_n"), true("Iris", "nitrite_mg_l_n")
    top_ammonium, top_nitrite = ammonium.index(max(ammonium)), nitrite.index(max(nitrite))
    assert top_ammonium <= top_nitrite < 6
    assert max(ammonium) > 2.0
    assert max(nitrite) > 1.0
    assert max(nitrite[6:]) < 0.05
    stocked = noted("Iris", "stock_in")
    assert [week(e) for e in stocked] == [7]
    assert all(week(e) >= 7 for e in noted("Iris", "feed"))


def test_the_truth_names_every_cause_and_every_wrong_entry() -> None:
    assert {row["tank"]: row["cause"] for row in truth()["tank"]} == CAUSES
    entries = {entry.id: entry for entry in record().entries}
    page = (ROOT / "demo" / "README.md").read_text(encoding="utf-8")
    assert len(truth()["wrong"]) == 7
    for slip in truth()["wrong"]:
        assert entries[slip["id"]].tank == slip["tank"]
        assert f"| {slip['at'][:10]} | {slip['tank']} |" in page


def test_the_demo_is_written_into_a_new_folder(tmp_path: Path) -> None:
    target = tmp_path / "mine" / "rack"
    assert write_demo(target) == target
    assert {p.name: p.read_bytes() for p in target.iterdir()} == {
        p.name: p.read_bytes() for p in RACK.iterdir()
    }


def test_the_demo_is_not_written_over_other_things(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me", encoding="utf-8")
    with pytest.raises(InputError, match="not empty"):
        write_demo(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["letter.txt"]
    with pytest.raises(InputError, match="file of this name"):
        write_demo(tmp_path / "letter.txt")
    write_demo(tmp_path, force=True)
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "keep me"
    assert (tmp_path / "rack.csv").is_file()
