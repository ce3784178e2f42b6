"""Views of a tank made of numbers drawn at random: nothing is learned and nothing is run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property
from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import strategies as st

from pleuston.engine.ensemble import Trajectory
from pleuston.planning.outlook import Ahead, limits_of
from pleuston.planning.plan import Plan
from pleuston.planning.view import View, view_of
from pleuston.records.record import Entry

from .rack import belief

DH = 1.0 / 0.356652
DAYS = 28


@dataclass(frozen=True)
class Drawn:
    """The middle of a tank's water, how far members lie apart, and what the planner would say."""

    ammonium: float
    nitrite: float
    nitrate: float
    copper: float
    ph: float
    kh: float
    gh: float
    ec: float
    oxygen: float
    celsius: float
    full: float
    """Share of the mark that the water stands at."""
    cover: float
    spread: float
    seed: int
    drift: float
    """Growth of salts and hardness over four weeks, as a factor."""
    plan: Plan
    entries: tuple[Entry, ...] = ()


def log_range(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers even on the log scale."""
    return st.floats(np.log(low), np.log(high)).map(lambda x: float(np.exp(x)))


PLANS = st.builds(
    Plan, st.just("planned"), cover=st.sampled_from([None, 1.0, 0.55, 0.25]),
    feed=st.sampled_from([None, 0.75, 0.5]), top_up=st.sampled_from(["", "hard", "half"]),
)  # fmt: skip
DRAWN = st.builds(
    Drawn, ammonium=log_range(0.001, 15.0), nitrite=log_range(0.001, 6.0),
    nitrate=log_range(0.05, 80.0), copper=log_range(0.0005, 0.2), ph=st.floats(4.5, 9.3),
    kh=log_range(0.02, 25.0), gh=log_range(0.1, 30.0), ec=log_range(20.0, 3000.0),
    oxygen=st.floats(0.5, 9.0), celsius=st.floats(15.0, 34.0), full=st.floats(0.6, 1.0),
    cover=st.floats(0.02, 0.98), spread=st.floats(0.0, 0.8), seed=st.integers(0, 10_000),
    drift=st.floats(0.5, 2.0), plan=PLANS,
)  # fmt: skip


class FakeView(View):
    """A view whose planner says what it was given, on costs drawn at random."""

    said: Plan

    @cached_property
    def week(self) -> Any:
        """The plan it was given."""
        judged = self.judged(self.said)
        return SimpleNamespace(plan=self.said, best=judged, usual=judged, limits=self.limits,
                               binding=None, because="It was drawn.",
                               would_change="It would change with the draw.")  # fmt: skip

    def judged(self, plan: Plan) -> Any:
        """Members' costs: thinning gains against leaving the plants alone."""
        costs = np.full(len(self.belief), 5.0 if plan.cover == 1.0 else 1.0)
        chances = {x.key: 0.5 for x in self.limits}
        return SimpleNamespace(plan=plan, costs=costs, chances=chances,
                               tried=SimpleNamespace(ahead=self.ahead))  # fmt: skip


@cache
def plain(extra: tuple[Entry, ...], water: str) -> View:
    """A real view of the rack, to take the form of everything from."""
    return view_of(belief(extra=extra, top_up_water=water), threads=1)


def fake_view(drawn: Drawn, water: str = "soft") -> FakeView:
    """A view of what was drawn; its stores and its outlook tell the same of the first day."""
    real = plain(drawn.entries, water)
    rng = np.random.default_rng(drawn.seed)
    members = len(real.belief)

    def about(middle: float) -> np.ndarray:
        made = middle * np.exp(0.5 * drawn.spread * rng.standard_normal(members))
        return made * middle / np.median(made)

    now = {
        "ammonium_concentration": about(drawn.ammonium),
        "nitrite_concentration": about(drawn.nitrite),
        "nitrate_concentration": about(drawn.nitrate), "copper_concentration": about(drawn.copper),
        "alkalinity_concentration": about(drawn.kh / DH), "gh": about(drawn.gh / DH),
        "conductivity": about(drawn.ec), "oxygen_concentration": about(drawn.oxygen),
        "temperature": np.full(members, 273.15 + drawn.celsius),
        "ph": np.full(members, drawn.ph), "canopy_cover": np.full(members, drawn.cover),
    }  # fmt: skip
    share = 1.0 / (1.0 + 10.0 ** (9.25 - drawn.ph))
    now["ammonia_concentration"] = now["ammonium_concentration"] * share
    run = _run(real.ahead.run, now, drawn.drift)
    bel = replace(real.belief, end=_stores(real, drawn, now), values={})
    habits = replace(real.ahead.habits, top_up_water=water)
    ahead = Ahead(bel, real.ahead.times, run, habits)
    made = FakeView(bel, ahead, limits_of(ahead), 1)
    object.__setattr__(made, "said", drawn.plan)
    return made


def _run(real: Trajectory, now: dict[str, np.ndarray], drift: float) -> Trajectory:
    values = real.values.copy()
    grown = np.linspace(1.0, drift, DAYS)[:, None]
    for name, held in now.items():
        moves = name in ("conductivity", "gh", "alkalinity_concentration")
        values[:, real.outputs.index(name)] = held * (grown if moves else 1.0)
    low, high = real.low.copy(), real.high.copy()
    for i, name in enumerate(real.tracked):
        low[:, i] = high[:, i] = values[:, real.outputs.index(name)]
    return replace(real, values=values, low=low, high=high, extents=None)


def _stores(real: View, drawn: Drawn, now: dict[str, np.ndarray]) -> np.ndarray:
    table, end = real.belief.case.table, real.belief.end.copy()
    litres = drawn.full * real.tank.net_l
    end[:, table.at("state", "water")] = litres
    for name in ("ammonium", "nitrite", "nitrate", "copper", "alkalinity"):
        end[:, table.at("state", name)] = now[f"{name}_concentration"] * litres
    end[:, table.at("state", "calcium")] = now["gh"] * 20.039 * litres
    bicarbonate = now["alkalinity_concentration"] * 12.011
    end[:, table.at("state", "carbon_inorganic")] = (
        bicarbonate * (1.0 + 10.0 ** (6.35 - drawn.ph)) * litres
    )  # fmt: skip
    slot = next(iter(real.belief.case.plants.slots.values()))
    area = real.belief.parameters[:, table.at("parameter", f"{slot}_cover_area")]
    density = -np.log(1.0 - drawn.cover) / area
    end[:, table.at("state", f"{slot}_carbon")] = density * 378.0 * real.tank.surface_m2
    return end
