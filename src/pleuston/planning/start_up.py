"""Starting a tank: what soil and young bacteria do, how much to plant, and when animals may come.

The planned tank is run from the literature's priors, as one nobody has read yet; a tank of the
record from what is believed of it. Animals come after proof alone: two weeks below the first
steps of the kits, and an added bit of ammonia that is gone after a day. A date is no proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Event
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.correction import needed_share
from pleuston.planning.habits import Habits, future_events, habits_of, share_each
from pleuston.planning.outlook import animals_of
from pleuston.planning.planner import cell, span, step, table
from pleuston.records.composition import element_share, molar_mass
from pleuston.records.library import library
from pleuston.records.record import Entry, Record, Tank

MEMBERS = 40
DAYS = 84
PROOF = 14
"""Days on end below the first steps: common practice of careful keepers, no source."""
TEST_RISE = 0.5
"""Ammonia that the uptake test adds [mg/L of N]: some steps of a kit, harmless to plants."""
AFTER = 1.0
"""Days after which it must be gone again."""
PLANTED = 650.0
"""Drained rooted plants on a square metre of densely planted bottom [g]: guess."""
SHARES = (0.25, 0.75)
"""Shares of the bottom planted that are compared with the plan's own; keepers advise 60 to 75 %."""
DENSE = 0.6
CHANGE_AT = 1.0
"""Ammonia [mg/L of N] above which an early change of water is worth it while no animal is in:
common practice, no source."""
EARLY_CHANGE, EARLY_WEEKS = 0.3, 4
"""Share changed weekly, and for how many weeks, in the run that shows what changes do."""
KEEP_FILTER, WITHOUT = 4, 2
"""Least weeks that a filter goes on after a conversion, and weeks it is then throttled before it
goes: common practice, no source."""
CHLORIDE = 35.45
NAME = "planned"
OUTPUTS = ("ammonium_concentration", "nitrite_concentration", "nitrate_concentration",
           "oxygen_concentration", "ammonia_concentration")  # fmt: skip


@dataclass(frozen=True)
class Start:
    """How a tank is to be started.

    tank: its measures, bed and light; water: a water or blend of the record; planted: share of
    the bottom; floater: a species, or empty; cover: share of the surface at first; steps: first
    steps of the kits for ammonia and nitrite [mg/L of N]; converts: it runs with a filter now.
    """

    tank: Tank
    water: str
    planted: float = DENSE
    floater: str = "Lemna minor"
    cover: float = 0.25
    steps: tuple[float, float] = (0.2, 0.05)
    converts: bool = False


def ammonium_chloride(litres: float, rise: float = TEST_RISE, purity: float = 1.0) -> float:
    """Milligrams of ammonium chloride that raise ammonia in some litres: rise x V x M / 14.007.

    >>> round(ammonium_chloride(40.0), 1)
    76.4
    """
    mass = float(molar_mass("ammonium")) + CHLORIDE
    per_nitrogen = float(element_share("ammonium") * molar_mass("ammonium")) / mass
    return rise * litres / (per_nitrogen * purity)


def first_proof(below: np.ndarray, days: int = PROOF) -> Array:
    """The day on which a span of days on end below the steps is full; NaN where it never is.

    below: (days, members), one row a day.

    >>> first_proof(np.array([[True], [False], [True], [True], [True]]), 3).tolist()
    [5.0]
    """
    run = np.zeros(below.shape[1])
    found = np.full(below.shape[1], np.nan)
    for day, row in enumerate(below, start=1):
        run = np.where(row, run + 1.0, 0.0)
        found = np.where(np.isnan(found) & (run >= days), float(day), found)
    return found


# -- the planned tank ----------------------------------------------------------------


def planned_record(record: Record, start: Start, at: datetime) -> Record:
    """A record of the planned tank alone, with the rack's waters, soils and room."""
    began = at - timedelta(days=365) if start.converts else at
    tank = replace(
        start.tank, name=NAME, started=began, soil_since=at, top_up_water=start.water
    )
    entries = [_entry(at, "plant_in", "Vallisneria spiralis", rooted_grams(start), "g")]
    if start.floater and start.cover > 0.0:
        entries.append(_entry(at, "plant_in", start.floater, floater_grams(start), "g"))
    return replace(record, tanks=(tank,), entries=tuple(entries))


