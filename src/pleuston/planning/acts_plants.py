"""Acts on plants and food: what to take out, what to leave, how much to feed."""

from __future__ import annotations

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.planning.acts import Act, confidence, short
from pleuston.planning.habits import share_each
from pleuston.planning.plan import Plan
from pleuston.planning.policy import Judged
from pleuston.planning.steps import SALT_PER_MG, caps_of, dose_within_step
from pleuston.planning.view import HORIZON, WEEK, View, between, binds

DUE = 0.7
"""A harvest is due when this share of the usual gap has passed."""
OVER = 0.05
"""Cover above the target that is worth a harvest."""
PAYS = 0.1
"""Change in a chance that is worth an act."""
TRIAL_POTASSIUM = 5.0
"""Potassium of an add-back trial [mg/L]: common practice, no source."""
POTASSIUM_OF_SULFATE = 0.4487
FED_INTO = ("oxygen_dawn", "nitrate", "nitrite", "ammonium", "ammonia_nh3")
"""Quantities that feeding moves."""


def thin(view: View) -> list[Act]:
    """Take plants out down to the cover that the planner leaves, or leave them alone."""
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
    if not (due and over >= 0.5) and pressing < 0.3:
        return []
    chosen = view.week.plan.cover
    left = target if chosen is None or chosen >= 1.0 else chosen
    if float((cover > left + OVER).mean()) < 0.5:
        return []
    alone, thinned = view.judged(Plan("alone", cover=1.0)), view.judged(Plan("thin", cover=left))
    gain = float((alone.costs - thinned.costs).mean())
    if gain <= 0.0:
        return []
    acts = []
    for species, (grams, share) in above(view, left).items():
        if float(np.median(grams)) >= 0.5 and float(np.median(share)) >= 0.05:
            acts.append(_thin_act(view, species, grams, share, left, alone, thinned))
    return acts


def _thin_act(
    view: View, species: str, grams: Array, share: Array, left: float, alone: Judged,
    thinned: Judged,
) -> Act:  # fmt: skip
    limit = view.limit("oxygen_dawn", "low", "act", "danger")
    slot = view.belief.case.plants.slots[species]
    gain = float((alone.costs - thinned.costs).mean())
    surer = float((alone.costs > thinned.costs).mean())
    reason = (
        f"Leave {left:.0%} of the surface covered. Cover is {between(100.0 * cover_now(view))} % "
        f"now and would be {_cover_in(alone, 14):.0f} % in two weeks left alone. {between(grams)} "
        f"g drained carry about {short(carried(view, slot, 'nitrogen', share))} mg of nitrogen and "
        f"{short(carried(view, slot, 'potassium', share))} mg of potassium away."
    )
    skipped = "The mat closes, shades what is below, and dead fronds give all back."
    binding = f"The cover wished for: {left:.0%} of the surface."
    if limit is not None:
        was, would = alone.chances.get(limit.key, 0.0), thinned.chances.get(limit.key, 0.0)
        skipped = (
            f"The chance of dawn oxygen below its limit within four weeks is {was:.0%} left "
            f"alone, {would:.0%} when thinned. {skipped}"
        )
        if was - would >= PAYS:
            binding = binds(limit, was, HORIZON)
    return Act(
        "thin", species, float(np.median(grams)), "g", reason, confidence(surer), skipped,
        binding, f"It would change if it gained {short(gain)} minutes a week less: if the plants "
        "grew more slowly, or more cover were wished for.",
    )  # fmt: skip


