"""The acts of one tank this week, worst first, each with its reason in the model's own terms."""

from __future__ import annotations

from typing import Any

from pleuston.planning.acts import Act
from pleuston.planning.acts_plants import feed, potassium, thin
from pleuston.planning.acts_safety import (
    copper,
    dead,
    emergency,
    heat,
    oxygen,
    oxygen_test,
    poison,
)
from pleuston.planning.acts_test import test_worth
from pleuston.planning.acts_water import hardness, salts, top_up
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import animals_of
from pleuston.planning.view import RANKS, View, state_of_tank, view_of

__all__ = ["RANKS", "View", "acts_of", "tank_round", "view_of"]
MAKERS = (
    emergency, dead, poison, heat, oxygen, thin, feed, copper, top_up, salts, hardness, potassium,
    oxygen_test, test_worth,
)  # fmt: skip
BASE_MINUTES = 0.5
"""Looking at a tank takes this long even when nothing is to be done: common practice."""


def acts_of(view: View, state: str) -> list[Act]:
    """What to do in this tank, most urgent first; empty when it is best left alone."""
    acts: list[Act] = []
    for make in MAKERS:
        for act in make(view):
            if not any((a.act, a.what) == (act.act, act.what) for a in acts):
                acts.append(act)
    kinds = {a.act for a in acts}
    if "stop_feeding" in kinds:
        acts = [a for a in acts if a.act != "feed_less"]
    if state in ("act", "danger") and view.has_animals and "no_new_animals" not in kinds:
        acts.append(
            Act("no_new_animals", "animals", None, "", "Limits may be crossed this week; every "
                "animal more takes oxygen and gives ammonia.", "fair",
                "The room left for those that are there shrinks.")
        )  # fmt: skip
    return acts


def tank_round(view: View) -> dict[str, Any]:
    """One tank's part of the round as data."""
    state, behind = state_of_tank(view)
    acts = acts_of(view, state)
    case = view.belief.case
    return {
        "tank": case.tank.name,
        "state": state,
        "because": [_because(limit, chance) for limit, chance in behind[:4]],
        "animals": {s.name: n for s, n in animals_of(case, view.belief.at).items()},
        "minutes": round(BASE_MINUTES + sum(a.minutes for a in acts), 1),
        "acts": [a.as_data() for a in acts],
    }


def _because(limit: Limit, chance: float) -> dict[str, Any]:
    return {
        "limit": limit.name, "word": limit.word, "severity": limit.severity,
        "chance": round(chance, 3), "who": list(limit.who), "source": limit.source,
    }  # fmt: skip
