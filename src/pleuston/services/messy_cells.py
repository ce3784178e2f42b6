"""Cells as people type them: days and times in their orders, numbers, ranges, signs for none."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

NONE = frozenset({
    "", "-", "–", "—", "--", "n/a", "na", "nan", "none", "<none>", "null", "nd", "n.d.", "?",
    "not tested", "#n/a", "x",
})  # fmt: skip
"""What stands in cells that tell nothing."""
ORDERS = ("dmy", "mdy", "ymd")
_MONTHS = {
    name: number
    for number, names in enumerate(
        ("jan januar january janvier", "feb februar february février", "mar march märz mars mrz",
         "apr april avril", "may mai mayo", "jun june juni juin", "jul july juli juillet",
         "aug august août", "sep sept september septembre", "oct okt october oktober octobre",
         "nov november novembre", "dec dez december dezember décembre"), start=1,
    )
    for name in names.split()
}  # fmt: skip
_ISO = re.compile(r"(\d{4})-(\d\d?)-(\d\d?)(?:[T ]+(.+))?")
_THREE = re.compile(r"(\d{1,4})[./\-\s]+(\d{1,2})[./\-\s]+(\d{1,4})(?:[,T\s]+(.+))?")
_WORDED = re.compile(
    r"(?:[^\W\d]+,\s*)?(?:(\d{1,2})\.?[\s\-]+([^\W\d]+)\.?|([^\W\d]+)\.?[\s\-]+(\d{1,2}))"
    r"(?:st|nd|rd|th)?,?[\s\-]+(\d{4}|\d{2})(?:[,T\s]+(.+))?"
)
_CLOCK = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:\.\d+)?)?\s*([ap])?\.?(?:m\.?)?\s*"
    r"(Z|[+-]\d\d:?\d\d)?",
    re.IGNORECASE,
)
_RANGE = re.compile(r"(?P<a>[^\s–—-]+)\s*(?:-|–|—|to|bis|\.\.)\s*(?P<b>[^\s–—-]+)")
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)


_UNIT_BEGINS = re.compile(r"\d[.,]?\s*(?=[^\d\s.,<>~–—-])")
_EXPONENT = re.compile(r"[eE][+-]?\d+")
_JOINS = re.compile(r"(?:to|bis)\b")
_SPACED = re.compile(r"[+-]?\d{1,3}(?: \d{3})+(?:[.,]\d+)?")


class CellError(ValueError):
    """A cell that can't be taken, with the reason and the remedy."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Typed:
    """An amount as it was typed: its ends as text with a decimal point, and its unit."""

    low: str
    high: str
    unit: str
    said: str = ""
    """How it is understood where that is not plain."""


def is_none(cell: str) -> bool:
    """Say whether a cell tells nothing."""
    return cell.strip().casefold() in NONE


