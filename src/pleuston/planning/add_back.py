"""Is potassium or iron short? Give some back to one half, none to the other, and weigh growth.

The trial is laid out from the belief: what is dosed, how much more growth it would bring if it
were short by the model, and how much weighing can show. Afterwards the readings decide, paired.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.engine.ensemble import INTERACTIVE
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Event
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.compare import interval, t_quantile
from pleuston.planning.dosing import dose_mass
from pleuston.planning.habits import future_events, habits_of
from pleuston.planning.hours import local_time
from pleuston.planning.planner import cell, span, step, table

DAYS = 12
LEAST_DAYS, MOST_DAYS = 10, 14
MEMBERS = 100
RISES = {"potassium": 5.0, "iron": 0.1}
"""What is given back [mg/L]: for potassium keepers' usual add-back; for iron common practice."""
SUBSTANCES = {"potassium": "potassium sulfate", "iron": "chelated iron"}
WEIGHING = 0.15
"""Error of a drained mass, as a share: clinging water and drip time, common practice."""
PAIRS = 4
"""Pairs without which nothing is told: as in comparing floaters."""



@dataclass(frozen=True)
class Trial:
    """One pair: mass at first and at the end of the dosed and the undosed half [g]."""

    dosed: tuple[float, float]
    control: tuple[float, float]
    days: float = float(DAYS)

    def __post_init__(self) -> None:
        masses = (*self.dosed, *self.control)
        if not (all(np.isfinite(m) and m > 0.0 for m in masses) and self.days > 0.0):
            raise InputError(
                "a mass or a number of days is not above 0", "plan add-back",
                "weigh drained plants at the start and at the end",
            )  # fmt: skip

    @property
    def difference(self) -> float:
        """Growth of the dosed half over that of the other, of each gram [1/d]."""
        grown = np.log(self.dosed[1] / self.dosed[0]) - np.log(self.control[1] / self.control[0])
        return float(grown) / self.days


# -- before --------------------------------------------------------------------------


def grown(
    belief: TankBelief, element: str, rise: float, days: int, threads: int | None = None
) -> tuple[Array, Array]:
    """(members,) growth of each gram of floating plants [1/d]: as now, and with the dose.

    Plants are fed and topped up as by habit, and not thinned in between.
    """
    case, at = belief.case, belief.at
    habits = habits_of(case, at)
    events = [
        e for e in future_events(case, at, days, habits) if not e.jump.startswith("harvest_")
    ]
    litres = float(np.median(belief.end[:, case.table.at("state", "water")]))
    dose = Event(at + 1.0 / 24.0, "dose", {f"dose_{element}": rise * litres})
    found = []
    take = slice(0, MEMBERS)
    slots = list(case.plants.slots.values())
    states = [case.table.at("state", f"{slot}_carbon") for slot in slots]
    good = np.ones(len(belief.end[take]), dtype=bool)
    for extra in ([], [dose]):
        run = run_tank(
            case.schedule(at, at + days, [at + days], events=[*events, *extra]),
            belief.end[take], belief.parameters[take], outputs=["water"], scale=case.scale,
            tolerance=INTERACTIVE, threads=threads,
        )  # fmt: skip
        good &= run.good
        before = belief.end[take][:, states].sum(axis=1)
        found.append(np.log(run.end[:, states].sum(axis=1) / before) / days)
    return found[0][good], found[1][good]


def shown_by(pairs: int, days: float, weighing: float = WEIGHING) -> float:
    """The least difference of growth [1/d] that pairs of weighings show with 95 %.

    Each growth is the log of two masses: their errors add up to twice the weighing's square.

    >>> round(shown_by(4, 12.0), 4)
    0.0398
    """
    sd = weighing * float(np.sqrt(4.0)) / days
    return t_quantile(0.975, pairs - 1.0) * sd / float(np.sqrt(pairs))


