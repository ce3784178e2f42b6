"""The sheet for the neighbour who looks after the rack: little to do, much to leave alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from pleuston.base.errors import InputError
from pleuston.planning.away import MOST_DAYS, feeding_days, portion
from pleuston.planning.incidents import cautions
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import day_of, rounded, short_day, short_name

LEAST = 0.01
"""Grams in the smallest bag worth making."""
COLUMNS = 14
BEFORE = (
    "Thin every tank to a tenth of its surface: floating plants can close it again in two weeks.",
    "Fill up to the mark with low-salt water; clean the glass above the lamp's clock.",
    "Weigh each portion into a bag or pill box with tank and day on it. Put the feed jar away.",
    "Lamp clocks down by a quarter. Show once how to scoop and pour.",
)
OTHER = "Tanks without a plan of their own: "
NOT = (
    "No food beyond the bags, whatever the animals beg. A missed portion harms nobody.",
    "No plants out, no water change, no cleaning, nothing poured in, no sprays in the room.",
    "Nothing moves from tank to tank: no net, no plant, no water.",
    "Hands stay out of the water unless every plug of that tank is pulled.",
)
LOOK = (
    "Fish active, none gulping at the surface? Snails not crowding above the waterline?",
    "Water clear, no smell? Lamp on by day, nothing dripping, no wet floor?",
    "Water more than two fingers below the mark: top up slowly from the can with the tank's name.",
)
RING = (
    "Several animals gulp at the surface: scoop and pour for ten minutes first, then ring.",
    "More than one dead animal, or any dead fish. Take it out with the net of that tank.",
    "Cloudy or smelling water; water above 30 °C or below 16 °C; a leak; power off over two hours.",
)


def holiday_sheet(
    tanks: Sequence[Facts], made: datetime, days: int, advice: Sequence[str] = ()
) -> Sheet:
    """The sheet for some days from the day it is made for; advice: what was planned, by tank."""
    if not 1 <= days <= MOST_DAYS:
        raise InputError(
            f"a holiday of {days} days can't be planned on this sheet", where="--days",
            remedy=f"Give 1 to {MOST_DAYS}",
        )  # fmt: skip
    last = made + timedelta(days=days - 1)
    data = {
        "span": f"{day_of(made)} to {day_of(last)}",
        "days": str(days),
        "tanks": [_tank(f, days) for f in tanks],
        "calendar": _calendar(tanks, made, days),
        "before": [*advice, (OTHER if advice else "") + BEFORE[0], *BEFORE[1:]],
        "never": list(NOT), "look": list(LOOK), "ring": list(RING),
        "cautions": [{"title": c.title, "text": c.text}
                     for c in (cautions()[n] for n in ("mains", "hands"))],
    }  # fmt: skip
    return sheet_of("holiday", "While we are away", made, data)


def _tank(facts: Facts, days: int) -> dict[str, Any]:
    fed = feeding_days(days)
    grams = portion(facts.feed_per_day)
    if not facts.animals:
        said, bags = "nothing to feed", "0"
    else:
        said = "" if grams is None else f"{rounded(max(LEAST, round(grams, 2)))} g"
        bags = str(len(fed))
    return {"name": facts.name, "portion": said, "bags": bags}


def _water(facts: Facts) -> str:
    return short_name(facts.tank.top_up_water) if facts.tank.top_up_water else "as told"


def _calendar(tanks: Sequence[Facts], made: datetime, days: int) -> list[dict[str, Any]]:
    fed = set(feeding_days(days))
    blocks = []
    for start in range(0, days, COLUMNS):
        span = range(start, min(days, start + COLUMNS))
        blocks.append({
            "days": [short_day(made + timedelta(days=day)) for day in span],
            "rows": [
                {"name": f.name, "water": _water(f),
                 "feed": [day in fed and bool(f.animals) for day in span]}
                for f in tanks
            ],
        })  # fmt: skip
    return blocks
