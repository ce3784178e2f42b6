"""What a plan does: the habits it leaves, the settings it notes, and its jumps of the model."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from pleuston.engine.case import Case
from pleuston.engine.schedule import Event
from pleuston.engine.start import soil_put_in
from pleuston.planning.habits import Habits, fed, future_events, thinned_to
from pleuston.planning.plan import Plan, refused
from pleuston.records.record import Entry, Record
from pleuston.records.resolve import soil_named

SOON = 1.0 / 24.0
"""What a plan does at once is done within the hour [d]."""
EVENING = 20.0
"""Local hour at which a power cut begins: the night without flow or heat is the hardest."""
WEEK = 7.0
LEAST_STIRRED = 0.1
"""Share of a bed that pulling plants stirs, as the record takes it unless noted."""
NEIGHBOUR_GAP = 7.0
"""Days between the top-ups of a neighbour."""


def check_plan(plan: Plan, case: Case, at: float) -> None:
    """Refuse what can't be done in this tank: a water or soil without analysis, no such plant."""
    slots = case.plants.slots
    for species in [*(s for s, _ in plan.harvest), *([plan.swap[0]] if plan.swap else [])]:
        if species not in slots:
            raise refused(plan.name, "species", f"{species} does not float in {case.tank.name}")
    if plan.top_up:
        case.maker.water(at, plan.top_up)
    if plan.soil:
        soil_named(case.record, plan.soil[0])


def habits_under(plan: Plan, habits: Habits, case: Case, at: float) -> Habits:
    """The habits that a plan leaves, apart from what only lasts some days."""
    if plan.cover is not None:
        days = habits.thinning_days or WEEK
        slots = list(case.plants.slots.values())
        thinner = replace(
            habits, thinning=dict.fromkeys(slots, plan.cover), thinning_days=days,
            last_thinning=at - days + SOON,
        )  # fmt: skip
        habits = thinned_to(thinner, plan.cover)
    if plan.harvest:
        habits = replace(habits, thinning={})
    if plan.feed is not None:
        habits = fed(habits, plan.feed)
    if plan.feed_grams is not None:
        if habits.feed_per_day <= 0.0:
            raise refused(plan.name, "feed_grams", "no meal of the last weeks tells which food")
        habits = fed(habits, plan.feed_grams / habits.feed_per_day)
    return replace(habits, top_up_water=plan.top_up) if plan.top_up else habits


def record_under(plan: Plan, case: Case, at: float) -> Record:
    """The record with the settings and the power cut of a plan noted in it."""
    moment = case.clock.moment(at)
    made = [
        _entry(case, moment, "setting", what, amount, note)
        for what, amount, note, changed in (
            ("light_hours", plan.light, "", plan.light is not None),
            ("lid", None, plan.lid, plan.lid), ("flow", None, plan.flow, plan.flow),
        ) if changed
    ]  # fmt: skip
    if plan.power_cut:
        off = case.clock.local_hour(moment, EVENING)
        off = off if off >= moment else off + timedelta(days=1)
        made.append(_entry(case, off, "power_off"))
        made.append(_entry(case, off + timedelta(hours=plan.power_cut), "power_on"))
    return replace(case.record, entries=(*case.record.entries, *made)) if made else case.record


def _entry(
    case: Case, at: datetime, kind: str, what: str = "", amount: float | None = None,
    note: str = "",
) -> Entry:  # fmt: skip
    name = f"plan-{kind}-{what}-{at.isoformat()}"
    return Entry(name, at, case.tank.name, kind, what, amount, amount, note=note)


def events_under(plan: Plan, case: Case, at: float, days: float, habits: Habits) -> list[Event]:
    """The jumps that a plan makes, habits among them, and none of them while away but a
    neighbour's."""
    made = [*future_events(case, at, days, habits), *_weekly(plan, case, at, days, habits)]
    away = at + plan.holiday
    kept = []
    for event in made:
        if event.time >= away:
            kept.append(event)
        elif event.jump == "feed" and plan.holiday_feed:
            share = {k: v * plan.holiday_feed for k, v in event.arguments.items()}
            kept.append(Event(event.time, "feed", share))
    if plan.holiday and plan.neighbour and habits.top_up_water:
        gap, day = NEIGHBOUR_GAP, at + NEIGHBOUR_GAP
        while day < min(away, at + days):
            kept.append(case.maker.top_up_event(day, habits.top_up_water))
            day += gap
    return [*kept, *_once(plan, case, at)]


def _weekly(plan: Plan, case: Case, at: float, days: float, habits: Habits) -> list[Event]:
    made: list[Event] = []
    day = at + SOON
    while day < at + days:
        for species, grams in plan.harvest:
            jump = f"harvest_{case.plants.slots[species]}"
            made.append(Event(day, jump, {"harvest_grams": grams, "harvest_cover": 1.0}))
        if plan.water_change:
            made += case.maker.change_events(day, habits.top_up_water, plan.water_change)
        day += WEEK
    return made


def _once(plan: Plan, case: Case, at: float) -> list[Event]:
    moment = case.clock.moment(at + SOON)
    made: list[Event] = []
    for species, number in plan.stock:
        kind = "stock_in" if number >= 0.0 else "stock_out"
        made += case.maker.events([_entry(case, moment, kind, species, abs(number))])
    if plan.soil:
        name, kilograms = plan.soil
        arguments = soil_put_in(soil_named(case.record, name), kilograms)
        stirred = {"share": stirred_by(kilograms, case.opening.soil_mass)}
        made.append(Event(at + SOON, "add_soil", arguments))
        made.append(Event(at + SOON, "disturb_soil", stirred))
    return made


def stirred_by(kilograms: float, bed: float) -> float:
    """Share of the bed's loose ammonium that putting soil in stirs up: that of the part renewed.

    kilograms, bed: dry soil put in, and of the whole bed. At least what pulling a plant stirs;
    in a bed without soil, all. Common practice, no source.

    >>> stirred_by(0.5, 2.0), stirred_by(0.01, 2.0), stirred_by(3.0, 2.0), stirred_by(1.0, 0.0)
    (0.25, 0.1, 1.0, 1.0)
    """
    return min(1.0, max(LEAST_STIRRED, kilograms / bed)) if bed > 0.0 else 1.0
