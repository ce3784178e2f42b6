"""A holiday: how far to thin before leaving, how much water runs short, and what a neighbour does.

Members run through the days away under each cover left and each lamp, with the same weather and
errors; the most cover that keeps every limit within its chance is taken, since it takes least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.engine.kernel import Array
from pleuston.engine.schedule import Event
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.habits import Habits, habits_of, share_each
from pleuston.planning.hours import local_time
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import animals_of, limits_of
from pleuston.planning.plan import AS_NOW, Plan
from pleuston.planning.planner import cell, span, step, table
from pleuston.planning.plans import SOON
from pleuston.planning.policy import ALLOWED, CHECK, ammonia_stored
from pleuston.planning.sources import Source, sources
from pleuston.planning.whatif import Tried, drivers_of, tried

SHARE = 1 / 3
"""Of what is fed usually: common practice, adult animals in planted tanks find the rest."""
EVERY = 2
"""Days from one portion to the next."""
MOST_DAYS = 56
UNFED_DAYS = 14
"""Days that grown, well-fed animals go without food: common practice, no source."""
MOST_COVER = 50.0
"""Cover [%] that is not to be passed while away unless another is asked for: common practice, no
source."""
COVERS = (None, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05)
"""Covers tried, most first; None thins nothing."""
LAMPS = (1.0, 0.75)
"""Shares of the light's hours tried: a quarter less is common practice."""
JUDGED = ("oxygen_dawn", "ammonia_nh3")
FIRST_MEMBERS = 48
LOW_WATER = 0.1
"""Share of the water gone from which someone must top up: guess."""


def portion(grams_a_day: float | None) -> float | None:
    """Grams in one bag: a third of the usual food of the days that it stands for.

    >>> round(portion(0.06), 3)
    0.04
    """
    return None if grams_a_day is None else SHARE * EVERY * grams_a_day


def feeding_days(days: int) -> list[int]:
    """Days with a portion, counted from 0: not the first, for animals were fed before.

    >>> feeding_days(7)
    [1, 3, 5]
    """
    return list(range(1, days, EVERY))


def cover_after(cover: float, rate: float, days: float) -> float:
    """Cover [1] of plants that grow by a rate [1/d] towards a full surface (logistic).

    >>> round(cover_after(0.1, 0.2, 14.0), 2)
    0.65
    """
    grown = cover * float(np.exp(rate * days))
    return grown / (1.0 - cover + grown)


@dataclass(frozen=True)
class Leaving:
    """One way to leave a tank, run: what is left afloat, the lamp, and chances by what is judged.

    chances: key of a limit, or `cover`, -> chance; allowed likewise: what is put up with, or,
    of a limit to act at, the chance of going on as usual where that is higher.
    """

    cover: float | None
    lamp: float
    tried: Tried
    chances: dict[str, float]
    allowed: dict[str, float]
    words: dict[str, str]

    @property
    def holds(self) -> bool:
        """Whether every chance is within what is put up with."""
        return all(self.chances[n] <= self.allowed[n] for n in self.chances)

    @property
    def beyond(self) -> float:
        """By how much chances are beyond what is put up with, together."""
        return sum(max(0.0, self.chances[n] - self.allowed[n]) for n in self.chances)


def low_salt_water(belief: TankBelief, habits: Habits) -> Source | None:
    """The water of least conductivity; none that would raise the pH while ammonia is stored."""
    found = list(sources(belief.case, belief.at))
    if ammonia_stored(belief):
        table_, end = belief.case.table, belief.end
        held = end[:, table_.at("state", "alkalinity")] / end[:, table_.at("state", "water")]
        buffer = float(np.median(held))
        found = [w for w in found if w.per_litre["alkalinity"] <= buffer] or [
            w for w in found if w.name == habits.top_up_water
        ]
    return min(found, key=lambda w: w.ec25, default=None)


