"""Amounts of the first hours for one tank: food, litres in stages, air until when, how cold.

Everything is computed from the record and what is believed of the tank, with its range; where
neither knows, the amount says so and the card's own step stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pleuston.engine.events import feed_content
from pleuston.planning.acts import short
from pleuston.planning.away import UNFED_DAYS
from pleuston.planning.habits import WINDOW
from pleuston.planning.limits import limits_for
from pleuston.planning.outlook import shown_bound
from pleuston.planning.planner import step
from pleuston.planning.policy import STORED_AMMONIA
from pleuston.records.resolve import feed_named
from pleuston.services.help_change import change_steps
from pleuston.services.plan_ground import Ground

THIRD = 1.0 / 3.0
OPEN = 0.75
"""Share of the surface to open where animals gasp, as on the card."""
FRIDGE = 5.0
"""Celsius of a closed bottle from a refrigerator: guess."""
MOST_COOLER = 2.0
"""Kelvin that a tank may be cooled in a day, as on the card; the keeper's own limit may be less."""
HUNGER_DAYS = 2
"""Days without food before half is given again, as on the cards."""
DAWN_OXYGEN = 4.0
"""Oxygen at dawn [mg/L] that is enough for fish where no limit is known, as on the card."""
WORDS = (("ec25", "{:.0f} µS/cm"), ("gh", "GH {:.1f} °dH"), ("kh", "KH {:.1f} °dH"),
         ("ph", "pH {:.1f}"))  # fmt: skip
Night = Mapping[str, Any]


def amounts_now(ground: Ground, night: Night | None = None) -> list[dict[str, Any]]:
    """What the steps of the cards come to in a tank, by its record and what is believed of it.

    night: the tank's kept answer `night`, from which the hours of the air pump are read; None
    where there is none. Each amount has a `name`, a title, lines, and its numbers in `amounts`.
    """
    return [
        *_at_hand(ground), *change_steps(ground), food_step(ground), air_step(ground, night),
        *_bottle(ground),
    ]  # fmt: skip


def amount(name: str, title: str, *lines: str, **numbers: Any) -> dict[str, Any]:
    """One amount: a step with a name, and its numbers as data."""
    return {"name": name, **step(title, *lines), "amounts": numbers}


def _at_hand(ground: Ground) -> list[dict[str, Any]]:
    """Litres of a third and of half, and the surface to open."""
    litres, area = ground.setup.net_l, ground.setup.surface_m2
    warm = ground.value("temperature", None)
    believed = [
        text.format(ground.standing[n][1]) for n, text in WORDS if n in ground.standing
    ]
    match = f"Matched: {'as warm as the tank' if warm is None else f'{warm:.0f} °C'}"
    match += (", near " + ", ".join(believed)) if believed else ", as hard and as salty"
    return [
        amount("third", f"A third of the water is {litres * THIRD:.1f} L, half is "
               f"{litres / 2.0:.1f} L", match + ". Treat tap water for chlorine. Never suck a "
               "siphon on with the mouth.", third_l=litres * THIRD, half_l=litres / 2.0),
        amount("surface", f"Three quarters of the surface are {area * OPEN * 1e4:.0f} cm²",
               "Push floating plants into the rest, or take them out.", cm2=area * OPEN * 1e4),
    ]  # fmt: skip


# -- food ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Fed:
    """What a tank was fed in the last four weeks."""

    days: int
    """Days on which food was noted."""
    span: float
    """Days looked at."""
    per_day: float
    """Grams a day on average over all days."""
    low: float
    high: float
    """Grams of a day with food that 10 % and 90 % of those days stay below."""
    nitrogen: float
    """Nitrogen of it [mg] a day, on average."""
    unweighed: int
    """Meals noted without an amount."""


def fed_lately(ground: Ground) -> Fed | None:
    """What was fed in the four weeks before now; None where no food is noted."""
    entries = [e for e in ground.record.entries_of(ground.tank, until=ground.moment)
               if e.tank == ground.tank]  # fmt: skip
    since = ground.moment - timedelta(days=WINDOW)
    meals = [e for e in entries if e.kind == "feed" and e.at > since]
    if not meals:
        return None
    known = (ground.moment - min(e.at for e in entries)).total_seconds() / 86400.0
    span = max(7.0, min(WINDOW, known))
    by_day: dict[object, float] = {}
    nitrogen = 0.0
    for meal in meals:
        if meal.amount:
            day = ground.record.local(meal.at).date()
            by_day[day] = by_day.get(day, 0.0) + meal.amount
            food = feed_content(feed_named(ground.record, meal.what), meal.amount)
            nitrogen += food["feed_nitrogen"]
    low, high = np.quantile(list(by_day.values()), [0.1, 0.9]) if by_day else (0.0, 0.0)
    return Fed(
        len(by_day), span, sum(by_day.values()) / span, float(low), float(high),
        nitrogen / span, sum(not m.amount for m in meals),
    )  # fmt: skip


