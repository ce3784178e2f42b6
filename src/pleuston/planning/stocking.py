"""How many animals a tank can hold: nitrogen, oxygen at dawn in a heat wave, water, air, company.

Each species is judged beside those present: members of the belief run through a heat wave with
none, some and more of them, fed accordingly. A number fits where nine members in ten keep every
limit. No rule of length is used: mass goes with the cube of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.engine.events import feed_content
from pleuston.engine.kernel import Array
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import short
from pleuston.planning.basis import basis
from pleuston.planning.company import company_of, fit_by_room
from pleuston.planning.flows import Changes, substance
from pleuston.planning.habits import Habits, Meal, fed, habits_of, share_each
from pleuston.planning.hours import local_time
from pleuston.planning.limits import Limit, WaterState, limits_for
from pleuston.planning.outlook import Ahead, animals_of, own_of, run_ahead, shown_bound
from pleuston.planning.plan import Plan
from pleuston.planning.planner import cell, span, step, table
from pleuston.planning.whatif import tried
from pleuston.records.library import Species, library
from pleuston.records.resolve import feed_named

HEAT, HEAT_DAYS = 4.0, 7.0
"""The heat wave that animals must come through: warmer room [K], and days."""
DAYS, MEMBERS = 9, 64
RUNNING = 28
"""Days over which nitrogen is balanced; its second half counts."""
RICH = 0.5
"""Animals [g/L] whose food, at least, is given where the capacity to take nitrogen out is read:
plants that are short of nitrogen do not show what they could take. Guess."""
FOOD_SHARE = 0.01
"""Dry food a day, as a share of the animals' mass: keepers give 0.5 to 2 %, no source."""
FLESH = {"snails": 0.5}
"""Share of a snail that is no shell and is fed: guess."""
SURE = 0.1
"""Share of members that may fail."""
OUTSIDE, FAR = 0.5, 0.05
"""Chance of leaving the comfortable range, and of leaving it far, from which it binds."""
WINDOWS = ("temperature", "ph", "gh", "kh", "ec25")
LAW = (
    "Keeping, passing on or releasing it is restricted or forbidden in some places. Ask the "
    "authority for nature or trade where you live before you get any; this program does not know "
    "your law. Never release it."
)
PROHIBITED: Mapping[str, str] = {
    "Pomacea": "The European Union's decision 2012/697 bars the genus from being brought in and "
    "spread; the United States ask a permit for all apple snails but Pomacea diffusa. ",
}  # fmt: skip
"""What is known by genus, as a lead to the authority, not as law."""


@dataclass(frozen=True)
class Bound:
    """How many one constraint lets in: surely (nine members in ten) and in the middle."""

    name: str
    sure: float
    middle: float
    why: str
    room: str
    """What would make room."""


def nitrogen_of_feed(record: Any, habits: Habits) -> float:
    """Nitrogen of a gram of the food that is given [mg]; of flake where none is."""
    name = habits.meals[0].feed if habits.meals else "flake"
    return feed_content(feed_named(record, name), 1.0)["feed_nitrogen"]


def fit_by_nitrogen(capacity: float, given: float, per_animal: float) -> float:
    """How many animals' food nitrogen [mg/d] is left room for by what is taken out.

    >>> fit_by_nitrogen(10.0, 4.0, 0.5)
    12.0
    """
    return max(capacity - given, 0.0) / per_animal


def most_within(numbers: Sequence[float], margins: Array) -> Array:
    """For each member the largest number whose margin, straight between tries, is not negative.

    numbers: rising, the first none; margins: (numbers, members). A member that fails with none
    fits none; one that never fails fits the last number.

    >>> most_within([0, 10, 20], np.array([[1.0, -1.0], [0.0, -2.0], [-1.0, -3.0]])).tolist()
    [10.0, 0.0]
    """
    best = np.where(margins[0] >= 0.0, numbers[0], 0.0)
    going = margins[0] >= 0.0
    for i in range(1, len(numbers)):
        a, b = margins[i - 1], margins[i]
        share = np.clip(a / np.maximum(a - b, 1e-12), 0.0, 1.0)
        reached = np.where(b >= 0.0, numbers[i],
                           numbers[i - 1] + share * (numbers[i] - numbers[i - 1]))  # fmt: skip
        best = np.where(going, reached, best)
        going = going & (b >= 0.0)
    return np.asarray(best)


