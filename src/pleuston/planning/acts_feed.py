"""A little more food: where animals lack it and nothing that guards them binds.

More is only ever for the animals: plants that starve of nitrogen or phosphorus beside well-fed
animals are a matter of dosing. What is gained must show, else nothing is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pleuston.planning.acts import Act, short
from pleuston.planning.acts_plants import FED_INTO
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import shown_bound
from pleuston.planning.plan import Plan
from pleuston.planning.policy import ALLOWED, Judged
from pleuston.planning.soil_age import growth
from pleuston.planning.told import YOUNG
from pleuston.planning.view import HORIZON, View

MOST_MORE = 0.25
"""Largest share by which food is raised in a week: common practice is little by little, no
source."""
LEAST_MORE = 0.05
"""A smaller share is not worth saying: guess."""
SHARES = (1.0 + MOST_MORE, 1.1)
"""Shares of the usual food that are tried, largest first."""
THIN = ("thin_animals",)
HUNGRY_PLANTS = ("pale_leaves", "stunted", "roots_long")
"""Signs of floating plants that lack nitrogen or phosphorus, among others: common practice."""
FOUL = ("film", "cloudy", "not_eating", "smell", "gasping", "melt", "dead_animal")
"""Signs that speak against every gram more, whatever its reason."""
SIGN_DAYS, FOUL_DAYS = 28.0, 14.0
BARE: Mapping[str, float] = {"nitrate": 0.5, "phosphate_ion": 0.05}
"""mg/L (of N; of PO4) below which there is next to none: the first step of common kits, no
source."""
GROWS = 0.002
"""Growth of floating plants [1/d] that must be gained where they alone show hunger: guess."""
MOSTLY = 0.7
"""Share of members that must agree."""
WEEK = 7.0


@dataclass(frozen=True)
class Room:
    """How much more food a week [g] may be given, and what holds it there."""

    grams: float
    binds: str


def room_for_food(
    fed: float, need: tuple[float, float], carried: float, thin: bool
) -> Room | None:
    """The food a week [g] to go up to, or None where animals are not underfed or nothing fits.

    fed, need, carried: grams a week: what is given, the least and the most that the animals need,
    and what the tank surely carries. thin: whether animals were seen to be thin, who then may
    have up to the most that is needed; else they count as underfed below the least alone.

    >>> room_for_food(0.2, (0.3, 1.2), 1.0, thin=False)
    Room(grams=0.25, binds='a quarter more in a week at most')
    >>> room_for_food(0.28, (0.3, 1.2), 1.0, thin=False)
    Room(grams=0.3, binds='what the animals need at the least')
    >>> room_for_food(0.28, (0.3, 1.2), 0.2, thin=False) is None
    True
    >>> room_for_food(0.4, (0.3, 1.2), 1.0, thin=False) is None
    True
    >>> room_for_food(0.4, (0.3, 1.2), 0.45, thin=True)
    Room(grams=0.45, binds='what the tank surely carries')
    """
    wanted = need[1] if thin else need[0]
    bounds = {
        "a quarter more in a week at most": fed * (1.0 + MOST_MORE),
        "what the animals need at the most" if thin else "what the animals need at the least":
            wanted,
        "what the tank surely carries": carried,
    }  # fmt: skip
    binds = min(bounds, key=lambda name: bounds[name])
    if fed <= 0.0 or bounds[binds] < fed * (1.0 + LEAST_MORE):
        return None
    return Room(round(bounds[binds], 9), binds)


def guards(limits: Sequence[Limit]) -> list[Limit]:
    """The limits that food moves: oxygen, ammonia, nitrite and nitrate, of every severity."""
    return [
        x for x in limits
        if x.quantity in FED_INTO and x.side == ("low" if x.quantity == "oxygen_dawn" else "high")
    ]  # fmt: skip


def barred(chances: Mapping[str, float], limits: Sequence[Limit]) -> Limit | None:
    """The first limit likelier to be crossed than is put up with; a chance not known bars, too.

    chances: by key of a limit [1].
    """
    return next(
        (x for x in guards(limits) if chances.get(x.key, 1.0) > ALLOWED.get(x.severity, 0.0)), None
    )


def feed_more(view: View) -> list[Act]:
    """A little more food where animals are underfed and no limit that guards them binds."""
    fed = view.ahead.habits.feed_per_day * WEEK
    thin, starving = view.seen(*THIN, days=SIGN_DAYS), _starving(view)
    if fed <= 0.0 or not view.has_animals or not (thin or starving) or _at_risk(view):
        return []
    food = view.food
    low, high = food["need_g_per_week"]
    room = room_for_food(fed, (low, high), food["carried_g_per_week"][0], bool(thin))
    if room is None:
        return []
    found = _largest(view, fed, room, bool(thin))
    if found is None:
        return []
    share, judged, held_by = found
    near = max(guards(view.limits), key=lambda x: judged.chances[x.key] / ALLOWED[x.severity],
               default=None)  # fmt: skip
    return [_act(view, share, fed, (low, high), held_by, near, judged, [*thin, *starving])]


def _starving(view: View) -> list[str]:
    """What floating plants show, where the water holds next to no nitrogen or phosphorus."""
    signs = view.seen(*HUNGRY_PLANTS, days=SIGN_DAYS)
    bare = any(_bare(view, q) >= MOSTLY for q in BARE)
    return signs if signs and bare and view.belief.case.plants.slots else []


def _bare(view: View, quantity: str) -> float:
    """Share of members that leave next to none of a nutrient now."""
    return float((view.ahead.values(quantity)[0] < BARE[quantity]).mean())


def _at_risk(view: View) -> bool:
    """Whether anything speaks against more food: a young tank, foul signs, deaths, a limit."""
    age = view.age if np.isfinite(view.age) else view.belief.at
    now = {x.key: view.chance(x, HORIZON) for x in guards(view.limits)}
    return (
        age < YOUNG or bool(view.seen(*FOUL, days=FOUL_DAYS)) or view.deaths(FOUL_DAYS) > 0.0
        or view.ammonia_stored or barred(now, view.limits) is not None
    )  # fmt: skip


def _largest(view: View, fed: float, room: Room, thin: bool) -> tuple[float, Judged, str] | None:
    """The largest share within the room under which no limit binds, and what held it there.

    None where none is left, or where thin animals are not the reason and no plant gains by it.
    """
    most = room.grams / fed
    held = room.binds
    for share in (most, *(s for s in SHARES if 1.0 + LEAST_MORE <= s < most)):
        judged = view.judged(Plan("more food", feed=share))
        stopped = barred(judged.chances, view.limits)
        if stopped is None and not judged.too_fast:
            return (share, judged, held) if thin or _grow(view, share) else None
        held = f"'{stopped.word}' at {short(shown_bound(stopped))}" if stopped is not None else \
            "the steps of a day"  # fmt: skip
    return None


def _grow(view: View, share: float) -> bool:
    """Whether floating plants, none taken out, grow faster by it, member by member."""
    slots = tuple(view.belief.case.plants.slots.values())
    now, more = (growth(view.judged(Plan("alone", cover=1.0, feed=s)).tried, slots)
                 for s in (None, share))  # fmt: skip
    return now.shape == more.shape and float(np.nanmedian(more - now)) >= GROWS


def _act(
    view: View, share: float, fed: float, need: tuple[float, float], held_by: str,
    near: Limit | None, judged: Judged, signs: list[str],
) -> Act:  # fmt: skip
    water = [f"{view.span(q)} mg/L of {w}" for q, w in (("nitrate", "nitrate as N"),
                                                       ("phosphate_ion", "phosphate"))]  # fmt: skip
    reason = (
        f"{short(fed)} g a week have been fed; the animals need {short(need[0])} to "
        f"{short(need[1])} g (common practice), and the tank surely carries "
        f"{short(view.food['carried_g_per_week'][0])} g. Seen: "
        f"{', '.join(s.replace('_', ' ') for s in signs)}; the water holds {' and '.join(water)}. "
        "No more than is eaten within minutes. Thin though they eat: it may be illness, ask a vet. "
        "Where the animals are round and only plants lack, "
        "dose what is short instead ('Dose')."
    )
    closest = "" if near is None else (
        f" Nearest limit: '{near.word}', {judged.chances[near.key]:.0%} within {HORIZON} days "
        f"where {ALLOWED[near.severity]:.0%} is put up with."
    )  # fmt: skip
    return Act(
        "feed_more", "feed", share * fed / WEEK, "g/day", reason,
        "fair" if "thin_animals" in signs else "low",
        "The animals go on lacking, and plants with them; neither is an emergency.",
        f"Held at {share:.0%} of before by: {held_by}.{closest}",
        "It would change if food were left over, if a film, cloudy water or ammonia showed, or "
        "if the animals filled out.",
    )  # fmt: skip
