"""Importing is cheap, help is quick, and what checks the program is not part of it."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import tomllib
from pathlib import Path

from .source import ROOT, SOURCE

TEST_ONLY = {"scipy", "pint", "sympy", "sksundae", "phreeqc", "gsw", "psychrolib", "numba"}
HEAVY = {"numpy", "matplotlib", "rich", "typer", "click"}

TIMED_IMPORT = """
import json, sys, time
before = set(sys.modules)
start = time.perf_counter()
import pleuston
seconds = time.perf_counter() - start
print(json.dumps([seconds, sorted({m.partition(".")[0] for m in set(sys.modules) - before})]))
"""
EVERYTHING = """
import importlib, pkgutil, sys, json
import pleuston
for found in pkgutil.walk_packages(pleuston.__path__, "pleuston."):
    if not found.name.endswith("__main__"):
        importlib.import_module(found.name)
print(json.dumps(sorted({m.partition(".")[0] for m in sys.modules})))
"""
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
MODULE, START = SETTINGS["project"]["scripts"]["pleuston"].split(":")
HELP = f"""
import sys
sys.argv = ["pleuston", "--help"]
from {MODULE} import {START}
{START}()
"""
BARE_HELP = """
import sys, typer
sys.argv = ["bare", "--help"]
app = typer.Typer()
for name in ("one", "two"):
    app.command(name)(lambda rack="", tank="": None)
app()
"""
HELP_MODULES = f"""
import atexit, json, sys
atexit.register(lambda: print(json.dumps(sorted(sys.modules)), file=sys.stderr))
{HELP}"""


def python(code: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", code]
    return subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)


def fastest(code: str, times: int = 15) -> float:
    """Least wall time of some runs, in seconds: noise only ever adds."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        python(code)
        spent.append(time.perf_counter() - start)
    return min(spent)


def test_import_is_quick_and_light() -> None:
    runs = [json.loads(python(TIMED_IMPORT).stdout) for _ in range(5)]
    assert min(seconds for seconds, _ in runs) < 0.030
    pulled_in = set(runs[0][1])
    assert "pleuston" in pulled_in
    assert not pulled_in & (HEAVY | TEST_ONLY)


def test_help_is_quick() -> None:
    """250 ms, or on a slow machine half as much again as a program with two bare commands."""
    ours, bare = fastest(HELP), fastest(BARE_HELP)
    assert ours < max(0.250, 1.5 * bare)


def test_help_loads_no_numbers_and_no_pictures() -> None:
    loaded = {name.partition(".")[0] for name in json.loads(python(HELP_MODULES).stderr)}
    assert not loaded & ({"numpy", "matplotlib"} | TEST_ONLY)


def test_no_module_needs_a_test_library() -> None:
    loaded = set(json.loads(python(EVERYTHING).stdout))
    assert "numpy" in loaded
    assert not loaded & TEST_ONLY


def test_layers_name_every_room() -> None:
    contracts = SETTINGS["tool"]["importlinter"]["contracts"]
    layers = next(c for c in contracts if c["type"] == "layers")
    assert layers["exhaustive"] is True
    named = {name for layer in layers["layers"] for name in layer.split(" | ")}
    rooms = {path.parent.name for path in SOURCE.glob("*/__init__.py")}
    assert rooms == named


def test_every_folder_with_code_is_a_package() -> None:
    folders: set[Path] = {p.parent for p in SOURCE.rglob("*.py")}
    assert {str(f) for f in folders if not (f / "__init__.py").exists()} == set()