def mass_of(species: Species) -> float:
    """Mass of an adult [g]: the upper end of its range, so that what is bought may grow."""
    value = species.adult_mass_g
    return 0.5 if value is None else value.high or value.best


def _grown(species: Species) -> float:
    """How much heavier the animals are than what a record takes them for."""
    value = species.adult_mass_g
    return mass_of(species) / value.best if value is not None else 1.0


def food_of(species: Species) -> float:
    """Dry food of one animal a day [g]."""
    return FOOD_SHARE * mass_of(species) * FLESH.get(species.group, 1.0)


def loaded(habits: Habits, extra: float) -> Habits:
    """Habits with some grams of food a day more."""
    if habits.feed_per_day > 0.0:
        return fed(habits, 1.0 + extra / habits.feed_per_day)
    meals = tuple(Meal(day, 18.0, "flake", extra) for day in range(7)) if extra > 0.0 else ()
    return replace(habits, meals=meals)


def thinned_weekly(belief: TankBelief, habits: Habits) -> Habits:
    """Habits with the floating plants thinned weekly, where nothing is thinned by habit."""
    slots = list(belief.case.plants.slots.values())
    if habits.thinning or not slots:
        return habits
    moment = belief.case.clock.moment(belief.at)
    target = belief.case.record.tank_at(belief.case.tank.name, moment).cover_target or 0.4
    left = dict.fromkeys(slots, share_each(target, len(slots)))
    return replace(habits, thinning=left, thinning_days=7.0, last_thinning=belief.at - 6.0)


def removal_of_nitrogen(
    belief: TankBelief, habits: Habits, threads: int | None = None, members: int = MEMBERS
) -> Array:
    """(members,) nitrogen that harvest and denitrification take out [mg/d], fed by habits."""
    ahead = run_ahead(belief, RUNNING, habits, threads=threads, extents=True, members=members)
    changes = Changes(belief.case.table)
    weights = changes.matrix @ substance(belief.case.table, "N").weights
    out = [
        i for i, c in enumerate(changes.data)
        if c["crosses"] == "harvest" or c["name"].startswith("denitrify")
    ]  # fmt: skip
    extents = ahead.run.extents
    assert extents is not None
    half = RUNNING // 2
    moved = extents[-1][out] - extents[half - 1][out]
    return np.asarray((-(weights[out][:, None] * moved).sum(axis=0) / half)[ahead.run.good])


@dataclass(frozen=True)
class Heated:
    """A wish run through the heat wave: by limit the margin of each member."""

    ahead: Ahead
    good: np.ndarray

    def margin(self, limit: Limit) -> Array:
        """(members,) how far the worst day stays on the right side of a limit."""
        values = self.ahead.judged(limit.quantity, limit.horizon)
        bound = shown_bound(limit)
        if limit.side == "low":
            return np.asarray(values.min(axis=0) - bound)
        return np.asarray(bound - values.max(axis=0))


def heated(
    belief: TankBelief, wish: Mapping[str, float], habits: Habits, threads: int | None,
    members: int = MEMBERS, heat: float = HEAT,
) -> Heated:  # fmt: skip
    """Members with some animals more, fed for, through a heat wave."""
    species = {n: library().find_species(n) for n in wish}
    food = sum(food_of(species[n]) * k for n, k in wish.items())
    stock = tuple((n, k * _grown(species[n])) for n, k in wish.items() if k > 0.0)
    plan = Plan("wish", stock=stock, heat=heat, heat_days=HEAT_DAYS)
    made = tried(belief, plan, DAYS, members, habits=loaded(habits, food),
                 threads=threads)  # fmt: skip
    return Heated(made.ahead, made.ahead.run.good)


def water_of(ahead: Ahead) -> WaterState:
    """The middle of a tank's water, as limits ask for it."""
    def middle(name: str) -> float:
        return float(np.median(ahead.run.of(name)[0]))

    return WaterState(
        temperature=middle("temperature"), ph=middle("ph"), gh=middle("gh"),
        chloride=middle("chloride_concentration"),
        dissolved_carbon=middle("dissolved_carbon_concentration"),
    )  # fmt: skip


