"""The command as a keeper meets it: exit codes, errors of one line, JSON everywhere."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from tests.store.racks import FILES, make

from pleuston.base.errors import BalanceError, EngineError
from pleuston.cli.main import app, run_command
from pleuston.services.demo import write_demo

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def rack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("racks") / "demo")


def said(capsys: Capture, *arguments: str | Path) -> tuple[int, str, str]:
    code = run_command([str(a) for a in arguments])
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def answer(capsys: Capture, *arguments: str | Path) -> Any:
    code, out, err = said(capsys, *arguments, "--json")
    assert (code, err) == (0, "")
    return json.loads(out, parse_constant=lambda word: pytest.fail(word))


def test_quick_answers_as_json_and_as_text(capsys: Capture, rack: Path, tmp_path: Path) -> None:
    waters = rack / "waters.csv"
    for arguments in (
        ("tanks", rack), ("water", waters), ("where", "nitrify"), ("table", "nitrogen"),
        ("parameters", "lemna"), ("import", rack, tmp_path / "a", "--dry-run"),
    ):  # fmt: skip
        assert answer(capsys, *arguments)
        code, out, err = said(capsys, *arguments)
        assert (code, err) == (0, "")
        assert out.strip()
        assert "{" not in out.splitlines()[0]
    assert list(tmp_path.iterdir()) == []


def test_demo_import_export_hang_together(capsys: Capture, tmp_path: Path) -> None:
    demo, taken, out = (tmp_path / name for name in ("demo", "taken", "out"))
    assert answer(capsys, "demo", demo) == {"written": str(demo)}
    assert answer(capsys, "import", demo, taken)["tanks"] == 9
    assert answer(capsys, "export", taken, out)["written"] == str(out)
    for path in demo.iterdir():
        assert (out / path.name).read_bytes() == path.read_bytes()


def test_tanks_of_the_demo_rack(capsys: Capture, rack: Path) -> None:
    tanks = answer(capsys, "tanks", rack, "--at", "2026-07-20")["tanks"]
    assert len(tanks) == 9
    assert all(tank["animals"] and tank["last_reading"]["age_days"] >= 0.0 for tank in tanks)
    _, out, _ = said(capsys, "tanks", rack)
    assert all(tank["tank"] in out for tank in tanks)


@pytest.mark.parametrize(
    "arguments",
    [
        ("tanks",), ("nope",), ("tanks", "RACK", "--oops"), ("outlook", "RACK", "--days", "0"),
        ("tanks", "/no/such/rack"), ("tanks", "RACK", "--at", "yesterday"), ("demo", "RACK"),
        ("water", "RACK"), ("where", "nitrfy"), ("table", "nothing"), ("parameters", "zzz"),
        ("export", "RACK", "RACK"), ("import", "RACK", "RACK"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_bad_input_is_one_line_and_two(
    capsys: Capture, rack: Path, arguments: tuple[str, ...]
) -> None:
    code, out, err = said(capsys, *(str(rack) if a == "RACK" else a for a in arguments))
    assert (code, out) == (2, "")
    assert err.startswith("pleuston: ")
    assert err.count("\n") == 1


def test_every_problem_of_an_import_is_told(capsys: Capture, tmp_path: Path) -> None:
    spoilt = FILES["tanks.csv"].replace("partial", "ajar").replace("12.5", "-1")
    source = make(tmp_path / "bad", tanks=spoilt)
    code, out, err = said(capsys, "import", source, tmp_path / "target")
    assert (code, out) == (2, "")
    assert "tanks.csv:2:lid" in err
    assert "tanks.csv:3:net_l" in err
    assert not (tmp_path / "target").exists()


@pytest.mark.parametrize("error", [EngineError, BalanceError])
def test_what_the_model_cannot_do_is_three(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch, error: type[EngineError]
) -> None:
    def fail(theme: str) -> None:
        raise error("it can't be", where=theme or "table", remedy="Try something else")

    monkeypatch.setattr("pleuston.services.explain.table_answer", fail)
    code, out, err = said(capsys, "table")
    assert (code, out) == (3, "")
    assert err == "pleuston: table: it can't be. Try something else.\n"


def test_a_failed_check_is_one(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    import types

    module = types.ModuleType("pleuston.services.check")
    module.report_card = lambda: {"good": False}  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "pleuston.services.check", module)
    code, out, _ = said(capsys, "check")
    assert code == 1
    assert "good: no" in out
    module.report_card = lambda: {"good": True}  # type: ignore[attr-defined]
    assert said(capsys, "check")[0] == 0


def test_a_file_that_cannot_be_written_is_told(capsys: Capture, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    code, _, err = said(capsys, "demo", tmp_path / "file" / "inside")
    assert code == 2
    assert err.startswith("pleuston: ")
    assert err.count("\n") == 1


def test_help_names_every_command(capsys: Capture) -> None:
    code, out, _ = said(capsys, "--help")
    assert code == 0
    names = [command.name or command.callback.__name__.replace("_", "-")
             for command in app.registered_commands if command.callback]  # fmt: skip
    assert len(names) >= 24
    names += [group.name or "" for group in app.registered_groups]
    assert all(name in out for name in names)
    code, out, _ = said(capsys)
    assert code == 2
    assert "Usage" in out


def test_a_reader_that_stops_is_no_fault(rack: Path) -> None:
    run = "import sys; from pleuston.cli.main import run_main; run_main()"
    command = [sys.executable, "-c", run, "parameters"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() == 0
    assert rack.is_dir()
