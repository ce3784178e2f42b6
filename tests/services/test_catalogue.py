"""Tanks, waters, blends, feeds, soils and settings are saved checked, and noted in the audit."""

from __future__ import annotations

from typing import Any

import pytest
from tests.store.databases import GUEST, KIM, LEE, NOW, ph

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.services import catalogue
from pleuston.services.log import changes_made, log_entries
from pleuston.services.racks import open_rack
from pleuston.services.tanks import tank_sheet, tanks_glance
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.exchange import ImportRefused, read_rack, write_rack
from pleuston.store.session import Database

TANK = {"tank": "Ivy", "net_l": "25.50", "surface_m2": 0.1, "lid": "open", "flow": "still"}


def columns(caught: pytest.ExceptionInfo[ImportRefused]) -> list[str]:
    return [problem.column for problem in caught.value.problems]


def test_a_tank_is_saved_changed_and_keeps_what_is_left_out(db: Database) -> None:
    saved = catalogue.save_tank(db, {**TANK, "note": "window"}, KIM, NOW)
    assert (saved["net_l"], saved["note"]) == (25.5, "window")
    catalogue.save_tank(db, {"tank": "Ivy", "lid": "Tight", "soil_mm": ""}, KIM, NOW)
    record = open_rack(db.address)
    assert [tank.name for tank in record.tanks] == ["Fern", "Moss", "Ivy"]
    assert (record.tank("Ivy").lid, record.tank("Ivy").note) == ("tight", "window")
    last = changes_made(db)[0]
    assert (last["action"], last["subject"], last["person"]) == ("save tank", "Ivy", "kim")
    assert (last["before"][0]["lid"], last["after"][0]["lid"]) == ("open", "tight")


def test_every_problem_of_a_tank_is_told_by_its_column(db: Database) -> None:
    wrong: dict[str, Any] = {"tank": "Ivy", "net_l": "2,5", "surface_m2": -1, "lid": "ajar",
                             "flow": "still", "soil": "gravle", "wat": 1}  # fmt: skip
    with pytest.raises(ImportRefused) as caught:
        catalogue.save_tank(db, wrong, KIM, NOW)
    assert {"net_l", "surface_m2", "lid", "wat"} <= set(columns(caught))
    with pytest.raises(ImportRefused, match="mm deep"):
        catalogue.save_tank(db, {**TANK, "surface_m2": 1000}, KIM, NOW)
    with pytest.raises(ImportRefused, match="already"):
        catalogue.save_item(db, "tank", {**TANK, "tank": "Fern"}, KIM, NOW, new=True)
    assert len(open_rack(db.address).tanks) == 2


def test_the_record_never_contradicts_itself(
    db: Database, tmp_path_factory: pytest.TempPathFactory
) -> None:
    log_entries(db, [ph(7.0, 1, at="2026-02-01T08:00")], KIM, NOW)
    with pytest.raises(ImportRefused, match="entries before"):
        catalogue.save_tank(db, {"tank": "Fern", "started": "2026-03-01"}, KIM, NOW)
    catalogue.save_water(db, {"water": "kitchen", "kind": "tap", "kh_dh": 5}, KIM, NOW)
    log_entries(db, [{"tank": "Fern", "kind": "top_up", "what": "kitchen", "low": 1, "high": 1,
                      "unit": "L"}], KIM, NOW)  # fmt: skip
    for kind, name in (("tank", "Fern"), ("water", "kitchen")):
        with pytest.raises(InputError, match="the record names this"):
            catalogue.remove_item(db, kind, name, KIM, NOW)
    with pytest.raises(ImportRefused, match="is a water and a blend"):
        catalogue.save_blend(db, "kitchen", {"rain": 1.0}, KIM, NOW)
    assert catalogue.remove_item(db, "tank", "Moss", KIM, NOW) == 1
    folder = tmp_path_factory.mktemp("out") / "rack"
    write_rack(open_rack(db.address), folder)
    assert read_rack(folder) == open_rack(db.address)


def test_waters_have_an_analysis_for_each_date(db: Database) -> None:
    for day, kh in (("", 5), ("2026-03-01", 6), ("2026-03-01", 7)):
        catalogue.save_water(
            db, {"water": "kitchen", "kind": "tap", "kh_dh": kh, "from": day}, KIM, NOW
        )
    rows = catalogue.get_item(db, "water", "kitchen")
    assert [(row["from"], row["kh_dh"]) for row in rows] == [("", 5.0), ("2026-03-01", 7.0)]
    catalogue.remove_item(db, "water", "kitchen", KIM, NOW, valid_from="2026-03-01")
    assert len(catalogue.list_waters(db)) == 1
    with pytest.raises(UnknownNameError, match="kitchen"):
        catalogue.get_item(db, "water", "kichen")


