"""The kinds of answers that a what-if has: its days and plans, in one spelling."""

from __future__ import annotations

from collections.abc import Sequence

from pleuston.base.errors import InputError
from pleuston.planning.plan import Plan, check_names, plan_from, text_of

KIND = "what-if"
BEST = "best-week"
DAYS, MOST_DAYS = 60, 120


def kind_of(plans: Sequence[Plan], days: int) -> str:
    """The kind of answer that plans have.

    >>> kind_of([plan_from("away:holiday=14")], 60)
    'what-if:60:away:holiday=14'
    """
    check_names(plans)
    if not 2 <= days <= MOST_DAYS:
        raise InputError(f"{days} days", "what-if", f"look 2 to {MOST_DAYS} days ahead")
    return f"{KIND}:{days}:" + "|".join(text_of(p) for p in plans)


def checked_kind(kind: str) -> str:
    """A kind in its one spelling; refuses plans that can't be read."""
    return kind if kind == BEST else kind_of(*plans_of(kind))


def plans_of(kind: str) -> tuple[list[Plan], int]:
    """The plans and the days of a kind of answer."""
    _, days, text = [*kind.split(":", 2), "", ""][:3]
    if not days.isdecimal():
        raise InputError(f"{kind!r} tells no days", "what-if", "write what-if:DAYS:NAME:key=value")
    return [plan_from(part) for part in text.split("|")], int(days)


def is_what_if(kind: str) -> bool:
    """Whether a kind of answer is a what-if, or what the planner would choose."""
    return kind == BEST or kind.startswith(f"{KIND}:")