def before_leaving(
    belief: TankBelief, habits: Habits, cover: float | None, water: Source | None
) -> list[Event]:
    """What is done the day before: thin to a cover, fill up to the mark."""
    case, day = belief.case, belief.at + SOON
    slots = list(case.plants.slots.values())
    made = []
    if cover is not None and slots:
        each = share_each(cover, len(slots))
        made = [
            Event(day, f"harvest_{slot}", {"harvest_grams": 0.0, "harvest_cover": each})
            for slot in slots
        ]
    name = water.name if water is not None else habits.top_up_water
    return [*made, case.maker.top_up_event(day, name)] if name else made


def _left(
    belief: TankBelief, days: int, neighbour: bool, most: float, habits: Habits,
    water: Source | None, threads: int | None, members: int,
    ways: Sequence[tuple[float | None, float]],
) -> tuple[Tried, list[Leaving]]:  # fmt: skip
    """Going on as usual, and each way of leaving, on the same members."""
    case = belief.case
    setup = case.record.tank_at(case.tank.name, case.clock.moment(belief.at))
    drivers = drivers_of(belief, days)
    usual = tried(belief, AS_NOW, days, members, habits=habits, threads=threads,
                  usual_drivers=drivers)  # fmt: skip
    limits = [x for x in limits_of(usual.ahead)
              if x.quantity in JUDGED and x.severity in ("act", "danger")]  # fmt: skip
    made = []
    for cover, lamp in ways:
        light = setup.light_hours * lamp if lamp < 1.0 and setup.light_hours else None
        plan = Plan(
            "away", holiday=float(days), neighbour=neighbour, light=light,
            holiday_feed=SHARE if neighbour else 0.0,
        )  # fmt: skip
        run = tried(belief, plan, days, members, habits=habits, threads=threads,
                    usual_drivers=drivers, extra=before_leaving(belief, habits, cover, water))
        made.append(_judged(cover, lamp, run, usual, limits, most))
    return usual, made


def _judged(
    cover: float | None, lamp: float, run: Tried, usual: Tried, limits: Sequence[Limit],
    most: float,
) -> Leaving:  # fmt: skip
    """A way of leaving: a limit to act at may be crossed no likelier than at home, if more than
    is put up with there; one of danger never likelier than is put up with."""
    good = run.ahead.run.good & usual.ahead.run.good
    chances = {"cover": float((run.ahead.values("cover")[:, good] > most).any(axis=0).mean())}
    allowed = {"cover": ALLOWED["act"]}
    words = {"cover": f"Cover beyond {most:.0f} %"}
    for limit in limits:
        over, home = (float(t.ahead.crossed(limit)[:, good].any(axis=0).mean())
                      for t in (run, usual))  # fmt: skip
        chances[limit.key] = over
        allowed[limit.key] = ALLOWED[limit.severity]
        if limit.severity == "act":
            allowed[limit.key] = max(allowed[limit.key], home)
        words[limit.key] = limit.word.capitalize()
    return Leaving(cover, lamp, run, chances, allowed, words)


def choose(ways: Sequence[Leaving]) -> Leaving:
    """The first way that holds, in the order given; else the one least beyond."""
    return next((w for w in ways if w.holds), min(ways, key=lambda w: w.beyond))


