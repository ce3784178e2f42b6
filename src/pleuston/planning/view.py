"""What is known of a tank when its acts are chosen, and how urgent it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import short
from pleuston.planning.gauges import Gauge
from pleuston.planning.habits import habits_of
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import Ahead, animals_of, limits_of, run_ahead, shown_bound
from pleuston.planning.plan import AS_NOW, Plan
from pleuston.planning.policy import (
    CHECK,
    DAYS,
    STORED_AMMONIA,
    Judged,
    Week,
    ammonia_stored,
    choose_week,
    judge,
)
from pleuston.planning.sources import Source, sources
from pleuston.planning.told import is_told
from pleuston.planning.whatif import tried
from pleuston.records.record import Entry, Tank

WEEK = 7
HORIZON = 28
RANKS = {"well": 0, "watch": 1, "act": 2, "danger": 3}


@dataclass(frozen=True)
class View:
    """What is known of a tank when its acts are chosen."""

    belief: TankBelief
    ahead: Ahead
    limits: tuple[Limit, ...]
    threads: int | None
    gauges: tuple[Gauge, ...] = ()
    """The kits at hand; without any the usual ones."""

    @cached_property
    def tank(self) -> Tank:
        """The tank with its settings of now."""
        case = self.belief.case
        return case.record.tank_at(case.tank.name, case.clock.moment(self.belief.at))

    @cached_property
    def waters(self) -> tuple[Source, ...]:
        """The source waters and blends of the rack."""
        return sources(self.belief.case, self.belief.at)

    @cached_property
    def top_up(self) -> Source | None:
        """The water that the tank is topped up with."""
        name = self.ahead.habits.top_up_water
        return next((w for w in self.waters if w.name == name), None)

    @property
    def ammonia_stored(self) -> bool:
        """Whether there may be ammonia that a higher pH would turn to poison."""
        soon = float(np.quantile(self.ahead.values("ammonium")[0], 0.9))
        return soon > STORED_AMMONIA or ammonia_stored(self.belief)

    def chance(self, limit: Limit | None, days: int) -> float:
        """Chance that a limit is crossed within some days."""
        if limit is None:
            return 0.0
        return float(self.ahead.crossed(limit)[:days].any(axis=0).mean())

    def limit(self, quantity: str, side: str, *severities: str) -> Limit | None:
        """The limit of a quantity, of the first severity that has one."""
        for severity in severities:
            for limit in self.limits:
                if (limit.quantity, limit.side, limit.severity) == (quantity, side, severity):
                    return limit
        return None

    def middle(self, quantity: str, day: int = 0) -> float:
        """Median of a quantity on a day ahead."""
        return float(np.median(self.ahead.values(quantity)[day]))

    def span(self, quantity: str, day: int = 0) -> str:
        """The middle four fifths of a quantity on a day ahead, in words."""
        return between(self.ahead.values(quantity)[day])

    def state_now(self, name: str) -> Array:
        """(members,) of a store of the model, now."""
        return self.belief.end[:, self.belief.case.table.at("state", name)]

    def seen(self, *words: str, days: float = 10.0) -> list[str]:
        """Signs noted in the last days."""
        case = self.belief.case
        return sorted(
            {
                e.what for e in case.record.entries_of(case.tank.name, kind="seen")
                if e.what in words and case.clock.day(e.at) > self.belief.at - days
            }
        )  # fmt: skip

    def deaths(self, days: float = 7.0) -> float:
        """Animals found dead in the last days."""
        case = self.belief.case
        return sum(
            e.amount or 1.0 for e in case.record.entries_of(case.tank.name, kind="death")
            if case.clock.day(e.at) > self.belief.at - days
        )  # fmt: skip

    def last(self, kind: str, whats: Iterable[str] = ()) -> float:
        """Days since the last entry of a kind, or of one of some names; infinite for none."""
        case, wanted = self.belief.case, set(whats)
        return min(
            (
                self.belief.at - case.clock.day(e.at)
                for e in case.record.entries_of(case.tank.name, kind=kind)
                if e.tank == case.tank.name and (not wanted or e.what in wanted)
            ),
            default=np.inf,
        )  # fmt: skip

    @cached_property
    def week(self) -> Week:
        """What the planner would do this week; worked out when it is first asked for."""
        return choose_week(self.belief, threads=self.threads, habits=self.ahead.habits)

    @cached_property
    def food(self) -> dict[str, Any]:
        """The feed budget of this tank; worked out when it is first asked for."""
        from pleuston.planning.feed_budget import feed_budget

        return feed_budget(self.belief, threads=self.threads)

    def judged(self, plan: Plan) -> Judged:
        """A plan judged on all members, as the planner judges."""
        if plan == AS_NOW:
            return self.week.usual
        run = tried(self.belief, plan, DAYS, CHECK, habits=self.ahead.habits, threads=self.threads)
        return judge(self.week.usual.tried, run, self.week.limits)

    def entries(self, days: float) -> list[Entry]:
        """The tank's own entries of the last days."""
        case = self.belief.case
        return [
            e for e in case.record.entries_of(case.tank.name)
            if e.tank and case.clock.day(e.at) > self.belief.at - days
        ]  # fmt: skip

    @property
    def age(self) -> float:
        """The tank's age [d]; infinite where it is not known."""
        case = self.belief.case
        return case.opening.age + self.belief.at if case.tank.started else np.inf

    @property
    def poured_copper(self) -> float:
        """Copper noted of the water that the tank is topped up with [mg/L]; 0 where none is."""
        water = self.top_up
        unknown = water is None or any("copper" in name for name in water.assumed)
        return 0.0 if water is None or unknown else float(water.per_litre["copper"])

    @cached_property
    def has_animals(self) -> bool:
        """Whether animals are in the tank by record."""
        return bool(animals_of(self.belief.case, self.belief.at))


