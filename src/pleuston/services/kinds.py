"""The kinds of answers and jobs, and how much is run for them. Loads nothing that computes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pleuston.base.errors import InputError
from pleuston.services.plan_kinds import checked_plan_kind, is_plan
from pleuston.services.what_if_kinds import checked_kind, is_what_if

ELEMENTS = ("N", "P", "K", "Ca", "Mg", "C", "O2", "water", "dissolved_solids", "Cu", "Zn", "Fe")
OTHER_ELEMENTS = ("Na", "Cl", "S")
SCORE = "score"
"""The forecasts of a tank scored on its past: made when asked for."""
KINDS = ("round", "now", "outlook", "night", "months", "why", *(f"ledger:{e}" for e in ELEMENTS))
"""The answers that are kept of every tank."""
SPELT = {
    "oxygen": "O2", "o": "O2", "solids": "dissolved_solids", "tds": "dissolved_solids",
    "dissolved solids": "dissolved_solids",
}  # fmt: skip


@dataclass(frozen=True)
class Effort:
    """How much is run for a belief; None is the usual of the program.

    members: members of the belief; learning: members that learn; threads: threads of one job.
    """

    seed: int = 1
    members: int | None = None
    learning: int | None = None
    threads: int | None = 1


def answer_kind(kind: str) -> str:
    """A kind of answer as it is stored; ledgers by the one spelling of what they count.

    >>> answer_kind("ledger:oxygen"), answer_kind("ledger:cu:2026-05-01:2026-05-28")
    ('ledger:O2', 'ledger:Cu:2026-05-01:2026-05-28')
    """
    if is_what_if(kind):
        return checked_kind(kind)
    if is_plan(kind):
        return checked_plan_kind(kind)
    if kind == SCORE:
        return kind
    head, *rest = kind.split(":")
    if head == "ledger" and rest:
        return ":".join(["ledger", element_of(rest[0]), *_days(kind, rest[1:])])
    if kind not in KINDS:
        raise InputError(
            f"there is no answer of kind {kind!r}", where="answers",
            remedy=f"Use one of {', '.join(KINDS[:6])}, or ledger:ELEMENT",
        )  # fmt: skip
    return kind


def job_kind(kind: str) -> str:
    """The job that makes a kind of answer: `tank` makes all but the ledgers of other periods.

    >>> job_kind("tank"), job_kind("ledger:N"), job_kind("ledger:p:2026-05-01:2026-05-28")
    ('tank', 'tank', 'ledger:P:2026-05-01:2026-05-28')
    """
    if kind == "tank":
        return kind
    kept = answer_kind(kind)
    return "tank" if kept in KINDS else kept


def element_of(word: str) -> str:
    """The one spelling of what a ledger counts.

    >>> element_of("solids"), element_of("n"), element_of("Oxygen")
    ('dissolved_solids', 'N', 'O2')
    """
    spelt = {e.casefold(): e for e in (*ELEMENTS, *OTHER_ELEMENTS)} | SPELT
    found = spelt.get(word.strip().casefold())
    if found is None:
        raise InputError(
            f"there is no ledger of {word!r}", where="ledger",
            remedy=f"Use one of {', '.join(ELEMENTS)}",
        )  # fmt: skip
    return found


def _days(kind: str, days: list[str]) -> list[str]:
    """The first and the last day of a period, or none for the last four weeks."""
    try:
        first_last = [date.fromisoformat(day) for day in days]
        fits = not days or (len(days) == 2 and first_last[0] <= first_last[1])
    except ValueError:
        fits = False
    if not fits:
        raise InputError(
            f"{kind!r} names no period", where="ledger",
            remedy="Give the first and the last day, such as ledger:N:2026-05-01:2026-05-28",
        )  # fmt: skip
    return [day.isoformat() for day in first_last]
