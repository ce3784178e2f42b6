"""What to do this week: the levers that best keep the limits, and nothing where none helps.

Cover to leave, food and top-up water are tried on a grid; plans that lose on few members
are dropped before more are run. The plan that stands is checked on all members of the
belief against chance limits and against the steps an act may make.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.tank import TankBelief
from pleuston.planning.habits import Habits, habits_of
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import SHOWN, limits_of, with_model_error
from pleuston.planning.plan import AS_NOW, Plan, text_of, words_of
from pleuston.planning.sources import sources
from pleuston.planning.whatif import Tried, drivers_of, tried

COVERS = (None, 1.0, 0.55, 0.4, 0.25)
FEEDS = (None, 0.75, 0.5)
MOST_WATERS = 2
DAYS = 28
ROUNDS = (8, 16, 32, 64)
"""Members of each round of the search."""
KEPT = 3
"""One plan in so many goes on to the next round of the search."""
CHECK = 200
"""Members that a plan is checked on at last, where the belief has as many."""
ALLOWED: Mapping[str, float] = {"danger": 0.01, "act": 0.05, "watch": 0.3}
"""Chance of crossing a limit that is put up with, by how bad it is."""
WEIGHTS: Mapping[str, float] = {"danger": 100.0, "act": 30.0, "watch": 5.0}
"""Cost of a crossing, in minutes of the keeper: guess."""
DISTURBANCE = 1.0
"""Cost of each lever that is moved [min]: guess."""
GAIN = 1.0
"""Gain [min a week] below which the tank is left as it is: guess."""
STEPS: Mapping[str, tuple[float, bool]] = {
    "ec25": (0.10, True), "ph": (0.3, False), "temperature": (2.0, False), "gh": (1.0, False),
    "kh": (1.0, False),
}  # fmt: skip
"""Largest change from day to day that a plan may add, and whether it is a share:
conductivity, pH and temperature as the limits of steps, hardness [dH]: guess."""
LEVER_LIMITS = ("oxygen_dawn", "ammonia_nh3", "ammonium", "nitrite", "nitrate", "cover", "ec25",
                "kh", "gh", "ph", "copper")  # fmt: skip
"""Quantities that the levers act on."""
STORED_AMMONIA = 0.1
"""Total ammonia [mg/L of N] that one member in ten must not exceed before pH may be raised:
common practice is to see nothing on a kit."""
WISH = 8.0
"""Cost [min a week] of a surface closed by as much as all of it beyond the keeper's own target
for the cover: guess. It stands for the shade below and for what a closed mat gives back."""
SLACK = 0.05
"""Cover above the target that is let be [1]."""


@dataclass(frozen=True)
class Judged:
    """A plan judged on some members: cost of each [min a week], chances, whether caps hold."""

    tried: Tried
    costs: Array
    chances: Mapping[str, float]
    too_fast: tuple[str, ...]

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.tried.plan


def _held(belief: TankBelief, state: str) -> Array:
    """(members,) concentration of a store now."""
    table, end = belief.case.table, belief.end
    return np.asarray(end[:, table.at("state", state)] / end[:, table.at("state", "water")])


def ammonia_stored(belief: TankBelief) -> bool:
    """Whether there may be ammonia now that a higher pH would turn to poison."""
    now = with_model_error(_held(belief, "ammonium")[None], SHOWN["ammonium"], belief, np.zeros(1))
    return float(np.quantile(now, 0.9)) > STORED_AMMONIA


def safe_waters(belief: TankBelief, habits: Habits) -> list[str]:
    """Other waters to top up with, those of whole analysis first; none that would raise the pH
    while ammonia may be stored."""
    others = [w for w in sources(belief.case, belief.at) if w.name != habits.top_up_water]
    if ammonia_stored(belief):
        buffer = float(np.median(_held(belief, "alkalinity")))
        others = [w for w in others if w.per_litre["alkalinity"] <= buffer]
    others.sort(key=lambda w: bool(w.assumed))
    return [w.name for w in others[:MOST_WATERS]]


def candidates(belief: TankBelief, habits: Habits) -> list[Plan]:
    """The grid of plans, `as now` first."""
    covers = COVERS if belief.case.plants.slots else (None,)
    feeds = FEEDS if habits.feed_per_day > 0.0 else (None,)
    made = []
    for cover, feed, water in product(covers, feeds, ("", *safe_waters(belief, habits))):
        plan = Plan("candidate", cover=cover, feed=feed, top_up=water)
        made.append(replace(plan, name=words_of(plan)) if plan.changes else AS_NOW)
    return made


def steps_too_fast(now: Tried, other: Tried) -> tuple[str, ...]:
    """Quantities that a plan moves faster from day to day than its cap and than habit does."""
    found = []
    for quantity, (cap, share) in STEPS.items():
        moved = [_fastest(t.ahead.values(quantity), share) for t in (now, other)]
        if moved[1] > cap and moved[1] > moved[0] * 1.05:
            found.append(quantity)
    return tuple(found)


def _fastest(values: Array, share: bool) -> float:
    """Largest change in a day that one member in ten exceeds."""
    step = np.abs(np.diff(values, axis=0))
    if share:
        step = step / np.maximum(np.abs(values[:-1]), 1e-9)
    return float(np.quantile(step.max(axis=0), 0.9))


def judge(now: Tried, other: Tried, limits: Sequence[Limit]) -> Judged:
    """Cost of a plan on each member: minutes, levers moved, limits crossed, cover not wished."""
    costs = np.full(len(other.ahead.run.good), other.minutes)
    costs += DISTURBANCE * len(other.plan.changes)
    chances = {}
    for limit, over in other.ahead.crossed_each(limits):
        costs += WEIGHTS.get(limit.severity, 0.0) * (0.5 * over.any(axis=0) + 0.5 * over.mean(0))
        chances[limit.key] = float(over.any(axis=0).mean())
    case = other.ahead.belief.case
    target = case.record.tank_at(case.tank.name, case.clock.moment(other.ahead.belief.at))
    if target.cover_target is not None:
        beyond = other.ahead.values("cover") / 100.0 - target.cover_target - SLACK
        costs += WISH * np.maximum(beyond, 0.0).mean(axis=0)
    return Judged(other, costs, chances, steps_too_fast(now, other))


@dataclass(frozen=True)
class Week:
    """What the planner chose, beside going on as now, and the limits it was judged by."""

    usual: Judged
    best: Judged
    limits: tuple[Limit, ...]
    plans: int

    @property
    def plan(self) -> Plan:
        """The plan that stands."""
        return self.best.plan

    @property
    def binding(self) -> tuple[Limit, float] | None:
        """The limit still likelier to be crossed than is put up with."""
        above = [
            (x, self.best.chances[x.key]) for x in self.limits
            if self.best.chances[x.key] > ALLOWED.get(x.severity, 1.0)
        ]  # fmt: skip
        return max(above, key=lambda a: (a[0].rank, a[1]), default=None)

    @property
    def because(self) -> str:
        """What the plan gains."""
        return _because(self.usual, self.best, self.limits)

    @property
    def would_change(self) -> str:
        """What would change the advice."""
        return _would_change(self.usual, self.best, self.limits, self.binding)


def choose_week(
    belief: TankBelief, days: int = DAYS, threads: int | None = None, habits: Habits | None = None
) -> Week:
    """Search the grid on few members, then more; check what is left on all against the limits."""
    habits = habits_of(belief.case, belief.at) if habits is None else habits
    plans = candidates(belief, habits)
    tried_plans = len(plans)
    limits: tuple[Limit, ...] = ()

    drivers = drivers_of(belief, days)

    def run(plan: Plan, members: int) -> Tried:
        return tried(belief, plan, days, members, habits=habits, threads=threads,
                     usual_drivers=drivers)  # fmt: skip

    for members in ROUNDS:
        now = run(AS_NOW, members)
        limits = limits or acted_on(limits_of(now.ahead))
        judged = [judge(now, run(p, members), limits) for p in plans if p != AS_NOW]
        fit = sorted((j for j in judged if not j.too_fast), key=_mean)
        plans = [j.plan for j in fit[: max(2, len(judged) // KEPT)]]
    now = run(AS_NOW, CHECK)
    usual = judge(now, now, limits)
    last = [judge(now, run(p, CHECK), limits) for p in plans[:2]]
    last = [j for j in last if not j.too_fast and _worth(usual, j)]
    return Week(usual, min(last, key=_mean, default=usual), limits, tried_plans)


def best_week(belief: TankBelief, days: int = DAYS, threads: int | None = None) -> dict[str, Any]:
    """What the planner would do, as data: plan, gain with its 80 % range, what binds, and why.

    `checked_on` tells the members of the last check; `allowed` whether chance limits hold.
    """
    week = choose_week(belief, days, threads)
    return {
        "tank": belief.case.tank.name, "plan": text_of(week.plan), "changes": words_of(week.plan),
        "do_nothing": week.plan == AS_NOW, "plans_tried": week.plans,
        "checked_on": len(week.best.costs), "minutes": week.best.tried.minutes,
        "gain": _gain(week.usual, week.best), "because": week.because,
        "binding": None if week.binding is None else week.binding[0].name,
        "allowed": week.binding is None, "would_change": week.would_change,
    }  # fmt: skip


def acted_on(limits: Sequence[Limit]) -> tuple[Limit, ...]:
    """The limits that the levers act on."""
    return tuple(x for x in limits if x.quantity in LEVER_LIMITS and x.severity in WEIGHTS)


def _mean(judged: Judged) -> float:
    """Half the mean cost and half that of the worst tenth."""
    worst = np.sort(judged.costs)[-max(1, len(judged.costs) // 10):]
    return float(0.5 * judged.costs.mean() + 0.5 * worst.mean())


def _gain(usual: Judged, other: Judged) -> list[float]:
    """What a plan gains [min a week], member by member: the mean with its 80 % range."""
    apart = usual.costs - other.costs
    wide = 1.2816 * float(apart.std()) / np.sqrt(len(apart))
    return [round(float(apart.mean() + k * wide), 3) for k in (-1.0, 0.0, 1.0)]


def _worth(usual: Judged, other: Judged) -> bool:
    """Whether a plan surely gains, and crosses no grave limit more often than is allowed."""
    return _gain(usual, other)[0] > GAIN and all(
        chance <= max(ALLOWED["danger"], usual.chances[name])
        for name, chance in other.chances.items()
        if name in _grave(other)
    )


def _grave(judged: Judged) -> set[str]:
    limits = limits_of(judged.tried.ahead)
    return {x.key for x in limits if x.severity == "danger"}


def _because(usual: Judged, best: Judged, limits: Sequence[Limit]) -> str:
    if best.plan == AS_NOW:
        return "Nothing that was tried gains enough to be worth it."
    helped = [x for x in limits if usual.chances[x.key] - best.chances[x.key] >= 0.05]
    if not helped:
        return "It saves minutes or time beyond limits at no more risk."
    first = max(helped, key=lambda x: (x.rank, usual.chances[x.key] - best.chances[x.key]))
    return (
        f"The chance of '{first.word}' goes from {usual.chances[first.key]:.0%} to "
        f"{best.chances[first.key]:.0%}."
    )


def _would_change(
    usual: Judged, best: Judged, limits: Sequence[Limit], binding: tuple[Limit, float] | None
) -> str:
    if binding is not None:
        limit, chance = binding
        return (
            f"Binding: '{limit.word}', {chance:.0%} within {DAYS} days, more than the "
            f"{ALLOWED[limit.severity]:.0%} put up with; no cover, food or top-up that was tried "
            "helps more for what it costs. A reading of it would tell most."
        )
    if best.plan != AS_NOW:
        spare = _gain(usual, best)[0] - GAIN
        return f"It would change if the gain were {spare:.1f} minutes a week less."
    near = max(limits, key=lambda x: best.chances[x.key] / ALLOWED[x.severity], default=None)
    if near is None:
        return "No limit is known that these levers act on."
    return (
        f"It would change if '{near.word}' became likelier than {ALLOWED[near.severity]:.0%}; "
        f"it stands at {best.chances[near.key]:.0%}."
    )
