"""Numbers that remember how the keeper wrote them.

`Given("4.50")` is the number 4.5 in every sum and comparison, and is written
back as `4.50`. That makes export, import, export byte-identical.
"""

from __future__ import annotations

import math
import re

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)


class Given(float):
    """A finite number together with the text it was given as."""

    text: str

    def __new__(cls, text: str | float) -> Given:
        """Read the text of a number; a float gets the shortest text that reads back the same."""
        if isinstance(text, float | int):
            text = number_text(float(text))
        if not is_number(text):
            raise ValueError(f"{text!r} is not a number")
        number = super().__new__(cls, text)
        number.text = text
        return number

    def __getnewargs__(self) -> tuple[str]:  # type: ignore[override]
        return (self.text,)

    def __copy__(self) -> Given:
        return self

    def __deepcopy__(self, memo: object) -> Given:
        return self


def is_number(text: str) -> bool:
    """Say whether the text is a finite decimal number with a decimal point."""
    return bool(_NUMBER.fullmatch(text)) and math.isfinite(float(text))


def number_text(value: float | None) -> str:
    """Give the text of a number: as the keeper wrote it, else the shortest exact one.

    >>> number_text(Given("4.50")), number_text(4.5), number_text(3.0), number_text(None)
    ('4.50', '4.5', '3', '')
    """
    if value is None:
        return ""
    if isinstance(value, Given):
        return value.text
    if not math.isfinite(value):
        raise ValueError(f"a record holds finite numbers only, not {value!r}")
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    return repr(float(value))


def converted(value: float) -> Given:
    """Give a converted number with twelve significant digits, so that no false digits show.

    >>> converted(3.785411784000001).text
    '3.785411784'
    """
    return Given(number_text(float(f"{value:.12g}")))
