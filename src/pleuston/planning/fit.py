"""What of a round fits into the keeper's minutes; what guards animals always does.

A look at every tank comes first, then all that guards animals. The other acts follow, worst tank
first, those carried over longest before others; tests last, most valuable for a minute first
in each tank.
What does not fit is left for next week and told with its consequence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

USUAL_MINUTES = 10.0
"""Minutes of a round where the rack names none: nine tanks in ten minutes, common practice."""
LOOK = 0.2
"""Looking at a tank takes this long [min] even when nothing is to be done: common practice."""
RANKS: Mapping[str, int] = {"unknown": 0, "well": 0, "watch": 1, "act": 2, "danger": 3}
SLACK = 1e-9
ONCE = ("check_source",)
"""Acts that are done once for all tanks they are advised in."""
Tank = dict[str, Any]


def within(tanks: Sequence[Mapping[str, Any]], minutes: float) -> tuple[list[Tank], list[Tank]]:
    """Tanks with the acts that fit, and the acts that are left for next week with their tank.

    A tank's minutes become those of what stays. Acts done for another tank at once take none.
    """
    shared = _once([{**t, "acts": [dict(a) for a in t["acts"]]} for t in tanks])
    places = [(i, k) for i, t in enumerate(shared) for k in range(len(t["acts"]))]
    kept = {p for p in places if shared[p[0]]["acts"][p[1]].get("safety")}
    spent = LOOK * len(shared) + sum(_minutes(shared[i]["acts"][k]) for i, k in kept)
    for i, k in sorted(set(places) - kept, key=lambda p: _rank(shared[p[0]], p[1])):
        takes = _minutes(shared[i]["acts"][k])
        if takes <= SLACK or spent + takes <= minutes + SLACK:
            kept.add((i, k))
            spent += takes
    left = [
        {"tank": shared[i]["tank"], **shared[i]["acts"][k]}
        for i, k in places if (i, k) not in kept
    ]  # fmt: skip
    return [_only(t, [k for k in range(len(t["acts"])) if (i, k) in kept])
            for i, t in enumerate(shared)], left  # fmt: skip


def _minutes(act: Mapping[str, Any]) -> float:
    return float(act.get("minutes", 0.0))


def _rank(tank: Tank, place: int) -> tuple[float, ...]:
    """Where an act stands in line: tests last, then by how bad the tank is, by worth and wait."""
    act = tank["acts"][place]
    test = act["act"] == "test"
    worth = float(act.get("worth") or 0.0) / max(_minutes(act), 0.1)
    state = -float(RANKS.get(tank["state"], 0))
    waits = -float(act.get("carried_over") or 0)
    return (float(test), state, -worth if test else waits, waits, place)


def _only(tank: Tank, places: Sequence[int]) -> Tank:
    acts = [tank["acts"][k] for k in places]
    if len(acts) == len(tank["acts"]) and "minutes" in tank:
        return {**tank, "acts": acts}
    return {**tank, "acts": acts, "minutes": round(LOOK + sum(map(_minutes, acts)), 1)}


def _once(tanks: list[Tank]) -> list[Tank]:
    """The same act on one water counts its minutes in the first tank alone."""
    told = set()
    for tank in sorted(tanks, key=lambda t: -RANKS.get(t["state"], 0)):
        for act in tank["acts"]:
            key = (act["act"], act["what"])
            if act["act"] in ONCE and key in told and "minutes" in act:
                tank["minutes"] = round(max(tank["minutes"] - act["minutes"], LOOK), 1)
                act["minutes"] = 0.0
            told.add(key)
    return tanks
