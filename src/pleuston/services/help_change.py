"""The water change of an emergency in litres: at once, then in stages, until what reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from pleuston.base.errors import InputError
from pleuston.chemistry.ammonia import ammonia_fraction
from pleuston.planning.acts import short
from pleuston.planning.correction import (
    STATES,
    WAIT_HOURS,
    Pour,
    Stage,
    at_once,
    emergency_change,
    stages,
)
from pleuston.planning.mixing import KELVIN, Mix, of_source
from pleuston.planning.outlook import shown_bound
from pleuston.planning.planner import step
from pleuston.services.plan_ground import Ground, Spread, brought_by

POISONS = ("ammonium", "nitrite", "copper")
AGAIN_HOURS = 1
"""Hours after which an emergency's change is judged and done again, as on the cards."""
NO_KIT = " No kit reads that little: a laboratory does; a kit's nothing clears no water."
SUFFERING = "Where animals gasp, lie, dart or die:"


def change_steps(ground: Ground) -> list[dict[str, Any]]:
    """The change at once, and the stages where animals are calm; or what is not known for them."""
    unknown = _unknown(ground)
    if unknown:
        return [_named("change", step(
            "Which water, and how much of it at most, is not known here", unknown,
            "Animals suffer: the third above all the same, with water as near to the tank's as "
            f"there is, again after {AGAIN_HOURS} h while they do.",
            "Animals calm: by the pen, no more than a tenth of the conductivity in a day, then "
            f"wait {WAIT_HOURS:.0f} h and test.",
        ), {})]  # fmt: skip
    tank = ground.water({})
    bounds = {p: bound for p in POISONS if (bound := limit_read(ground, tank, p)) is not None}
    return [_first(ground, tank, bounds), _later(ground, tank, bounds)]


def _named(name: str, made: Mapping[str, Any], amounts: Mapping[str, Any]) -> dict[str, Any]:
    return {"name": name, **made, "amounts": dict(amounts)}


def _unknown(ground: Ground) -> str:
    """Why no change can be computed, in a sentence; empty where it can."""
    if not ground.record.waters:
        return "No water of the rack is noted."
    if not ground.standing:
        return "The tank was not worked out yet: what its water is like is not known."
    try:
        ground.water({})
    except InputError as error:
        return f"Not computed: {error.what}."
    return ""


def limit_read(ground: Ground, tank: Mix, poison: str) -> float | None:
    """The reading [mg/L, of N for ammonia and nitrite] from which one acts; None where none is.

    Of ammonia it is also what lies at the limit of its poisonous part, at the highest pH that is
    believed (nine members in ten lie below).
    """
    found = ground.limit_of(poison, tank, "act")
    values = [] if found is None else [shown_bound(found)]
    if poison == "ammonium":
        part = ground.limit_of("ammonia_nh3", tank, "act")
        high = ground.standing["ph"][2]
        share = float(ammonia_fraction(high, tank.temperature, tank.strength))
        values += [] if part is None else [shown_bound(part) / share]
    return min(values, default=None)


def _pours(ground: Ground, tank: Mix, poison: str) -> list[Pour]:
    """The rack's waters, as warm as the tank."""
    celsius = tank.temperature - KELVIN
    return [Pour(s.name, of_source(s, celsius), brought_by(s, poison)) for s in ground.sources()]


def _first(ground: Ground, tank: Mix, bounds: Mapping[str, float]) -> dict[str, Any]:
    """The large change where animals suffer: bound by shock alone, never put off."""
    pour, share, after = emergency_change(tank, _clean(ground, tank, bounds))
    litres = ground.setup.net_l
    made = at_once(tank, pour, share, after, litres, SUFFERING)
    again = (
        f"Again after {AGAIN_HOURS} h while they do, or while a test shows more than "
        f"{_readings(bounds)}. Stop when they go about their day and tests show less."
        if _readings(bounds) else
        f"Again after {AGAIN_HOURS} h while they do; stop when they go about their day. No limit "
        "of the animals here is known to test by."
    )
    return _named("change_now", {**made, "lines": [*made["lines"], again]}, {
        "litres": share * litres, "water": "" if pour is None else pour.name,
        "again_hours": AGAIN_HOURS, "until": dict(bounds),
    })  # fmt: skip


def _clean(ground: Ground, tank: Mix, bounds: Mapping[str, float]) -> list[Pour]:
    """The rack's waters without those that bring copper beyond its limit, while others are left."""
    most = bounds.get("copper", float("inf"))
    few = {p.name for p in _pours(ground, tank, "copper") if p.brought <= most}
    every = _pours(ground, tank, "ammonium")
    return [p for p in every if p.name in few] or every


