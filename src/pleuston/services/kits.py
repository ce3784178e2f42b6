"""Test kits: the steps a kit can show, and the interval that each step stands for.

A kit is its owner's own record. Until a rack has one for a reading, a plain example with
usual steps stands in for it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Any

from pleuston.records.given import converted, number_text
from pleuston.records.kinds import READINGS
from pleuston.records.near import near_names
from pleuston.services.who import Who, require
from pleuston.store import audit
from pleuston.store import kits as rows
from pleuston.store.exchange_problems import ImportRefused, Problem
from pleuston.store.exchange_units import Amount, BadUnitError, reading_amount
from pleuston.store.rows import text_problem
from pleuston.store.session import Database

WAYS = ("chart", "titration")
MOST_STEPS = 60
_SERIES = re.compile(r"([\d.,]+)\s*(?:to|-|–)\s*([\d.,]+)(?:\s*by\s*([\d.,]+))?", re.ASCII)


@dataclass(frozen=True)
class Step:
    """A step of a kit as it is shown, and what it stands for; an open end is None."""

    label: str
    low: float | None
    high: float | None

    @property
    def pair(self) -> str:
        """Low and high as a form sends them."""
        return f"{number_text(self.low)}|{number_text(self.high)}"


@dataclass(frozen=True)
class Kit:
    """A kit: what it reads, in which unit, how, and the numbers it can show."""

    name: str
    reading: str
    unit: str
    way: str
    steps: tuple[float, ...]
    note: str = ""
    own: bool = True
    good_until: str = ""
    """The day printed on it, as YYYY-MM-DD; empty where there is none."""
    expired: bool = False

    @property
    def method(self) -> str:
        """What a reading made with it says of how it was made."""
        how = f"{self.name} ({self.way})" if self.own else self.way
        return f"{how}, expired" if self.expired else how


def _series(first: float, last: float, by: float = 1.0) -> tuple[float, ...]:
    return tuple(float(converted(first + i * by)) for i in range(round((last - first) / by) + 1))


EXAMPLES = (
    Kit("ammonium chart", "ammonium_ion", "mg/L", "chart", (0.05, 0.1, 0.2, 0.4, 0.6, 1.0, 2.0)),
    Kit("nitrite chart", "nitrite_ion", "mg/L", "chart", (0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)),
    Kit("nitrate chart", "nitrate_ion", "mg/L", "chart", (1.0, 5.0, 10.0, 20.0, 40.0, 80.0)),
    Kit("phosphate chart", "phosphate_ion", "mg/L", "chart", (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0)),
    Kit("pH chart", "ph", "", "chart", _series(5.0, 9.0, 0.5)),
    Kit("KH drops", "kh", "dH", "titration", _series(1.0, 20.0)),
    Kit("GH drops", "gh", "dH", "titration", _series(1.0, 25.0)),
    Kit("iron chart", "iron", "mg/L", "chart", (0.05, 0.1, 0.2, 0.5, 1.0)),
    Kit("copper chart", "copper", "mg/L", "chart", (0.05, 0.1, 0.25, 0.5, 1.0)),
    Kit("oxygen chart", "oxygen", "mg/L", "chart", (2.0, 4.0, 6.0, 8.0, 10.0)),
)  # fmt: skip
"""Plain kits with usual steps, each to be replaced by the keeper's own."""


def steps_of(kit: Kit) -> list[Step]:
    """The buttons of a kit, lowest first.

    A chart's step reaches halfway to its neighbours; n drops of a titration say that the
    amount lies between n - 1 and n. The ends are open.
    """
    if kit.way == "titration":
        return _drops(kit.steps)
    s = kit.steps
    ends = [float(converted((a + b) / 2.0)) for a, b in pairwise(s)]
    gap = s[1] - s[0] if len(s) > 1 else s[0]
    first = float(converted(s[0] - min(gap / 2.0, s[0] / 2.0)))
    last = float(converted(s[-1] + (s[-1] - s[-2] if len(s) > 1 else s[-1]) / 2.0))
    steps = [
        Step(number_text(value), low, high)
        for value, low, high in zip(s, [first, *ends], [*ends, last], strict=True)
    ]
    if s[0] == 0.0:
        steps[0] = Step("0", None, steps[0].high)
    else:
        steps.insert(0, Step(f"below {number_text(s[0])}", None, s[0]))
    return [*steps, Step(f"above {number_text(s[-1])}", s[-1], None)]


def _drops(s: tuple[float, ...]) -> list[Step]:
    gap = s[1] - s[0] if len(s) > 1 else s[0]
    below = [float(converted(max(s[0] - gap, 0.0))), *s[:-1]]
    steps = [Step(number_text(n), low, n) for low, n in zip(below, s, strict=True)]
    if below[0] > 0.0:
        steps.insert(0, Step(f"below {number_text(s[0])}", None, below[0]))
    return [*steps, Step(f"above {number_text(s[-1])}", s[-1], None)]