def food_step(ground: Ground) -> dict[str, Any]:
    """How much food is not given, what it would become, and when a half is given again."""
    again = (
        f"At the earliest after {HUNGER_DAYS} days, once animals go about their day and tests show "
        "no ammonia and no nitrite"
    )
    most = (
        f"Grown, well-fed animals stand {UNFED_DAYS} days without food (common practice, no "
        "source); young, breeding or thin ones less: the vet or a clean tub before hunger."
    )
    fed = fed_lately(ground)
    if fed is None or not fed.days:
        why = "No food is noted" if fed is None else "The food noted was not weighed"
        return amount(
            "food", "Give no food now", f"{why} in the last {WINDOW:.0f} days: how much that "
            "spares is not known.", f"{again}: half of what you gave.", most,
        )  # fmt: skip
    ammonia = fed.nitrogen / ground.setup.net_l
    unweighed = f" {fed.unweighed} meals were not weighed and come on top." * bool(fed.unweighed)
    return amount(
        "food", f"Give no food now: {short(fed.per_day)} g a day are left out",
        f"By the record food was given on {fed.days} of {fed.span:.0f} days, "
        f"{short(fed.low)} to {short(fed.high)} g each (80 of 100 of those days).{unweighed}",
        f"It holds {short(fed.nitrogen)} mg of nitrogen a day: left to rot it would add up to "
        f"{short(ammonia)} mg/L N of ammonia a day.",
        f"{again}: {short(fed.per_day / 2.0)} g a day, half of before. A test that shows either: "
        "stop again.", most,
        grams_per_day=fed.per_day, low=fed.low, high=fed.high, again_grams=fed.per_day / 2.0,
        ammonia_mg_l_per_day=ammonia,
    )  # fmt: skip


# -- air ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Dark:
    """A night ahead: when light comes back, the worst hour, and oxygen [mg/L] then."""

    until: datetime
    worst: datetime
    low: float
    middle: float
    high: float


def nights_ahead(night: Night | None, now: datetime) -> list[Dark]:
    """The nights of a kept answer that end after now; none where there is no answer."""
    if night is None:
        return []
    oxygen = night["quantities"]["oxygen"]
    times = [datetime.fromisoformat(t) for t in oxygen["times"]]
    found = []
    for begun, ended in night["dark"]:
        start, end = datetime.fromisoformat(begun), datetime.fromisoformat(ended)
        hours = [i for i, t in enumerate(times) if max(start, now) <= t <= end]
        if end > now and hours:
            i = min(hours, key=lambda k: oxygen["p50"][k])
            found.append(Dark(end, times[i], *(oxygen[p][i] for p in ("p10", "p50", "p90"))))
    return found


def air_step(ground: Ground, night: Night | None) -> dict[str, Any]:
    """Until when the surface is moved, by tonight's forecast and by what is read and seen."""
    found = [x for x in limits_for(ground.animals, own=ground.own)
             if (x.quantity, x.side, x.severity) == ("oxygen_dawn", "low", "act")]  # fmt: skip
    least = max((shown_bound(x) for x in found), default=DAWN_OXYGEN)
    stop = (
        f"Stop after a dawn without gasping, or two readings at dawn, before the lamp, above "
        f"{short(least)} mg/L. Still gasping in moving water: it is not oxygen alone; change water."
    )
    stored = ground.standing.get("ammonium", (0.0, 0.0, 0.0))[2] > STORED_AMMONIA
    beware = (
        "Ammonia may be stored, and moving water loses CO2, which lifts the pH: move it gently, "
        "change water first."
    ) * stored
    nights = nights_ahead(night, ground.moment)
    if not nights:
        return amount(
            "air", "Air pump, or jug by jug: from now until dawn has passed",
            "Tonight was not forecast for this tank: how low oxygen goes is not known here.",
            stop, beware, least_mg_l=least,
        )  # fmt: skip
    first, *later = nights
    lines = [
        f"By the forecast oxygen is lowest at about {_clock(first.worst)}: {short(first.low)} to "
        f"{short(first.high)} mg/L in 80 of 100 cases; {short(least)} is the least to be. It did "
        "not know of what you see now."
    ]
    again = [n for n in later if n.low < least]
    if again:
        lines.append(
            f"The night after: {short(again[0].low)} to {short(again[0].high)} mg/L. Let it run "
            f"again until {_day(again[0].until)}."
        )
    return amount(
        "air", f"Air pump, or jug by jug: from now until {_day(first.until)}, when light is back",
        *lines, stop, beware, until=first.until.isoformat(timespec="minutes"),
        oxygen_mg_l=[first.low, first.middle, first.high], least_mg_l=least,
    )  # fmt: skip


def _clock(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def _day(moment: datetime) -> str:
    return f"{moment:%a %H:%M}"


# -- cold ---------------------------------------------------------------------------


def _bottle(ground: Ground) -> list[dict[str, Any]]:
    """How far a bottle from the refrigerator cools it, and how many a day."""
    warm = ground.value("temperature", None)
    most = min(MOST_COOLER, ground.caps.temperature)
    if warm is None or warm <= FRIDGE + most:
        return []
    each = (warm - FRIDGE) / (ground.setup.net_l + 1.0)
    count = max(1, int(most / each))
    return [amount(
        "bottle", f"A closed bottle of 1 L at {FRIDGE:.0f} °C cools it by {each:.1f} °C",
        f"At most {count} in a day, one at a time: no more than {most:.2g} °C."
        if each <= most else "That is too much: take a smaller bottle.",
        kelvin=each,
    )]  # fmt: skip