def away(
    belief: TankBelief, days: int, *, neighbour: bool = False, most_cover: float = MOST_COVER,
    threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """How to leave a tank for some days, with or without a neighbour, as an answer.

    most_cover: the cover [%] not to be passed. Raises InputError for days or covers that can't
    be meant.
    """
    if not 1 <= days <= MOST_DAYS:
        raise InputError(f"{days} days", "plan away", f"give 1 to {MOST_DAYS} days")
    if not 10.0 < most_cover <= 100.0:
        raise InputError(f"a cover of {most_cover:g} %", "plan away", "give more than 10 to 100 %")
    habits = habits_of(belief.case, belief.at)
    water = low_salt_water(belief, habits)
    covers = COVERS if belief.case.plants.slots else (None,)
    lit = bool(belief.case.tank.light_hours)
    ways = [(c, lamp) for c in covers for lamp in (LAMPS if lit else LAMPS[:1])]
    ask = (belief, days, neighbour, most_cover, habits, water, threads)
    _, found = _left(*ask, FIRST_MEMBERS, ways)
    first = choose(found)
    place = ways.index((first.cover, first.lamp))
    last = list(dict.fromkeys([*ways[place : place + 3], (None, 1.0)]))
    usual, checked = _left(*ask, CHECK, last)
    left = next(w for w in checked if (w.cover, w.lamp) == (None, 1.0))
    best = choose(checked if (first.cover, first.lamp) == (None, 1.0) else
                  [w for w in checked if w is not left])  # fmt: skip
    return _answer(belief, days, neighbour, most_cover, habits, water, usual, left, best)


def short_of(left: Tried) -> Array:
    """(members,) litres gone below the mark at the end."""
    area = left.ahead.belief.case.tank.surface_m2
    values = left.ahead.values("level_drop")[-1][left.ahead.run.good]
    return np.asarray(np.maximum(values, 0.0) * area)


def _three(values: Array) -> list[float]:
    return [float(v) for v in np.quantile(values, [0.1, 0.5, 0.9])]


def _bags(belief: TankBelief, days: int, grams: float | None) -> list[dict[str, Any]]:
    start = belief.case.record.local(belief.case.clock.moment(belief.at))
    if grams is None:
        return []
    return [
        {"day": (start + timedelta(days=d)).date().isoformat(), "grams": round(grams, 3)}
        for d in feeding_days(days)
    ]


def _answer(
    belief: TankBelief, days: int, neighbour: bool, most: float, habits: Habits,
    water: Source | None, usual: Tried, left: Leaving, best: Leaving,
) -> dict[str, Any]:  # fmt: skip
    case = belief.case
    litres = _three(short_of(best.tried))
    grams = portion(habits.feed_per_day) if neighbour and habits.feed_per_day > 0.0 else None
    fed = bool(animals_of(case, belief.at))
    bags = _bags(belief, days, grams if fed else None)
    name = water.name if water is not None else habits.top_up_water
    data: dict[str, Any] = {
        "planner": "away", "tank": case.tank.name, "at": local_time(belief, belief.at),
        "model": belief.model, "seed": belief.seed, "days": days, "neighbour": neighbour,
        "most_cover": most, "thin_to": None if best.cover is None else round(100 * best.cover),
        "light_hours": best.tried.plan.light, "top_up_water": name, "litres_short": litres,
        "bags": bags, "holds": best.holds, "chances": best.chances, "allowed": best.allowed,
        "chances_left_alone": left.chances,
        "at_home": {best.words[n]: p for n, p in best.allowed.items() if p > ALLOWED["act"]},
        "cover_at_end": _three(best.tried.ahead.values("cover")[-1]),
    }  # fmt: skip
    return data | {
        "headline": _headline(data), "said": [*_said(data, case.tank.net_l), basis(belief)],
        "steps": _steps(data, case.tank.surface_m2),
        "tables": [_beside(data, usual, left, best), _chances(best, left)],
        "cautions": [
            CAUTIONS["thin"], CAUTIONS["water_change"],
            "Nobody who looks in puts hands into the water with plugs in their sockets.",
        ],
        "sources": ["common_practice"],
    }  # fmt: skip


def _headline(d: dict[str, Any]) -> str:
    thin = "Nothing need be thinned" if d["thin_to"] is None else (
        f"Thin to {d['thin_to']} % of the surface the day before")  # fmt: skip
    food = "no food" if not d["bags"] else f"{len(d['bags'])} bags of {d['bags'][0]['grams']:.2g} g"
    return f"{thin}, fill to the mark, {food} for {d['days']} days"


def _said(d: dict[str, Any], net: float) -> list[str]:
    low, middle, high = d["litres_short"]
    said = []
    if not d["holds"]:
        said.append(
            "Nothing that was tried keeps every limit within its chance: someone should look in, "
            "or animals stay with somebody for these days."
        )
    said += [
        f"'{word}' has a chance of {chance:.0%} at home, too, more than is put up with: see to it "
        "before you leave, and have someone look in at dawn."
        for word, chance in d["at_home"].items()
    ]
    who = "even with the neighbour" if d["neighbour"] else "with nobody topping up"
    said.append(
        f"{short(middle)} L ({short(low)} to {short(high)}) will be short at the end {who}."
    )
    if high > LOW_WATER * net and not d["neighbour"]:
        said.append(
            f"That may be more than {LOW_WATER:.0%} of the water: heater and lamp must bear it, "
            "salts get as much stronger; better ask somebody to top up weekly."
        )
    if d["days"] > UNFED_DAYS and not d["neighbour"]:
        said.append(
            f"More than {UNFED_DAYS} days without food or a look is not for young, breeding or "
            "thin animals, and not advised for any: ask somebody in."
        )
    return said


def _steps(d: dict[str, Any], area: float) -> list[dict[str, Any]]:
    thin = "Leave the floating plants as they are" if d["thin_to"] is None else (
        f"The day before: thin to {d['thin_to']} % of the surface")  # fmt: skip
    lamp = d["light_hours"]
    made = [
        step(thin, f"At the end they cover {d['cover_at_end'][0]:.0f} to "
             f"{d['cover_at_end'][2]:.0f} % by the members; no more than {d['most_cover']:.0f} % "
             "is wished."),
        step(
            f"Fill to the mark with {d['top_up_water'] or 'the water of least salt'}",
            "What evaporates leaves its salts: the water of least salt adds the least.",
            f"Each millimetre above the mark holds {area:.2g} L more. Fill above it only where "
            "lid, lamp and jumping animals allow two centimetres to the rim.",
        ),
        step("Leave the lamp as it is" if lamp is None else f"Set the lamp to {lamp:.1f} h a day"),
    ]  # fmt: skip
    if d["bags"]:
        made.append(step(
            f"Weigh {len(d['bags'])} bags of {d['bags'][0]['grams']:.2g} g, one for a day",
            "For " + ", ".join(b["day"] for b in d["bags"]) + ".",
            "A third of what is fed usually; the jar is put away. A missed bag harms nobody.",
        ))  # fmt: skip
    else:
        made.append(step("No food while you are away",
                         "Feed as usual until the day before, not more."))  # fmt: skip
    if d["neighbour"]:
        made.append(step("Print the holiday sheet for the neighbour",
                         "It takes these amounts: Paper, holiday sheet."))  # fmt: skip
    return made


def _beside(d: dict[str, Any], usual: Tried, left: Leaving, best: Leaving) -> dict[str, Any]:
    rows = []
    for word, quantity, unit, at in (
        ("Cover at the end", "cover", "%", "end"), ("Least oxygen at dawn", "oxygen_dawn", "mg/L",
                                                   "low"),
        ("Conductivity at the end", "ec25", "uS/cm", "end"), ("Water below the mark", "level_drop",
                                                             "mm", "end"),
    ):  # fmt: skip
        cells = []
        for run in (usual, left.tried, best.tried):
            values = run.ahead.values(quantity)[:, run.ahead.run.good]
            seen = values.min(axis=0) if at == "low" else values[-1]
            low, _, high = _three(seen)
            cells.append(span(low, high, unit))
        rows.append([word, *cells])
    del d
    return table("Beside staying at home", ["", "As usual", "Left as it is", "As advised"], rows)


def _chances(best: Leaving, left: Leaving) -> dict[str, Any]:
    return table(
        "Chances while away", ["", "Left as it is", "As advised", "Put up with"],
        [
            [best.words[n],
             cell(100 * left.chances[n], "%"), cell(100 * best.chances[n], "%"),
             cell(100 * best.allowed[n], "%")]
            for n in best.chances
        ],
    )  # fmt: skip
