"""Full disks and half-written files: told in words, nothing half-written."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import event, text
from tests.store.databases import KIM, NOW, ph, two_tanks
from tests.store.racks import make

from pleuston.base.errors import PleustonError
from pleuston.services.backup import backup, check_backup, list_backups, restore
from pleuston.services.log import log_entries, recent_entries
from pleuston.services.racks import import_rack
from pleuston.store.session import Database, StoreError, open_database


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of one megabyte."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)]
    if os.getuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no small disk can be mounted on a folder here: not tested")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


UNSOUND = r"damaged|not a rack"


def fill(db: Database) -> tuple[int, StoreError]:
    """Log long notes until there is no room; gives how many were acknowledged."""
    for number in range(1, 2000):
        row = {"tank": "Fern", "kind": "note", "note": "x" * 9000, "id": ph(1, number)["id"]}
        try:
            log_entries(db, [row], KIM, NOW)
        except StoreError as fault:
            return number - 1, fault
    raise AssertionError("the disk never filled")


def sound(db: Database, entries: int) -> None:
    with db.read() as connection:
        assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
        assert connection.execute(text("SELECT count(*) FROM entry")).scalar() == entries


def test_a_database_that_may_not_grow_tells_it_and_stays_sound(tmp_path: Path) -> None:
    db = open_database(tmp_path / "rack.db", create=True)
    two_tanks(db)
    db.close()

    @event.listens_for(db.engine, "connect")
    def limit(connection: object, _record: object) -> None:
        connection.execute("PRAGMA max_page_count = 120").close()  # type: ignore[attr-defined]

    kept, fault = fill(db)
    assert "the disk is full; nothing was written" in str(fault)
    assert "room" in fault.remedy
    assert kept > 5
    sound(db, kept)
    db.close()
    again = open_database(tmp_path / "rack.db")
    log_entries(again, [ph(7.0, 5000)], KIM, NOW)
    sound(again, kept + 1)
    again.close()


def test_a_full_disk_is_told_and_the_rack_stays_sound(small_disk: Path) -> None:
    db = open_database(small_disk / "rack.db", create=True)
    two_tanks(db)
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"\0" * 200_000)
    kept, fault = fill(db)
    assert "full" in str(fault) or "disk" in str(fault)
    sound(db, kept)
    ballast.unlink()
    log_entries(db, [ph(7.0, 5000)], KIM, NOW)
    sound(db, kept + 1)
    assert len(recent_entries(db, limit=1000)) == kept + 1
    db.close()


def test_a_back_up_on_a_full_disk_leaves_nothing_behind(
    db_file: Database, small_disk: Path
) -> None:
    (small_disk / "ballast").write_bytes(b"\0" * 1_000_000)
    with pytest.raises(StoreError, match="full"):
        backup(db_file, small_disk, NOW)
    assert [path.name for path in small_disk.iterdir()] == ["ballast"]


def test_an_import_on_a_full_disk_leaves_nothing_behind(tmp_path: Path, small_disk: Path) -> None:
    rack = make(tmp_path / "rack")
    (small_disk / "ballast").write_bytes(b"\0" * 900_000)
    with pytest.raises(PleustonError):
        import_rack(rack, small_disk / "rack.db", NOW)
    assert [path.name for path in small_disk.iterdir()] == ["ballast"]


def test_a_half_written_or_damaged_back_up_is_refused(db_file: Database, tmp_path: Path) -> None:
    rows = [{"tank": "Fern", "kind": "note", "note": "x" * 500} for _ in range(200)]
    log_entries(db_file, rows, KIM, NOW)
    made = backup(db_file, tmp_path / "kept", NOW)
    assert made["entries"] == 200
    whole = Path(made["file"]).read_bytes()
    bad = tmp_path / "kept" / "rack-20260101T000000Z.db"
    middle = len(whole) // 2
    for data in (
        b"", whole[:50], whole[:4096], whole[:middle], whole[:-1],
        whole[:middle] + b"\xa5" * 8192 + whole[middle + 8192 :],
        b"\0" * 16 + whole[16:],
    ):  # fmt: skip
        bad.write_bytes(data)
        with pytest.raises(StoreError, match=UNSOUND):
            check_backup(bad)
        with pytest.raises(StoreError, match=UNSOUND):
            restore(bad, db_file.address, NOW, force=True)
        assert len(recent_entries(db_file, limit=1000)) == 200
    assert not list(tmp_path.glob(".*.part"))


def test_what_a_killed_back_up_leaves_is_no_back_up_and_goes(
    db_file: Database, tmp_path: Path
) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    part = folder / ".rack-20260501T000000Z.db-123.part"
    part.write_bytes(b"SQLite format 3\0half")
    assert list_backups(folder) == []
    backup(db_file, folder, datetime.now(UTC))
    assert part.exists()
    backup(db_file, folder, datetime.now(UTC) + timedelta(days=2))
    assert not part.exists()
    assert len(list_backups(folder)) == 2
