"""The feed budget: how much food a week the tank carries, beside what its animals need.

Nitrogen comes in with food; it leaves with harvested plants and as gas from the bed, and some is
laid up in rooted plants. Potassium leaves with the same harvest and hardly comes back with food.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from pleuston.base import parameters
from pleuston.base.errors import InputError
from pleuston.base.parameters import Parameter
from pleuston.engine.events import BODY_CARBON, feed_content
from pleuston.engine.kernel import Array
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.flows import Changes, substance
from pleuston.planning.habits import Habits, habits_of
from pleuston.planning.hours import local_time
from pleuston.planning.outlook import animals_of, run_ahead
from pleuston.planning.planner import cell, span, step, table
from pleuston.planning.stocking import FLESH, RICH, loaded, thinned_weekly
from pleuston.records.resolve import feed_named

Amount = TypeVar("Amount", float, Array)
DAYS, HALF = 28, 14
"""Days run ahead, and those of them left out of the count."""
MEMBERS = 100
NEED = (0.005, 0.02)
"""Dry food of grown animals a day, as a share of their mass: common practice, no source."""
WEEK = 7.0
CARBON_OF_DRY = 378.0
"""Carbon of dry plants [mg/g], as the model counts it."""
LEAST_PLANTS = 0.5
"""Drained grams of floating plants below which their content is taken from the literature."""


@dataclass(frozen=True)
class Removal:
    """What takes nitrogen out, and what moves potassium, by members [mg/d]."""

    harvest: Array
    denitrified: Array
    rooted: Array
    potassium_out: Array
    potassium_in: Array

    @property
    def total(self) -> Array:
        """Nitrogen that leaves the water for good or for long [mg/d]."""
        return np.asarray(self.harvest + self.denitrified + self.rooted)


def food_carried(nitrogen_out: Array, per_gram: float) -> Array:
    """Food a week [g] whose nitrogen is taken out: 7 x out [mg/d] / nitrogen of a gram.

    >>> float(food_carried(np.array([3.6]), 72.0)[0])
    0.35
    """
    return np.asarray(WEEK * nitrogen_out / per_gram)


def floaters_per_food(per_gram: float, dry_share: Amount, nitrogen_share: Amount) -> Amount:
    """Drained grams of floating plants that hold the nitrogen of a gram of dry food.

    per_gram: nitrogen of the food [mg/g]; nitrogen_share: of dry plant [mg/g].

    >>> round(floaters_per_food(72.0, 0.055, 45.0), 1)
    29.1
    """
    return per_gram / (dry_share * nitrogen_share)


def potassium_gap(
    per_gram: float, dry_share: Amount, nitrogen_share: Amount, potassium_share: Amount,
    potassium_of_food: float,
) -> tuple[Amount, float]:
    """Potassium [mg] that the harvest for a gram of food takes, and what the food brings.

    >>> taken, brought = potassium_gap(72.0, 0.055, 45.0, 35.0, 8.0)
    >>> round(taken), brought
    (56, 8.0)
    """
    grams = floaters_per_food(per_gram, dry_share, nitrogen_share)
    return grams * dry_share * potassium_share, potassium_of_food


def removal(belief: TankBelief, habits: Habits, threads: int | None = None) -> Removal:
    """Members run on by habit for four weeks; the second half of them counts."""
    ahead = run_ahead(belief, DAYS, habits, threads=threads, extents=True, members=MEMBERS)
    table_ = belief.case.table
    changes = Changes(table_)
    extents = ahead.run.extents
    assert extents is not None
    good = ahead.run.good
    moved = ((extents[-1] - extents[HALF - 1]) / (DAYS - HALF))[:, good]

    def of(element: str, *wanted: int) -> Array:
        weights = changes.matrix @ substance(table_, element).weights
        rows = list(wanted)
        return np.asarray((weights[rows][:, None] * moved[rows]).sum(axis=0))

    by = changes.data
    out = [i for i, c in enumerate(by) if c["crosses"] == "harvest"]
    gas = [i for i, c in enumerate(by) if c["name"].startswith("denitrify")]
    into = [i for i, c in enumerate(by) if c["crosses"] in ("feed", "top_up", "dose")]
    place = table_.at("state", "rooted_nitrogen")
    begun = belief.end[:MEMBERS][good, place]
    rooted = np.maximum((ahead.run.end[good, place] - begun) / DAYS, 0.0)
    return Removal(-of("N", *out), -of("N", *gas), rooted, -of("K", *out), of("K", *into))


@dataclass(frozen=True)
class Content:
    """What the floating plants hold, by members or by the range of the literature.

    dry_share: of drained mass [1]; nitrogen, potassium: of dry mass [mg/g]; whose: in words.
    """

    dry_share: Array
    nitrogen: Array
    potassium: Array
    whose: str
    learned: bool
    """Whether this tank's own members tell it, by what its readings taught them."""


