"""The acts of one tank this week, each with its reason from the model's own terms."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pleuston.engine.waters import dissolved
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import Act, confidence
from pleuston.planning.choices import feeding_plans, thinning_plans
from pleuston.planning.explain import drivers, said
from pleuston.planning.habits import habits_of
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import Ahead, animals_of, limits_of, run_ahead

WEEK = 7
HORIZON = 28
RANKS = {"well": 0, "watch": 1, "act": 2, "danger": 3}
EC_STEP = 0.10
"""Largest change of conductivity in a day for shrimp: keepers' limit, thin evidence."""
MOST_CHANGED = 0.3
"""Largest share of the water changed at once."""
TRIAL_POTASSIUM = 5.0
"""Potassium of an add-back trial [mg/L]: common practice, no source."""
POTASSIUM_OF_SULFATE = 0.4487
TEST_EVERY = 14.0
"""Days after which a reading that matters is worth repeating."""


@dataclass(frozen=True)
class View:
    """What is known of a tank when its acts are chosen."""

    belief: TankBelief
    ahead: Ahead
    limits: tuple[Limit, ...]
    threads: int | None

    def chance(self, limit: Limit, days: int) -> float:
        """Chance that a limit is crossed within some days."""
        return float(self.ahead.crossed(limit)[:days].any(axis=0).mean())

    def worst(self, quantity: str, side: str, severity: str) -> Limit | None:
        """The limit of a quantity at a severity."""
        found = [
            limit for limit in self.limits
            if (limit.quantity, limit.side, limit.severity) == (quantity, side, severity)
        ]  # fmt: skip
        return found[0] if found else None

    def middle(self, quantity: str, day: int = 0) -> float:
        """Median of a quantity on a day ahead."""
        return float(np.median(self.ahead.values(quantity)[day]))

    def span(self, quantity: str, day: int = 0) -> str:
        """The middle four fifths of a quantity on a day ahead, in words."""
        low, high = np.quantile(self.ahead.values(quantity)[day], [0.1, 0.9])
        return f"{low:.3g} to {high:.3g}"

    def seen(self, *words: str, days: float = 21.0) -> list[str]:
        """Signs noted in the last days."""
        case = self.belief.case
        return sorted(
            {
                e.what for e in case.record.entries_of(case.tank.name, kind="seen")
                if e.what in words and case.clock.day(e.at) > self.belief.at - days
            }
        )  # fmt: skip

    def deaths(self, days: float = 7.0) -> float:
        """Animals found dead in the last days."""
        case = self.belief.case
        return sum(
            e.amount or 1.0 for e in case.record.entries_of(case.tank.name, kind="death")
            if case.clock.day(e.at) > self.belief.at - days
        )  # fmt: skip


def state_of_tank(view: View) -> tuple[str, list[tuple[Limit, float]]]:
    """well, watch, act or danger, and the limits behind it with their chances."""
    rank, behind = 0, []
    for limit in view.limits:
        soon = view.chance(limit, WEEK)
        level = 0
        if limit.severity == "danger":
            level = 3 if soon >= 0.5 else 2 if soon >= 0.25 else 1 if soon >= 0.05 else 0
        elif limit.severity == "act":
            level = 2 if soon >= 0.5 else 1 if soon >= 0.2 else 0
        elif soon >= 0.6:
            level = 1
        if level:
            behind.append((limit, soon))
        rank = max(rank, level)
    if view.deaths() or view.seen("gasping", days=7.0):
        rank = max(rank, 2)
    names = {r: n for n, r in RANKS.items()}
    behind.sort(key=lambda x: (-RANKS[x[0].severity], -x[1]))
    return names[rank], behind


def acts_of(view: View) -> list[Act]:
    """What to do in this tank, most urgent first; empty when it is best left alone."""
    makers = (
        _emergency, _dead, _oxygen, _poison, _thin, _feed, _copper, _top_up, _salts,
        _hardness, _potassium, _test,
    )  # fmt: skip
    acts: list[Act] = []
    for make in makers:
        for act in make(view):
            if not any((a.act, a.what) == (act.act, act.what) for a in acts):
                acts.append(act)
    return acts


def _emergency(view: View) -> list[Act]:
    if not view.seen("gasping", days=7.0):
        return []
    why = "Animals were seen gasping: oxygen is already near 2 mg/L or less at that hour."
    return [
        Act("stir_surface", "surface", None, "", f"{why} Break the film, scoop and pour, at once.",
            "good", "Animals can suffocate before the next dawn."),
        Act("open_surface", "surface", 75.0, "%", f"{why} Air meets water only where it is open.",
            "good", "The escape to the surface stays closed."),
    ]  # fmt: skip


