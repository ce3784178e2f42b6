"""The week's round over a rack: worst tank first, within the keeper's minutes, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pleuston.inference.tank import TankBelief
from pleuston.planning.fit import USUAL_MINUTES, within
from pleuston.planning.tank_round import RANKS, tank_round, view_of


def round_data(
    tanks: Sequence[dict[str, Any]], at: datetime, minutes: float | None = None,
    walk: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """Put the parts of the tanks together, worst first.

    minutes: the keeper's for the whole round, the usual ones where None is given; `left` tells
    what does not fit into them, with its consequence: never what guards animals. walk: the tanks
    as the keeper walks; `place` is each one's place there, from 1.
    """
    given = USUAL_MINUTES if minutes is None else minutes
    names = list(walk) or [t["tank"] for t in tanks]
    placed = [{**t, "place": names.index(t["tank"]) + 1} for t in tanks]
    kept, left = within(placed, given)
    ordered = sorted(kept, key=lambda t: (-RANKS[t["state"]], t["tank"]))
    return {
        "at": at.isoformat(timespec="minutes"),
        "minutes": round(sum(t["minutes"] for t in ordered), 1),
        "minutes_given": given,
        "tanks": ordered,
        "left": left,
    }


def round_of(
    beliefs: Sequence[TankBelief], at: datetime, minutes: float | None = None
) -> dict[str, Any]:
    """The round of some tanks as data."""
    return round_data([tank_round(view_of(b)) for b in beliefs], at, minutes)
