"""Read a file of source waters that stands alone, with the same strictness as in a rack."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from pathlib import Path

from pleuston.records.record import Water
from pleuston.store.exchange_cells import Findings
from pleuston.store.exchange_layout import WATERS
from pleuston.store.exchange_problems import ImportRefused, Problem
from pleuston.store.exchange_read import _Reader


def read_waters(path: Path) -> tuple[Water, ...]:
    """Read the analyses of a file, or raise `ImportRefused` with every problem in it.

    Days without offset are taken as UTC: the file names no time zone.
    """
    path = Path(path)
    if not path.is_file():
        what = "this is a folder, not a file" if path.is_dir() else "there is no such file"
        problem = Problem(path.name, 0, "", what, "name a file with the columns of waters.csv")
        raise ImportRefused(str(path), [problem], failed="not read")
    findings = Findings()
    reader = _Reader(path.parent, findings)
    reader.zone = UTC
    reader.names[path.name] = set()
    table = replace(WATERS, file=path.name)
    waters = tuple(Water(**given) for _, given in reader._fields(table))
    if not waters and not findings.problems:
        findings.refuse(path.name, 2, "", "the file holds no water", "add a row for each water")
    if findings.problems:
        raise ImportRefused(str(path), findings.problems, failed="not read")
    return waters
