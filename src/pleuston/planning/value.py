"""What a test is worth for the decision at hand, before it is made.

For every reading that a keeper could take, each member tells how likely the kit would show each
of its steps. After each step the members count by that chance, and the way to go on that costs
least is chosen anew. What a test is worth is how much less that costs, on average, than choosing
once without it: never less than nothing, and nothing where no step would change what is done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.causes import COIN
from pleuston.planning.acts import short
from pleuston.planning.gauges import Gauge, chances_of_steps, usual_gauges
from pleuston.planning.outlook import SHOWN
from pleuston.planning.plan import Plan, words_of
from pleuston.planning.policy import Judged, acted_on, judge, safe_waters
from pleuston.planning.view import View
from pleuston.planning.whatif import drivers_of, tried

DAYS = 14
"""A decision is looked at over two weeks: then it is made again."""
MEMBERS = 128
EVERY: Mapping[str, float] = {"copper": 28.0}
USUAL = 14.0
"""Days after which a reading that matters is worth repeating: common practice, no source."""
SAME: Mapping[str, tuple[str, ...]] = {
    "oxygen": ("oxygen", "oxygen_pct"), "ec25": ("ec25", "pen_ppm"), "ph": ("ph",), "kh": ("kh",),
    "gh": ("gh",), "copper": ("copper",),
}  # fmt: skip
"""Readings that tell of one quantity."""
CHANGE = 0.2
"""Share of the water that one of the ways changes each week: common practice, no source."""
TOLD = 0.05
"""Value [min a week] below which a test tells nothing for the decision."""
MOST_EACH = 2
"""Tests of one tank in one round: common practice, no source."""


@dataclass(frozen=True)
class Decision:
    """Ways to go on, and what each costs every member [min a week]; members ran all ways."""

    ways: tuple[str, ...]
    costs: Array
    members: np.ndarray
    """Which of the first members of the belief they are."""

    @property
    def best(self) -> int:
        """The way that costs least on average."""
        return int(np.argmin(self.costs.mean(axis=1)))

    def value(self, chances: Array) -> float:
        """How much less is expected to be lost when a reading is seen first [min a week]."""
        after = (chances @ self.costs.T / self.costs.shape[1]).min(axis=1).sum()
        return max(float(self.costs.mean(axis=1).min() - after), 0.0)

    def turns(self, chances: Array) -> list[tuple[int, float, str]]:
        """(step, its chance, the way then best) of the steps that would change the way."""
        expected = chances @ self.costs.T
        chosen = expected.argmin(axis=1)
        shares = chances.mean(axis=1)
        return [
            (i, float(p), self.ways[way]) for i, (way, p) in enumerate(zip(chosen, shares,
                                                                           strict=True))
            if way != self.best and p >= 0.01
        ]  # fmt: skip


@dataclass(frozen=True)
class Worth:
    """What one reading in one tank is worth: minutes a week saved, and what it takes."""

    tank: str
    gauge: Gauge
    value: float
    now: str
    turns: tuple[tuple[str, float, str], ...]
    """(what is shown, its chance, what would then be done) where that differs from now."""
    age: float
    """Days since the last such reading; infinite for none."""

    @property
    def per_price(self) -> float:
        """Value for a minute spent, a coin counted as minutes."""
        return self.value / self.gauge.price

    @property
    def pays(self) -> bool:
        """Whether it saves more, until it is read again, than it costs."""
        weeks = EVERY.get(self.gauge.reading, USUAL) / 7.0
        return self.value * weeks > self.gauge.price

    def as_data(self) -> dict[str, Any]:
        """The worth as data."""
        g = self.gauge
        return {
            "tank": self.tank, "what": g.reading, "kit": g.name, "value": round(self.value, 2),
            "pays": self.pays, "minutes": g.minutes, "coins": g.coins,
            "per_minute": round(self.value / g.minutes, 3),
            "per_coin": round(self.value / g.coins, 2) if g.coins else None,
            "last_days": None if np.isinf(self.age) else round(self.age, 1), "now": self.now,
            "turns": [
                {"shows": shows, "chance": round(p, 3), "then": then}
                for shows, p, then in self.turns
            ],
        }  # fmt: skip


def ways_of(view: View) -> list[Plan]:
    """What may be done in a tank this fortnight, going on as now first."""
    target = view.tank.cover_target if view.tank.cover_target is not None else 0.4
    ways = [Plan("as now")]
    if view.belief.case.plants.slots:
        ways += [Plan("thin", cover=target), Plan("open", cover=0.25)]
    if view.ahead.habits.feed_per_day > 0.0:
        ways += [Plan("half", feed=0.5), Plan("none", feed=0.0)]
    if view.tank.flow == "still":
        ways.append(Plan("stir", flow="gentle"))
    litres = CHANGE * view.tank.net_l
    ways.append(Plan("change", water_change=litres))
    for name in safe_waters(view.belief, view.ahead.habits):
        ways += [Plan(name, top_up=name), Plan("change", top_up=name, water_change=litres)]
    return ways


def decision_of(view: View) -> Decision:
    """What every way costs every member, on the same members and the same weather."""
    plans, drivers = ways_of(view), drivers_of(view.belief, DAYS)
    runs = [
        tried(view.belief, plan, DAYS, MEMBERS, habits=view.ahead.habits, threads=view.threads,
              usual_drivers=drivers)
        for plan in plans
    ]  # fmt: skip
    limits = acted_on(view.limits)
    judged: list[Judged] = [judge(runs[0], run, limits) for run in runs]
    kept = [j for j in judged if not j.too_fast or j is judged[0]]
    names = tuple(words_of(j.plan) for j in kept)
    good = np.all([j.tried.ahead.run.good for j in kept], axis=0)
    return Decision(names, np.array([j.costs[good] for j in kept]), np.flatnonzero(good))


def worths(view: View, decision: Decision | None = None) -> list[Worth]:
    """Every reading that may be taken in a tank now, most valuable for its price first."""
    decision = decision_of(view) if decision is None else decision
    found = []
    for by in view.gauges or usual_gauges():
        own = by.reading.removesuffix("_ion")
        age = view.last("reading", SAME.get(own, (own, f"{own}_ion")))
        if age < EVERY.get(own, USUAL):
            continue
        chances = chances_of_steps(view.ahead.values(by.shown)[0][decision.members], by)
        turns = tuple((_step(by, i), p, way) for i, p, way in decision.turns(chances))
        found.append(Worth(view.belief.case.tank.name, by, decision.value(chances),
                           decision.ways[decision.best], turns, age))  # fmt: skip
    return sorted(found, key=lambda w: (-w.per_price, -w.age))


def _step(by: Gauge, step: int) -> str:
    unit = SHOWN[by.shown].unit
    tail = f" {unit}" if unit else ""
    if step == 0:
        return f"below {short(by.edges[0])}{tail}"
    if step == len(by.edges):
        return f"above {short(by.edges[-1])}{tail}"
    return f"{short(by.edges[step - 1])} to {short(by.edges[step])}{tail}"


def tests_for_rack(views: Iterable[View], minutes: float) -> list[dict[str, Any]]:
    """The tests of a rack that tell most for their price, as data, within the minutes."""
    return chosen_tests([w.as_data() for view in views for w in worths(view)], minutes)


def chosen_tests(found: Iterable[Mapping[str, Any]], minutes: float) -> list[dict[str, Any]]:
    """Of readings as data those most valuable for their price, within the minutes.

    A tank gets at most MOST_EACH; what was read lately is not asked again, so tests go round.
    """
    chosen: list[dict[str, Any]] = []
    left = minutes
    for worth in sorted((w for w in found if w["value"] >= TOLD), key=_rank):
        same = sum(w["tank"] == worth["tank"] for w in chosen)
        if worth["minutes"] <= left and same < MOST_EACH:
            chosen.append(dict(worth))
            left = round(left - worth["minutes"], 6)
    return chosen


def _rank(worth: Mapping[str, Any]) -> tuple[float, float, str]:
    price = worth["minutes"] + COIN * worth["coins"]
    age = np.inf if worth["last_days"] is None else worth["last_days"]
    return -worth["value"] / price, -age, worth["tank"]