def windows(calm: Ahead, species: Species) -> list[Bound]:
    """What of the water as it is does not suit a species."""
    found = []
    suited = limits_for([species], water_of(calm), own_of(calm.belief))
    for limit in suited:
        if limit.quantity not in WINDOWS or limit.severity == "well":
            continue
        chance = float(calm.crossed(limit).any(axis=0).mean())
        allowed = OUTSIDE if limit.severity == "watch" else FAR
        if chance > allowed:
            low, high = np.quantile(calm.values(limit.quantity), [0.1, 0.9])
            word = limit.quantity if limit.quantity == "temperature" else {
                "ph": "pH", "gh": "hardness", "kh": "carbonate hardness", "ec25": "conductivity",
            }[limit.quantity]  # fmt: skip
            side = "below" if limit.side == "low" else "above"
            found.append(Bound(
                word, 0.0, 0.0,
                f"{word} is {short(float(low))} to {short(float(high))} here, {side} the "
                f"{short(shown_bound(limit))} of its range in {chance:.0%} of members"
                + (f"; {limit.own}" if limit.is_own else ""),
                f"choose a species for this {word}, or move the water slowly first",
            ))  # fmt: skip
    return found


def surface(calm: Ahead, species: Species) -> list[Bound]:
    """Whether one that breathes air finds open surface."""
    found = []
    for limit in limits_for([species], water_of(calm), own_of(calm.belief)):
        if limit.quantity == "cover":
            chance = float(calm.crossed(limit).any(axis=0).mean())
            if chance > OUTSIDE:
                found.append(Bound(
                    "surface", 0.0, 0.0, f"it breathes air, and the mat closes to more than "
                    f"{shown_bound(limit):.0f} % in {chance:.0%} of members",
                    "keep part of the surface free with a ring, or thin to leave less",
                ))  # fmt: skip
    return found[-1:]


def stocking(
    belief: TankBelief, wish: Sequence[tuple[str, int]], threads: int | None = None
) -> dict[str, Any]:
    """How many of each wished species fit, what binds, and what would make room, as an answer."""
    if not wish:
        raise InputError("no animal is wished for", "plan stocking", "name a species and a number")
    habits = thinned_weekly(belief, habits_of(belief.case, belief.at))
    present = {s.name: n for s, n in animals_of(belief.case, belief.at).items()}
    species = [library().find_species(n) for n, _ in wish]
    food = sum(food_of(s) * n for s, (_, n) in zip(species, wish, strict=True))
    rich = loaded(habits, max(2.0 * food, RICH * FOOD_SHARE * belief.case.tank.net_l))
    capacity = removal_of_nitrogen(belief, rich, threads)
    per_gram = nitrogen_of_feed(belief.case.record, habits)
    given = habits.feed_per_day * per_gram
    calm = run_ahead(belief, RUNNING, habits, threads=threads, members=MEMBERS)
    base = heated(belief, {}, habits, threads)
    rows = []
    for one, (_, number) in zip(species, wish, strict=True):
        bounds = _bounds(belief, one, number, habits, base, calm, present, threads)
        bounds.append(_by_nitrogen(one, capacity, given, per_gram))
        rows.append(_row(one, number, bounds, present.get(one.name, 0.0)))
    together = heated(belief, dict(wish), habits, threads)
    risks = _risks(together, base, [*present, *(n for n, _ in wish)])
    extra = food * per_gram
    risks.append({
        "limit": "nitrogen", "word": "food brings more nitrogen than can leave", "severity": "act",
        "now": round(float((capacity < given).mean()), 3),
        "with": round(float((capacity < given + extra).mean()), 3),
    })  # fmt: skip
    judged = limits_for([*present, *(n for n, _ in wish)], water_of(calm), own_of(belief))
    return _answer(belief, rows, risks, capacity, given, habits, judged)