def _entry(at: datetime, kind: str, what: str, amount: float, unit: str) -> Entry:
    return Entry(f"start-{kind}-{what}", at, NAME, kind, what, amount, amount, unit)


def rooted_grams(start: Start) -> float:
    """Drained grams of rooted plants for the share of the bottom that is planted."""
    return PLANTED * start.planted * start.tank.surface_m2


def floater_grams(start: Start) -> float:
    """Drained grams of floating plants for the cover at first."""
    value = library().find_species(start.floater).full_cover_g_m2
    full = value.best if value is not None else 700.0
    return full * start.cover * start.tank.surface_m2


@dataclass(frozen=True)
class Course:
    """Members of a starting tank, day by day."""

    belief: TankBelief
    run: Trajectory
    steps: tuple[float, float]

    def of(self, output: str) -> Array:
        """(days, members) of an observed quantity, of the members that went through."""
        return np.asarray(self.run.of(output)[:, self.run.good])

    @property
    def proof(self) -> Array:
        """(members,) the day on which the proof of two weeks is full."""
        ammonia, nitrite = self.steps
        below = (self.of("ammonium_concentration") < ammonia) & (
            self.of("nitrite_concentration") < nitrite
        )
        return first_proof(below)

    @property
    def released(self) -> Array:
        """(members,) ammonia that the soil gives the water over the course, less what it takes
        back [mg of N]."""
        assert self.run.extents is not None
        rows = [r["name"] for r in self.belief.case.table.data["rows"]]
        out, back = (
            self.run.extents[-1, rows.index(f"diffuse_ammonium_{way}")] for way in ("out", "in")
        )
        return np.asarray((out - back)[self.run.good])

    def dawn(self) -> Array:
        """(days, members) lowest oxygen of each day."""
        return np.asarray(self.run.of("lowest_oxygen_concentration")[:, self.run.good])


def course_of_plan(
    record: Record, start: Start, at: datetime, *, changes: float = 0.0, seed: int = 1,
    threads: int | None = None,
) -> Course:  # fmt: skip
    """The planned tank from priors; changes: share of the water changed in each early week."""
    made = planned_record(record, start, at)
    belief = learn_tank(
        made, NAME, at, members=MEMBERS, seed=seed, threads=threads, from_prior=True
    )
    slots = list(belief.case.plants.slots.values())
    habits = Habits(
        (), dict.fromkeys(slots, share_each(0.5, len(slots))), 7.0, start.water, 7.0, 10.0,
        belief.at, belief.at,
    )  # fmt: skip
    return _course(belief, habits, start.steps, changes, threads)


def course_of_tank(
    belief: TankBelief, steps: tuple[float, float], *, changes: float = 0.0,
    threads: int | None = None,
) -> Course:  # fmt: skip
    """A tank of the record from what is believed of it, fed and thinned as by habit."""
    return _course(belief, habits_of(belief.case, belief.at), steps, changes, threads)


def _course(
    belief: TankBelief, habits: Habits, steps: tuple[float, float], changes: float,
    threads: int | None,
) -> Course:  # fmt: skip
    case, at = belief.case, belief.at
    events = future_events(case, at, DAYS, habits)
    for week in range(EARLY_WEEKS if changes else 0):
        day = at + 7.0 * week + 3.0
        events += case.maker.change_events(day, habits.top_up_water, changes * case.tank.net_l)
    take = slice(0, MEMBERS)
    times = at + np.arange(1, DAYS + 1, dtype=float)
    run = run_tank(
        case.schedule(at, at + DAYS, times, events=events), belief.end[take],
        belief.parameters[take], outputs=list(OUTPUTS), scale=case.scale, tolerance=INTERACTIVE,
        threads=threads, extents=True,
    )  # fmt: skip
    return Course(belief, run, steps)


def uptake(course: Course, rise: float = TEST_RISE, threads: int | None = None) -> Array:
    """(members,) ammonia left a day after a test dose at the end of a course [mg/L of N].

    It shows what a tank that is ready does with the dose.
    """
    belief, run = course.belief, course.run
    case, start = belief.case, belief.at + DAYS
    litres = run.end[:, case.table.at("state", "water")]
    dose = Event(start, "dose", {"dose_ammonium": rise * float(np.median(litres))})
    later = run_tank(
        case.schedule(start, start + AFTER, [start + AFTER], events=[dose]), run.end,
        belief.parameters[:MEMBERS], outputs=["ammonium_concentration"], scale=case.scale,
        tolerance=INTERACTIVE, threads=threads,
    )  # fmt: skip
    return np.asarray(later.of("ammonium_concentration")[-1][run.good & later.good])


