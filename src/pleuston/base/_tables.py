"""Read the folders of tables that come with the package, and refuse gaps."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

from pleuston.base.errors import InputError, UnknownNameError


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file: its key, its fields, and where it stands for messages."""

    key: str
    fields: dict[str, Any]
    where: str

    def refuse(self, what: str, remedy: str) -> InputError:
        return InputError(what, where=self.where, remedy=remedy)

    def check_fields(self, needed: Collection[str], optional: Collection[str] = ()) -> None:
        """Refuse fields that are missing, not known, or empty though needed."""
        missing = [name for name in needed if name not in self.fields]
        if missing:
            raise self.refuse(
                f"{', '.join(missing)} missing", f"Give {', '.join(missing)} in this table"
            )
        known = [*needed, *optional]
        for name in self.fields:
            if name not in known:
                raise UnknownNameError(
                    f"the field {name!r} is not known",
                    where=self.where,
                    remedy=nearest(name, known),
                )

    def text(self, name: str, *, may_be_empty: bool = False) -> str:
        """A field that is text."""
        value = self.fields.get(name, "")
        if not isinstance(value, str) or not (value.strip() or may_be_empty):
            raise self.refuse(f"{name} is {value!r}, not a text", f"Write {name} as a text")
        return value

    def number(self, name: str) -> float:
        """A field that is a finite number."""
        value = self.fields[name]
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refuse(f"{name} is {value!r}, not a number", f"Write {name} as a number")
        number = float(value)
        if not abs(number) < float("inf"):
            raise self.refuse(f"{name} is {number}", f"Write {name} as a finite number")
        return number

    def choice(self, name: str, allowed: Collection[str]) -> str:
        """A field that is one of a few words."""
        value = self.text(name)
        if value not in allowed:
            raise self.refuse(f"{name} is {value!r}", f"Write one of {', '.join(sorted(allowed))}")
        return value


def nearest(name: str, known: Collection[str]) -> str:
    """A remedy that names what was perhaps meant."""
    hits = difflib.get_close_matches(name, list(known), n=3, cutoff=0.6)
    if hits:
        return "Did you mean " + " or ".join(hits) + "?"
    if len(known) <= 12:
        return "Known are " + ", ".join(known)
    return "Add it, or correct the name"


def packaged(folder: str) -> Traversable:
    """A folder of tables inside this package."""
    return resources.files("pleuston.base").joinpath(folder)


def read_folder(folder: Traversable) -> Iterator[Table]:
    """Every table of every TOML file of a folder, by file name; a key may stand once only."""
    homes: dict[str, str] = {}
    for file in sorted(folder.iterdir(), key=lambda item: item.name):
        if not file.name.endswith(".toml"):
            continue
        place = f"{folder.name}/{file.name}"
        try:
            tables = tomllib.loads(file.read_text(encoding="utf-8"))
        except tomllib.TOMLDecodeError as fault:
            raise InputError(
                f"the file can't be read: {fault}", where=place, remedy="Correct that line"
            ) from None
        for key, fields in tables.items():
            where = f"{place} [{key}]"
            if not isinstance(fields, dict):
                raise InputError("the key stands outside a table", where=where,
                                 remedy="Put it below a [name]")  # fmt: skip
            if key in homes:
                raise InputError(f"the key is already in {homes[key]}", where=where,
                                 remedy="Keep one of the two")  # fmt: skip
            homes[key] = place
            yield Table(key, fields, where)
