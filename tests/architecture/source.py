"""Reads the project's own files for the tests of the house rules."""

from __future__ import annotations

import ast
import subprocess
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from io import StringIO
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "pleuston"
GENERATED = "do not edit"

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Def:
    """One function: where it stands and its syntax tree."""

    path: Path
    node: Function

    @property
    def place(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.node.lineno} {self.node.name}"


@cache
def tracked() -> tuple[Path, ...]:
    """Every file that belongs to the project: in the index, or new and not ignored."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    listing = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    paths = (ROOT / name for name in sorted(set(listing.split("\0"))) if name)
    return tuple(path for path in paths if path.is_file())


@cache
def text_of(path: Path) -> str:
    """A file's text, or nothing when it is not text."""
    data = path.read_bytes()
    if b"\0" in data:
        return ""
    return data.decode("utf-8")


def is_generated(path: Path) -> bool:
    """Generated files say so at their top."""
    return GENERATED in text_of(path)[:600].lower()


def python_files(*, generated: bool = False) -> list[Path]:
    """Hand-written Python files of the project (and, if asked, the generated ones)."""
    return [p for p in tracked() if p.suffix == ".py" and (generated or not is_generated(p))]


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(text_of(path), filename=str(path))


def defs(path: Path, *, top: bool = False) -> Iterator[Def]:
    """The functions of a file; only those of the module itself when top."""
    nodes = tree_of(path).body if top else ast.walk(tree_of(path))
    for node in nodes:
        if isinstance(node, Function):
            yield Def(path, node)


def code_lines(path: Path) -> dict[int, int]:
    """Line number -> 1 for lines with code on them: no comments, no docstrings, no blanks."""
    blank = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT}
    used: dict[int, int] = {}
    for token in tokenize.generate_tokens(StringIO(text_of(path)).readline):
        if token.type not in blank and token.type != tokenize.ENDMARKER:
            used.update(dict.fromkeys(range(token.start[0], token.end[0] + 1), 1))
    for node in ast.walk(tree_of(path)):
        body = getattr(node, "body", None)
        if not isinstance(body, list) or not body or not isinstance(body[0], ast.Expr):
            continue
        value = body[0].value
        if isinstance(value, ast.Constant) and isinstance(value.value, str):
            for line in range(value.lineno, (value.end_lineno or value.lineno) + 1):
                used.pop(line, None)
    return used


def equation_files() -> list[Path]:
    """The files that hold equations and rows."""
    folders = (SOURCE / "chemistry", SOURCE / "biology", SOURCE / "model" / "rows")
    single = [SOURCE / "model" / "quantities.py", SOURCE / "model" / "jumps.py"]
    inside = [p for p in python_files() if any(f in p.parents for f in folders)]
    return sorted({*inside, *(p for p in single if p.exists())})


def equations() -> list[Def]:
    """Every public function of the module level in the files with equations."""
    return [
        d for path in equation_files() for d in defs(path, top=True)
        if not d.node.name.startswith("_")
    ]  # fmt: skip
