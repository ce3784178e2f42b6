"""Back-ups are made while the rack is used, checked, thinned out, and restored elsewhere."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.store.databases import GUEST, KIM, NOW, ph, two_tanks

from pleuston.base.errors import InputError
from pleuston.services import people
from pleuston.services.backup import backup, backup_folder, check_backup, list_backups, restore
from pleuston.services.log import changes_made, log_entries, recent_entries
from pleuston.services.racks import open_rack
from pleuston.services.who import Who
from pleuston.store.session import Database, StoreError, open_database


def test_a_back_up_holds_everything_and_restores_elsewhere(
    db_file: Database, tmp_path: Path
) -> None:
    log_entries(db_file, [ph(7.0, 1)], KIM, NOW)
    made = backup(db_file, None, NOW, who=KIM)
    assert made["file"] == str(tmp_path / "rack-backups" / "rack-20260502T090000Z.db")
    assert (made["tanks"], made["entries"]) == (2, 1)
    assert [item["name"] for item in list_backups(backup_folder(db_file))] == [made["name"]]
    log_entries(db_file, [ph(7.1, 2)], KIM, NOW)
    told = restore(Path(made["file"]), tmp_path / "elsewhere.db", NOW)
    assert told["kept_aside"] is None
    assert len(open_rack(tmp_path / "elsewhere.db").entries) == 1
    assert check_backup(Path(made["file"]))["sound"]


def test_restoring_keeps_the_old_rack_aside_and_signs_all_out(
    db_file: Database, tmp_path: Path
) -> None:
    people.add_person(db_file, "kim", "keeper", "a long password", Who(), NOW)
    token = people.sign_in(db_file, "kim", "a long password", "phone", NOW)
    made = backup(db_file, tmp_path / "kept", NOW)
    log_entries(db_file, [ph(7.0, 1)], KIM, NOW)
    file = Path(db_file.address)
    with pytest.raises(InputError, match="already"):
        restore(Path(made["file"]), file, NOW)
    with pytest.raises(StoreError, match="has this rack open"):
        restore(Path(made["file"]), file, NOW, force=True)
    assert len(recent_entries(db_file)) == 1
    db_file.close()
    told = restore(Path(made["file"]), file, NOW, force=True, who=KIM)
    assert len(open_rack(told["kept_aside"]).entries) == 1
    again = open_database(file)
    assert recent_entries(again) == []
    assert people.who_of_token(again, token, NOW) is None
    assert people.sign_in(again, "kim", "a long password", "phone", NOW)
    assert changes_made(again)[1]["action"] == "restore"
    again.close()


def test_a_damaged_rack_can_be_replaced(db_file: Database, tmp_path: Path) -> None:
    made = backup(db_file, tmp_path / "kept", NOW)
    db_file.close()
    Path(db_file.address).write_bytes(b"\0" * 5000)
    told = restore(Path(made["file"]), db_file.address, NOW, force=True)
    assert Path(told["kept_aside"]).read_bytes() == b"\0" * 5000
    assert len(open_rack(db_file.address).tanks) == 2


def test_days_and_weeks_are_kept_and_the_rest_goes(db_file: Database, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    for hours in range(0, 24 * 100, 12):
        last = backup(db_file, folder, NOW + timedelta(hours=hours), keep_daily=3, keep_weekly=4)
    kept = [item["made_at"] for item in list_backups(folder)]
    assert kept[0] == last["made_at"]
    days = [at.date().isoformat() for at in kept]
    assert len(set(days)) == len(days) == 6
    assert (kept[0] - kept[2]).days == 1 or (kept[0] - kept[2]).days == 2
    assert len({at.strftime("%G-%V") for at in kept}) == 4


def test_a_clock_that_jumps_back_deletes_no_newer_back_up(
    db_file: Database, tmp_path: Path
) -> None:
    ahead = backup(db_file, tmp_path / "kept", NOW + timedelta(days=300), 1, 0)
    made = backup(db_file, tmp_path / "kept", NOW, 1, 0)
    twice = backup(db_file, tmp_path / "kept", NOW, 1, 0)
    names = {item["name"] for item in list_backups(tmp_path / "kept")}
    assert {ahead["name"], twice["name"]} <= names
    assert made["name"] != twice["name"]


def test_other_files_in_the_folder_are_left_alone(db_file: Database, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    for name in ("notes.txt", "other-20200101T000000Z.db", "rack-20200101.db"):
        (folder / name).write_text("mine")
    backup(db_file, folder, NOW, 1, 0)
    assert sum(path.read_text(errors="replace") == "mine" for path in folder.iterdir()) == 3


def test_writing_goes_on_while_a_back_up_is_made(db_file: Database, tmp_path: Path) -> None:
    log_entries(db_file, [ph(7.0)] * 300, KIM, NOW)
    faults: list[Exception] = []

    def write() -> None:
        try:
            for _ in range(30):
                log_entries(db_file, [ph(7.1)], KIM, NOW)
        except Exception as fault:
            faults.append(fault)

    phone = threading.Thread(target=write)
    phone.start()
    sound = [backup(db_file, tmp_path / "kept", datetime.now(UTC))["entries"] for _ in range(3)]
    phone.join()
    assert faults == []
    assert all(300 <= entries <= 330 for entries in sound)
    assert len(recent_entries(db_file, limit=1000)) == 330


def test_what_can_t_be_backed_up_or_restored_is_told(db: Database, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="viewer may not"):
        backup(db, tmp_path / "kept", NOW, who=GUEST)
    with pytest.raises(StoreError, match="no such file"):
        check_backup(tmp_path / "none.db")
    (tmp_path / "songs.db").write_text("la la la")
    with pytest.raises(StoreError, match="not a rack"):
        restore(tmp_path / "songs.db", tmp_path / "new.db", NOW)
    assert not (tmp_path / "new.db").exists()
    if not db.is_sqlite:
        with pytest.raises(StoreError, match="pg_dump"):
            backup(db, tmp_path / "kept", NOW)
        with pytest.raises(StoreError, match="pg_dump"):
            restore(tmp_path / "songs.db", db.address, NOW)


def test_a_back_up_of_a_rack_with_an_odd_name_is_itself_a_rack(tmp_path: Path) -> None:
    db = open_database(tmp_path / "my rack #1?.db", create=True)
    two_tanks(db)
    made = backup(db, tmp_path / "a folder %20", NOW)
    db.close()
    assert len(open_rack(made["file"]).tanks) == 2
