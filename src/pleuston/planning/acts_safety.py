"""Acts that keep animals alive: oxygen, ammonia and nitrite, copper, heat, the dead."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pleuston.planning.acts import Act, confidence
from pleuston.planning.explain import drivers, said
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import shown_bound
from pleuston.planning.sources import Source, share_to_dilute
from pleuston.planning.steps import that_fit
from pleuston.planning.view import WEEK, View, binds, bound_of, would_change

LIKELY = 0.5
POSSIBLE = 0.3
BELOW = 0.7
"""A dilution aims at this share of the limit."""
STATES = {"ammonium": "ammonium", "ammonia_nh3": "ammonium", "nitrite": "nitrite",
          "nitrate": "nitrate", "copper": "copper"}  # fmt: skip
WORDS = {"ammonia_nh3": "Ammonia (NH3)", "ammonium": "Total ammonia", "nitrite": "Nitrite",
         "nitrate": "Nitrate", "copper": "Copper"}  # fmt: skip

SIGNS = ("Animals were seen gasping.", "It would change when none hangs at the surface at dawn.")
LOST = ("Animals died or are missing.", "It would change when the cause is known and gone.")


def emergency(view: View) -> list[Act]:
    """Signs that ask for a hand at once, whatever the members say."""
    acts = []
    if view.seen("gasping", days=3.0):
        why = "Animals were seen gasping: that begins near 2 mg/L of oxygen only."
        acts += [
            Act("stir_surface", "surface", None, "", f"{why} Break the film, scoop and pour, now.",
                "good", "Animals can suffocate before the next dawn.", *SIGNS, safety=True),
            Act("open_surface", "surface", 75.0, "%", f"{why} Air meets water where it is open: "
                "push the plants aside and keep three quarters free until it is over.", "good",
                "The way to the air stays closed.", *SIGNS, safety=True),
        ]  # fmt: skip
    if view.seen("film", days=10.0):
        acts.append(
            Act("stir_surface", "film", None, "", "A film was seen: lay paper on it or scoop it "
                "off, and look for what feeds it (left food, melting leaves, a dead animal).",
                "fair", "A film slows the air's oxygen down, most at night.",
                "A film was seen.", "It would change when the surface is clear again.")
        )  # fmt: skip
    return acts


def dead(view: View) -> list[Act]:
    """The dead are taken out; nothing new goes in meanwhile."""
    count = view.deaths()
    found = view.seen("dead_animal", "missing_animal", days=7.0)
    if not count and not found:
        return []
    what = f"{count:g} died within a week" if count else "A dead or missing animal was noted"
    return [
        Act("remove_dead", "animals", None, "", f"{what}; look behind wood and under leaves: the "
            "dead feed ammonia and take oxygen.", "good", "Ammonia rises within a day or two.",
            *LOST, safety=True),
        Act("no_new_animals", "animals", None, "", f"{what} and the cause is open.", "good",
            "New animals may die of the same cause.", *LOST, safety=True),
    ]  # fmt: skip


def oxygen(view: View) -> list[Act]:
    """Move the surface when the lowest hours may fall below what animals stand."""
    limit = view.limit("oxygen_dawn", "low", "act", "danger")
    chance = view.chance(limit, WEEK)
    if limit is None or chance < LIKELY:
        return []
    rows = said(drivers(view.ahead, "oxygen_dawn"))
    beware = (
        " Ammonia may be stored, and moving water loses CO2, which lifts the pH: move it gently, "
        "and dilute first." if view.ammonia_stored else ""
    )  # fmt: skip
    return [
        Act("stir_surface", "surface", None, "",
            f"Oxygen at dawn is {view.span('oxygen_dawn')} mg/L this week and falls below "
            f"{bound_of(limit)} mg/L in {chance:.0%} of members. What takes it: {rows}. A gentle "
            f"movement of the surface in the night helps most.{beware}",
            confidence(chance), "The lowest hours stay below what the animals stand.",
            binds(limit, chance), would_change("a reading at dawn", limit, LIKELY), safety=True)
    ]  # fmt: skip


def oxygen_test(view: View) -> list[Act]:
    """Read oxygen at dawn where it may be low and was not read this week."""
    limit = view.limit("oxygen_dawn", "low", "act", "danger")
    measured = view.last("reading", ("oxygen", "oxygen_pct"))
    if limit is None or view.chance(limit, WEEK) < LIKELY or measured <= WEEK:
        return []
    ago = "never read" if np.isinf(measured) else f"last read {measured:.0f} days ago"
    return [
        Act("test", "oxygen", None, "", f"Read oxygen at dawn, before the lamp ({ago}). Without a "
            "kit: do animals hang at the surface at dawn and not by noon?", "good",
            "The range stays as wide as it is.", binds(limit, view.chance(limit, WEEK)),
            "A reading at dawn within the last week would make it needless.")
    ]  # fmt: skip


def poison(view: View) -> list[Act]:
    """Dilute, and stop feeding, when ammonia, nitrite or nitrate may pass a limit to act at."""
    found = []
    for quantity in ("ammonia_nh3", "ammonium", "nitrite", "nitrate"):
        for severity in ("danger", "act"):
            limit = view.limit(quantity, "high", severity)
            chance = view.chance(limit, WEEK)
            if limit is not None and chance >= POSSIBLE:
                found.append((chance >= LIKELY, limit.rank, chance, quantity, limit))
    if not found:
        return []
    likely, _, chance, quantity, limit = max(found, key=lambda f: f[:3])
    why = (
        f"{WORDS[quantity]} is {view.span(quantity)} mg/L of N, limit {bound_of(limit)}: "
        f"{chance:.0%} of members pass it this week. Behind it: "
        f"{said(drivers(view.ahead, quantity))}."
    )
    told = (binds(limit, chance), would_change(f"a test of {STATES[quantity]}", limit, LIKELY))
    acts = [replace(test_first(view, quantity, why, chance), binds=told[0], would_change=told[1])]
    if likely:
        acts.append(dilution(view, quantity, limit, why, chance))
    if view.ahead.habits.feed_per_day > 0.0 and quantity != "nitrate":
        acts.append(
            Act("stop_feeding", "feed", 0.0, "g/day", "Until a test shows it has fallen: every"
                " meal becomes ammonia. Do not raise the pH meanwhile: that turns stored "
                "ammonia to poison.", confidence(chance), "More ammonia follows every meal.",
                *told)
        )  # fmt: skip
    return [replace(act, safety=True) for act in acts]


def test_first(view: View, quantity: str, why: str, chance: float) -> Act:
    """The test that shows whether it is so."""
    name = STATES[quantity]
    age = view.last("reading", (name, f"{name}_ion"))
    ago = "never read" if np.isinf(age) else f"last read {age:.0f} days ago"
    return Act("test", name, None, "", f"{why} It was {ago}.", confidence(chance),
               "Whether it is so stays open.")  # fmt: skip


def dilution(view: View, quantity: str, limit: Limit, why: str, chance: float) -> Act:
    """A water change that brings a concentration down, its steps kept small."""
    now, aim = view.middle(quantity), BELOW * shown_bound(limit)
    best, share, wanted = best_water(view, quantity, now, aim)
    litres = share * view.tank.net_l
    capped = share < wanted
    rest = (
        f"{wanted:.0%} would bring it to {aim:.2g} at once; {share:.0%} keeps the steps in salts, "
        "hardness and pH small: repeat daily until a test shows it has fallen"
        if capped
        else f"{share:.0%} brings it to {aim:.2g}"
    )
    return Act(
        "water_change", best.name, litres, "L",
        f"{why} {rest}. Match temperature within 2 degrees; treat tap water for chlorine. If "
        "animals suffer, change water at once, whatever this tank is otherwise kept by.",
        confidence(chance), "The poison stays.",
        "The steps in salts, hardness and pH hold the amount back." if capped
        else binds(limit, chance),
        f"Water nearer to the tank's in salts and hardness would allow more. "
        f"{would_change(f'A test of {STATES[quantity]}', limit, LIKELY)}",
    )  # fmt: skip


def best_water(
    view: View, quantity: str, now: float, aim: float
) -> tuple[Source, float, float]:
    """The water that lowers a quantity most within the steps; its share, and the wish."""
    state = STATES[quantity]
    best: tuple[float, Source, float, float] | None = None
    cleaner = [w for w in view.waters if w.per_litre.get(state, 0.0) < now]
    for water, most in that_fit(view, cleaner):
        brought = water.per_litre.get(state, 0.0)
        wanted = max(share_to_dilute(now, aim, brought), 0.1)
        share = min(wanted, most)
        gain = share * (now - brought)
        if best is None or gain > best[0]:
            best = (gain, water, share, wanted)
    assert best is not None
    return best[1], best[2], best[3]


def copper(view: View) -> list[Act]:
    """Look for where copper comes from; a kit's nothing clears no water."""
    limit = view.limit("copper", "high", "act", "danger")
    chance = view.chance(limit, WEEK)
    lost = view.deaths(28.0) > 0.0 or bool(view.seen("missing_animal", "dead_animal", days=28.0))
    if limit is None or chance < (POSSIBLE if lost else LIKELY):
        return []
    rows = said(drivers(view.ahead, "copper"))
    name = view.ahead.habits.top_up_water or "water"
    acts = [
        Act("check_source", name, None, "",
            f"Copper is {1000 * view.middle('copper'):.2g} ug/L by the balance; {chance:.0%} of "
            f"members stand above {1000 * shown_bound(limit):.3g} ug/L. Behind it: {rows}; filling "
            f"up with {name} brings more. Have its first draw and the flushed tap "
            "tested; let it run before filling. A kit that shows nothing does not clear it.",
            confidence(chance), "Shrimp and snails are lost one by one.", binds(limit, chance),
            "It would change if an analysis of the source, not a kit, showed less copper.",
            safety=True, takes=1.0)
    ]  # fmt: skip
    if chance >= LIKELY:
        acts += _cleaner(view, name)
    return acts + _copper_now(view)


