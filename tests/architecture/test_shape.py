"""Files and functions stay short, and one quantity has one def in one home."""

from __future__ import annotations

import ast
import re
from collections import Counter

import pytest

from .source import (
    ROOT,
    SOURCE,
    code_lines,
    defs,
    equations,
    is_generated,
    python_files,
    text_of,
    tracked,
)

FILE_LINES = 500
FUNCTION_LINES = 40


def test_files_are_short() -> None:
    hand_written = [
        p for p in tracked()
        if p.suffix in {".py", ".js", ".css", ".html", ".sh", ".md"} and not is_generated(p)
    ]  # fmt: skip
    long = {
        str(p.relative_to(ROOT)): len(text_of(p).splitlines())
        for p in hand_written
        if len(text_of(p).splitlines()) > FILE_LINES
    }
    assert len(hand_written) > 50
    assert not long


def test_functions_are_short() -> None:
    long = {}
    for path in python_files():
        used = code_lines(path)
        for d in defs(path):
            end = d.node.end_lineno or d.node.lineno
            lines = sum(used.get(n, 0) for n in range(d.node.lineno, end + 1))
            if lines > FUNCTION_LINES:
                long[d.place] = lines
    assert not long


def test_a_counted_function_is_counted_without_docstring_and_comments() -> None:
    used = code_lines(SOURCE / "base" / "errors.py")
    lines = text_of(SOURCE / "base" / "errors.py").splitlines()
    assert used
    assert all(lines[n - 1].strip() and not lines[n - 1].lstrip().startswith("#") for n in used)
    assert len(used) < len(lines)


def test_every_quantity_and_row_has_one_def() -> None:
    names = {d.node.name for d in equations()}
    everywhere = Counter(
        d.node.name for path in python_files() if SOURCE in path.parents for d in defs(path)
    )
    assert len(names) > 100
    assert {name: everywhere[name] for name in names if everywhere[name] > 1} == {}


@pytest.mark.parametrize("d", equations(), ids=lambda d: d.node.name)
def test_equation_says_what_it_means_and_where_it_is_from(d) -> None:  # type: ignore[no-untyped-def]
    docstring = ast.get_docstring(d.node) or ""
    assert docstring.split("\n")[0].rstrip().endswith("."), f"{d.place}: no one-sentence meaning"
    called = {
        getattr(c.func, "id", getattr(c.func, "attr", ""))
        for c in d.node.decorator_list
        if isinstance(c, ast.Call)
    }
    assert called & {"cited", "row", "move"}, f"{d.place}: no source is cited"


def test_equations_branch_with_where_only() -> None:
    """The same function is called with floats, arrays, units and traced symbols."""
    bad = [
        f"{d.place}: {type(node).__name__}"
        for d in equations()
        for node in ast.walk(d.node)
        if isinstance(node, ast.If | ast.For | ast.While | ast.IfExp | ast.Try | ast.BoolOp)
    ]
    assert not bad


def test_no_numbers_are_repaired_in_silence() -> None:
    pattern = re.compile(r"nan_to_num|fastmath|\+\s*1e-(?:9|1\d)\b")
    found = [
        f"{p.relative_to(ROOT)}:{n}"
        for p in python_files()
        if SOURCE in p.parents
        for n, line in enumerate(text_of(p).splitlines(), 1)
        if pattern.search(line.split("#")[0])
    ]
    assert not found
