"""Answers printed: JSON is whole and finite, text is plain."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pleuston.cli.layout import Page, between, number
from pleuston.cli.plain import KINDS, page_of
from pleuston.cli.show import as_data, emit
from pleuston.records.record import Rack

TIMES = ["2026-07-20", "2026-07-21"]
OUTLOOK = {
    "tank": "Fern", "at": "2026-07-20T00:00", "model": "m", "seed": 1,
    "quantities": {
        "nitrate": {
            "unit": "mg/L", "times": TIMES,
            **{p: [1.0, 2.0] for p in ("p02.5", "p10", "p25", "p50", "p75", "p90", "p97.5")},
        }
    },
    "crossings": [
        {
            "limit": "limit_oxygen_dawn_day", "quantity": "oxygen_dawn", "value": 4.0,
            "first_day_p5": "2026-07-21", "first_day_p50": None, "chance": 0.25,
        }
    ],
}  # fmt: skip
LEDGER = {
    "tank": "Fern", "element": "N", "unit": "mg", "in": {"feed": 120.0, "top_up": [3.0, 4.0]},
    "out": {"harvest": {"p10": 50.0, "p50": 60.0, "p90": 70.0}}, "stored": {"plants": 20.0},
    "unexplained": [-5.0, 12.0],
}  # fmt: skip
ROUND = {
    "at": "2026-07-20T00:00", "minutes": 12.0,
    "tanks": [
        {"tank": "Alder", "state": "well", "acts": []},
        {
            "tank": "Fern", "state": "act",
            "acts": [
                {
                    "act": "thin", "what": "Lemna minor", "amount": 30.0, "unit": "g",
                    "reason": "cover 80 %", "confidence": 0.9, "if_skipped": "dark water",
                }
            ],
        },
    ],
}  # fmt: skip


def text_of(answer: Any, kind: str) -> str:
    return page_of(as_data(answer), kind).text()


def test_json_keeps_the_order_and_is_finite(capsys: pytest.CaptureFixture[str]) -> None:
    answer = {
        "z": np.float64(1.5), "a": np.array([1.0, math.nan]),
        "t": datetime(2026, 7, 20, tzinfo=UTC),
        "p": Path("x"), "f": Fraction(1, 4), "n": np.int64(3), "r": Rack(name="shelf"),
        "i": -math.inf, "b": True, "none": None,
    }  # fmt: skip
    emit(answer, True, "check")
    out = capsys.readouterr().out
    read = json.loads(out, parse_constant=lambda word: pytest.fail(word))
    assert list(read) == list(answer)
    assert read["z"] == 1.5
    assert read["a"] == [1.0, None]
    assert read["t"] == "2026-07-20T00:00:00+00:00"
    assert (read["p"], read["f"], read["n"], read["b"], read["i"]) == ("x", 0.25, 3, True, None)
    assert read["r"]["name"] == "shelf"
    assert out.splitlines()[1].startswith(' "z"')


def test_outlook_in_words() -> None:
    text = text_of([OUTLOOK, {**OUTLOOK, "tank": "Moss", "crossings": []}], "outlook")
    assert "Fern: outlook from" in text
    assert "25 %" in text
    assert "limit oxygen dawn day" in text
    assert "No limit is likely to be crossed." in text


def test_ledger_in_words() -> None:
    text = text_of(LEDGER, "ledger")
    for part in ("Fern: N [mg]", "3 to 4", "60 (50 to 70)", "unexplained: -5 to 12 mg"):
        assert part in text


def test_round_in_words() -> None:
    text = text_of(ROUND, "round")
    assert "Leave it alone." in text
    assert "* thin: Lemna minor, 30 g" in text
    for part in ("why: cover 80 %", "how sure: 90 %", "if skipped: dark water"):
        assert part in text


def test_any_other_answer_is_laid_out() -> None:
    answer = {"good": True, "laws": {"rows": 183, "worst": 1e-12}, "list": [{"name": "a", "n": 1}]}
    text = text_of(answer, "check")
    assert text.splitlines() == [
        "good: yes", "laws:", "  rows: 183", "  worst: 1e-12", "list:", "  - name a, n 1",
    ]  # fmt: skip


def test_every_kind_of_command_has_its_text() -> None:
    commands = {
        "demo", "import", "export", "tanks", "outlook", "ledger", "round", "run", "water",
        "where", "table", "parameters", "check", "log", "entries", "history", "people",
        "preview", "take-in",
    }  # fmt: skip
    assert set(KINDS) == commands


def test_numbers_are_short_but_whole() -> None:
    shown = [number(v) for v in (0, 0.5, 12.345, 123.4, 99999, 1e9, 0.00012, 5e-7, -3.14159)]
    assert shown == ["0", "0.5", "12.3", "123", "99999", "1e+09", "0.00012", "5e-07", "-3.14"]
    assert between(None, 2.0) == "below 2"


def test_text_is_plain_where_no_terminal_is(capsys: pytest.CaptureFixture[str]) -> None:
    page = Page()
    page.table(("a", "bb"), [("x", 1.0), ("yyy", 22.0)])
    page.show()
    assert capsys.readouterr().out == "a    bb\nx    1\nyyy  22\n"


def test_tables_are_drawn_on_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    page = Page()
    page.line("plain [bold] line")
    page.table(("a", "b"), [("[red]", 1.0)])
    page.show()
    out = capsys.readouterr().out
    assert "plain [bold] line" in out
    assert "[red]" in out
    assert "─" in out or "━" in out
