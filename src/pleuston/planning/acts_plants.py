"""Acts on plants and food: what to take out, what to leave, how much to feed."""

from __future__ import annotations

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.planning.acts import Act, confidence, short
from pleuston.planning.choices import Plan, feeding_plans, thinning_plans
from pleuston.planning.habits import share_each
from pleuston.planning.view import HORIZON, WEEK, View, between

DUE = 0.7
"""A harvest is due when this share of the usual gap has passed."""
OVER = 0.05
"""Cover above the target that is worth a harvest."""
PAYS = 0.1
"""Change in a chance that is worth an act."""
TRIAL_POTASSIUM = 5.0
"""Potassium of an add-back trial [mg/L]: common practice, no source."""
POTASSIUM_OF_SULFATE = 0.4487


def thin(view: View) -> list[Act]:
    """Take plants out down to a cover, or leave them alone when that is as good."""
    slots = view.belief.case.plants.slots
    if not slots:
        return []
    target = view.tank.cover_target if view.tank.cover_target is not None else 0.4
    cover = cover_now(view)
    over = float((cover > target + OVER).mean())
    due = view.last("harvest") >= DUE * view.ahead.habits.thinning_days
    limit = view.limit("oxygen_dawn", "low", "act", "danger")
    pressing = view.chance(view.limit("cover", "high", "watch", "act"), WEEK)
    pressing = max(pressing, view.chance(limit, WEEK))
    if over < 0.5 or not (due or pressing >= 0.3):
        return []
    plans = thinning_plans(view.belief, view.ahead.habits, target, view.threads)
    alone, wanted = plans[0], next(p for p in plans if p.cover == target)
    best = min(plans[1:], key=lambda p: (p.chance(limit), abs((p.cover or 0.0) - target)))
    chosen = best if wanted.chance(limit) - best.chance(limit) >= PAYS else wanted
    left = chosen.cover if chosen.cover is not None else target
    acts = []
    for species, (grams, share) in above(view, left).items():
        if float(np.median(grams)) >= 0.5 and float(np.median(share)) >= 0.05:
            acts.append(_thin_act(view, species, grams, share, left, alone, chosen, over))
    return acts


def _thin_act(
    view: View, species: str, grams: Array, share: Array, left: float, alone: Plan, chosen: Plan,
    over: float,
) -> Act:  # fmt: skip
    limit = view.limit("oxygen_dawn", "low", "act", "danger")
    slot = view.belief.case.plants.slots[species]
    reason = (
        f"Leave {left:.0%} of the surface covered. Cover is {between(100.0 * cover_now(view))} % "
        f"now and would be {alone.middle('cover'):.0f} % in two weeks left alone. {between(grams)} "
        f"g drained carry about {short(carried(view, slot, 'nitrogen', share))} mg of nitrogen and "
        f"{short(carried(view, slot, 'potassium', share))} mg of potassium away."
    )
    skipped = "The mat closes, shades what is below, and dead fronds give all back."
    if limit is not None:
        skipped = (
            f"The chance of dawn oxygen below its limit within two weeks is "
            f"{alone.chance(limit):.0%} left alone, {chosen.chance(limit):.0%} when thinned. "
            f"{skipped}"
        )
    return Act("thin", species, float(np.median(grams)), "g", reason, confidence(over), skipped)


def cover_now(view: View) -> Array:
    """(members,) share of the surface under floating plants, now."""
    found = np.ones(len(view.belief))
    for slot in view.belief.case.plants.slots.values():
        found = found * (1.0 - slot_cover(view, slot))
    return np.asarray(1.0 - found)


def slot_cover(view: View, slot: str) -> Array:
    """(members,) share of the surface under one floating plant, now."""
    table, belief = view.belief.case.table, view.belief
    density = view.state_now(f"{slot}_carbon") / 378.0 / view.tank.surface_m2
    area = belief.parameters[:, table.at("parameter", f"{slot}_cover_area")]
    return np.asarray(1.0 - np.exp(-density * area))


