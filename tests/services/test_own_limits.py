"""A keeper's own limits are noted with a reason, ended with one, and go out and in unchanged."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.store.databases import KIM, LEE
from tests.web.racks import NOW, small_database

import pleuston
from pleuston.base.errors import InputError
from pleuston.planning.mixing import measured
from pleuston.services.help_amounts import amounts_now
from pleuston.services.limits import end_row, limit_row, limits_in
from pleuston.services.log import correct_entry, log_entries, undo_last, withdraw_entry
from pleuston.services.planners import ground_in, plan_in
from pleuston.services.racks import export_rack, import_rack, open_rack
from pleuston.services.who import NotAllowedError
from pleuston.store.exchange import ImportRefused
from pleuston.store.record_hash import record_hash
from pleuston.store.session import Database

WHY = "the shrimp breed better cooler"


@pytest.fixture
def db(tmp_path: Path) -> Database:
    """The small rack: Alder holds twelve shrimp, the others nothing."""
    return small_database(tmp_path / "rack.db")


def note(db: Database, *rows: Any, who: Any = KIM) -> list[dict[str, Any]]:
    made: list[dict[str, Any]] = log_entries(db, list(rows), who, NOW)["entries"]
    return made


def cool(**more: Any) -> dict[str, Any]:
    return dict(limit_row("Alder", "temperature", "act", WHY, at_most=25.0) | more)


def refused(db: Database, row: dict[str, Any]) -> tuple[str, str]:
    with pytest.raises(ImportRefused) as caught:
        note(db, row)
    (problem,) = caught.value.problems
    return problem.column, f"{problem.what}. {problem.remedy}"


def held(db: Database, tank: str = "Alder") -> dict[tuple[str, str, str], dict[str, Any]]:
    rows = limits_in(db, tank, NOW)["limits"]
    return {(x["quantity"], x["side"], x["severity"]): x for x in rows}


def test_an_own_limit_is_told_beside_the_library_s(db: Database) -> None:
    (entry,) = note(db, cool(at="2026-05-01"))
    assert (entry["high"], entry["low"], entry["unit"]) == (25.0, None, "C")
    assert entry["by"] == "kim"
    row = held(db)["temperature", "high", "act"]
    assert (row["value"], row["library"], row["is_own"]) == (25.0, 30.0, True)
    assert row["where"] == f"your own limit: {WHY}, since 2026-05-01"
    assert "at most 30 C" in row["conditions"]
    (own,) = limits_in(db, "Alder", NOW)["own"]
    assert (own["effect"], own["reason"], own["by"]) == ("holds", WHY, "kim")
    assert limits_in(db, "Birch", NOW)["own"] == []


def test_units_of_the_keeper_are_taken(db: Database) -> None:
    note(db, cool(high=77.0, unit="°F"))
    assert held(db)["temperature", "high", "act"]["value"] == 25.0
    note(db, limit_row("Alder", "kh", "watch", WHY, at_least=71.4, unit="mg/L CaCO3"))
    assert held(db)["kh", "low", "watch"]["value"] == pytest.approx(4.0, abs=0.01)


@pytest.mark.parametrize("reason", ["", "  ", "-", "12", "xxx", "!?"])
def test_a_limit_without_a_reason_in_words_is_refused(db: Database, reason: str) -> None:
    column, said = refused(db, cool(note=reason))
    assert column == "note"
    assert "the reason why the limit is set is missing" in said


@pytest.mark.parametrize(
    ("change", "column", "words"),
    [
        ({"method": "soon"}, "method", "write watch, act or danger"),
        ({"method": ""}, "method", "does not say how bad"),
        ({"method": "act, unicorn"}, "method", "unicorn"),
        ({"what": "mood"}, "what", "the limit 'mood' is not known"),
        ({"high": None}, "low", "has no value"),
        ({"low": 25.0}, "high", "low and high are the same"),
        ({"low": 30.0}, "low", "low is above high"),
        ({"high": 300.0}, "high", "it lies between"),
        ({"unit": "mg/L"}, "unit", "does not fit"),
        ({"what": "ec_step", "unit": "%", "low": 5.0, "high": None}, "low", "a least value"),
        ({"what": "temperature_step", "unit": "°F", "high": 1.0}, "unit", "write it in K"),
        ({"what": "ph", "high": 7.0}, "unit", "pH has no unit"),
        ({"tank": "Oak"}, "tank", "Oak"),
        ({"high": 31.0}, "high", "a limit to act may not be looser"),
        ({"method": "danger", "high": 40.0}, "high", "a limit of danger may not be looser"),
        ({"what": "copper", "unit": "mg/L", "high": 1.0}, "high", "no limit may be looser"),
        ({"kind": "limit_end"}, "what", "no such own limit of temperature holds then"),
    ],
    ids=lambda value: "" if isinstance(value, dict) else value,
)  # fmt: skip
def test_what_cannot_be_is_refused_with_what_can(
    db: Database, change: dict[str, Any], column: str, words: str
) -> None:
    found, said = refused(db, {**cool(), **change})
    assert found == column
    assert words in said
    assert limits_in(db, "Alder", NOW)["own"] == []


def test_the_whole_rack_s_limit_is_held_against_every_tank(db: Database) -> None:
    _, said = refused(db, cool(tank="", high=31.0))
    assert "in Alder" in said
    assert "tank by tank" in said
    note(db, cool(tank=""))
    for tank in ("Alder", "Birch"):
        assert held(db, tank)["temperature", "high", "act"]["value"] == 25.0


def test_a_limit_is_ended_with_its_own_reason_and_the_library_s_is_back(db: Database) -> None:
    before = held(db)
    note(db, cool(at="2026-05-01"))
    (own,) = limits_in(db, "Alder", NOW)["own"]
    _, said = refused(db, dict(end_row(own, " ", NOW)))
    assert "the reason why the limit ends is missing" in said
    note(db, end_row(own, "the heat wave is over", NOW))
    assert held(db) == before
    assert limits_in(db, "Alder", NOW)["own"] == []
    back = limits_in(db, "Alder", NOW - timedelta(hours=1))
    assert [x["id"] for x in back["own"]] == [own["id"]]


def test_a_limit_that_is_still_to_come_is_told_and_can_be_ended(db: Database) -> None:
    note(db, cool(at="2026-06-01"))
    assert not held(db)["temperature", "high", "act"]["is_own"]
    (own,) = limits_in(db, "Alder", NOW)["own"]
    assert own["effect"] == "holds from 2026-06-01 on"
    note(db, end_row(own, "not needed after all", NOW))
    assert limits_in(db, "Alder", NOW + timedelta(days=60))["own"] == []
    assert limits_in(db, "Alder", NOW)["own"] == []


def test_a_looser_one_to_watch_is_kept_and_what_has_no_effect_says_so(db: Database) -> None:
    note(db, limit_row("Alder", "nitrate", "watch", "stable for years", at_most=15.0))
    assert held(db)["nitrate", "high", "watch"]["value"] == 15.0
    note(db, limit_row("Birch", "nitrate", "act", "only plants live here", at_most=90.0))
    arrival = {"tank": "Birch", "kind": "stock_in", "what": "Neocaridina davidi", "low": 5.0,
               "high": 5.0, "at": (NOW - timedelta(hours=1)).isoformat()}  # fmt: skip
    note(db, arrival)
    (own,) = limits_in(db, "Birch", NOW)["own"]
    assert own["effect"] == "no effect now: at most 22.6 mg/L is stricter"
    assert held(db, "Birch")["nitrate", "high", "act"]["value"] == 22.6


def test_undo_correction_and_history_are_those_of_any_entry(db: Database) -> None:
    with db.read() as connection:
        plain = record_hash(connection, "Alder")
    (entry,) = note(db, cool())
    with db.read() as connection:
        assert record_hash(connection, "Alder") != plain
    changed = correct_entry(db, entry["id"], {"high": "24"}, "mistyped", KIM, NOW)
    assert held(db)["temperature", "high", "act"]["value"] == 24.0
    with pytest.raises(ImportRefused, match="may not be looser"):
        correct_entry(db, changed["id"], {"high": "35"}, "warmer", KIM, NOW)
    undo_last(db, KIM, NOW)
    assert held(db)["temperature", "high", "act"]["value"] == 25.0
    withdraw_entry(db, entry["id"], "in the wrong tank", KIM, NOW)
    with db.read() as connection:
        assert record_hash(connection, "Alder") == plain


def test_a_helper_sees_limits_but_does_not_move_them(db: Database) -> None:
    with pytest.raises(NotAllowedError):
        note(db, cool(), who=LEE)
    (entry,) = note(db, cool())
    with pytest.raises(NotAllowedError):
        withdraw_entry(db, entry["id"], "too cool", LEE, NOW)
    with pytest.raises(NotAllowedError):
        correct_entry(db, entry["id"], {"kind": "note"}, "", LEE, NOW)
    assert held(db)["temperature", "high", "act"]["is_own"]


def test_own_limits_go_out_and_in_and_out_again_unchanged(db: Database, tmp_path: Path) -> None:
    note(db, cool(at="2026-05-01"))
    note(db, limit_row("", "nitrate_ion", "watch", "as on my kit, „günstig“", at_least=2.0,
                       at_most=40.0, species="Red cherry shrimp"))  # fmt: skip
    note(db, limit_row("Alder", "temperature", "act", "summer is over", at_most=25.0, end=True))
    db.close()
    first, second = tmp_path / "one", tmp_path / "two"
    export_rack(tmp_path / "rack.db", first)
    import_rack(first, tmp_path / "again.db", NOW)
    export_rack(tmp_path / "again.db", second)
    for file in sorted(first.iterdir()):
        assert (second / file.name).read_bytes() == file.read_bytes(), file.name
    text = (first / "entries.csv").read_text("utf-8")
    assert "limit,nitrate_ion,2,40,mg/L,kim,\"watch, Neocaridina davidi\"" in text
    found = pleuston.limits(open_rack(second), "Alder", NOW + timedelta(minutes=1))
    assert {(x["what"], x["side"]) for x in found["own"]} == {("nitrate_ion", "low"),
                                                              ("nitrate_ion", "high")}  # fmt: skip


def test_an_imported_limit_that_would_be_looser_has_no_effect(
    db: Database, tmp_path: Path
) -> None:
    db.close()
    folder = tmp_path / "folder"
    export_rack(tmp_path / "rack.db", folder)
    with (folder / "entries.csv").open("a", encoding="utf-8") as file:
        file.write(",2026-05-01,Alder,limit,nitrate,,90,mg/L,kim,danger,it was always so\n")
    made = pleuston.limits(open_rack(folder), "Alder", NOW)
    grave = [x for x in made["limits"] if x["severity"] == "danger"]
    row = next(x for x in grave if x["quantity"] == "nitrate")
    assert (row["value"], row["is_own"]) == (48.5, False)
    assert made["own"][0]["effect"] == "no effect now: at most 48.5 mg/L is stricter"


def test_plans_and_help_keep_to_a_narrower_step(db: Database) -> None:
    note(db, limit_row("Alder", "temperature_step", "act", "they moult badly", at_most=1.0),
         limit_row("Alder", "ec_step", "act", "they moult badly", at_most=4.0),
         limit_row("Alder", "nitrate", "act", "they breed better", at_most=6.0))  # fmt: skip
    ground = ground_in(db, "Alder", NOW)
    assert (ground.caps.temperature, ground.caps.ec) == (1.0, pytest.approx(0.04))
    assert ground_in(db, "Birch", NOW).caps.temperature == 2.0
    warm = ground.with_standing({"temperature": (26.0, 27.0, 28.0)})
    assert "no more than 1 °C" in str(amounts_now(warm))
    mix = measured(ec25=300.0, kh=4.0, gh=6.0, ph=7.2, celsius=24.0, ammonium=0.0)
    limit = ground.limit_of("nitrate", mix, "act")
    assert limit is not None
    assert (limit.value, limit.is_own) == (6.0, True)
    diluted = {"quantity": "nitrate", "now": "9", "ec25": "300", "kh": "4", "gh": "6", "ph": "7.2",
               "temperature": "24"}  # fmt: skip
    answer = plan_in(db, "dilute", "Alder", diluted, NOW)
    assert answer["limit"] == 6.0
    assert "your own limit: they breed better" in str(answer["said"])


# --- in Python ----------------------------------------------------------------------------


def test_python_sets_tells_and_ends_own_limits(db: Database, tmp_path: Path) -> None:
    db.close()
    rack = open_rack(tmp_path / "rack.db")
    mine = pleuston.own_limit(rack, "Alder", "temperature", WHY, at_most=25.0, severity="act",
                              since="2026-05-01", by="Kim")  # fmt: skip
    assert pleuston.limits(rack, "Alder", NOW)["own"] == []
    (own,) = pleuston.limits(mine, "Alder", NOW)["own"]
    assert (own["value"], own["by"], own["effect"]) == (25.0, "Kim", "holds")
    ended = pleuston.own_limit(mine, "Alder", "temperature", "no need", severity="act",
                               since="2026-05-02", end=True)  # fmt: skip
    assert pleuston.limits(ended, "Alder", NOW)["own"] == []
    with pytest.raises(InputError, match="reason"):
        pleuston.own_limit(rack, "Alder", "temperature", "", at_most=25.0)
    with pytest.raises(InputError, match="danger may not be looser"):
        pleuston.own_limit(rack, "Alder", "nitrate", WHY, at_most=60.0, severity="danger")
    with pytest.raises(InputError, match="no such own limit"):
        pleuston.own_limit(rack, "Alder", "nitrate", WHY, at_most=6.0, end=True)