def _by_nitrogen(species: Species, capacity: Array, given: float, per_gram: float) -> Bound:
    each = food_of(species) * per_gram
    fits = np.array([fit_by_nitrogen(float(c), given, each) for c in capacity])
    sure, middle = np.quantile(fits, [SURE, 0.5])
    return Bound(
        "nitrogen", float(sure), float(middle),
        f"harvest and denitrification take {short(float(np.quantile(capacity, SURE)))} mg/d out "
        f"at least, the food of now brings {short(given)}, each further animal {short(each)}",
        "grow and harvest more plants, or feed less",
    )


def _bounds(
    belief: TankBelief, species: Species, number: int, habits: Habits, base: Heated,
    calm: Ahead, present: Mapping[str, float], threads: int | None,
) -> list[Bound]:  # fmt: skip
    """What the heat wave, the water, the surface and the room allow of one species."""
    company = company_of(species.name, species.group)
    there = present.get(species.name, 0.0)
    room = fit_by_room(company, belief.case.tank.net_l) - there
    most = float(max(2 * number, 2 * company.group, 2))
    numbers = [0.0, most / 4.0, most / 2.0, most]
    runs = [base, *(heated(belief, {species.name: n}, habits, threads) for n in numbers[1:])]
    good = np.logical_and.reduce([r.good for r in runs])
    found = []
    together = limits_for([*present, species.name], water_of(base.ahead), own_of(belief))
    for limit in _acted(together):
        margins = np.array([r.margin(limit)[good] for r in runs])
        fits = most_within(numbers, margins)
        sure, middle = np.quantile(fits, [SURE, 0.5])
        never = sure >= most
        found.append(Bound(
            "oxygen at dawn" if limit.quantity == "oxygen_dawn" else "ammonia",
            np.inf if never else float(sure), np.inf if middle >= most else float(middle),
            _in_heat(limit, sure, never, float((margins[0] < 0.0).mean())),
            "move the surface gently at night, leave less cover, or keep it cooler"
            if limit.quantity == "oxygen_dawn" else "feed less, or grow more plants first",
        ))  # fmt: skip
    found += [*windows(calm, species), *surface(calm, species)]
    note = f"; {company.note}" if company.note else ""
    found.append(Bound(
        "room", float(max(room, 0.0)), float(max(room, 0.0)),
        f"common practice, no source: {company.litres:g} L for {company.group}, {company.each:g} L "
        f"for each more{note}" + (f"; {there:g} are in" if there else ""),
        f"a tank of {company.litres:g} L or more",
    ))  # fmt: skip
    return found


def _in_heat(limit: Limit, sure: float, never: bool, already: float) -> str:
    bound = f"'{limit.word}' ({shown_bound(limit):.3g} mg/L)"
    if already > SURE:
        return f"in a week {HEAT:g} K warmer {bound} comes to {already:.0%} of members without them"
    more = " and more" if never else ""
    return (
        f"in a week {HEAT:g} K warmer nine members in ten keep clear of {bound} with up to "
        f"{sure:.0f} of them{more}"
    )


def _acted(limits: Sequence[Limit]) -> list[Limit]:
    """Limits of oxygen and ammonia at which one acts: one of each."""
    return [
        x for x in limits
        if x.quantity in ("oxygen_dawn", "ammonia_nh3") and x.severity == "act"
    ]  # fmt: skip


def _row(
    species: Species, number: int, bounds: Sequence[Bound], there: float
) -> dict[str, Any]:
    company = company_of(species.name, species.group)
    binding = min(bounds, key=lambda b: (b.sure, b.middle))
    sure, middle = int(binding.sure), int(min(b.middle for b in bounds))
    alone = 0 < sure < company.group - there
    if alone:
        binding = Bound(
            "company", 0.0, 0.0, f"only {sure} fit ({binding.name}: {binding.why}), fewer than the "
            f"{company.group} that live well together by common practice", binding.room,
        )  # fmt: skip
        sure = 0
    genus = species.name.split()[0]
    return {
        "species": species.name, "common": species.common[0] if species.common else species.name,
        "wished": number, "fits": sure, "fits_middle": max(middle, sure), "enough": sure >= number,
        "binds": binding.name, "why": binding.why, "room": binding.room,
        "group": company.group, "law": PROHIBITED.get(genus, "") + LAW if species.check_law else "",
        "bounds": [
            {"name": b.name, "sure": None if np.isinf(b.sure) else b.sure,
             "middle": None if np.isinf(b.middle) else b.middle, "why": b.why, "room": b.room}
            for b in bounds
        ],
    }  # fmt: skip