def add_back(
    belief: TankBelief, element: str, *, rise: float | None = None, days: int = DAYS,
    pairs: int = PAIRS, purity: float = 1.0, threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """How to lay out an add-back trial in a tank, and what its result would mean, as an answer.

    Raises InputError where nothing floats in the tank, or days or pairs can't show anything.
    """
    _check(belief, element, days, pairs)
    rise = RISES[element] if rise is None else rise
    litres = belief.case.tank.net_l
    substance = SUBSTANCES[element]
    mass = dose_mass(substance, element, rise, litres, purity)
    tub = 5.0
    now, dosed = grown(belief, element, rise, days, threads)
    more = dosed - now
    least = shown_by(pairs, days)
    likely = float((more > least).mean())
    quantiles = [float(q) for q in np.quantile(more, [0.1, 0.5, 0.9])]
    usual = [float(q) for q in np.quantile(now, [0.1, 0.5, 0.9])]
    answer = {
        "planner": "add-back", "tank": belief.case.tank.name, "element": element,
        "at": local_time(belief, belief.at), "model": belief.model, "seed": belief.seed,
        "substance": substance, "rise": rise, "milligrams": mass, "days": days, "pairs": pairs,
        "growth_now": usual, "more_growth": quantiles, "shown_from": least, "likely": likely,
    }  # fmt: skip
    in_tub = dose_mass(substance, element, rise, tub, purity)
    made: dict[str, Any] = answer | _words(answer, mass, in_tub, tub)
    return made | {"said": [*made["said"], basis(belief)]}


def _check(belief: TankBelief, element: str, days: int, pairs: int) -> None:
    where = "plan add-back"
    if element not in RISES:
        raise InputError(f"there is no trial of {element!r}", where, f"use {', '.join(RISES)}")
    if not belief.case.plants.slots:
        raise InputError(
            f"nothing floats in {belief.case.tank.name} by the record", where,
            "note its floating plants: their growth is what answers",
        )  # fmt: skip
    if not LEAST_DAYS <= days <= MOST_DAYS:
        raise InputError(f"{days} days", where, f"give {LEAST_DAYS} to {MOST_DAYS} days")
    if pairs < 2:
        raise InputError(f"{pairs} pairs", where, "two pairs at least, four are better")


def _words(a: dict[str, Any], mass: float, in_tub: float, tub: float) -> dict[str, Any]:
    name = a["element"]
    more, least = a["more_growth"], a["shown_from"]
    word = "is likely" if a["likely"] >= 0.5 else "is not likely"
    expects = (
        f"By the belief {name} {word} to be short: a response that can be weighed is expected in "
        f"{a['likely']:.0%} of members."
    )
    return {
        "headline": f"{short(mass)} mg of {a['substance']} for {short(a['rise'])} mg/L of {name}; "
        f"weigh after {a['days']} days",
        "said": [
            expects,
            f"Growth as now {short(a['growth_now'][0])} to {short(a['growth_now'][2])} of each "
            f"gram a day; with the dose {more[0]:+.3f} to {more[2]:+.3f} more. {a['pairs']} pairs, "
            f"weighed to {WEIGHING:.0%}, show a difference from {least:.3f} a day on.",
        ],
        "steps": _layout(a, mass, in_tub, tub),
        "tables": [table("What to expect", ["", "Range"], [
            ["Growth of a gram a day, as now", span(a["growth_now"][0], a["growth_now"][2], "1/d")],
            ["More with the dose", span(more[0], more[2], "1/d")],
            ["Shown by this many pairs from", cell(least, "1/d")],
        ])],
        "cautions": [CAUTIONS["dose"], CAUTIONS["thin"]], "sources": ["common_practice"],
    }  # fmt: skip


def _layout(a: dict[str, Any], mass: float, in_tub: float, tub: float) -> list[dict[str, Any]]:
    """What to do, and what each result would mean."""
    name, days, least = a["element"], a["days"], a["shown_from"]
    return [
        step(
            f"Set {a['pairs']} pairs of equal drained mass apart",
            "Drain five minutes, weigh, and note it. The halves must not share water: plants "
            "of one tank share what is dosed, so the undosed half floats in a tub of the same "
            f"tank's water ({tub:g} L) under the same lamp, or in a like tank.",
            "Draw lots which of a pair is dosed. No half touches another; each covers less "
            "than half of its surface, so that crowding does not answer for the dose.",
        ),
        step(
            f"Dose once: {mass:.0f} mg for the whole tank, or {in_tub:.0f} mg for a tub of "
            f"{tub:g} L",
            "By net litres, dissolved first, poured in slowly.",
            "Give the undosed half nothing, but stir it the same." if name == "potassium" else
            "Iron goes from water within days: give half of it again after five days.",
        ),
        step(f"Weigh all after {days} days", "Same drip time, same scale, within the hour."),
        step(
            "What it would mean",
            f"Difference above 0 with its interval: {name} was short; dose "
            f"{short(a['rise'])} mg/L with every {days} days' harvest, and read it monthly.",
            f"Interval within {least:.3f} a day of 0: {name} is not what holds growth back; "
            "look at light, nitrogen, phosphorus, crowding.",
            "An interval wider than that: not told; add pairs.",
        ),
    ]


# -- after ---------------------------------------------------------------------------


def analysed(trials: Sequence[Trial], element: str) -> dict[str, Any]:
    """What a trial showed: the mean difference of growth with its 95 % interval, as an answer."""
    if element not in RISES:
        raise InputError(
            f"there is no trial of {element!r}", "plan add-back", f"use {', '.join(RISES)}"
        )
    apart = np.array([t.difference for t in trials])
    found = interval(apart)
    days = float(np.mean([t.days for t in trials])) if trials else float(DAYS)
    least = shown_by(max(len(trials), 2), days)
    said, verdict = _verdict(found, element, len(trials), least)
    rows = [
        [f"{i}", cell(float(np.log(t.dosed[1] / t.dosed[0])) / t.days, "1/d"),
         cell(float(np.log(t.control[1] / t.control[0])) / t.days, "1/d"),
         cell(t.difference, "1/d")]
        for i, t in enumerate(trials, 1)
    ]  # fmt: skip
    return {
        "planner": "add-back", "element": element, "pairs": len(trials), "difference": found,
        "verdict": verdict, "headline": said[0], "said": said[1:], "steps": [],
        "tables": [table("The pairs", ["Pair", "Dosed", "Not dosed", "Difference"], rows)],
        "cautions": [], "sources": ["common_practice"],
    }  # fmt: skip


def _verdict(
    found: dict[str, float] | None, element: str, pairs: int, least: float
) -> tuple[list[str], str]:
    if found is None:
        return [f"Not told: {pairs} pairs, {PAIRS} are needed"], "not told"
    low, high = found["low"], found["high"]
    words = f"{found['mean']:+.3f} a day ({low:+.3f} to {high:+.3f})"
    if low > 0.0:
        return [
            f"{element.capitalize()} was short: the dosed half grew more, by {words}",
            "Go on dosing by the harvest, and look again in a month.",
        ], "short"
    if high < 0.0:
        return [
            f"The dosed half grew less, by {words}: the dose did not help",
            f"Look for what differed besides; {element} was not short.",
        ], "not short"
    if -least <= low and high <= least:
        return [
            f"{element.capitalize()} is not what holds growth back: {words}",
            "Look at light, nitrogen, phosphorus and crowding.",
        ], "not short"
    return [
        f"Not told: the difference is {words}, which holds 0 and much besides",
        "Add pairs, or weigh with more care.",
    ], "not told"


def trials_from(text: str, days: float = DAYS) -> list[Trial]:
    """Read weighings: `DOSED-BEFORE DOSED-AFTER CONTROL-BEFORE CONTROL-AFTER`, pairs between /.

    >>> trials_from("5 9 5 7 / 5 8.5 5 7.2")[0].control
    (5.0, 7.0)
    """
    made = []
    for part in (p for p in text.split("/") if p.strip()):
        try:
            numbers = [float(n) for n in part.split()]
        except ValueError:
            numbers = []
        if len(numbers) != 4:
            raise InputError(
                f"{part.strip()!r} is not four masses", "plan add-back",
                "write: dosed before, dosed after, undosed before, undosed after, in g",
            )  # fmt: skip
        made.append(Trial((numbers[0], numbers[1]), (numbers[2], numbers[3]), days))
    return made
