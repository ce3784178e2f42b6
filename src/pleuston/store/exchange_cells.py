"""Cells of a row read as text, number, word, day or time, with every flaw noted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo

from pleuston.records.given import Given, is_number
from pleuston.records.near import near_names
from pleuston.store.exchange_layout import Column
from pleuston.store.exchange_problems import Change, Problem

_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_TIME = re.compile(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.]\d{1,6})?)?(Z|[+-]\d\d:?\d\d)?", re.ASCII
)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_FIRST_YEAR, _LAST_YEAR = 1900, 2199


class BadTimeError(ValueError):
    """A text that is no time, with the reason and the remedy."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


@dataclass
class Findings:
    """What came up while reading: reasons to refuse, and forms that were changed."""

    problems: list[Problem] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def refuse(self, file: str, line: int, column: str, what: str, remedy: str) -> None:
        self.problems.append(Problem(file, line, column, what, remedy))


@dataclass(frozen=True)
class Row:
    """One row of a file, by column name."""

    file: str
    line: int
    cells: Mapping[str, str]
    findings: Findings

    def refuse(self, column: str, what: str, remedy: str) -> None:
        self.findings.refuse(self.file, self.line, column, what, remedy)

    def changed(self, column: str, given: str, taken: str) -> None:
        self.findings.changes.append(Change(self.file, self.line, column, given, taken))

    def text(self, column: str) -> str:
        """The cell as it stands."""
        return self.cells.get(column, "")

    def word(self, column: str) -> str:
        """The cell without blanks around it."""
        return self.text(column).strip()

    def number(self, column: Column) -> Given | None:
        """The number of a cell within the limits of its column; None when empty or refused."""
        text = self.word(column.name)
        if not text:
            if column.required:
                self.refuse(column.name, "the number is missing", "give a number")
            return None
        if not is_number(text):
            self.refuse(column.name, *not_a_number(text))
            return None
        number = Given(text)
        if column.least is not None and number < column.least:
            self.refuse(column.name, f"{text} is below {column.least:g}", _limits(column))
            return None
        if column.most is not None and number > column.most:
            self.refuse(column.name, f"{text} is above {column.most:g}", _limits(column))
            return None
        return number

    def choice(self, column: Column) -> str:
        """A word out of those of the column; empty when refused."""
        word = self.word(column.name)
        if word in column.choices:
            return word
        if word.casefold() in column.choices:
            self.changed(column.name, word, word.casefold())
            return word.casefold()
        if word:
            what = f"{word!r} is not one of the words of this column"
            few = len(column.choices) <= 8
            listed = "use " + ", ".join(column.choices)
            self.refuse(column.name, what, listed if few else near_names(word, column.choices))
        else:
            self.refuse(column.name, "the cell is empty", "use " + ", ".join(column.choices))
        return ""

    def known(self, column: str, known: Iterable[str], what: str) -> str:
        """A name out of those known; case does not matter when it is clear."""
        name = self.word(column)
        names = list(known)
        if name in names:
            return name
        alike = [item for item in names if item.casefold() == name.casefold()]
        if len(alike) == 1:
            self.changed(column, name, alike[0])
            return alike[0]
        self.refuse(column, f"the {what} {name!r} is not known", near_names(name, names))
        return ""

    def time(self, column: str, zone: tzinfo | None) -> datetime | None:
        """The time of a cell in UTC; None when empty or refused."""
        text = self.word(column)
        if not text:
            return None
        try:
            return time_of(text, zone)
        except BadTimeError as fault:
            self.refuse(column, fault.what, fault.remedy)
            return None


def _limits(column: Column) -> str:
    if column.most is None:
        return f"give a number of at least {column.least:g}"
    return f"give a number from {column.least:g} to {column.most:g}"


def not_a_number(text: str) -> tuple[str, str]:
    """What is wrong with a text that should be a number, and the remedy."""
    if _DECIMAL_COMMA.fullmatch(text):
        return f"{text!r} has a decimal comma", f"write {text.replace(',', '.')}"
    if text.casefold().strip("+-") in ("nan", "inf", "infinity", "na", "n/a", "-", "none"):
        return f"{text!r} is not a number", "leave the cell empty when it is unknown"
    if text.startswith(("<", ">")):
        end = "low" if text.startswith("<") else "high"
        return (
            f"{text!r} is not a number",
            f"below the first or above the last step: leave {end} empty, "
            "and put the step in the other column",
        )
    return f"{text!r} is not a number", "write digits with a decimal point, such as 0.5"


def time_of(text: str, zone: tzinfo | None) -> datetime:
    """Read an ISO 8601 day or time; one without offset is on the rack's own clock.

    A day alone is its first moment. Local times that the clocks skip or repeat are refused.
    """
    if not (_DAY.fullmatch(text) or _TIME.fullmatch(text)):
        raise BadTimeError(f"{text!r} is not a time", "write it as 2026-03-14T08:30 or 2026-03-14")
    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        raise BadTimeError(f"{text!r} is not a day or time that exists", "check it") from None
    if not _FIRST_YEAR <= given.year <= _LAST_YEAR:
        raise BadTimeError(f"the year {given.year} cannot be meant", "check it")
    if given.tzinfo is not None:
        return given.astimezone(UTC)
    if zone is None:
        raise BadTimeError(
            f"{text!r} has no offset and the rack has no time zone",
            "add an offset such as +01:00, or the time zone to rack.csv",
        )
    return _local(given, zone, day_only=bool(_DAY.fullmatch(text)))


def _local(given: datetime, zone: tzinfo, day_only: bool) -> datetime:
    early = given.replace(tzinfo=zone, fold=0)
    late = given.replace(tzinfo=zone, fold=1)
    moment = early.astimezone(UTC)
    if day_only or early.utcoffset() == late.utcoffset():
        return moment
    if moment.astimezone(zone).replace(tzinfo=None) != given:
        raise BadTimeError(
            f"{given.isoformat()} does not exist: the clocks of {zone} skip it",
            "write the time with its offset, such as +02:00",
        )
    raise BadTimeError(
        f"{given.isoformat()} comes twice: the clocks of {zone} go back then",
        f"write it with its offset: {early.isoformat()} or {late.isoformat()}",
    )
