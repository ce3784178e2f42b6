"""Acts on water: filling up, and with which water, so that salts neither creep nor drain."""

from __future__ import annotations

import numpy as np

from pleuston.planning.acts import Act, confidence, short
from pleuston.planning.explain import drivers, said
from pleuston.planning.limits import Limit
from pleuston.planning.sources import Source
from pleuston.planning.steps import that_fit
from pleuston.planning.view import HORIZON, View, binds, bound_of, would_change

LEAST_SHARE = 0.02
"""A tank is filled up when this share of its water is missing: common practice, no source."""
CREEP = 0.02
"""Rise of salts in four weeks that counts as creeping: a quarter more in a year, a guess."""
GENTLE = 0.6
"""Another water counts as softer below this share of the salts of the one in use."""


def top_up(view: View) -> list[Act]:
    """Fill up to the mark when enough is missing, no faster than the steps allow."""
    name = view.ahead.habits.top_up_water
    missing = np.maximum(view.tank.net_l - view.state_now("water"), 0.0)
    litres = float(np.median(missing))
    if litres < LEAST_SHARE * view.tank.net_l or not name:
        return []
    water, most = _filling(view, litres / view.tank.net_l)
    now = min(litres, most * view.tank.net_l)
    millimetres = litres / view.tank.surface_m2
    gone = litres / view.tank.net_l
    reason = (
        f"About {millimetres:.0f} mm have evaporated since the last filling; salts stand "
        f"{gone / (1.0 - gone):.0%} higher for it. "
    )
    binding, change = "The mark on the glass.", "It would change with the level you see."
    if now < litres - 0.05:
        reason += (
            f"Of {short(litres)} L missing fill in {short(now)} L now, the rest on later days: "
            "more at once moves salts, hardness or pH too fast. Slowly."
        )
        binding = "The steps in salts, hardness and pH."
        change = "Water nearer to the tank's own could go in at once."
    else:
        reason += "Fill to the mark, slowly."
    if water.name != name:
        reason += f" Not with {name}: while ammonia may be stored the pH must not rise."
    sure = "good" if view.last("top_up") < 21.0 else "fair"
    return [
        Act("top_up", water.name, now, "L", reason, sure,
            "Salts stand higher and the heater may run dry.", binding, change)
    ]  # fmt: skip


def _filling(view: View, share: float) -> tuple[Source, float]:
    """The water to fill up with: the usual one, another only where that must not go in."""
    usual = [view.top_up] if view.top_up is not None else []
    (water, most), *_ = that_fit(view, usual)
    if usual and water is not usual[0]:
        fit = that_fit(view, view.waters)
        water, most = max(fit, key=lambda f: (min(f[1], share), -abs(f[0].ec25)))
    return water, most


def salts(view: View) -> list[Act]:
    """Another top-up water where salts creep, or stand near a limit and rise."""
    now, ec = view.top_up, view.ahead.values("ec25")
    rises = ec[-1] / np.maximum(ec[0], 1.0) - 1.0
    rise = float(np.median(rises))
    crossing = _worst(view, ("ec25", "gh"), "high")
    creeps = float((rises > CREEP).mean())
    if now is None or not (creeps >= 0.75 or (crossing is not None and rise > 0.0)):
        return []
    softer = [
        w for w in view.waters if w.ec25 < GENTLE * now.ec25
        and not (view.ammonia_stored and w.kh_dh > view.middle("kh"))
    ]  # fmt: skip
    if not softer:
        return []
    chosen = next((w for w in softer if w.name == view.week.plan.top_up), None)
    best = chosen or max(softer, key=lambda w: w.ec25)
    why = "no limit is near yet"
    binding = "The creep of salts: no limit is near within four weeks."
    if crossing is not None:
        limit, chance = crossing
        why = f"'{limit.word}' at {bound_of(limit)} within four weeks: {chance:.0%} of members"
        binding = binds(limit, chance, HORIZON)
    return [
        Act("change_top_up", best.name, None, "",
            f"Conductivity is {view.span('ec25')} uS/cm and rises by {rise:.1%} in four weeks "
            f"({creeps:.0%} of members see it creep): {now.name} brings {now.ec25:.0f} uS/cm with "
            f"every litre that evaporates; {why}. {best.name} brings {best.ec25:.0f}. Change over "
            "with the top-ups alone: that moves the tank slowly enough for shrimp.",
            confidence(creeps), "Salts go on creeping with every top-up.", binding,
            f"It would change if {now.name} brought less, or if conductivity stood still over "
            "five weekly readings.")
    ]  # fmt: skip


def hardness(view: View) -> list[Act]:
    """A harder top-up water where hardness drains, never while ammonia may be stored."""
    crossing = _worst(view, ("kh", "gh"), "low")
    if crossing is None:
        return []
    limit, chance = crossing
    name = limit.quantity
    fall = view.middle(name, -1) - view.middle(name)
    why = (
        f"{name.upper()} is {view.span(name)} dH and moves by {fall:+.2g} in four weeks; "
        f"'{limit.word}' below {bound_of(limit)}: {chance:.0%} of members."
    )
    if view.ammonia_stored:
        return [
            Act("test", "ammonium", None, "", f"{why} Ammonia of {view.span('ammonium')} mg/L of N "
                "may be stored: harder water would raise the pH and turn it to poison. First "
                "ammonia must be gone: test it, feed nothing, dilute with water no harder than "
                "the tank's; carbonate comes after.", confidence(chance),
                "Neither danger is known apart from the other.",
                "Stored ammonia: the pH must not rise.",
                "It would change when a test shows no ammonia.", safety=True)
        ]  # fmt: skip
    test = f"a drop test of {name.upper()}"
    told = (binds(limit, chance, HORIZON), would_change(test, limit, 0.5))
    return _harder(view, name, why, chance, told)


def _harder(
    view: View, name: str, why: str, chance: float, told: tuple[str, str]
) -> list[Act]:
    now = view.top_up

    def brings(water: Source) -> float:
        return water.kh_dh if name == "kh" else water.gh_dh

    low = brings(now) if now is not None else 0.0
    harder = [w for w in view.waters if brings(w) > low + 1.0]
    if not harder:
        return []
    best = min(harder, key=brings)
    rows = said(drivers(view.ahead, name))
    return [
        Act("change_top_up", best.name, None, "",
            f"{why} Behind it: {rows}. {best.name} brings {brings(best):.2g} dH against {low:.2g}: "
            "by top-ups alone it comes back slowly, as it should.",
            confidence(chance), "The buffer runs out, pH slides, snail shells dissolve.", *told),
        Act("test", name, None, "", f"{why} A drop test shows which way it goes.", "fair",
            "The buffer may run out unseen.", *told),
    ]  # fmt: skip


def _worst(view: View, quantities: tuple[str, ...], side: str) -> tuple[Limit, float] | None:
    """The limit most likely to be crossed within four weeks, if any is likely."""
    found = [
        (limit, view.chance(limit, HORIZON)) for limit in view.limits
        if limit.quantity in quantities and limit.side == side
    ]  # fmt: skip
    likely = [f for f in found if f[1] >= 0.5]
    return max(likely, key=lambda f: (f[0].rank, f[1]), default=None)
