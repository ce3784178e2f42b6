"""The week's round over a rack: worst tank first, minutes summed, doing nothing allowed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pleuston.inference.tank import TankBelief
from pleuston.planning.tank_round import RANKS, tank_round, view_of


def round_data(tanks: Sequence[dict[str, Any]], at: datetime) -> dict[str, Any]:
    """Put the parts of the tanks together, worst first."""
    ordered = sorted(tanks, key=lambda t: (-RANKS[t["state"]], t["tank"]))
    return {
        "at": at.isoformat(timespec="minutes"),
        "minutes": round(sum(t["minutes"] for t in ordered), 1),
        "tanks": ordered,
    }


def round_of(beliefs: Sequence[TankBelief], at: datetime) -> dict[str, Any]:
    """The round of some tanks as data."""
    return round_data([tank_round(view_of(b)) for b in beliefs], at)