def _dead(view: View) -> list[Act]:
    count = view.deaths()
    if not count:
        return []
    return [
        Act("remove_dead", "animals", None, "", f"{count:g} died within a week; the dead feed "
            "ammonia and take oxygen.", "good", "Ammonia rises within a day or two."),
        Act("no_new_animals", "animals", None, "", "Animals died here and the cause is open.",
            "good", "New animals may die of the same cause."),
    ]  # fmt: skip


def _oxygen(view: View) -> list[Act]:
    limit = view.worst("oxygen_dawn", "low", "act")
    if limit is None:
        return []
    chance = view.chance(limit, WEEK)
    if chance < 0.5:
        return []
    rows = said(drivers(view.ahead, "oxygen_dawn"))
    return [
        Act("stir_surface", "surface", None, "",
            f"Oxygen at dawn is {view.span('oxygen_dawn')} mg/L; {chance:.0%} of members fall below"
            f" {limit.value:.2g} mg/L this week. Behind it: {rows}.",
            confidence(chance), "The lowest hours stay below the animals' limit."),
        Act("test", "oxygen", None, "", "A reading at dawn, before the lamp, tells these members "
            "apart better than any other.", "good", "The range stays as wide as it is."),
    ]  # fmt: skip


def _poison(view: View) -> list[Act]:
    acts = []
    for quantity in ("ammonia_nh3", "ammonium", "nitrite"):
        limit = view.worst(quantity, "high", "act")
        if limit is None or view.chance(limit, WEEK) < 0.3:
            continue
        chance = view.chance(limit, WEEK)
        rows = said(drivers(view.ahead, quantity))
        why = (
            f"{quantity.replace('_', ' ')} is {view.span(quantity)} mg/L, limit {limit.value:.3g};"
            f" {chance:.0%} of members cross it this week. Behind it: {rows}."
        )
        acts.append(_dilution(view, why, chance))
        acts.append(
            Act("stop_feeding", "feed", 0.0, "g/day", why + " Do not raise the pH meanwhile.",
                confidence(chance), "More ammonia follows every meal.")
        )  # fmt: skip
    return acts[:2]


def _dilution(view: View, why: str, chance: float) -> Act:
    """A water change with the step of conductivity kept small."""
    case = view.belief.case
    habits = view.ahead.habits
    moment = case.clock.moment(view.belief.at)
    name = habits.top_up_water or case.tank.top_up_water
    brought = dissolved(case.record, name, moment).per_litre
    salts = 60.0 * (brought["calcium"] / 20.04 + brought["magnesium"] / 12.15
                    + brought["sodium"] / 22.99 + brought["potassium"] / 39.1)  # fmt: skip
    now = view.middle("ec25")
    gap = abs(salts - now) / max(now, 1.0)
    share = min(MOST_CHANGED, EC_STEP / gap) if gap > 0.0 else MOST_CHANGED
    return Act(
        "water_change", name, share * case.tank.net_l, "L",
        f"{why} {share:.0%} of the water keeps the step in salts under {EC_STEP:.0%}; repeat daily "
        "while the reading asks for it. No water change is a method, never a reason to wait.",
        confidence(chance), "The poison stays.",
    )  # fmt: skip


def _thin(view: View) -> list[Act]:
    case = view.belief.case
    if not case.plants.slots:
        return []
    moment = case.clock.moment(view.belief.at)
    wish = case.record.tank_at(case.tank.name, moment).cover_target
    target = wish if wish is not None else 0.4
    now = view.middle("cover") / 100.0
    if now < min(target + 0.05, 0.95):
        return []
    plans = thinning_plans(view.belief, view.ahead.habits, target, view.threads)
    limit = view.worst("oxygen_dawn", "low", "act")
    alone = plans[0]
    options = [p for p in plans[1:] if p.name != f"thin to {target:.0%}"]
    wanted = next(p for p in plans if p.name == f"thin to {target:.0%}")
    best = min(options, key=lambda p: p.chance(limit), default=wanted)
    chosen = best if wanted.chance(limit) - best.chance(limit) >= 0.1 else wanted
    left = float(chosen.name.split()[-1].rstrip("%")) / 100.0
    acts = []
    for species, grams in _above(view, left).items():
        if grams < 0.5:
            continue
        acts.append(
            Act("thin", species, grams, "g",
                f"Cover is {view.span('cover')} %: leave {left:.0%}. Left alone it would be "
                f"{alone.middle('cover'):.0f} % in two weeks, and dawn oxygen would fall below "
                f"its limit in {alone.chance(limit):.0%} of members against "
                f"{chosen.chance(limit):.0%}. What is taken out carries nitrogen, potassium and "
                "metals with it.",
                confidence(float((view.ahead.values('cover')[0] > 100 * left).mean())),
                "The mat shades what is below and lowers oxygen at dawn; dead fronds give all "
                "back."),
        )  # fmt: skip
    return acts