def _readings(bounds: Mapping[str, float]) -> str:
    """Limits as a keeper tests them within the hour; no kit reads copper that low."""
    tested = {p: v for p, v in bounds.items() if p != "copper"}
    return " or ".join(f"{short(v)} {STATES[p][1]} of {STATES[p][0]}" for p, v in tested.items())


@dataclass(frozen=True)
class Course:
    """Stages with one water against one poison, where it is as high as a share of members say."""

    water: str
    made: list[Stage]
    stopped: str


def course(
    ground: Ground, tank: Mix, poison: str, now: float, limit: float
) -> Course | None:
    """The stages that bring a poison lowest, the fewest of them; None where no water can."""
    held = replace(tank, held={**tank.held, "ammonium": now}) if poison == "ammonium" else tank
    found = []
    for pour in _pours(ground, held, poison):
        if pour.brought < min(now, limit):
            made, stopped = stages(held, pour, now, limit, ground.caps, held.ph)
            if made:
                found.append(Course(pour.name, made, stopped))
    return min(found, key=lambda c: (round(c.made[-1].amount, 6), len(c.made)), default=None)


def _later(ground: Ground, tank: Mix, bounds: Mapping[str, float]) -> dict[str, Any]:
    """The stages where animals are calm: for each poison that may stand above its limit."""
    lines, data, first = [], {}, None
    for poison, limit in bounds.items():
        spread = ground.standing.get(poison)
        if spread is None:
            lines.append(f"{STATES[poison][0].capitalize()} is not known: test it.")
            continue
        if spread[2] <= limit:
            lines.append(_well(poison, spread, limit))
            continue
        said, told, litres = _against(ground, tank, poison, spread, limit)
        lines += said
        data[poison] = told
        first = max(first or (0.0, ""), litres)
    much, water = first or (0.0, "")
    sure = any(told["changes"] and told["changes"][0] for told in data.values())
    lines.append(
        "Never raise the pH while ammonia shows. Animals that begin to suffer: the change above, "
        "at once."
    )
    return _named("change_calm", step(_calm(much, water, sure, bool(data)), *lines), {
        "litres": much, "water": water, "next_hours": WAIT_HOURS, "poisons": data,
    })  # fmt: skip


def _calm(litres: float, water: str, sure: bool, poisoned: bool) -> str:
    """What is done where animals are calm. sure: whether a limit is passed in the middle, too."""
    if litres == 0.0:
        why = "no water at hand can be changed in safe steps" if poisoned else \
            "no change is needed by what is believed"  # fmt: skip
        return f"Animals calm: {why}; test first"
    change = f"change {litres:.1f} L for {water}, then wait {WAIT_HOURS:.0f} h"
    return f"Animals calm: {change}" if sure else \
        f"Animals calm: test first; only above the limit {change}"  # fmt: skip


def _well(poison: str, spread: Spread, limit: float) -> str:
    word, unit = STATES[poison]
    return (
        f"{word.capitalize()} is believed at {short(spread[0])} to {short(spread[2])} {unit}, "
        f"below the {short(limit)} from which one acts. A test that shows more: change again."
    )


def _against(
    ground: Ground, tank: Mix, poison: str, spread: Spread, limit: float
) -> tuple[list[str], dict[str, Any], tuple[float, str]]:
    """What is done against a poison: lines, numbers, and the first stage's litres and water."""
    word, unit = STATES[poison]
    litres = ground.setup.net_l
    worst = course(ground, tank, poison, spread[2], limit)
    believed = (
        f"{word.capitalize()} is believed at {short(spread[0])} to {short(spread[2])} {unit}; one "
        f"acts from {short(limit)}."
    )
    if worst is None:
        said = f"{believed} No water of the rack lowers it in steps that are safe: test, plan by " \
            "'Dilute', and change at once where animals suffer."  # fmt: skip
        return [said], {"changes": None, "until": limit}, (0.0, "")
    middle = course(ground, tank, poison, spread[1], limit) if spread[1] > limit else None
    low = 0 if middle is None else len(middle.made)
    stage = worst.made[0]
    bound = "" if stage.binds == "what is wanted" else f" Held back by: {stage.binds}."
    rest = "" if not worst.stopped else f" Then {worst.stopped} holds it back: plan again."
    times = f"{low} to {len(worst.made)}" if low < len(worst.made) else f"{low}"
    said = (
        f"{believed} {stage.share * litres:.1f} L of {worst.water} a stage, {WAIT_HOURS:.0f} h "
        f"apart, {times} of them by the range.{bound}{rest} Before each, test {word}: above "
        f"{short(limit)} {unit} repeat, below it stop.{NO_KIT if poison == 'copper' else ''}"
    )
    return [said], {
        "changes": [low, len(worst.made)], "until": limit,
        "litres": [s.share * litres for s in worst.made],
    }, (stage.share * litres, worst.water)  # fmt: skip
