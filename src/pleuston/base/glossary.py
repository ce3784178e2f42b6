"""What each name means: symbol, unit, one sentence, kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources.abc import Traversable
from types import MappingProxyType

from pleuston.base._tables import packaged, read_folder

NEEDED = ("symbol", "unit", "meaning", "kind")
OPTIONAL = ("of",)
KINDS = frozenset(("state", "quantity", "row", "jump", "parameter", "forcing", "argument", "limit"))


@dataclass(frozen=True, slots=True)
class Term:
    """One name of the glossary; `of` says what the milligrams are of."""

    name: str
    symbol: str
    unit: str
    meaning: str
    kind: str
    of: str = ""


@cache
def load() -> Mapping[str, Term]:
    """Give every term by its name, read once."""
    return read(packaged("glossary"))


def read(folder: Traversable) -> Mapping[str, Term]:
    """Read a folder of terms; gaps, unknown kinds and doubled names are refused."""
    known: dict[str, Term] = {}
    for table in read_folder(folder):
        table.check_fields(NEEDED, OPTIONAL)
        if not table.key.isidentifier() or table.key != table.key.lower():
            raise table.refuse("the name is not lower case with underscores", "Rename it")
        meaning = table.text("meaning")
        if not meaning.rstrip().endswith("."):
            raise table.refuse("the meaning is not a sentence", "End it with a full stop")
        known[table.key] = Term(
            name=table.key,
            symbol=table.text("symbol"),
            unit=table.text("unit"),
            meaning=meaning,
            kind=table.choice("kind", KINDS),
            of=table.text("of", may_be_empty=True),
        )
    return MappingProxyType(known)