def test_blends_sum_to_one_and_are_replaced_whole(db: Database) -> None:
    catalogue.save_water(db, {"water": "tapped", "kind": "tap"}, KIM, NOW)
    catalogue.save_blend(db, "soft", {"rain": 0.25, "tapped": 0.75}, KIM, NOW)
    catalogue.save_blend(db, "soft", {"rain": 1.0}, KIM, NOW)
    assert [row["share"] for row in catalogue.list_items(db, "blend")] == [1.0]
    with pytest.raises(ImportRefused, match=r"sum to 0\.9"):
        catalogue.save_blend(db, "soft", {"rain": 0.5, "tapped": 0.4}, KIM, NOW)


def test_feeds_and_soils_are_checked(db: Database) -> None:
    catalogue.save_feed(db, {"feed": "mine", "protein_pct": 40}, KIM, NOW)
    catalogue.save_soil(db, {"soil": "mine", "organic_pct": 5}, KIM, NOW)
    with pytest.raises(ImportRefused, match="sum to 120"):
        catalogue.save_feed(db, {"feed": "mine", "moisture_pct": 80}, KIM, NOW)
    assert catalogue.remove_item(db, "feed", "mine", KIM, NOW) == 1
    assert catalogue.list_items(db, "feed") == []


def test_settings_of_the_rack_are_checked_by_name(db: Database) -> None:
    after = catalogue.save_rack_settings(db, {"room_c": "21.50", "name": "Cellar"}, KIM, NOW)
    told = (after["room_c"], after["name"], after["timezone"])
    assert told == ("21.50", "Cellar", "Europe/Paris")
    for wrong, column in (({"timezone": "Mars/Base"}, "timezone"), ({"room_c": "hot"}, "room_c"),
                          ({"altitude_m": "99999"}, "altitude_m")):  # fmt: skip
        with pytest.raises(ImportRefused) as caught:
            catalogue.save_rack_settings(db, wrong, KIM, NOW)
        assert columns(caught) == [column]
    assert catalogue.rack_settings(db) == after


def test_only_a_keeper_saves(db: Database) -> None:
    for who in (LEE, GUEST):
        with pytest.raises(InputError, match="may not"):
            catalogue.save_tank(db, TANK, who, NOW)
        with pytest.raises(InputError, match="may not"):
            catalogue.save_rack_settings(db, {"name": "x"}, who, NOW)


def test_the_library_is_listed_with_grades() -> None:
    for kind in ("water", "feed", "soil", "species", "substance"):
        assert catalogue.list_library(kind)
    soil = next(s for s in catalogue.list_library("soil") if s["name"] == "garden soil")
    assert soil["grades"]["organic_pct"]["grade"] == "memory"
    with pytest.raises(UnknownNameError, match="soil"):
        catalogue.list_library("soils")


def test_net_litres_leave_out_what_the_bed_takes() -> None:
    bare = catalogue.net_litres(50, 20, 30)
    assert bare == {"net_l": 30.0, "gross_l": 30.0, "surface_m2": 0.1, "bed_takes_l": 0.0}
    bed = catalogue.net_litres(50, 20, 30, soil_mm=40, cap_mm=20, soil_porosity=0.5,
                               cap_porosity=0.4)  # fmt: skip
    assert bed["net_l"] == pytest.approx(30.0 - (40 * 0.5 + 20 * 0.6) * 0.1)
    with pytest.raises(InputError, match="deeper"):
        catalogue.net_litres(50, 20, 5, soil_mm=50)
    with pytest.raises(InputError, match="can't be meant"):
        catalogue.net_litres(9e9, 500, 5)


def test_tanks_at_a_glance_tell_what_was_last(db: Database) -> None:
    log_entries(db, [ph(7.0, 1, at="2026-05-01T08:00"), ph(7.4, 2, at="2026-05-02T08:00"),
                     ph(9.0, 3, at="2027-01-01T08:00")], KIM, NOW)  # fmt: skip
    answer = {"state": "watch", "because": ["nitrate rises"], "acts": [{"act": "thin"}] * 2}
    made = MadeFrom(NOW, "m", 1, "r", "{}", NOW)
    with db.write() as connection:
        put_answers(connection, "Fern", made, [("round", answer)])
    fern, moss = tanks_glance(db, NOW)
    assert (fern["state"], fern["because"], fern["acts"]) == ("watch", ["nitrate rises"], 2)
    assert fern["next"] == {"act": "thin"}
    assert not fern["stale"]
    assert fern["seen_at"].isoformat() == "2026-05-02T06:00:00+00:00"
    assert [(r["what"], r["low"]) for r in fern["readings"]] == [("ph", 7.4)]
    assert (moss["state"], moss["seen_at"], moss["stale"]) == (None, None, True)
    sheet = tank_sheet(db, "Fern", NOW)
    assert sheet["last_reading"]["low"] == 7.4
    assert sheet["net_l"] == 30.0
    with pytest.raises(UnknownNameError, match="Fern"):
        tank_sheet(db, "Ferm", NOW)