def content_of(belief: TankBelief) -> Content:
    """What the tank's own floating plants hold now, all kinds together, by members.

    Where next to none float: what a kind that is noted, else duckweed, may hold by the
    literature, from its least to its luxury content.
    """
    case = belief.case
    grown = _standing(belief)
    if grown is not None:
        return grown
    noted = next(iter(case.plants.models.values()), "lemna")
    records = parameters.load()

    def of(role: str) -> Parameter:
        return records.get(f"{noted}_{role}") or records[f"floater_{role}"]

    dry = of("dry_share")
    parts = [np.array([dry.low, dry.value, dry.high])]
    for element in ("nitrogen", "potassium"):
        ends = [of(f"{element}_{end}").value for end in ("min", "max")]
        parts.append(np.array([ends[0], 0.5 * sum(ends), ends[1]]))
    made = [axis.ravel() for axis in np.meshgrid(*parts, indexing="ij")]
    return Content(made[0], made[1], made[2], noted, False)


def _standing(belief: TankBelief) -> Content | None:
    """What plants hold as the members grew them; None where the middle member has next to none."""
    case, table_ = belief.case, belief.case.table
    slots = case.plants.slots
    if not slots:
        return None

    def held(element: str) -> Array:
        return np.array([belief.end[:, table_.at("state", f"{s}_{element}")]
                         for s in slots.values()])  # fmt: skip

    dry = held("carbon") / CARBON_OF_DRY
    share = np.array([belief.parameters[:, table_.at("parameter", f"{s}_dry_share")]
                      for s in slots.values()])  # fmt: skip
    total, drained = dry.sum(axis=0), (dry / share).sum(axis=0)
    if float(np.median(drained)) < LEAST_PLANTS:
        return None
    some = drained > 0.0
    return Content(
        total[some] / drained[some], held("nitrogen").sum(axis=0)[some] / total[some],
        held("potassium").sum(axis=0)[some] / total[some], ", ".join(slots), True,
    )  # fmt: skip


def mass_of_animals(belief: TankBelief) -> float:
    """Mass of the animals that are fed [g]: as the members hold it, shells left out."""
    table_ = belief.case.table
    total = 0.0
    for group in ("fish", "shrimp", "snails"):
        place = table_.at("state", f"{group}_body")
        held = float(np.median(belief.end[:, place]))
        total += held / BODY_CARBON * FLESH.get(group, 1.0)
    return total