def kits(db: Database, today: date | None = None) -> list[Kit]:
    """The rack's own kits, then the examples for readings that none of them is for.

    today: kits good until a day before it count as expired.
    """
    with db.read() as connection:
        own = [_kit(row, today) for row in rows.kits_of(connection)]
    covered = {kit.reading.removesuffix("_ion") for kit in own}
    shipped = [
        Kit(**{**asdict(kit), "own": False})
        for kit in EXAMPLES
        if kit.reading.removesuffix("_ion") not in covered
    ]
    return [*own, *shipped]


def _kit(row: Mapping[str, Any], today: date | None) -> Kit:
    steps = tuple(float(text) for text in row["steps"].split())
    until = row["good_until"]
    expired = bool(until) and today is not None and date.fromisoformat(until) < today
    return Kit(row["kit"], row["reading"], row["unit"], row["way"], steps, row["note"],
               good_until=until, expired=expired)  # fmt: skip


def save_kit(db: Database, given: Mapping[str, str], who: Who, now: datetime) -> Kit:
    """Keep a kit; given: kit, reading, unit, way, steps, note, good_until as typed."""
    require(who, "keep")
    kit = _checked(given)
    row = {
        "kit": kit.name, "reading": kit.reading, "unit": kit.unit, "way": kit.way,
        "steps": " ".join(number_text(s) for s in kit.steps), "note": kit.note,
        "good_until": kit.good_until,
    }  # fmt: skip
    with db.write() as connection:
        before = next((r for r in rows.kits_of(connection) if r["kit"] == kit.name), None)
        rows.put_kit(connection, row)
        audit.note(
            connection, "save kit", kit.name, now, person=who.person, device=who.device,
            before=before, after=row,
        )  # fmt: skip
    return kit


def remove_kit(db: Database, name: str, who: Who, now: datetime) -> bool:
    """Take a kit out; readings made with it stay as they are."""
    require(who, "keep")
    with db.write() as connection:
        before = next((r for r in rows.kits_of(connection) if r["kit"] == name), None)
        if before is None:
            return False
        rows.remove_kit(connection, name)
        audit.note(
            connection, "remove kit", name, now, person=who.person, device=who.device,
            before=before,
        )  # fmt: skip
    return True


def _checked(given: Mapping[str, str]) -> Kit:
    problems: list[Problem] = []

    def refuse(column: str, what: str, remedy: str) -> None:
        problems.append(Problem("kit", 0, column, what, remedy))

    columns = ("kit", "reading", "unit", "way", "note", "good_until")
    cells = {key: given.get(key, "").strip() for key in columns}
    for column, text in cells.items():
        bad = text_problem(column, text)
        if bad:
            refuse(column, *bad)
    if not cells["kit"]:
        refuse("kit", "the kit has no name", "name it as it stands on your shelf")
    if cells["way"] not in WAYS:
        refuse("way", f"{cells['way']!r} is not a way to read a kit", "use " + " or ".join(WAYS))
    reading = READINGS.get(cells["reading"])
    if reading is None:
        refuse("reading", f"the reading {cells['reading']!r} is not known",
               near_names(cells["reading"], READINGS))  # fmt: skip
    try:
        steps = read_steps(given.get("steps", ""))
    except ValueError as fault:
        refuse("steps", str(fault), "write the numbers it can show, such as 0 5 10 25 or 1 to 20")
        steps = ()
    if reading is not None and not problems:
        try:
            reading_amount(reading.name, reading.unit, Amount(None, None, cells["unit"]))
        except BadUnitError as fault:
            refuse("unit", fault.what, fault.remedy)
    if cells["good_until"] and _day(cells["good_until"]) is None:
        refuse("good_until", f"{cells['good_until']!r} is no day", "write it as 2027-03-31")
    if problems:
        raise ImportRefused("kit", problems, failed="not kept")
    return Kit(
        cells["kit"], cells["reading"], cells["unit"], cells["way"], steps, cells["note"],
        good_until=cells["good_until"],
    )  # fmt: skip


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def read_steps(text: str) -> tuple[float, ...]:
    """Read the steps of a kit: numbers in rising order, or `first to last by spacing`.

    >>> read_steps("0 0,25 0.5 1"), read_steps("1 to 4"), read_steps("6-7 by 0.5")
    ((0.0, 0.25, 0.5, 1.0), (1.0, 2.0, 3.0, 4.0), (6.0, 6.5, 7.0))
    """
    match = _SERIES.fullmatch(text.strip())
    if match:
        first, last, by = (_number(part) if part else 1.0 for part in match.groups())
        if by <= 0 or last <= first or (last - first) / by > MOST_STEPS:
            raise ValueError("these steps don't lead from the first to the last")
        return _series(first, last, by)
    steps = tuple(_number(word) for word in re.split(r"[\s;]+", text.strip()) if word)
    if not steps or len(steps) > MOST_STEPS:
        raise ValueError("the kit has no steps" if not steps else "these are too many steps")
    if list(steps) != sorted(set(steps)) or steps[0] < 0:
        raise ValueError("the steps don't rise from one to the next")
    if steps == (0.0,):
        raise ValueError("a kit that shows nothing but 0 tells nothing")
    return steps


def _number(word: str) -> float:
    try:
        value = float(word.replace(",", "."))
    except ValueError:
        raise ValueError(f"{word!r} is not a number") from None
    if not abs(value) < 1e6:
        raise ValueError(f"{word!r} can't be shown by a kit")
    return value
