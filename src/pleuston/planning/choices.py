"""Choose among plans by running the same members under each: thinning, feeding, top-up water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pleuston.inference.tank import TankBelief
from pleuston.planning.habits import Habits, fed, thinned_to
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import Ahead, run_ahead

Flags = NDArray[np.bool_]
SCREEN = 64
"""Members that plans are compared on."""
COVERS = (0.6, 0.4, 0.25)
DAYS = 14


@dataclass(frozen=True)
class Plan:
    """One way to go on, and what it does over two weeks."""

    name: str
    habits: Habits
    ahead: Ahead

    def chance(self, limit: Limit | None) -> float:
        """Chance that a limit is crossed on any day."""
        if limit is None:
            return 0.0
        return float(self.ahead.crossed(limit).any(axis=0).mean())

    def middle(self, quantity: str) -> float:
        """Median of a quantity at the end."""
        return float(np.median(self.ahead.values(quantity)[-1]))


def compare(
    belief: TankBelief, plans: Sequence[tuple[str, Habits]], threads: int | None = None
) -> list[Plan]:
    """Run the same members under each plan."""
    return [
        Plan(name, habits, run_ahead(belief, DAYS, habits, threads=threads, members=SCREEN))
        for name, habits in plans
    ]


def thinning_plans(
    belief: TankBelief, habits: Habits, target: float, threads: int | None = None
) -> list[Plan]:
    """Leave the plants alone, or thin now and weekly to one of some covers."""
    slots = list(belief.case.plants.slots.values())
    thinner = replace(
        habits, thinning=dict.fromkeys(slots, target), thinning_days=7.0,
        last_round=belief.at - 6.999,
    )  # fmt: skip
    covers = sorted({*COVERS, target}, reverse=True)
    plans = [("leave alone", thinned_to(habits, 1.0))]
    plans += [(f"thin to {cover:.0%}", thinned_to(thinner, cover)) for cover in covers]
    return compare(belief, plans, threads)


def feeding_plans(belief: TankBelief, habits: Habits, threads: int | None = None) -> list[Plan]:
    """As now, half of it, nothing."""
    return compare(
        belief, [("as now", habits), ("half", fed(habits, 0.5)), ("none", fed(habits, 0.0))],
        threads,
    )  # fmt: skip


def water_plans(
    belief: TankBelief, habits: Habits, waters: Sequence[str], threads: int | None = None
) -> list[Plan]:
    """Each source water as the top-up."""
    return compare(belief, [(w, replace(habits, top_up_water=w)) for w in waters], threads)
