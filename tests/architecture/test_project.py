"""The files around the code say what they must, and the checks call each other."""

from __future__ import annotations

import re
import subprocess
import tomllib

import pytest

from .source import ROOT, text_of

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
TARGETS = ("start", "test", "bench", "check", "kernel", "docs", "lint", "lock", "clean", "help")
PINNED = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", re.MULTILINE)


def pins(name: str) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for package, version in PINNED.findall(text_of(ROOT / name)):
        found.setdefault(package, set()).add(version)
    return found


def wanted(requirements: list[str]) -> set[str]:
    names = (re.split(r"[<>=;\[ ]", line, maxsplit=1)[0] for line in requirements)
    return {re.sub(r"[-_.]+", "-", name).lower() for name in names}


def test_the_fresh_clone_check_runs_make_test() -> None:
    lines = text_of(ROOT / ".ci" / "run").splitlines()
    assert lines[0].endswith("bash")
    assert "set -euo pipefail" in lines
    assert "make test" in lines
    words = " ".join(lines)
    for needed in (
        '-m "(slow or oracle) and not browser"', "-m browser", "tests/journeys", "--check",
        "benchmarks/run.py --quick",
    ):  # fmt: skip
        assert needed in words


def test_make_test_lints_and_checks_freshness() -> None:
    dry = ["make", "--dry-run", "--always-make", "test"]
    plan = subprocess.run(dry, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for needed in (
        "ruff check", "mypy", "lint-imports", "pleuston.model.build --check",
        "tools/docs.py --check", "-m pytest",
    ):  # fmt: skip
        assert needed in plan


@pytest.mark.parametrize("target", TARGETS)
def test_make_has_and_explains(target: str) -> None:
    assert re.search(rf"^{target}:.*## \w", text_of(ROOT / "Makefile"), re.MULTILINE)


def test_bare_make_is_help() -> None:
    shown = subprocess.run(["make"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert all(f"make {target} " in shown for target in TARGETS)


def test_readme_opens_with_the_job() -> None:
    parts = text_of(ROOT / "README.md").split("\n\n")
    assert parts[0] == "# Pleuston"
    opening = parts[1]
    assert len(opening) > 300
    for word in ("aquarium", "balance", "week"):
        assert word in opening
    commands = parts[2:6]
    assert any("make start" in part and "make test" in part for part in commands)
    assert any(part.startswith("![") for part in commands)


def test_readme_shows_pictures_that_exist() -> None:
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", text_of(ROOT / "README.md"))
    assert pictures
    assert [p for p in pictures if not (ROOT / p).is_file()] == []


def test_changelog_has_this_version() -> None:
    version = PROJECT["project"]["version"]
    assert re.search(rf"^## {re.escape(version)}\b", text_of(ROOT / "CHANGELOG.md"), re.MULTILINE)


def test_licence_is_apache() -> None:
    text = text_of(ROOT / "LICENSE")
    assert PROJECT["project"]["license"] == "Apache-2.0"
    assert "Apache License" in text
    assert "END OF TERMS AND CONDITIONS" in text


def test_locks_hold_what_is_asked_for() -> None:
    run, dev = pins("requirements.lock"), pins("requirements-dev.lock")
    groups = PROJECT["dependency-groups"]
    assert wanted(PROJECT["project"]["dependencies"] + groups["build"]) <= set(run)
    assert wanted(groups["test"] + groups["lint"]) <= set(dev)
    assert {name: dev.get(name) for name in run} == run


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_lock_has_hashes_and_no_place(name: str) -> None:
    text = text_of(ROOT / name)
    entries = re.split(r"\n(?=\S)", text.strip())
    assert all("--hash=sha256:" in entry for entry in entries)
    assert "://" not in text
    assert not re.search(r"^(?:[/.]|-)", text, re.MULTILINE)


def test_unpinned_names_are_not_in_the_run_lock() -> None:
    """What only tests need does not reach the keeper's machine."""
    assert not set(pins("requirements.lock")) & {"scipy", "pint", "pytest", "phreeqc", "mypy"}