def clock(text: str) -> str:
    """A time of day as HH:MM[:SS], with its offset if it has one.

    >>> clock("8:30 PM"), clock("01:08:29"), clock("12.05 am")
    ('20:30', '01:08:29', '00:05')
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise CellError(f"{text!r} is no time of day", "write it as 08:30")
    hour, minute, second, half, offset = match.groups()
    number = int(hour)
    if half:
        if not 1 <= number <= 12:
            raise CellError(f"{text!r} is no time of day", "write it as 20:30")
        number = number % 12 + (12 if half.lower() == "p" else 0)
    if number > 23 or int(minute) > 59 or int(second or 0) > 59:
        raise CellError(f"{text!r} is no time of day", "write it as 08:30")
    return f"{number:02}:{minute}" + (f":{second}" if second else "") + (offset or "")


def day_and_clock(text: str, order: str) -> tuple[str, str]:
    """A day as YYYY-MM-DD, and the time of day behind it if there is one.

    >>> day_and_clock("2/24/24", "mdy"), day_and_clock("24.2.2024 8:05", "dmy")
    (('2024-02-24', ''), ('2024-02-24', '08:05'))
    """
    text = text.strip()
    if match := _ISO.fullmatch(text):
        year, month, day, rest = match.groups()
        return _day(text, int(year), int(month), int(day)), clock(rest) if rest else ""
    if match := _THREE.fullmatch(text):
        a, b, c, rest = match.groups()
        places = {"dmy": (c, b, a), "mdy": (c, a, b), "ymd": (a, b, c)}
        year, month, day = places["ymd" if len(a) == 4 else order]
        return _day(text, _year(year), int(month), int(day)), clock(rest) if rest else ""
    if match := _WORDED.fullmatch(text):
        day1, month1, month2, day2, year, rest = match.groups()
        month_name = (month1 or month2).casefold()
        if month_name in _MONTHS:
            found = _day(text, _year(year), _MONTHS[month_name], int(day1 or day2))
            return found, clock(rest) if rest else ""
    raise CellError(f"{text!r} is no day", "write it as 2026-03-14")


def _year(text: str) -> int:
    return int(text) + 2000 if len(text) <= 2 else int(text)


def _day(text: str, year: int, month: int, day: int) -> str:
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        raise CellError(
            f"{text!r} is no day that exists", "check it, and the order of day and month"
        ) from None


def date_order(cells: Sequence[str]) -> tuple[str, bool]:
    """The order of day, month and year in a column, and whether it is certain.

    >>> date_order(["2/24/24", "3/3/24"]), date_order(["1.2.2024"]), date_order(["2024-03-01"])
    (('mdy', True), ('dmy', False), ('ymd', True))
    """
    found = [match for cell in cells if (match := _THREE.fullmatch(cell.strip()))]
    if not found:
        return "ymd", True
    if all(len(match[1]) == 4 for match in found):
        return "ymd", True
    if any(int(match[1]) > 12 for match in found if len(match[1]) <= 2):
        return "dmy", True
    if any(int(match[2]) > 12 for match in found):
        return "mdy", True
    rising = [order for order in ("dmy", "mdy") if _rises(cells, order)]
    if len(rising) == 1 and len(set(cells)) > 3:
        return rising[0], True
    return "dmy", False


def _rises(cells: Sequence[str], order: str) -> bool:
    try:
        days = [day_and_clock(cell, order)[0] for cell in cells if _THREE.fullmatch(cell.strip())]
    except CellError:
        return False
    return days == sorted(days)


def number(text: str, decimal: str) -> str:
    """A number with a decimal point; marks between thousands are taken out where clear.

    >>> number("1.234,5", ","), number("0,25", ","), number("1,234.5", ".")
    ('1234.5', '0.25', '1234.5')
    """
    bare = re.sub(r"[\u00a0\u202f]", " ", text).replace("−", "-").strip()
    if _SPACED.fullmatch(bare):
        bare = bare.replace(" ", "")
    other = "." if decimal == "," else ","
    if other in bare and decimal in bare:
        if re.fullmatch(rf"[+-]?\d{{1,3}}(?:\{other}\d{{3}})+\{decimal}\d+", bare):
            bare = bare.replace(other, "")
    elif other in bare and re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}\{other}\d{{3}}", bare):
        raise CellError(
            f"{text!r} can be read in two ways", "write it without a mark between thousands"
        )
    bare = bare.replace(",", ".")
    if not _NUMBER.fullmatch(bare):
        raise CellError(f"{text!r} is not a number", "write digits, such as 0.5")
    return bare


def amount(text: str, decimal: str) -> Typed:
    """An amount as people type it: 5, <0.25, >80, 10-20, ~7, 5 mg/L.

    >>> amount("<0,25", ",")
    Typed(low='', high='0.25', unit='', said='below 0.25')
    >>> amount("10-20", "."), amount("5 mg/L", ".").unit
    (Typed(low='10', high='20', unit='', said='10 to 20'), 'mg/L')
    """
    bare, unit = _with_unit(text.strip(), decimal)
    for mark, below in (("<=", True), ("≤", True), ("<", True), (">=", False), ("≥", False),
                        (">", False)):  # fmt: skip
        if bare.startswith(mark):
            end = number(bare[len(mark) :], decimal)
            said = f"below {end}" if below else f"above {end}"
            return Typed("" if below else end, end if below else "", unit, said)
    if bare[:1] in ("~", "≈") or bare.casefold().startswith("ca"):
        about = number(bare.lstrip("~≈caCA. "), decimal)
        return Typed(about, about, unit, f"{about}, roughly")
    match = _RANGE.fullmatch(bare)
    if match and not _NUMBER.fullmatch(bare.replace(",", ".")):
        low, high = number(match["a"], decimal), number(match["b"], decimal)
        return Typed(low, high, unit, f"{low} to {high}")
    plain = number(bare, decimal)
    return Typed(plain, plain, unit)


def _with_unit(text: str, decimal: str) -> tuple[str, str]:
    """Part a unit from the end of a cell: where what is before it is an amount by itself."""
    for match in _UNIT_BEGINS.finditer(text):
        head, tail = text[: match.end()].strip(), text[match.end() :]
        if _EXPONENT.fullmatch(tail) or _JOINS.match(tail):
            continue
        try:
            amount(head, decimal)
        except CellError:
            continue
        return head, tail.strip()
    return text, ""


def around(typed: Typed, steps: Sequence[float]) -> Typed:
    """The interval that a step of a kit stands for: half way to the steps beside it.

    >>> around(Typed("0.25", "0.25", ""), [0, 0.25, 0.5, 1])
    Typed(low='0.125', high='0.375', unit='', said='0.125 to 0.375')
    """
    if typed.low != typed.high or not typed.low or float(typed.low) not in steps:
        return typed
    ordered = sorted(steps)
    place = ordered.index(float(typed.low))
    low = f"{(ordered[place - 1] + ordered[place]) / 2:.12g}" if place else ""
    last = place == len(ordered) - 1
    high = "" if last else f"{(ordered[place] + ordered[place + 1]) / 2:.12g}"
    if last and not low:
        return typed
    said = f"{low} to {high}" if low and high else f"below {high}" if high else f"above {low}"
    return Typed(low, high, typed.unit, said)