def feed_budget(
    belief: TankBelief, animals: float | None = None, most: float = NEED[1],
    threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Food a week that the tank carries and that its animals need, as an answer.

    animals: their mass [g] where it is known better than by the record; most: the upper end of
    what they are given a day, as a share of their mass. Raises InputError where neither animals
    nor food are noted.
    """
    case, at = belief.case, belief.at
    habits = habits_of(case, at)
    if habits.feed_per_day <= 0.0 and not animals_of(case, at):
        raise InputError(
            "neither animals nor food are noted", where=f"tank {case.tank.name}",
            remedy="note the animals, or what is fed",
        )  # fmt: skip
    feed = habits.meals[0].feed if habits.meals else "flake"
    content = feed_content(feed_named(case.record, feed), 1.0)
    rich = loaded(thinned_weekly(belief, habits), _extra(belief, habits))
    able, now = removal(belief, rich, threads), removal(belief, habits, threads)
    per_gram = content["feed_nitrogen"]
    carried = _three(food_carried(able.total, per_gram))
    mass = mass_of_animals(belief) if animals is None else animals
    need = [mass * share * WEEK for share in (NEED[0], most)]
    fed = habits.feed_per_day * WEEK
    gap = _three(WEEK * np.maximum(now.potassium_out - now.potassium_in, 0.0))
    data: dict[str, Any] = {
        "planner": "feed-budget", "tank": case.tank.name, "at": local_time(belief, at),
        "model": belief.model, "seed": belief.seed, "feed": feed, "nitrogen_per_gram": per_gram,
        "carried_g_per_week": carried, "need_g_per_week": need, "fed_g_per_week": fed,
        "animals_g": mass, "overfed": fed / max(carried[1], 1e-9),
        "potassium_short_mg_per_week": gap, "binds": binding(carried, need),
    }  # fmt: skip
    data["advised_g_per_week"] = advised(carried, need)
    data |= _per_gram(content_of(belief), per_gram, content["feed_potassium"])
    return data | _words(belief, data, able, content)


def _per_gram(held: Content, per_gram: float, potassium: float) -> dict[str, Any]:
    """Floating plants [g] and potassium [mg] for a gram of food, with 10, 50 and 90 %."""
    floaters = floaters_per_food(per_gram, held.dry_share, held.nitrogen)
    taken, _ = potassium_gap(
        per_gram, held.dry_share, held.nitrogen, held.potassium, potassium
    )
    return {
        "floaters_per_gram": _three(np.asarray(floaters)),
        "potassium_taken_per_gram": _three(np.asarray(taken)),
        "plants": {
            "whose": held.whose, "learned": held.learned, "dry_share": _three(held.dry_share),
            "nitrogen_mg_per_g": _three(held.nitrogen),
            "potassium_mg_per_g": _three(held.potassium),
        },
    }  # fmt: skip


def _extra(belief: TankBelief, habits: Habits) -> float:
    """Food beyond the usual, so that plants short of nitrogen show what they could take."""
    grams = RICH * belief.case.tank.net_l * NEED[1]
    return max(grams - habits.feed_per_day, 0.0)


def binding(carried: list[float], need: list[float]) -> str:
    """Which side holds the food: `animals`, `nitrogen`, or `too many animals`.

    >>> binding([2.0, 3.0, 4.0], [0.3, 1.2]), binding([0.8, 1, 2], [0.3, 1.2])
    ('animals', 'nitrogen')
    >>> binding([0.2, 0.3, 0.4], [0.5, 2.0])
    'too many animals'
    """
    if carried[1] < need[0]:
        return "too many animals"
    return "nitrogen" if carried[0] < need[1] else "animals"


def advised(carried: list[float], need: list[float]) -> list[float]:
    """Food a week [g], from least to most: what animals need, no more than is surely carried.

    >>> advised([0.8, 1.0, 2.0], [0.3, 1.2])
    [0.3, 0.8]
    """
    most = min(need[1], carried[0]) if need[1] > 0.0 else carried[0]
    return [min(need[0], most) if most < need[0] else need[0], max(most, need[0])]


def _three(values: Array) -> list[float]:
    return [float(v) for v in np.quantile(values, [0.1, 0.5, 0.9])]


BINDS = {
    "animals": "What the animals need binds: the tank could carry more, they should not get it.",
    "nitrogen": "What is taken out binds: the tank does not surely carry what animals are given "
    "at the upper end of practice.",
    "too many animals": "The tank does not carry the least its animals need: thin more plants, "
    "part with animals, or change water; hunger is no answer.",
}


def _words(
    belief: TankBelief, d: dict[str, Any], able: Removal, content: dict[str, float]
) -> dict[str, Any]:
    low, high = d["advised_g_per_week"]
    carried = d["carried_g_per_week"]
    ratio, taken = d["floaters_per_gram"], d["potassium_taken_per_gram"]
    brought = content["feed_potassium"]
    fed, gap = d["fed_g_per_week"], d["potassium_short_mg_per_week"]
    factor = f"Fed now {short(fed)} g a week: {d['overfed']:.1f} times what is carried."
    return {
        "headline": f"{short(low)} to {short(high)} g of {d['feed']} a week",
        "said": [
            BINDS[d["binds"]],
            f"The tank carries {short(carried[1])} g a week ({short(carried[0])} to "
            f"{short(carried[2])}); the animals, {short(d['animals_g'])} g of them, need "
            f"{short(d['need_g_per_week'][0])} to {short(d['need_g_per_week'][1])} g.",
            factor if fed > 0.0 else "No food was noted in four weeks.",
            f"By the harvest {short(gap[1])} mg of potassium a week go out and do not come back "
            f"({short(gap[0])} to {short(gap[2])}).",
            basis(belief),
        ],
        "steps": _steps(d, ratio), "tables": _tables(d, able, ratio, taken, brought),
        "cautions": [CAUTIONS["thin"]], "sources": ["common_practice"],
    }  # fmt: skip


def _steps(d: dict[str, Any], ratio: list[float]) -> list[dict[str, Any]]:
    low, high = d["advised_g_per_week"]
    made = [step(
        f"Feed {short(low / WEEK)} to {short(high / WEEK)} g a day, or twice that every other day",
        "Weigh a week's food into a jar; what is left in the jar tells more than a pinch.",
        f"Take out about {ratio[1]:.0f} g ({ratio[0]:.0f} to {ratio[2]:.0f}) of drained floating "
        "plants for every gram of food.",
    )]  # fmt: skip
    if d["binds"] == "too many animals":
        made.insert(0, step("Watch ammonia and nitrite, and have water ready to change",
                            "An emergency water change is right in this tank too."))  # fmt: skip
    if d["potassium_short_mg_per_week"][1] > 0.0:
        made.append(step("Try whether potassium is short",
                         "The planner 'Give potassium or iron back' tells how."))  # fmt: skip
    return made


def _tables(
    d: dict[str, Any], able: Removal, ratio: list[float], taken: list[float], brought: float
) -> list[dict[str, Any]]:
    rows = []
    for word, values in (
        ("Harvested plants", able.harvest), ("Denitrified in the bed", able.denitrified),
        ("Laid up in rooted plants", able.rooted), ("Together", able.total),
    ):  # fmt: skip
        low, _, high = _three(WEEK * values)
        rows.append([word, span(low, high, "mg")])
    return [
        table("Nitrogen that can leave in a week", ["", "Range"], rows),
        table("For one gram of food", ["", "Amount"], [
            ["Nitrogen in it", cell(d["nitrogen_per_gram"], "mg")],
            ["Drained floating plants that hold as much", span(ratio[0], ratio[2], "g")],
            ["Potassium that these take along", span(taken[0], taken[2], "mg")],
            ["Potassium that the food brings", cell(brought, "mg")],
        ]) | {"note": _content_said(d["plants"])},
    ]  # fmt: skip


def _content_said(plants: dict[str, Any]) -> str:
    """What plants were counted at, and where that is from."""

    def percent(name: str) -> str:
        low, _, high = (v / 10.0 for v in plants[name])
        return f"{low:.1f} to {high:.1f} %"

    whose = f"{plants['whose']} as learned for this tank" if plants["learned"] else (
        f"{plants['whose']}, from the least to the most that the literature gives: next to none "
        "float here")  # fmt: skip
    return (
        f"Of dry mass {percent('nitrogen_mg_per_g')} nitrogen and "
        f"{percent('potassium_mg_per_g')} potassium: {whose}."
    )