# -- in words ------------------------------------------------------------------------


def start_up(
    record: Record, start: Start, at: datetime, *, free_litres: float | None = None, seed: int = 1,
    threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """How a planned tank is likely to start, and what to do when, as an answer."""
    course = course_of_plan(record, start, at, seed=seed, threads=threads)
    changed = course_of_plan(
        record, start, at, changes=EARLY_CHANGE, seed=seed, threads=threads
    )
    by_share = [(start.planted, course), *(
        (s, course_of_plan(record, replace(start, planted=s), at, seed=seed, threads=threads))
        for s in SHARES if s != start.planted
    )]  # fmt: skip
    by_share.sort(key=lambda found: found[0])
    left = uptake(course, threads=threads)
    made = _answer(course, changed, left, start.steps, start.tank.net_l, start.converts)
    made["tables"] = [_measures(start, free_litres), *made["tables"], _densities(by_share)]
    made["steps"] = [_planting(start), *made["steps"]]
    made["densities"] = [
        {"planted": s, "peak": _peaks(c)[1:], "proof_day": _days(c.proof)} for s, c in by_share
    ]
    return made | {"tank": "", "net_l": start.tank.net_l, "priors_only": True}


def start_up_of_tank(
    belief: TankBelief, steps: tuple[float, float], threads: int | None = None
) -> dict[str, Any]:
    """How a tank of the record goes on starting, by what is believed of it, as an answer."""
    course = course_of_tank(belief, steps, threads=threads)
    changed = course_of_tank(belief, steps, changes=EARLY_CHANGE, threads=threads)
    left = uptake(course, threads=threads)
    tank = belief.case.tank
    made = _answer(course, changed, left, steps, tank.net_l, False)
    if animals_of(belief.case, belief.at):
        made["headline"] = "Animals are in already: readings alone, and no added ammonia"
        made["steps"] = [_stocked(steps)]
        made["test"] = None
    return made | {"tank": tank.name, "net_l": tank.net_l, "priors_only": False}


def _days(proof: Array) -> list[float | None]:
    """Day of proof: 10 %, middle and 90 % of members; None beyond the days looked at."""
    never = np.where(np.isnan(proof), np.inf, proof)
    found = np.quantile(never, [0.1, 0.5, 0.9], method="higher")
    return [None if np.isinf(d) else float(d) for d in found]


def _peaks(course: Course) -> list[float]:
    """Highest ammonia of the course: 10 %, middle, 90 % of members [mg/L of N]."""
    peak = course.of("ammonium_concentration").max(axis=0)
    return [float(q) for q in np.quantile(peak, [0.1, 0.5, 0.9])]


def _answer(
    course: Course, changed: Course, left: Array, steps: tuple[float, float], litres: float,
    converts: bool,
) -> dict[str, Any]:  # fmt: skip
    peaks, early = _peaks(course), _peaks(changed)
    days = _days(course.proof)
    gone = float((left < steps[0]).mean())
    released = [float(q) for q in np.quantile(course.released, [0.1, 0.5, 0.9])]
    mass = ammonium_chloride(litres)
    return {
        "planner": "start-up", "days": DAYS, "members": int(course.run.good.sum()),
        "seed": course.belief.seed, "model": course.belief.model,
        "soil_release": released, "peak_ammonium": peaks, "peak_with_changes": early,
        "proof_day": days,
        "test": {"milligrams": mass, "rise": TEST_RISE, "gone_by": gone},
        "headline": _headline(days), "said": [
            f"In {DAYS // 7} weeks the soil gives off {short(released[0])} to "
            f"{short(released[2])} mg of nitrogen as ammonia, "
            f"{short(released[1] / litres)} mg for each litre.",
            *_said(peaks, early, days, steps, converts), basis(course.belief),
            "These are ranges of what such tanks do; this tank's own readings decide.",
        ],
        "steps": [_early(peaks, litres), *(_filter(days) if converts else []),
                  _proof(steps), _test(mass, litres, steps, left, gone), _first()],
        "tables": [_weeks(course)],
        "cautions": [CAUTIONS["water_change"], CAUTIONS["test"], CAUTIONS["dose"]],
        "sources": ["common_practice"],
    }  # fmt: skip


def _headline(days: Sequence[float | None]) -> str:
    if days[1] is None:
        return "Animals only after proof; in twelve weeks fewer than half of such tanks give it"
    first, half = (days[0] or 0.0) / 7.0, days[1] / 7.0
    if days[0] == days[2]:
        return f"Animals only after proof; by the model it can be given in week {first:.0f}"
    late = "one in ten takes longer than 12" if days[2] is None else (
        f"nine in ten by week {days[2] / 7.0:.0f}")  # fmt: skip
    return (
        f"Animals only after proof; such tanks give it in week {first:.0f} at the earliest, half "
        f"of them by week {half:.0f}, {late}"
    )


def _said(
    peaks: Sequence[float], early: Sequence[float], days: Sequence[float | None],
    steps: tuple[float, float], converts: bool,
) -> list[str]:  # fmt: skip
    said = [
        f"Ammonia from the soil is likely to peak at {short(peaks[0])} to {short(peaks[2])} mg/L N "
        f"in 80 of 100 such tanks. Changing {EARLY_CHANGE:.0%} a week for the first "
        f"{EARLY_WEEKS} weeks makes that {short(early[0])} to {short(early[2])}.",
    ]
    if days[0] is not None and days[0] <= PROOF + 1:
        said.append(
            "Some tanks never show ammonia: dense growing plants take it first. Two weeks of "
            "readings and the test are asked for all the same."
        )
    if converts:
        said.append(
            "The filter's own bacteria are not counted: with the filter running it is likely to "
            "go better than this, without it like this."
        )
    if steps[0] > 0.5:
        said.append("A first step this coarse proves little: get a kit with a finer one.")
    return said


def _measures(start: Start, free_litres: float | None) -> dict[str, Any]:
    tank = start.tank
    rows: list[list[Any]] = [["Net litres, pores of the bed among them", cell(tank.net_l, "L")]]
    if free_litres is not None:
        rows.append(["Free water above the bed", cell(free_litres, "L")])
    rows.append(["Surface", f"{tank.surface_m2 * 1e4:.0f} cm²"])
    return table("The tank", ["", "Amount"], rows)


def _planting(start: Start) -> dict[str, Any]:
    bottom = start.tank.surface_m2 * 1e4
    floats = (
        f"Floating plants: {start.cover:.0%} of the surface with {start.floater}, about "
        f"{floater_grams(start):.0f} g drained. They feed on ammonia from the first day; keep "
        "them below half of the surface."
        if start.floater else "No floating plants are planned: they are the quickest sink there is."
    )  # fmt: skip
    dense = f"That is less than the {DENSE:.0%} that keepers advise: see the table of densities."
    return step(
        "Day 1: plant densely",
        f"Rooted plants over {start.planted:.0%} of the bottom ({start.planted * bottom:.0f} of "
        f"{bottom:.0f} cm²), about {rooted_grams(start):.0f} g drained, fast stems among them.",
        floats, dense if start.planted < DENSE else "",
        "Do not uproot anything in the first weeks: stirred soil gives its ammonia off at once.",
    )


def _early(peaks: Sequence[float], litres: float) -> dict[str, Any]:
    share = needed_share(peaks[2], CHANGE_AT, 0.0)
    lines = [
        f"Test ammonia and nitrite twice a week. Without animals water may be changed freely: "
        f"above {CHANGE_AT:g} mg/L N change part of it, which also spares the plants."
    ]
    if share > 0.0:
        lines.append(
            f"At the highest that nine tanks in ten stay below ({short(peaks[2])} mg/L N) that is "
            f"{min(share, 0.5):.0%}, {min(share, 0.5) * litres:.0f} L, with treated water."
        )
    lines.append("Never raise the pH in these weeks, and do not feed an empty tank.")
    return step("Weeks 1 to 4: look, and change water where it is high", *lines)


def _filter(days: Sequence[float | None]) -> list[dict[str, Any]]:
    weeks = KEEP_FILTER if days[2] is None else max(KEEP_FILTER, int(np.ceil(days[2] / 7.0)))
    if days[2] is None:
        weeks = max(weeks, DAYS // 7)
    return [
        step(
            f"Keep the filter for {weeks} weeks at least",
            "Plants and bed have to take over first. Do not clean it on the day of the change.",
            f"Then throttle it, or run it half the day, for {WITHOUT} weeks; prove again with it "
            "off; only then take it away. Animals that are in stay only while both kits show "
            "nothing: re-soiling a stocked tank means moving them out first.",
        )
    ]  # fmt: skip


def _proof(steps: tuple[float, float]) -> dict[str, Any]:
    return step(
        "First proof: two weeks in a row below the first step",
        f"Ammonia below {steps[0]:g} and nitrite below {steps[1]:g} mg/L N at every test of "
        f"{PROOF} days, four tests at least. One reading above begins the count anew.",
    )


def _test(
    mass: float, litres: float, steps: tuple[float, float], left: Array, gone: float
) -> dict[str, Any]:
    low, high = np.quantile(left, [0.1, 0.9])
    return step(
        f"Second proof: add {mass:.0f} mg of ammonium chloride, look after 24 h",
        f"Only while no animal is in, and with a pH below 8. That is {TEST_RISE:g} mg/L N x "
        f"{litres:.1f} L x 53.49/14.007. Test at once: the kit must show it, else it can't see.",
        f"Passed when ammonia is below {steps[0]:g} and nitrite below {steps[1]:g} mg/L N after "
        "24 h. Not passed: wait a week and try again.",
        f"By the model {short(float(low))} to {short(float(high))} mg/L N are left; "
        f"{gone:.0%} of tanks pass at week {DAYS // 7}.",
    )


def _stocked(steps: tuple[float, float]) -> dict[str, Any]:
    return step(
        "Watch over those that are in",
        f"Test ammonia and nitrite every other day until both stayed below {steps[0]:g} and "
        f"{steps[1]:g} mg/L N for {PROOF} days on end; feed little until then, add no animal.",
        "Above a limit, change matched water at once: the planner for corrections tells how much. "
        "Do not raise the pH meanwhile.",
        "Add no ammonia for a test: it would be tested on them.",
    )


def _first() -> dict[str, Any]:
    return step(
        "Then the first animals, few and hardy",
        "A handful of small snails or shrimp first; wait two weeks; test; then as the stocking "
        "planner allows, a few at a time.",
        "If an animal suffers, change water at once, however the tank is otherwise kept.",
    )


def _weeks(course: Course) -> dict[str, Any]:
    """Ranges by week: ammonia, nitrite, nitrate, poisonous ammonia, oxygen at dawn."""
    rows = []
    shown = [("ammonium_concentration", "mg/L"), ("nitrite_concentration", "mg/L"),
             ("nitrate_concentration", "mg/L"), ("ammonia_concentration", "mg/L")]  # fmt: skip
    for week in (1, 2, 3, 4, 6, 8, 10, 12):
        part = slice(7 * week - 7, 7 * week)
        row: list[Any] = [f"{week}"]
        for output, unit in shown:
            low, high = np.quantile(course.of(output)[part].max(axis=0), [0.1, 0.9])
            row.append(span(float(low), float(high), unit))
        low, high = np.quantile(course.dawn()[part].min(axis=0), [0.1, 0.9])
        row.append(span(float(low), float(high), "mg/L"))
        row.append(cell(100.0 * float((course.proof <= 7 * week).mean()), "%"))
        rows.append(row)
    return table(
        "By week, in 80 of 100 tanks (nitrogen counted as N)",
        ["Week", "Highest ammonia", "Highest nitrite", "Highest nitrate", "Highest NH3",
         "Lowest oxygen", "First proof given"], rows,
    )  # fmt: skip


def _densities(found: Sequence[tuple[float, Course]]) -> dict[str, Any]:
    rows: list[list[Any]] = []
    for share, course in found:
        peaks, days = _peaks(course), _days(course.proof)
        rows.append([
            cell(100.0 * share, "%"), span(peaks[0], peaks[2], "mg/L"),
            "later than week 12" if days[1] is None else f"week {days[1] / 7.0:.0f}",
            "later than week 12" if days[2] is None else f"week {days[2] / 7.0:.0f}",
        ])  # fmt: skip
    return table(
        "What planting density does",
        ["Bottom planted", "Highest ammonia (N)", "First proof, half of tanks", "nine in ten"],
        rows,
    )  # fmt: skip
