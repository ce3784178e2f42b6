"""The planners' commands: JSON, text, Python alike, and refusals in one line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import pleuston
from pleuston.cli.main import app, run_command
from pleuston.services.demo import write_demo
from pleuston.services.plan_kinds import PLANNERS

Capture = pytest.CaptureFixture[str]
AT = "2026-07-20"
WATER = {"ec25": "400", "kh": "6", "gh": "8", "ph": "7.4", "temperature": "24", "ammonium": "0"}


@pytest.fixture(scope="module")
def rack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("racks") / "demo")


def said(capsys: Capture, *arguments: str | Path) -> tuple[int, str, str]:
    code = run_command([str(a) for a in arguments])
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def options(values: dict[str, str]) -> list[str]:
    return [part for k, v in values.items() for part in (f"--{k.replace('_', '-')}", v)]


@pytest.mark.parametrize(("name", "tank", "values"), [
    ("mix", "Fern", {"waters": "hard tap/rain butt", "to_ec25": "250"}),
    ("dilute", "Fern", {"now": "40", "limit": "20", "water": "rain butt", **WATER}),
    ("dose", "Fern", {"rise": "5", "purity": "98", **WATER}),
    ("add-back", "Fern", {"weighings": "5 9 5 7/5 9.2 5 7.2/5 8.8 5 7.1/5 9 5 7"}),
    ("start-up", "", {"length": "60", "width": "30", "depth": "27", "soil": "garden soil"}),
    ("trace", "Fern", {"since": "2026-05-01"}),
])  # fmt: skip
def test_a_planner_answers_as_json_text_and_python(
    capsys: Capture, rack: Path, name: str, tank: str, values: dict[str, Any]
) -> None:
    command = [name, str(rack), *([tank] if tank else []), *options(values), "--at", AT]
    code, out, err = said(capsys, *command, "--json")
    assert (code, err) == (0, "")
    made = json.loads(out, parse_constant=lambda word: pytest.fail(word))
    code, text, err = said(capsys, *command)
    assert (code, err) == (0, "")
    assert made["headline"] in text
    assert all(t["title"] in text for t in made["tables"] if t["rows"])
    again = pleuston.plan(pleuston.load_rack(rack), name, tank, AT, **values)
    assert again["headline"] == made["headline"]


def test_every_planner_has_a_command() -> None:
    from typer.main import get_command

    group: Any = get_command(app)
    for name, planner in PLANNERS.items():
        known = {p.name for p in group.commands[name].params}
        assert {f.name for f in planner.fields} | {"rack", "tank", "json"} <= known


@pytest.mark.parametrize("arguments", [
    ("stocking", "RACK", "Fern"), ("stocking", "RACK", "--wish", "Betta splendens 1"),
    ("stocking", "RACK", "Fern", "--wish", "Bettta 1"), ("dose", "RACK", "Fern"),
    ("dose", "RACK", "Nowhere", "--rise", "5"), ("mix", "RACK"), ("mix", "RACK", "--oops", "1"),
    ("dilute", "RACK", "Fern", "--quantity", "luck"), ("start-up", "RACK", "--length", "0"),
    ("add-back", "RACK", "Fern", "--days", "90"), ("away", "RACK", "--days", "5"),
    ("away", "RACK", "Fern", "--days", "99"), ("trace", "RACK", "Fern", "--since", "then"),
    ("move-plants", "RACK", "Fern"), ("soil-age", "RACK", "Fern", "--part", "0"),
    ("feed-budget", "RACK", "Nowhere"), ("give-away", "RACK"),
], ids=" ".join)  # fmt: skip
def test_refusals_are_one_line(capsys: Capture, rack: Path, arguments: tuple[str, ...]) -> None:
    code, out, err = said(capsys, *(str(rack) if a == "RACK" else a for a in arguments))
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
