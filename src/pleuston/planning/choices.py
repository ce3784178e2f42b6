"""Choose among plans by running the same members under each: thinning, feeding.

The members are the same in every plan, so what differs is the plan alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pleuston.inference.tank import TankBelief
from pleuston.planning.habits import Habits, fed, thinned_to
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import Ahead, run_ahead

SCREEN = 64
"""Members that plans are compared on."""
COVERS = (0.7, 0.55, 0.4, 0.25)
DAYS = 14
SOON = 1.0 / 24.0
"""An act of this round is done within the hour [d]."""


@dataclass(frozen=True)
class Plan:
    """One way to go on, and what it does over two weeks."""

    name: str
    habits: Habits
    ahead: Ahead
    cover: float | None = None
    """Cover that is left [1]; None when the plants are left alone."""

    def chance(self, limit: Limit | None) -> float:
        """Chance that a limit is crossed on any day."""
        if limit is None:
            return 0.0
        return float(self.ahead.crossed(limit).any(axis=0).mean())

    def middle(self, quantity: str) -> float:
        """Median of a quantity at the end."""
        return float(np.median(self.ahead.values(quantity)[-1]))


def plan_of(
    belief: TankBelief, name: str, habits: Habits, cover: float | None = None,
    threads: int | None = None,
) -> Plan:  # fmt: skip
    """Run the first members of a belief under one plan."""
    ahead = run_ahead(belief, DAYS, habits, threads=threads, members=SCREEN)
    return Plan(name, habits, ahead, cover)


def thinning_plans(
    belief: TankBelief, habits: Habits, target: float, threads: int | None = None
) -> list[Plan]:
    """Leave the plants alone, or thin now and weekly to one of some covers."""
    slots = list(belief.case.plants.slots.values())
    days = habits.thinning_days if habits.thinning_days > 0.0 else 7.0
    thinner = replace(
        habits, thinning=dict.fromkeys(slots, target), thinning_days=days,
        last_thinning=belief.at - days + SOON,
    )  # fmt: skip
    plans = [plan_of(belief, "leave alone", thinned_to(habits, 1.0), None, threads)]
    for cover in sorted({*COVERS, target}, reverse=True):
        name = f"thin to {cover:.0%}"
        plans.append(plan_of(belief, name, thinned_to(thinner, cover), cover, threads))
    return plans


def feeding_plans(
    belief: TankBelief, habits: Habits, threads: int | None = None,
    shares: Sequence[float] = (1.0, 0.5),
) -> list[Plan]:  # fmt: skip
    """As now, and with shares of it."""
    return [
        plan_of(belief, f"{share:.0%} of the food", fed(habits, share), None, threads)
        for share in shares
    ]
