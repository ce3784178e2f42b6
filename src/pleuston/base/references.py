"""The one bibliography; elsewhere only its keys stand."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources.abc import Traversable
from types import MappingProxyType

from pleuston.base._tables import packaged, read_folder

NEEDED = ("title", "authors", "year", "container")
OPTIONAL = ("doi", "where", "note")
_KEY = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True, slots=True)
class Reference:
    """One publication, or a named body of common knowledge."""

    key: str
    title: str
    authors: str
    year: int
    container: str
    doi: str = ""
    where: str = ""
    note: str = ""


@cache
def load() -> Mapping[str, Reference]:
    """Give every reference by its key, read once."""
    return read(packaged("references"))


def read(folder: Traversable) -> Mapping[str, Reference]:
    """Read a folder of references; gaps and doubled keys are refused."""
    known: dict[str, Reference] = {}
    for table in read_folder(folder):
        table.check_fields(NEEDED, OPTIONAL)
        if not _KEY.fullmatch(table.key):
            raise table.refuse(
                "the key is not in lower case", "Write author and year, as smith1999"
            )
        year = table.number("year")
        if year != int(year):
            raise table.refuse(f"year is {year}", "Write the year as a whole number")
        known[table.key] = Reference(
            key=table.key,
            title=table.text("title"),
            authors=table.text("authors"),
            year=int(year),
            container=table.text("container"),
            doi=table.text("doi", may_be_empty=True),
            where=table.text("where", may_be_empty=True),
            note=table.text("note", may_be_empty=True),
        )
    return MappingProxyType(known)