def between(values: Array) -> str:
    """The middle four fifths of values in words.

    >>> between(np.linspace(0.0, 1.0, 101))
    '0.1 to 0.9'
    """
    low, high = np.quantile(values, [0.1, 0.9])
    return f"{short(low)} to {short(high)}"


def bound_of(limit: Limit) -> str:
    """A limit in the unit it is shown in."""
    return f"{shown_bound(limit):.3g}"


def binds(limit: Limit, chance: float, days: int = WEEK) -> str:
    """What makes an act necessary: the limit, and how likely it is to be crossed."""
    span = "this week" if days == WEEK else f"within {days} days"
    own = f" It is {limit.own}." if limit.is_own else ""
    return f"'{limit.word}' at {bound_of(limit)}: {chance:.0%} {span}.{own}"


def would_change(what: str, limit: Limit, threshold: float) -> str:
    """What would change an act that rests on the chance of crossing a limit."""
    side = "above" if limit.side == "low" else "below"
    return (
        f"It would change if {what[:1].lower()}{what[1:]} put the chance under {threshold:.0%}: "
        f"well {side} {bound_of(limit)}."
    )


def view_of(
    belief: TankBelief, threads: int | None = None, gauges: tuple[Gauge, ...] = ()
) -> View:
    """Look ahead from a belief, with all that its acts need."""
    ahead = run_ahead(belief, HORIZON, habits_of(belief.case, belief.at), threads=threads,
                      extents=True)  # fmt: skip
    return View(belief, ahead, limits_of(ahead), threads, gauges)


def state_of_tank(view: View) -> tuple[str, list[tuple[Limit, float]]]:
    """well, watch, act or danger, and the limits behind it with their chances this week.

    What only literature tells of (told.py) is watched, not acted on.
    """
    rank = 0
    behind: list[tuple[Limit, float, int]] = []
    for limit in view.limits:
        soon = view.chance(limit, WEEK)
        level = level_of(limit.severity, soon)
        if not is_told(view, limit.quantity, soon, limit.value):
            level = min(level, RANKS["watch"])
        if level:
            behind.append((limit, soon, level))
        rank = max(rank, level)
    if view.deaths() >= 2.0:
        rank = max(rank, RANKS["act"])
    elif view.deaths():
        rank = max(rank, RANKS["watch"])
    if view.seen("gasping", days=3.0):
        rank = RANKS["danger"]
    names = {r: n for n, r in RANKS.items()}
    behind.sort(key=lambda x: (-x[2], -x[0].rank, -x[1]))
    return names[rank], [(limit, soon) for limit, soon, _ in behind]


def level_of(severity: str, chance: float) -> int:
    """How far a chance of crossing a limit of some severity raises the state of a tank.

    >>> level_of("danger", 0.3), level_of("act", 0.3), level_of("watch", 0.3)
    (2, 1, 0)
    """
    if severity == "danger":
        return 3 if chance >= 0.5 else 2 if chance >= 0.2 else 1 if chance >= 0.05 else 0
    if severity == "act":
        return 2 if chance >= 0.5 else 1 if chance >= 0.2 else 0
    return 1 if severity == "watch" and chance >= 0.6 else 0