def _above(view: View, cover: float) -> dict[str, float]:
    """Drained grams of each floating species above a common cover."""
    case, run = view.belief.case, view.ahead.run
    each = 1.0 - (1.0 - min(cover, 0.98)) ** (1.0 / len(case.plants.slots))
    result = {}
    for species, slot in case.plants.slots.items():
        now = np.clip(run.of(f"{slot}_cover")[0], 1e-9, 1.0 - 1e-9)
        share = np.clip(1.0 - np.log(1.0 - each) / np.log(1.0 - now), 0.0, 1.0)
        result[species] = float(np.median(run.of(f"{slot}_fresh_mass")[0] * share))
    return result


def _feed(view: View) -> list[Act]:
    habits = view.ahead.habits
    if habits.feed_per_day <= 0.0:
        return []
    worrying = [
        limit for limit in view.limits
        if limit.severity == "act" and limit.quantity in ("oxygen_dawn", "nitrate", "ammonia_nh3")
        and view.chance(limit, HORIZON) >= 0.4
    ]  # fmt: skip
    signs = view.seen("film", "cloudy", "not_eating")
    if not worrying and not signs:
        return []
    plans = feeding_plans(view.belief, habits, view.threads)
    now, half = plans[0], plans[1]
    limit = worrying[0] if worrying else view.worst("oxygen_dawn", "low", "act")
    gain = now.chance(limit) - half.chance(limit)
    if gain < 0.1 and not signs:
        return []
    why = f" Signs noted: {', '.join(signs)}." if signs else ""
    about = limit.word if limit is not None else "what the tank can take"
    return [
        Act("feed_less", "feed", habits.feed_per_day / 2.0, "g/day",
            f"{habits.feed_per_day:.2g} g a day are fed; with half, the chance of '{about}' within "
            f"two weeks goes from {now.chance(limit):.0%} to {half.chance(limit):.0%}.{why}",
            confidence(0.5 + abs(gain)), "What is not eaten rots, takes oxygen and feeds algae.")
    ]  # fmt: skip


def _copper(view: View) -> list[Act]:
    limit = view.worst("copper", "high", "act")
    if limit is None or view.chance(limit, WEEK) < 0.3:
        return []
    chance = view.chance(limit, WEEK)
    rows = said(drivers(view.ahead, "copper"))
    return [
        Act("check_source", view.ahead.habits.top_up_water, None, "",
            f"Copper is {1000 * view.middle('copper'):.2g} ug/L by the balance"
            f" ({chance:.0%} of members above {1000 * limit.value:.3g}). Behind it: {rows}. Have "
            "the first draw and the flushed tap tested; a kit that shows nothing does not clear "
            "it.",
            confidence(chance), "Shrimp and snails are lost one by one.")
    ]  # fmt: skip


def _top_up(view: View) -> list[Act]:
    case = view.belief.case
    water = view.ahead.habits.top_up_water
    end = view.belief.end[:, case.table.at("state", "water")]
    missing = float(np.median(np.maximum(case.tank.net_l - end, 0.0)))
    if missing < 0.05 or not water:
        return []
    return [
        Act("top_up", water, missing, "L", f"{missing:.2g} L have evaporated since the last "
            f"filling ({1000 * missing / 1000 / case.tank.surface_m2:.0f} mm).", "fair",
            "Salts stand higher until the tank is filled.")
    ]  # fmt: skip


def _salts(view: View) -> list[Act]:
    limits = [
        limit for limit in view.limits
        if limit.quantity in ("ec25", "gh") and limit.side == "high" and limit.severity != "danger"
    ]  # fmt: skip
    crossing = [limit for limit in limits if view.chance(limit, HORIZON) >= 0.5]
    rise = view.middle("ec25", -1) / max(view.middle("ec25"), 1.0) - 1.0
    if not crossing or rise < 0.005:
        return []
    soft = _other_water(view, softer=True)
    if soft is None:
        return []
    limit = crossing[0]
    return [
        Act("change_top_up", soft, None, "",
            f"Salts rise by {rise:.1%} in four weeks: {view.ahead.habits.top_up_water} brings"
            f" more than plants and lime take; {limit.word} is likely"
            f" ({view.chance(limit, HORIZON):.0%}). {soft} brings less.",
            confidence(view.chance(limit, HORIZON)), "Salts go on creeping with every top-up.")
    ]  # fmt: skip


