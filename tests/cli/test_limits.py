"""`pleuston limits`: what holds in a tank, and own limits set, refused and ended by `log`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.web.racks import small_database

from pleuston.cli.main import run_command

Capture = pytest.CaptureFixture[str]
LIMIT = ("limit", "temperature")


@pytest.fixture
def rack(tmp_path: Path) -> str:
    """The small rack: Alder holds twelve shrimp."""
    small_database(tmp_path / "rack.db").close()
    return str(tmp_path / "rack.db")


def run(capsys: Capture, *arguments: str) -> tuple[int, str, str]:
    code = run_command(list(arguments))
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def told(capsys: Capture, rack: str) -> Any:
    code, out, err = run(capsys, "limits", rack, "Alder", "--json")
    assert (code, err) == (0, "")
    return json.loads(out, parse_constant=lambda word: pytest.fail(word))


def test_limits_are_listed_set_and_ended(capsys: Capture, rack: str) -> None:
    code, out, _ = run(capsys, "limits", rack, "Alder")
    assert code == 0
    assert "at most 30 C" in out
    assert "None is set." in out
    more = ("--method", "act", "--by", "Kim", "--at", "2026-05-01")
    code, out, _ = run(capsys, "log", rack, "Alder", *LIMIT, "<25", *more, "--note", "breed better")
    assert code == 0
    assert "at most 25 C" in out
    (own,) = told(capsys, rack)["own"]
    assert (own["value"], own["reason"], own["effect"]) == (25.0, "breed better", "holds")
    _, out, _ = run(capsys, "limits", rack, "Alder")
    assert "your own limit: breed better, since 2026-05-01; the library's limit: at most 30" in out
    assert "temperature at most 25 C (act), Alder, since 2026-05-01 by Kim: breed better." in out
    end = ("limit_end", "temperature", "--method", "act", "--note", "summer is over")
    assert run(capsys, "log", rack, "Alder", *end)[0] == 0
    assert told(capsys, rack)["own"] == []


def test_what_is_looser_or_without_reason_is_refused_in_one_line(
    capsys: Capture, rack: str
) -> None:
    code, _, err = run(capsys, "log", rack, "Alder", *LIMIT, "<40", "--method", "danger",
                       "--note", "it was always so")  # fmt: skip
    assert code == 2
    assert "a limit of danger may not be looser. Set at most 32 C or stricter" in err
    code, _, err = run(capsys, "log", rack, "Alder", *LIMIT, "<25", "--method", "act")
    assert code == 2
    assert "the reason why the limit is set is missing" in err
    assert run(capsys, "limits", rack, "Nowhere")[0] == 2
    assert told(capsys, rack)["own"] == []
