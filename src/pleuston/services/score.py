"""How far a tank's forecasts are to be trusted: scored on its own past, in plain words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from pleuston.planning.hindcast import hindcast
from pleuston.records.record import Record
from pleuston.services.answers import each_tank
from pleuston.services.kept import SCORES_LAST, Kept, kept_answer
from pleuston.services.kinds import Effort
from pleuston.services.racks import Source, open_rack, parse_moment
from pleuston.store.session import Database

FEW = 10
"""With fewer readings than this, too few to tell: common practice, no source."""
ALIKE = 0.05
"""Skill within which two forecasts are called alike: a choice."""


def score_answer(rack: Source, tank: str = "", at: str = "", *, seed: int = 1) -> Any:
    """Scores of one tank's forecasts as of a moment, or a list over all tanks."""
    record = open_rack(rack)
    moment = parse_moment(at, record)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        return score_of_record(record, name, moment, seed=seed, threads=threads)

    def failed(name: str, why: str) -> dict[str, Any]:
        return {"tank": name, "error": why}

    made = each_tank(record, moment, tank, answer, failed)
    return made[0] if tank else made


def score_of_record(
    record: Record, tank: str, at: datetime, *, seed: int = 1, threads: int | None = None
) -> dict[str, Any]:
    """Scores of one tank's forecasts, with what they say in words."""
    return worded(hindcast(record, tank, at, seed=seed, threads=threads))


def score_for_job(
    record: Record, tank: str, at: datetime, effort: Effort, tell: Callable[[float], None],
    cancel: Callable[[], bool],
) -> dict[str, Any]:  # fmt: skip
    """The scores as a background job makes them."""
    return worded(hindcast(
        record, tank, at, seed=effort.seed, members=effort.learning or 96,
        learning=effort.learning or 96, threads=effort.threads, tell=tell, cancel=cancel,
    ))  # fmt: skip


def worded(made: dict[str, Any]) -> dict[str, Any]:
    """Scores with a sentence for all readings and one for each quantity."""
    rows = [
        {**row, "words": coverage_words(row), "skill_words": skill_words(row)}
        for row in made["quantities"]
    ]
    return {**made, "words": coverage_words(made), "quantities": rows}


def coverage_words(row: dict[str, Any]) -> str:
    """How often the 90 % band held, in a sentence.

    >>> coverage_words({"n": 40, "bands": {"90": 0.925}})
    'Of 40 readings 37 fell in the band that should hold 36.'
    >>> coverage_words({"n": 4, "bands": {"90": 1.0}})
    '4 readings: too few to tell.'
    """
    n = row["n"]
    if n < FEW:
        return f"{n} reading{'' if n == 1 else 's'}: too few to tell."
    return (f"Of {n} readings {row['bands']['90'] * n:.0f} fell in the band that should hold "
            f"{0.9 * n:.0f}.")  # fmt: skip


def skill_words(row: dict[str, Any]) -> str:
    """How much better than the last reading and than a line, in words; empty where too few.

    >>> skill_words({"n": 20, "skill_last": 0.41, "skill_line": -0.2})
    '41 % closer than the last reading; 20 % further off than a straight line.'
    """
    if row["n"] < FEW:
        return ""
    known = [(row["skill_last"], "the last reading"), (row["skill_line"], "a straight line")]
    said = [_compared(value, than) for value, than in known if value is not None]
    return "; ".join(said) + "." if said else ""


def _compared(value: float, than: str) -> str:
    if abs(value) < ALIKE:
        return f"about as close as {than}"
    word = "closer than" if value > 0.0 else "further off than"
    return f"{100.0 * abs(value):.0f} % {word} {than}"


def kept_score(db: Database, tank: str, now: datetime) -> tuple[Kept | None, bool]:
    """The scores as last made, and whether they are due again."""
    kept = kept_answer(db, tank, "score", now)
    return kept, kept is None or now - kept.at >= SCORES_LAST
