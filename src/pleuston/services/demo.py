"""The demo rack: nine invented tanks over twenty weeks, kept as data of the package."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pleuston.base.errors import InputError
from pleuston.store.exchange_layout import FILES

FOLDER = "demo_rack"


def write_demo(target: Path, force: bool = False) -> Path:
    """Write the demo rack into a new or empty folder and give that folder.

    force: write into a folder that holds other things too; its own files of the
    same names are replaced, all others stay.
    """
    target = Path(target)
    if target.exists() and not target.is_dir():
        raise InputError(
            what="there is a file of this name", where=str(target), remedy="name another folder"
        )
    if not force and target.is_dir() and any(target.iterdir()):
        raise InputError(
            what="the folder is not empty",
            where=str(target),
            remedy="name a new or an empty folder for the demo rack",
        )
    source = files("pleuston") / FOLDER
    target.mkdir(parents=True, exist_ok=True)
    for name in FILES:
        (target / name).write_bytes((source / name).read_bytes())
    return target
