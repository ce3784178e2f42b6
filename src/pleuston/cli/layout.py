"""Lines and tables of an answer: plain text everywhere, drawn tables only on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

WIDTH_OF_PLAIN = 100


def number(value: Any, digits: int = 3) -> str:
    """A number with few digits and no exponent where it can be helped.

    >>> number(1234.56), number(0.04567), number(7.0), number(None), number(0.00001234)
    ('1235', '0.0457', '7', '-', '1.23e-05')
    """
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return str(value)
    size = abs(value)
    if size == 0.0:
        return "0"
    if size >= 10.0 ** (digits - 1):
        return f"{value:.0f}" if size < 1e7 else f"{value:.{digits}g}"
    text = f"{value:.{digits}g}"
    return text if "e" not in text or size < 1e-4 else f"{value:f}".rstrip("0")


def between(low: Any, high: Any, digits: int = 3) -> str:
    """A range; an open end is said in words.

    >>> between(1.0, 2.0), between(None, 0.1), between(5, 5), between(2, None)
    ('1 to 2', 'below 0.1', '5', 'above 2')
    """
    if low is None and high is None:
        return "-"
    if low is None:
        return f"below {number(high, digits)}"
    if high is None:
        return f"above {number(low, digits)}"
    first, last = number(low, digits), number(high, digits)
    return first if first == last else f"{first} to {last}"


def words(name: str) -> str:
    """A name with blanks for underscores."""
    return name.replace("_", " ")


@dataclass
class Page:
    """Blocks of an answer in order: lines of text, or tables."""

    blocks: list[str | tuple[Sequence[str], Sequence[Sequence[str]]]] = field(default_factory=list)

    def line(self, text: str = "") -> None:
        """Add a line."""
        self.blocks.append(text)

    def heading(self, text: str) -> None:
        """Add a line with a line under it, parted from what stands before."""
        if self.blocks:
            self.blocks.append("")
        self.blocks.extend((text, "-" * len(text)))

    def table(self, head: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        """Add a table; numbers are shortened. Nothing is added without rows."""
        if rows:
            self.blocks.append((head, [[number(cell) for cell in row] for row in rows]))

    def pairs(self, values: Mapping[str, Any]) -> None:
        """Add names with their values, one a line, aligned; empty ones are left out."""
        shown = {key: value for key, value in values.items() if value not in (None, "", [], {})}
        wide = max((len(key) for key in shown), default=0)
        for key, value in shown.items():
            self.line(f"{key:<{wide}}  {number(value)}")

    def text(self) -> str:
        """Everything as plain text."""
        lines: list[str] = []
        for block in self.blocks:
            lines += [block] if isinstance(block, str) else plain_table(*block)
        return "\n".join(line.rstrip() for line in lines)

    def show(self) -> None:
        """Print: tables drawn on a terminal, plain text into files and pipes."""
        if not sys.stdout.isatty():
            print(self.text())
            return
        from rich.box import SIMPLE_HEAD
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        console = Console(highlight=False)
        for block in self.blocks:
            if isinstance(block, str):
                console.print(Text(block))
                continue
            drawn = Table(box=SIMPLE_HEAD, pad_edge=False)
            for name in block[0]:
                drawn.add_column(Text(name))
            for row in block[1]:
                drawn.add_row(*(Text(cell) for cell in row))
            console.print(drawn)


def plain_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table with columns parted by two blanks; the last column is not padded."""
    every = [list(head), *(list(row) for row in rows)]
    wide = [max(len(row[i]) for row in every) for i in range(len(head))]
    return [
        "  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True)).rstrip()
        for row in every
    ]
