"""What is usual for a tank, on a file and on a server."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from tests.web.racks import HOSTILE, NOW, TANKS, small_record

from pleuston.base.errors import UnknownNameError
from pleuston.services.kits import kits, save_kit
from pleuston.services.log import log_entries, withdraw_entry
from pleuston.services.usual import HALF_STEPS, stops, usual, walk
from pleuston.services.who import Who
from pleuston.store.session import Database, open_database
from pleuston.store.whole import put_record

KEEPER = Who("kim")


@pytest.fixture
def rack(address: str) -> Iterator[Database]:
    made = open_database(address, create=True)
    with made.write() as connection:
        put_record(connection, small_record(), NOW)
    yield made
    made.close()


def log(db: Database, **cells: str | float) -> str:
    (made,) = log_entries(db, [{"tank": "Alder", **cells}], KEEPER, NOW)["entries"]
    return str(made["id"])


def test_what_a_tank_gets_comes_first(rack: Database) -> None:
    for low in (21.5, 22.0):
        log(rack, kind="reading", what="temperature", low=low, high=low + 1.0, unit="C")
    found = usual(rack, "Alder", NOW)
    assert found.readings == ["temperature", "nitrate_ion", "pen_ppm"]
    assert found.half_step("temperature") == 0.5
    assert found.half_step("ph") == HALF_STEPS["ph"]
    assert found.container_g() == 12.0
    assert found.first("feed", found.feeds)[0] == "flake"
    assert found.waters[:3] == ["hard tap", "rain butt", "half rain"]
    assert found.species(("death",), found.sheet["animals"])[0] == ["Neocaridina davidi"]


def test_a_kit_tells_nothing_of_an_instrument(rack: Database) -> None:
    log(rack, kind="reading", what="ph", low=7.0, high=7.4, method="blue box (chart)")
    found = usual(rack, "Alder", NOW)
    assert found.by_instrument("ph") is None
    assert found.half_step("ph") == HALF_STEPS["ph"]
    log(rack, kind="reading", what="ph", low=7.1, high=7.3, method="meter")
    assert usual(rack, "Alder", NOW).half_step("ph") == 0.1


def test_a_tank_without_a_past_gets_the_usual_readings(rack: Database) -> None:
    found = usual(rack, HOSTILE, NOW)
    assert "nitrate_ion" in found.readings
    assert found.presets("feed") == []
    assert found.last_of("feed") is None
    with pytest.raises(UnknownNameError, match="Alde"):
        usual(rack, "Alde", NOW)


def test_presets_are_the_amounts_noted_most_often_lately(rack: Database) -> None:
    for amount in (0.1, 0.1, 0.02, 0.03, 0.04, 0.05, 0.07):
        log(rack, kind="feed", what="flake", low=amount, high=amount, unit="g")
    found = [preset.high for preset in usual(rack, "Alder", NOW).presets("feed")]
    assert len(found) == 6
    assert 0.1 in found
    assert found == sorted(found)  # type: ignore[type-var]
    later = usual(rack, "Alder", NOW + timedelta(days=200))
    assert later.presets("feed") == []


def test_what_was_taken_back_is_not_usual(rack: Database) -> None:
    name = log(rack, kind="feed", what="granule", low=9.0, high=9.0, unit="g")
    withdraw_entry(rack, name, "slip", KEEPER, NOW)
    found = usual(rack, "Alder", NOW)
    assert found.whats["feed"] == ["flake"]
    assert [preset.what for preset in found.presets("feed")] == ["flake"]


def test_every_tank_stops_the_round_with_its_own_pen(rack: Database) -> None:
    assert walk(rack) == list(TANKS)
    log(rack, tank="Birch", kind="reading", what="ec25", low=415, high=425, unit="uS/cm",
        method="pen")  # fmt: skip
    log(rack, kind="reading", what="temperature", low=20, high=21, unit="C")
    found = stops(rack, NOW)
    assert [(stop.tank, stop.pen, stop.method) for stop in found] == [
        ("Alder", "pen_ppm", "pen factor 0.5"), ("Birch", "ec25", "pen"), (HOSTILE, "ec25", "pen"),
    ]  # fmt: skip
    assert found[0].last["temperature"].low == 20.0


def test_kits_are_kept_on_both(rack: Database) -> None:
    given = {"kit": "box", "reading": "kh", "unit": "dH", "way": "titration", "steps": "1 to 9"}
    save_kit(rack, given, KEEPER, NOW)
    assert next(kit for kit in kits(rack) if kit.reading == "kh").name == "box"
