"""A rack folder goes into a database and comes out as it was."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.store.databases import KIM, NOW, ph
from tests.store.racks import make

import pleuston
from pleuston.services.answers import run_answer
from pleuston.services.demo import write_demo
from pleuston.services.log import correct_entry, log_entries, undo_last, withdraw_entry
from pleuston.services.racks import export_rack, fingerprint, import_rack, list_tanks, open_rack
from pleuston.store.exchange import ImportRefused, read_rack
from pleuston.store.session import Database, StoreError, open_database
from pleuston.store.whole import record_of


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_folder_to_database_to_folder_is_the_same_byte_for_byte(
    address: str, tmp_path: Path
) -> None:
    for name, rack in (("small", make(tmp_path / "small")), ("demo", tmp_path / "demo")):
        if name == "demo":
            write_demo(rack)
            address = str(tmp_path / "demo.db")
        export_rack(rack, tmp_path / f"{name} once")
        told = import_rack(rack, address, NOW)
        assert told["written"] == address
        assert open_rack(address) == read_rack(rack)
        export_rack(address, tmp_path / f"{name} again")
        assert files(tmp_path / f"{name} again") == files(tmp_path / f"{name} once")
        assert list_tanks(address)["tanks"] == list_tanks(rack)["tanks"]


def test_a_database_that_holds_a_rack_is_not_imported_into(db: Database, tmp_path: Path) -> None:
    rack = make(tmp_path / "rack")
    with pytest.raises(StoreError, match="holds a rack already"):
        import_rack(rack, db.address, NOW)
    assert [tank["tank"] for tank in list_tanks(db.address, "2026-05-01")["tanks"]] == [
        "Fern", "Moss",
    ]  # fmt: skip


def test_a_refused_import_leaves_no_file(tmp_path: Path) -> None:
    rack = make(tmp_path / "rack")
    record = read_rack(rack)
    long = replace(record.tanks[1], name="N" * 300)
    from pleuston.store.exchange import write_rack

    write_rack(replace(record, tanks=(record.tanks[0], long), entries=()), tmp_path / "long")
    with pytest.raises(ImportRefused, match="300 characters") as refused:
        import_rack(tmp_path / "long", tmp_path / "rack.db", NOW)
    assert refused.value.problems[0].column == "tank"
    assert not list(tmp_path.glob("rack.db*"))


def test_the_fingerprint_follows_the_record(db: Database) -> None:
    seen = [fingerprint(db.address)]
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    seen.append(fingerprint(db.address))
    correct_entry(db, ph(7.0, 1)["id"], {"low": "7.2", "high": "7.2"}, "misread", KIM, NOW)
    seen.append(fingerprint(db.address))
    undo_last(db, KIM, NOW)
    seen.append(fingerprint(db.address))
    assert len(set(seen)) == 4
    assert fingerprint(db.address) == seen[-1]


def test_only_what_counts_is_in_the_record(db: Database) -> None:
    log_entries(db, [ph(7.0, 1), ph(7.1, 2), ph(7.2, 3)], KIM, NOW)
    withdraw_entry(db, ph(7.1, 2)["id"], "twice", KIM, NOW)
    correct_entry(db, ph(7.2, 3)["id"], {"low": "8", "high": "8"}, "misread", KIM, NOW)
    with db.read() as connection:
        assert [entry.low for entry in record_of(connection).entries] == [7.0, 8.0]
        early = record_of(connection, until=datetime(2026, 1, 1, tzinfo=UTC))
    assert early.entries == ()


def test_a_folder_that_is_named_like_a_database_stays_a_folder(tmp_path: Path) -> None:
    rack = make(tmp_path / "rack.db")
    assert open_rack(rack) == read_rack(rack)
    assert open_rack(str(rack)) == read_rack(rack)


def test_answers_are_the_same_from_a_folder_a_file_and_a_server(
    address: str, tmp_path: Path
) -> None:
    rack = make(tmp_path / "rack")
    import_rack(rack, address, NOW)
    assert pleuston.load_rack(address) == pleuston.load_rack(rack)
    found = [
        run_answer(place, "Fern", "2026-01-11", days=2, members=3, seed=1)
        for place in (rack, address)
    ]
    assert found[0] == found[1]
    assert found[0]["tank"] == "Fern"


def test_import_from_one_database_into_another(db: Database, tmp_path: Path) -> None:
    log_entries(db, [ph(7.0, 1)], KIM, NOW)
    import_rack(db.address, tmp_path / "copy.db", NOW)
    copy = open_database(tmp_path / "copy.db")
    with copy.read() as one, db.read() as other:
        assert record_of(one) == record_of(other)
    copy.close()
