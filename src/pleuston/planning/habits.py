"""How the keeper goes on: feeding, thinning and topping up as in the last four weeks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil
from statistics import median

from pleuston.engine.case import Case
from pleuston.engine.schedule import Event
from pleuston.engine.waters import usual_water
from pleuston.records.library import library
from pleuston.records.record import Entry

WINDOW = 28.0
"""Days of the record that habits are read from."""
RHYTHM = 56.0
"""Days that the gaps between harvests, and between top-ups, are read from: a round or two that
were skipped make no habit."""


@dataclass(frozen=True)
class Meal:
    """Some grams of a feed on a day of the week, at a local hour."""

    weekday: int
    hour: float
    feed: str
    grams: float


@dataclass(frozen=True)
class Habits:
    """What a keeper does in an ordinary week."""

    meals: tuple[Meal, ...]
    thinning: Mapping[str, float]
    """Slot of a floating plant -> cover that is left [1]; empty when nothing is thinned."""
    thinning_days: float
    """Days between two harvests."""
    top_up_water: str
    top_up_days: float
    """Days between two top-ups; 0 when none is known."""
    hour: float
    """Local hour of the round."""
    last_thinning: float
    """Day of the last harvest."""
    last_top_up: float
    """Day of the last top-up."""

    @property
    def feed_per_day(self) -> float:
        """Grams of all feeds a day."""
        return sum(m.grams for m in self.meals) / 7.0


def habits_of(case: Case, at: float) -> Habits:
    """Read the habits of the four weeks before a day."""
    lately = [
        e for e in case.record.entries_of(case.tank.name)
        if at - RHYTHM < case.clock.day(e.at) <= at and e.tank == case.tank.name
    ]  # fmt: skip
    recent = [e for e in lately if case.clock.day(e.at) > at - WINDOW]
    span = min(WINDOW, max(at, 7.0))
    rounds = [e for e in recent if e.kind in ("top_up", "harvest")]
    hours = [_hour(case, e) for e in rounds]
    moment = case.clock.moment(at)
    now = case.record.tank_at(case.tank.name, moment)
    return Habits(
        meals=_meals(case, recent, span),
        thinning=_thinning(case, recent, now.cover_target),
        thinning_days=_gap(case, [e for e in lately if e.kind == "harvest"], 7.0),
        top_up_water=usual_water(case.record, now, _since_set(recent)),
        top_up_days=_gap(case, [e for e in lately if e.kind == "top_up"], 7.0),
        hour=median(hours) if hours else 10.0,
        last_thinning=_last(case, rounds, "harvest", at),
        last_top_up=_last(case, rounds, "top_up", at),
    )


def _since_set(recent: list[Entry]) -> list[Entry]:
    """What was done since another top-up water was set; all where none was set lately."""
    places = [i for i, e in enumerate(recent) if (e.kind, e.what) == ("setting", "top_up_water")]
    return recent[places[-1] :] if places else recent


def _last(case: Case, entries: list[Entry], kind: str, at: float) -> float:
    return max((case.clock.day(e.at) for e in entries if e.kind == kind), default=at)


def _hour(case: Case, entry: Entry) -> float:
    local = case.record.local(entry.at)
    return local.hour + local.minute / 60.0


def _gap(case: Case, entries: list[Entry], usual: float) -> float:
    """Median days between entries of different days; the usual gap where there are few."""
    days = sorted({round(case.clock.day(e.at)) for e in entries})
    gaps = [b - a for a, b in pairwise(days)]
    return float(median(gaps)) if gaps else usual


def _meals(case: Case, recent: list[Entry], span: float) -> tuple[Meal, ...]:
    total: dict[tuple[int, str], float] = {}
    hours: dict[tuple[int, str], list[float]] = {}
    for entry in recent:
        if entry.kind == "feed" and entry.amount:
            key = (case.record.local(entry.at).weekday(), entry.what)
            total[key] = total.get(key, 0.0) + entry.amount
            hours.setdefault(key, []).append(_hour(case, entry))
    weeks = span / 7.0
    return tuple(
        Meal(day, median(hours[day, feed]), feed, grams / weeks)
        for (day, feed), grams in sorted(total.items())
    )


def _thinning(case: Case, recent: list[Entry], target: float | None) -> dict[str, float]:
    taken = {
        case.plants.slots[name]
        for e in recent if e.kind == "harvest" and e.amount
        for name in [library().find_species(e.what).name] if name in case.plants.slots
    }  # fmt: skip
    if not taken:
        return {}
    left = target if target is not None else 0.4
    return dict.fromkeys(sorted(taken), share_each(left, len(taken)))


def share_each(cover: float, count: int) -> float:
    """Cover of each of some species that together, overlapping at random, make a cover.

    >>> round(share_each(0.75, 2), 3)
    0.5
    """
    return float(1.0 - (1.0 - min(cover, 0.98)) ** (1.0 / max(count, 1)))


def thinned_to(habits: Habits, cover: float) -> Habits:
    """The same habits with another cover left in all [1]; 1 leaves the plants alone."""
    if cover >= 1.0 or not habits.thinning:
        return replace(habits, thinning={})
    each = share_each(cover, len(habits.thinning))
    return replace(habits, thinning=dict.fromkeys(habits.thinning, each))


def fed(habits: Habits, share: float) -> Habits:
    """The same habits with another share of the feed."""
    meals = tuple(replace(m, grams=m.grams * share) for m in habits.meals)
    return replace(habits, meals=meals)


def future_events(case: Case, at: float, days: float, habits: Habits) -> list[Event]:
    """The jumps that these habits make between a day and `days` later."""
    events: list[Event] = []
    for moment in case.clock.local_days(at + days):
        noon = case.clock.day(moment)
        if noon < at - 2.0:
            continue
        weekday = case.record.local(moment).weekday()
        for meal in habits.meals:
            if meal.weekday == weekday and meal.grams > 0.0:
                day = case.clock.day(case.clock.local_hour(moment, meal.hour))
                events.append(case.maker.feed_event(day, meal.feed, meal.grams))
    for last, gap, make in (
        (habits.last_thinning, habits.thinning_days, _harvests),
        (habits.last_top_up, habits.top_up_days, _top_ups),
    ):
        day = last + gap
        if gap > 0.0 and day < at:
            day += gap * float(ceil((at - day) / gap))
        while gap > 0.0 and day < at + days:
            events.extend(make(case, day, habits))
            day += gap
    return [e for e in events if at <= e.time < at + days]


def _harvests(case: Case, day: float, habits: Habits) -> list[Event]:
    del case
    return [
        Event(day, f"harvest_{slot}", {"harvest_grams": 0.0, "harvest_cover": cover})
        for slot, cover in habits.thinning.items()
    ]


def _top_ups(case: Case, day: float, habits: Habits) -> list[Event]:
    return [case.maker.top_up_event(day, habits.top_up_water)] if habits.top_up_water else []