def _copper_now(view: View) -> list[Act]:
    """Dilute at once where what kills is likely and cleaner water is at hand."""
    limit = view.limit("copper", "high", "danger")
    chance = view.chance(limit, WEEK)
    if limit is None or chance < LIKELY:
        return []
    why = f"Copper above {1000 * shown_bound(limit):.3g} ug/L kills: {chance:.0%} of members."
    return [replace(dilution(view, "copper", limit, why, chance), safety=True)]


def _cleaner(view: View, name: str) -> list[Act]:
    """A water with less copper, not much harder than the tank."""
    now = view.top_up
    if now is None:
        return []
    held = now.per_litre["copper"]
    fit = [
        w for w in view.waters
        if w.per_litre["copper"] < 0.5 * held and w.kh_dh <= view.middle("kh") + 5.0
        and not (view.ammonia_stored and w.kh_dh > view.middle("kh"))
    ]  # fmt: skip
    if not fit:
        return []
    best = min(fit, key=lambda w: abs(w.ec25 - view.middle("ec25")))
    known = "by kind of water, not measured" if "copper" in best.assumed else "by its analysis"
    return [
        Act("change_top_up", best.name, None, "",
            f"{best.name} brings {1000 * best.per_litre['copper']:.2g} ug/L of copper ({known}) "
            f"against {1000 * held:.2g} of {name}.", "low",
            "Copper goes on gathering in soil and detritus.",
            f"{name} brings the most copper of what goes in.",
            "It would change if the flushed tap were shown to hold less.")
    ]  # fmt: skip


def heat(view: View) -> list[Act]:
    """Cool a tank before its oxygen fails."""
    limit = view.limit("temperature", "high", "act", "danger")
    chance = view.chance(limit, WEEK)
    if limit is None or chance < POSSIBLE:
        return []
    return [
        Act("cool", "water", None, "",
            f"The water may pass {bound_of(limit)} degrees ({chance:.0%} of members): lid off, a "
            "fan over the surface, lamp off, no food. Warm water holds less oxygen while all "
            "breathe faster.", confidence(chance), "Animals suffocate before the heat kills them.",
            binds(limit, chance), would_change("a cooler week", limit, POSSIBLE), safety=True)
    ]  # fmt: skip
