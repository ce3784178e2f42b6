"""The round of a tank that can't be computed: its last readings and signs speak for themselves."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from pleuston.planning.acts import Act
from pleuston.records.readings import interval
from pleuston.records.record import Entry, Record

RECENT = timedelta(days=10)
GASPING = timedelta(days=3)
AT_ONCE: dict[str, tuple[str, float, str]] = {
    "ammonium": ("above", 0.5, "total ammonia"), "nitrite": ("above", 0.5, "nitrite"),
    "oxygen": ("below", 3.0, "oxygen"), "copper": ("above", 0.05, "copper"),
    "temperature": ("above", 305.15, "water temperature"),
}  # fmt: skip
"""Quantity -> on which side of which value [mg/L, K] a reading alone asks for a hand now:
common practice, no source; coarse on purpose, as only certain readings count."""
SHARE = 0.3
"""Share of the water to change in an emergency, repeated while signs last: common practice."""


def cannot(record: Record, name: str, at: datetime, why: str) -> dict[str, Any]:
    """The part of a round for a tank that can't be computed.

    Danger that its last readings or signs tell of is acted on all the same.
    """
    known = record.until(at)
    entries = known.entries_of(name)
    told = [*_readings(entries, at), *_gasping(entries, at)]
    acts = [_look(why)]
    if told:
        tank = known.tank_at(name, at)
        reason = f"{'; '.join(told)}. This tank could not be computed, so its readings decide."
        litres = round(SHARE * tank.net_l, 1)
        acts = [
            Act("stir_surface", "surface", None, "", f"{reason} Break the film, scoop and pour.",
                "good", "Animals can die within hours."),
            Act("water_change", tank.top_up_water, litres, "L", f"{reason} Change a third, matched "
                "in temperature and salts; measure again after an hour and repeat while it lasts.",
                "good", "What poisons them stays."),
            Act("stop_feeding", "feed", 0.0, "g/day", reason, "good", "Food adds to it."),
            Act("no_new_animals", "animals", None, "", reason, "good", "They would be harmed too."),
            *acts,
        ]  # fmt: skip
    minutes = round(sum(act.minutes for act in acts), 1)
    return {
        "tank": name, "state": "danger" if told else "watch",
        "because": [
            {"limit": "readings", "word": words, "severity": "danger", "chance": 1.0, "who": [],
             "source": "common_practice"} for words in told
        ],
        "animals": {}, "minutes": minutes, "error": why,
        "acts": [replace(act, safety=True).as_data() for act in acts],
    }  # fmt: skip


def _look(why: str) -> Act:
    return Act("look", "record", None, "", why, "good", "This tank goes without advice.")


def _readings(entries: tuple[Entry, ...], at: datetime) -> list[str]:
    """The last recent readings that lie beyond what calls for a hand, wholly."""
    last: dict[str, Entry] = {}
    for entry in entries:
        if entry.kind == "reading" and entry.tank and at - entry.at <= RECENT:
            last[interval(entry).quantity] = entry
    told = []
    for quantity, (side, bound, words) in AT_ONCE.items():
        if quantity not in last:
            continue
        read = interval(last[quantity])
        if (read.low >= bound) if side == "above" else (read.high <= bound):
            told.append(f"{words} was read far {side} what is safe")
    return told


def _gasping(entries: tuple[Entry, ...], at: datetime) -> list[str]:
    seen = any(
        e.kind == "seen" and e.what == "gasping" and at - e.at <= GASPING for e in entries
    )
    return ["animals were seen gasping"] if seen else []
