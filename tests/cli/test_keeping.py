"""The keeper's commands on a database: log, put right, take back, back up, take in, people."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from tests.store.databases import NOW, UUID
from tests.store.racks import make

from pleuston.base.errors import PleustonError
from pleuston.cli.main import run_command
from pleuston.services.people import use_pairing, who_of_token
from pleuston.services.racks import import_rack
from pleuston.store.session import open_database

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def rack(tmp_path: Path) -> str:
    """A database taken in from a folder."""
    import_rack(make(tmp_path / "folder"), tmp_path / "rack.db", NOW)
    return str(tmp_path / "rack.db")


def run(capsys: Capture, *arguments: str | Path) -> tuple[int, str, str]:
    code = run_command([str(a) for a in arguments])
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def answer(capsys: Capture, *arguments: str | Path, code: int = 0) -> Any:
    found, out, err = run(capsys, *arguments, "--json")
    assert (found, err) == (code, "")
    return json.loads(out, parse_constant=lambda word: pytest.fail(word))


def test_a_day_of_logging(capsys: Capture, rack: str) -> None:
    made = answer(capsys, "log", rack, "fern", "reading", "nitrate_ion", "10-20", "--by", "kim")
    (entry,) = made["entries"]
    assert (entry["low"], entry["high"], entry["unit"], entry["by"]) == (10.0, 20.0, "mg/L", "kim")
    answer(capsys, "log", rack, "Fern", "reading", "ammonium", "<0.05", "--at", "2026-02-01T08:00")
    answer(capsys, "log", rack, "Fern", "harvest", "duckweed", "20")
    answer(capsys, "log", rack, "Fern", "setting", "lid", "tight")
    answer(capsys, "log", rack, "", "power_off")
    assert len(answer(capsys, "entries", rack)["entries"]) == 17
    changed = answer(capsys, "correct", rack, entry["id"], "low=5", "high=10", "--reason", "chart")
    assert changed["low"] == 5.0
    assert answer(capsys, "history", rack, entry["id"])["counts"] == changed["id"]
    answer(capsys, "withdraw", rack, changed["id"])
    code, out, _ = run(capsys, "undo", rack)
    assert (code, out) == (0, "Taken back: withdrawal of reading nitrate_ion Fern.\n")
    code, out, _ = run(capsys, "entries", rack, "Fern", "--kind", "reading", "--limit", "2")
    assert "5 to 10 mg/L" in out


def test_entries_as_json_are_safe_to_send_again(
    capsys: Capture, rack: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = {"id": UUID.format(99), "tank": "Fern", "kind": "note", "note": "hello"}
    for new in (True, False):
        monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps([row])))
        assert answer(capsys, "log", rack, "--rows", "-")["entries"][0]["new"] is new


def test_wrong_entries_end_in_words_and_code_2(capsys: Capture, rack: str, tmp_path: Path) -> None:
    code, _, err = run(capsys, "log", rack, "Ferm", "reading", "ph", "7")
    assert (code, "Fern" in err, err.count("\n")) == (2, True, 1)
    assert run(capsys, "log", rack, "Fern", "reading", "ph", "much")[0] == 2
    code, _, err = run(capsys, "log", str(tmp_path / "folder"), "Fern", "reading", "ph", "7")
    assert (code, "pleuston import" in err) == (2, True)
    assert run(capsys, "correct", rack, UUID.format(1), "low")[0] == 2
    assert run(capsys, "withdraw", rack, UUID.format(999))[0] == 2
    (tmp_path / "rows.json").write_text("[1]")
    assert run(capsys, "log", rack, "--rows", tmp_path / "rows.json")[0] == 2


def test_back_up_check_and_restore_elsewhere(capsys: Capture, rack: str, tmp_path: Path) -> None:
    made = answer(capsys, "backup", rack, tmp_path / "kept")
    assert answer(capsys, "restore", made["file"], "--check")["sound"]
    answer(capsys, "restore", made["file"], tmp_path / "again.db")
    code, out, _ = run(capsys, "tanks", tmp_path / "again.db")
    assert (code, "Fern" in out) == (0, True)
    code, _, err = run(capsys, "restore", made["file"], tmp_path / "again.db")
    assert (code, "--force" in err) == (2, True)
    assert run(capsys, "restore", made["file"], tmp_path / "again.db", "--force")[0] == 0
    Path(made["file"]).write_bytes(Path(made["file"]).read_bytes()[:9000])
    code, _, err = run(capsys, "restore", "--check", made["file"])
    assert (code, "damaged" in err) == (2, True)


def test_a_table_is_shown_tried_and_taken_in(capsys: Capture, rack: str, tmp_path: Path) -> None:
    table = tmp_path / "log.csv"
    table.write_text("Date;Tank;pH;Mood\n1.3.2026;Fern;7,2;good\n13.3.2026;Fern;77;\n")
    shown = answer(capsys, "take-in", table, rack)
    assert shown["mapping"]["decimal"] == ","
    mapping = tmp_path / "map.json"
    mapping.write_text(json.dumps(shown))
    tried = answer(capsys, "take-in", table, rack, "--map", mapping, "--dry-run", code=1)
    assert (tried["new"], tried["written"], len(tried["refused"])) == (1, False, 1)
    code, out, _ = run(capsys, "take-in", table, rack, "--map", mapping, "--refused",
                       tmp_path / "left.csv")  # fmt: skip
    assert code == 1
    assert "1 entries taken in, 0 there already, 1 refused" in out
    assert "ph cannot be 77" in out
    assert "13.3.2026" in (tmp_path / "left.csv").read_text()
    assert answer(capsys, "take-in", table, rack, "--guess", code=1)["already_there"] == 1
    code, out, _ = run(capsys, "take-in", table, rack)
    assert (code, "--map" in out) == (0, True)


def test_people_are_named(capsys: Capture, rack: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("a long password\n"))
    code, out, _ = run(
        capsys, "people", "add", rack, "kim", "--role", "keeper", "--password-from-stdin"
    )
    assert (code, out) == (0, "kim is a keeper.\n")
    assert run(capsys, "people", "add", rack, "lee", "--without-password")[0] == 0
    assert run(capsys, "people", "role", rack, "lee", "viewer")[0] == 0
    found = answer(capsys, "people", "list", rack)["people"]
    assert [(p["person"], p["role"], p["can_sign_in"]) for p in found] == [
        ("kim", "keeper", True), ("lee", "viewer", False),
    ]  # fmt: skip
    assert run(capsys, "people", "remove", rack, "lee")[0] == 0
    assert run(capsys, "people", "remove", rack, "lee")[0] == 2
    assert run(capsys, "people", "revoke", rack, "none")[0] == 2
    monkeypatch.setattr("sys.stdin", io.StringIO("short\n"))
    assert run(capsys, "people", "password", rack, "kim", "--password-from-stdin")[0] == 2


def test_a_rack_leaves_as_a_spreadsheet(capsys: Capture, rack: str, tmp_path: Path) -> None:
    for name, head in (("rack.xlsx", b"PK"), ("entries.csv", b"\xef\xbb\xbfid,at")):
        answer(capsys, "export", rack, tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(head)
        assert run(capsys, "export", rack, tmp_path / name)[0] == 2


def test_a_code_lets_one_device_in_once(capsys: Capture, rack: str) -> None:
    assert run(capsys, "people", "add", rack, "kim", "--without-password")[0] == 0
    base = "http://127.0.0.1:8000/"
    made = answer(capsys, "people", "pair", rack, "kim", "--base-url", base)
    code = made["address"].removeprefix("http://127.0.0.1:8000/pair/")
    code_of_page, shown, _ = run(capsys, "people", "pair", rack, "kim", "--base-url", base)
    assert code_of_page == 0
    assert "Open on the device, within 10 minutes: http://127.0.0.1:8000/pair/" in shown
    db = open_database(rack)
    now = datetime.now(UTC)
    try:
        token = use_pairing(db, code, "phone", now)
        assert who_of_token(db, token, now) is not None
        with pytest.raises(PleustonError, match="code"):
            use_pairing(db, code, "another", now)
    finally:
        db.close()
    refused = run(capsys, "people", "pair", rack, "lee", "--base-url", base)
    assert refused[0] == 2
    assert "there is nobody named 'lee'" in refused[2]