def _cover_in(judged: Judged, days: int) -> float:
    """Middle of the cover [%] after some days of a plan."""
    return float(np.median(judged.tried.ahead.values("cover")[days - 1]))


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
    """Feed less where the planner gains by it, or where food is left."""
    habits = view.ahead.habits
    if habits.feed_per_day <= 0.0:
        return []
    worried = any(
        limit.severity in ("act", "danger") and limit.quantity in FED_INTO
        and limit.side == ("low" if limit.quantity == "oxygen_dawn" else "high")
        and view.chance(limit, HORIZON) >= 0.3
        for limit in view.limits
    )  # fmt: skip
    signs = view.seen("film", "cloudy", "not_eating", "smell", days=14.0)
    left_over = len(signs) >= 2 or "not_eating" in signs
    share = view.week.plan.feed if worried else None
    if share is None and not left_over:
        return []
    why = f"{habits.feed_per_day:.2g} g a day have been fed on average."
    binding, change = "Food is left over.", "It would change when all is eaten within minutes."
    if share is not None:
        why += f" {share:.0%} of it: {view.week.because}"
        binding, change = _bound_to(view), view.week.would_change
    if signs:
        why += f" Noted: {', '.join(s.replace('_', ' ') for s in signs)}, as when food is left."
    return [
        Act("feed_less", "feed", habits.feed_per_day * (0.5 if share is None else share), "g/day",
            why, "good" if share is not None and signs else "fair",
            "What is not eaten rots, takes oxygen and feeds algae.", binding, change)
    ]  # fmt: skip


def _bound_to(view: View) -> str:
    """The limit that holds the planner's week back, or that nothing does."""
    found = view.week.binding
    return "No limit is likelier than is put up with." if found is None else binds(*found, HORIZON)


def planned(view: View, state: str) -> list[Act]:
    """What the planner would move besides, in a tank where something is the matter."""
    if state not in ("act", "danger"):
        return []
    week, habits, acts = view.week, view.ahead.habits, []
    told = (_bound_to(view), week.would_change)
    if week.plan.feed is not None and habits.feed_per_day > 0.0:
        acts.append(
            Act("feed_less", "feed", habits.feed_per_day * week.plan.feed, "g/day",
                f"{week.plan.feed:.0%} of the usual food. {week.because}", "fair",
                "The chance stays as it is.", *told)
        )  # fmt: skip
    water = next((w for w in view.waters if w.name == week.plan.top_up), None)
    if water is not None and not (view.ammonia_stored and water.kh_dh > view.middle("kh")):
        acts.append(
            Act("change_top_up", water.name, None, "",
                f"{week.because} {water.name} holds {water.ec25:.0f} uS/cm, {water.kh_dh:.2g} dH "
                f"of carbonate hardness.", "fair", "The chance stays as it is.", *told)
        )  # fmt: skip
    return acts


def potassium(view: View) -> list[Act]:
    """A trial of potassium, only where signs, nitrate and the balance agree."""
    signs = view.seen("pinholes", "pale_leaves", "stunted", days=28.0)
    bare = float((view.ahead.values("potassium")[0] < 1.0).mean())
    if not signs or bare < 0.5 or view.middle("nitrate") < 1.0:
        return []
    cap = dose_within_step(view.middle("ec25"), SALT_PER_MG, caps_of(view).ec)
    trial = min(TRIAL_POTASSIUM, cap * POTASSIUM_OF_SULFATE)
    milligrams = trial * view.tank.net_l / POTASSIUM_OF_SULFATE
    return [
        Act("dose", "potassium sulfate", milligrams, "mg",
            f"A trial, once: {trial:.2g} mg/L of potassium. Seen: "
            f"{', '.join(s.replace('_', ' ') for s in signs)}; nitrate stands at "
            f"{view.span('nitrate')} mg/L of N, so nitrogen is not short, and {bare:.0%} of members"
            " leave under 1 mg/L of potassium. Weigh the harvests of the next ten days: "
            "if growth does not answer, it was something else.",
            "low", "If it is potassium, growth goes on falling while nitrate rises.",
            "The step in salts." if trial < TRIAL_POTASSIUM else "One trial, no more.",
            "It would change if a test showed potassium, or if nitrate fell to nothing.")
    ]  # fmt: skip
