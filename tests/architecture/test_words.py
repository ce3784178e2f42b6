"""The project's files speak of the project alone."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from urllib.parse import urlsplit

from .source import ROOT, python_files, text_of, tracked, tree_of

THIRD_PARTY = re.compile(r"/static/vendor/|/axe\.(?:min\.js|LICENSE\.txt)$")
LOCAL_HOSTS = {"127.0.0.1", "localhost"}
OPEN_HOSTS = {
    "www.apache.org",  # the licence names itself by it
    "doi.org",
    "www.w3.org",
    "datapackage.org",
    "specs.frictionlessdata.io",
    "creativecommons.org",
}
MACHINE_PATH = re.compile(r"(?<![\w./~-])/(?:work|root|home|farm|tmp|opt)/\w")
OUTSIDE_FOLDER = re.compile(r"shared/(?:design|evidence|hooks)")
WORDS = re.compile(
    r"\b(?:t[r]anscript|seed d[o]cument|language m[o]del|as an A[I]|ch[a]tbot|A[I] assist\w*|"
    r"co-auth[o]red-by)\b",
    re.IGNORECASE,
)
MARKS = re.compile("[\N{REGISTERED SIGN}\N{TRADE MARK SIGN}]|\\((?:R|TM)\\)")
WEB_ADDRESS = re.compile(r"\b(?:https?|ftp)://[^\s\"'<>)\]}`]+")
LEFT_OUT = re.compile(r"(?:pytest\.)?(?:mark\.)?(?:skip|skipif|xfail|importorskip)")
UNFINISHED = re.compile(r"#\s*(?:TO[D]O|FIX[M]E|XX[X]|HA[C]K)\b")


def hits(pattern: re.Pattern[str], paths: list[Path] | tuple[Path, ...]) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in paths
        for number, line in enumerate(text_of(path).splitlines(), 1)
        if pattern.search(line)
    ]


def test_no_machine_path() -> None:
    assert not hits(MACHINE_PATH, tracked())


def test_no_word_about_how_it_was_made() -> None:
    assert not hits(OUTSIDE_FOLDER, tracked())
    assert not hits(WORDS, tracked())


def test_the_word_patterns_find_what_they_are_for() -> None:
    assert MACHINE_PATH.search("see " + "/".join(["", "home", "me"]))
    assert not MACHINE_PATH.search("docs/home/page, ./tmp/x, a/b")
    assert WORDS.search("a trans" + "cript of it")
    assert MARKS.search("Thing\N{TRADE MARK SIGN}")


def own() -> list[Path]:
    """The files that are ours: all but the licence and unchanged files of others."""
    return [p for p in tracked() if p.name != "LICENSE" and not THIRD_PARTY.search(p.as_posix())]


def test_no_brand_marks() -> None:
    assert not hits(MARKS, own())


def test_web_addresses_are_of_open_standards() -> None:
    found = {
        f"{path.relative_to(ROOT)}: {address}"
        for path in own()
        for address in WEB_ADDRESS.findall(text_of(path))
        if (urlsplit(address).hostname or "") not in LOCAL_HOSTS | OPEN_HOSTS
    }
    assert not found


def test_nothing_is_left_unfinished() -> None:
    assert not hits(UNFINISHED, python_files(generated=True))
    stubs = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in python_files()
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Name) and node.id == "NotImplemented" + "Error"
    ]
    assert not stubs


def test_a_skip_names_the_folder_that_is_missing() -> None:
    """A test is left out only where its data folder, or the compiler, is not there."""
    silent = []
    for path in python_files():
        for node in ast.walk(tree_of(path)):
            if not isinstance(node, ast.Call):
                continue
            if not LEFT_OUT.fullmatch(ast.unparse(node.func)):
                continue
            given = [*node.args, *(k.value for k in node.keywords)]
            words = " ".join(ast.unparse(value) for value in given)
            if not re.search(r"folder|compiler", words):
                silent.append(f"{path.relative_to(ROOT)}:{node.lineno}: {ast.unparse(node)[:80]}")
    assert not silent


def test_no_test_asserts_nothing() -> None:
    empty = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in python_files()
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Assert) and isinstance(node.test, ast.Constant)
    ]
    assert not empty