def _risks(together: Heated, base: Heated, names: Sequence[str]) -> list[dict[str, Any]]:
    """Chance that all wished together cross a limit in the heat wave, beside that of now."""
    good = together.good & base.good
    rows = []
    for limit in limits_for(names, water_of(base.ahead), own_of(base.ahead.belief)):
        if limit.quantity in ("oxygen_dawn", "ammonia_nh3", "temperature") and limit.rank >= 2:
            now, then = (float((h.margin(limit)[good] < 0.0).mean()) for h in (base, together))
            rows.append({"limit": limit.name, "word": limit.word, "severity": limit.severity,
                         "now": round(now, 3), "with": round(then, 3)})  # fmt: skip
    return rows


def _answer(
    belief: TankBelief, rows: list[dict[str, Any]], risks: list[dict[str, Any]],
    capacity: Array, given: float, habits: Habits, judged: Sequence[Limit],
) -> dict[str, Any]:  # fmt: skip
    fits = [r for r in rows if r["enough"]]
    worse = [r for r in risks if r["with"] > max(SURE, r["now"])]
    words = [f"{r['word']} ({r['now']:.0%} to {r['with']:.0%})" for r in worse]
    if not fits:
        headline = "None of the wishes fits as wished"
    elif len(fits) == len(rows) and not worse:
        headline = "All of it fits"
    else:
        headline = "Part of it fits" if not worse else "One by one, but not all together"
    low, middle, high = (float(q) for q in np.quantile(capacity, [0.1, 0.5, 0.9]))
    return {
        "planner": "stocking", "tank": belief.case.tank.name,
        "at": local_time(belief, belief.at), "model": belief.model, "seed": belief.seed,
        "headline": headline, "species": rows, "risks": risks,
        "nitrogen": {"out": [low, middle, high], "food": given, "unit": "mg/d"},
        "said": [
            *[f"{r['common'].capitalize()}: {r['law']}" for r in rows if r["law"]],
            f"Food brings {short(given)} mg of nitrogen a day; harvest and denitrification can "
            f"take {short(low)} to {short(high)} out while plants are thinned each week.",
            *([f"All of it together makes likelier: {', '.join(words)}."] if words else []),
            basis(belief),
            f"Animals are counted full-grown, fed {FOOD_SHARE:.0%} of their mass a day.",
            *(["Nothing is fed by habit yet; flake is assumed."] if not habits.meals else []),
        ],
        "steps": _steps(rows), "tables": _tables(rows, risks, given, low, high),
        "cautions": [
            "Quarantine new animals, a few at a time; a new tank takes none before it has proved "
            "that it takes ammonia up. Never release animals.",
        ],
        "sources": sorted({x.source for x in judged} | {"common_practice"}),
    }  # fmt: skip


def _steps(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        step(
            f"{r['common'].capitalize()} (you wish {r['wished']}): "
            + (f"{r['fits']} fit" if r["fits"] else "none fits"),
            f"Bound by {r['binds']}: {r['why']}.", f"What would make room: {r['room']}.",
        )
        for r in rows
    ]  # fmt: skip


def _tables(
    rows: Sequence[dict[str, Any]], risks: Sequence[dict[str, Any]], given: float, low: float,
    high: float,
) -> list[dict[str, Any]]:  # fmt: skip
    """What each constraint allows, the chances of all together, and nitrogen."""
    return [
        table("What each allows, in nine members of ten", ["Species", "By", "At most", "Why"], [
            [r["common"], b["name"],
             "more than tried" if b["sure"] is None else cell(float(int(b["sure"]))), b["why"]]
            for r in rows for b in r["bounds"]
        ]),
        table(f"All together, a week {HEAT:g} K warmer", ["Chance of", "As now", "With them"], [
            [r["word"], cell(100.0 * r["now"], "%"), cell(100.0 * r["with"], "%")] for r in risks
        ]),
        table("Nitrogen a day", ["", "Range"], [
            ["Brought by food", cell(given, "mg")], ["Can be taken out", span(low, high, "mg")],
        ]),
    ]  # fmt: skip