def _hardness(view: View) -> list[Act]:
    limit = view.worst("kh", "low", "act") or view.worst("kh", "low", "watch")
    if limit is None or view.chance(limit, HORIZON) < 0.5:
        return []
    fall = view.middle("kh") - view.middle("kh", -1)
    hard = _other_water(view, softer=False)
    stored = view.middle("ammonium") > 0.2
    acts = [
        Act("test", "kh", None, "", f"KH is {view.span('kh')} dH and moves by {-fall:+.2g} in four "
            "weeks.", "good", "The buffer may run out unseen.")
    ]  # fmt: skip
    if hard is not None and not stored:
        acts.insert(
            0,
            Act("change_top_up", hard, None, "",
                f"KH is {view.span('kh')} dH; {limit.word}"
                f" ({view.chance(limit, HORIZON):.0%} within four weeks). {hard} brings the buffer "
                "back slowly. Behind it: " + said(drivers(view.ahead, "kh")) + ".",
                confidence(view.chance(limit, HORIZON)), "pH falls, snail shells dissolve."),
        )  # fmt: skip
    return acts


def _other_water(view: View, *, softer: bool) -> str | None:
    """A water of the rack with fewer, or more, salts than the one in use."""
    case = view.belief.case
    moment = case.clock.moment(view.belief.at)

    def salts(name: str) -> float:
        brought = dissolved(case.record, name, moment).per_litre
        return brought["calcium"] / 20.04 + brought["sodium"] / 22.99 + brought["magnesium"] / 12.15

    now = view.ahead.habits.top_up_water
    names = {w.name for w in case.record.waters} | {b.name for b in case.record.blends}
    others = sorted(names - {now}, key=salts)
    fit = [n for n in others if (salts(n) < 0.6 * salts(now)) == softer] if now else []
    return (fit[0] if softer else fit[-1]) if fit else None


def _potassium(view: View) -> list[Act]:
    signs = view.seen("pinholes", "pale_leaves")
    short = view.middle("potassium") < 1.0 and view.middle("nitrate") > 1.0
    if not signs or not short:
        return []
    grams = TRIAL_POTASSIUM * view.belief.case.tank.net_l / POTASSIUM_OF_SULFATE
    return [
        Act("dose", "potassium sulfate", grams, "mg",
            f"A trial of {TRIAL_POTASSIUM:g} mg/L potassium: {', '.join(signs)} were seen while "
            f"nitrate stands at {view.span('nitrate')} mg/L of N and the balance leaves "
            f"{view.span('potassium')} mg/L of potassium. Weigh the harvest ten days later.",
            "low", "If it is potassium, growth goes on falling while nitrate rises.")
    ]  # fmt: skip


def _test(view: View) -> list[Act]:
    """The reading whose doubt matters most for a limit, if it is not fresh."""
    case = view.belief.case
    ages: dict[str, float] = {}
    for entry in case.record.entries_of(case.tank.name, kind="reading"):
        ages[entry.what] = view.belief.at - case.clock.day(entry.at)
    doubt: dict[str, float] = {}
    for limit in view.limits:
        if limit.severity == "watch" or limit.quantity in ("cover", "temperature", "oxygen_dawn"):
            continue
        chance = view.chance(limit, WEEK)
        name = {"ammonia_nh3": "ammonium"}.get(limit.quantity, limit.quantity)
        doubt[name] = max(doubt.get(name, 0.0), chance * (1.0 - chance))
    if not doubt:
        return []
    name = max(doubt, key=lambda n: doubt[n])
    age = min(ages.get(name, 1e9), ages.get(f"{name}_ion", 1e9))
    if doubt[name] < 0.05 or age < TEST_EVERY:
        return []
    ago = "never" if age > 1e8 else f"{age:.0f} days ago"
    return [
        Act("test", name, None, "", f"Members disagree on it where it matters for a limit; last "
            f"tested {ago}.", "fair", "The advice on it stays unsure.")
    ]  # fmt: skip


def view_of(belief: TankBelief, threads: int | None = None) -> View:
    """Look ahead from a belief, with all that its acts need."""
    ahead = run_ahead(belief, HORIZON, habits_of(belief.case, belief.at), threads=threads,
                      extents=True)  # fmt: skip
    return View(belief, ahead, limits_of(ahead), threads)


def tank_round(view: View) -> dict[str, Any]:
    """One tank's part of the round as data."""
    state, behind = state_of_tank(view)
    acts = acts_of(view)
    case = view.belief.case
    return {
        "tank": case.tank.name,
        "state": state,
        "because": [
            {"limit": lim.name, "word": lim.word, "severity": lim.severity, "chance": round(c, 3)}
            for lim, c in behind[:4]
        ],
        "animals": {s.name: n for s, n in animals_of(case, view.belief.at).items()},
        "minutes": round(sum(a.minutes for a in acts), 1),
        "acts": [a.as_data() for a in acts],
    }
