"""The acts of one tank this week, worst first, each with its reason in the model's own terms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from pleuston.planning.acts import Act
from pleuston.planning.acts_feed import feed_more
from pleuston.planning.acts_plants import feed, planned, potassium, thin
from pleuston.planning.acts_safety import (
    copper,
    dead,
    emergency,
    heat,
    oxygen,
    oxygen_test,
    poison,
)
from pleuston.planning.acts_test import tests_worth
from pleuston.planning.acts_water import hardness, salts, top_up
from pleuston.planning.fit import LOOK
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import animals_of
from pleuston.planning.value import Worth, worths
from pleuston.planning.view import RANKS, View, state_of_tank, view_of

__all__ = ["RANKS", "View", "acts_of", "tank_round", "view_of"]
MAKERS = (
    emergency, dead, poison, heat, oxygen, thin, feed, copper, top_up, salts, oxygen_test,
    hardness, potassium, feed_more,
)  # fmt: skip
GUARDED = ("act", "danger")
"""States in which thinning and feeding guard animals too."""
GUARDING = ("thin", "feed_less", "stir_surface")


def acts_of(view: View, state: str, tests: Sequence[Worth] = ()) -> list[Act]:
    """What to do in this tank, most urgent first; empty when it is best left alone."""
    made = [act for make in MAKERS for act in make(view)]
    acts: list[Act] = []
    for act in [*made, *planned(view, state), *tests_worth(tests)]:
        if not any((a.act, _plain(a.what)) == (act.act, _plain(act.what)) for a in acts):
            acts.append(act)
    kinds = {a.act for a in acts}
    if "stop_feeding" in kinds:
        acts = [a for a in acts if a.act != "feed_less"]
    if state in GUARDED or kinds & {"stop_feeding", "feed_less"}:
        acts = [a for a in acts if a.act != "feed_more"]
    if kinds >= {"change_top_up"}:
        acts = _one_water(acts)
    if state in GUARDED and view.has_animals and "no_new_animals" not in kinds:
        acts.append(
            Act("no_new_animals", "animals", None, "", "Limits may be crossed this week; every "
                "animal more takes oxygen and gives ammonia.", "fair",
                "The room left for those that are there shrinks.", "A limit may be crossed.",
                "It would change when the tank is well again.", safety=True)
        )  # fmt: skip
    guards = state in GUARDED
    return [
        replace(a, safety=True) if guards and a.act in GUARDING else a
        for a in acts
    ]  # fmt: skip


def _plain(what: str) -> str:
    return what.removesuffix("_ion")


def _one_water(acts: list[Act]) -> list[Act]:
    """Of several waters to top up with from now on the first, which is the most urgent."""
    first = next(a for a in acts if a.act == "change_top_up")
    return [a for a in acts if a.act != "change_top_up" or a is first]


def tank_round(view: View) -> dict[str, Any]:
    """One tank's part of the round as data.

    tests: what every reading that may be taken now would be worth, most valuable first.
    """
    state, behind = state_of_tank(view)
    tests = worths(view)
    acts = acts_of(view, state, tests)
    case = view.belief.case
    return {
        "tank": case.tank.name,
        "state": state,
        "because": [_because(limit, chance) for limit, chance in behind[:4]],
        "animals": {s.name: n for s, n in animals_of(case, view.belief.at).items()},
        "minutes": round(LOOK + sum(a.minutes for a in acts), 1),
        "acts": [a.as_data() for a in acts],
        "tests": [w.as_data() for w in tests],
    }


def _because(limit: Limit, chance: float) -> dict[str, Any]:
    return {
        "limit": limit.name, "word": limit.word, "severity": limit.severity,
        "chance": round(chance, 3), "who": list(limit.who), "source": limit.source,
        "own": limit.own,
    }  # fmt: skip