def above(view: View, cover: float) -> dict[str, tuple[Array, Array]]:
    """Species -> (drained grams above a common cover, the share of the plant they are)."""
    case, belief = view.belief.case, view.belief
    each = share_each(cover, len(case.plants.slots))
    result = {}
    for species, slot in case.plants.slots.items():
        now = np.clip(slot_cover(view, slot), 1e-9, 1.0 - 1e-9)
        share = np.clip(1.0 - np.log(1.0 - each) / np.log(1.0 - now), 0.0, 1.0)
        dry = belief.parameters[:, case.table.at("parameter", f"{slot}_dry_share")]
        grams = view.state_now(f"{slot}_carbon") / 378.0 / dry * share
        result[species] = (grams, share)
    return result


def carried(view: View, slot: str, element: str, share: Array) -> float:
    """Median of what a harvest carries away of an element [mg]."""
    return float(np.median(view.state_now(f"{slot}_{element}") * share))


def feed(view: View) -> list[Act]:
    """Feed less where that lowers a chance that matters, or where food is left."""
    habits = view.ahead.habits
    if habits.feed_per_day <= 0.0:
        return []
    worrying = [
        limit for limit in view.limits
        if limit.severity in ("act", "danger") and limit.side == ("low" if limit.quantity ==
        "oxygen_dawn" else "high") and limit.quantity in (
            "oxygen_dawn", "nitrate", "nitrite", "ammonium", "ammonia_nh3")
        and view.chance(limit, HORIZON) >= 0.3
    ]  # fmt: skip
    signs = view.seen("film", "cloudy", "not_eating", "smell", days=14.0)
    if not worrying and len(signs) < 2 and "not_eating" not in signs:
        return []
    plans = feeding_plans(view.belief, habits, view.threads)
    gains = [(plans[0].chance(lim) - plans[1].chance(lim), lim) for lim in worrying]
    gain, limit = max(gains, key=lambda g: g[0], default=(0.0, None))
    if gain < PAYS and not signs:
        return []
    why = f"{habits.feed_per_day:.2g} g a day have been fed on average."
    if limit is not None and gain >= 0.5 * PAYS:
        why += (
            f" With half of it the chance of '{limit.word}' within two weeks goes from "
            f"{plans[0].chance(limit):.0%} to {plans[1].chance(limit):.0%}."
        )
    if signs:
        why += f" Noted: {', '.join(s.replace('_', ' ') for s in signs)}, as when food is left."
    return [
        Act("feed_less", "feed", habits.feed_per_day / 2.0, "g/day", why,
            "good" if gain >= 0.3 else "fair" if signs else "low",
            "What is not eaten rots, takes oxygen and feeds algae.")
    ]  # fmt: skip


def potassium(view: View) -> list[Act]:
    """A trial of potassium, only where signs, nitrate and the balance agree."""
    signs = view.seen("pinholes", "pale_leaves", "stunted", days=28.0)
    bare = float((view.ahead.values("potassium")[0] < 1.0).mean())
    if not signs or bare < 0.5 or view.middle("nitrate") < 1.0:
        return []
    milligrams = TRIAL_POTASSIUM * view.tank.net_l / POTASSIUM_OF_SULFATE
    return [
        Act("dose", "potassium sulfate", milligrams, "mg",
            f"A trial, once: {TRIAL_POTASSIUM:g} mg/L of potassium. Seen: "
            f"{', '.join(s.replace('_', ' ') for s in signs)}; nitrate stands at "
            f"{view.span('nitrate')} mg/L of N, so nitrogen is not short, and {bare:.0%} of members"
            " leave under 1 mg/L of potassium. Weigh the harvests of the next ten days: "
            "if growth does not answer, it was something else.",
            "low", "If it is potassium, growth goes on falling while nitrate rises.")
    ]  # fmt: skip
