"""Correcting a tank's water safely: dilution in stages within the caps of a day.

A stage replaces as much water as is wanted, as far as the caps of a day allow: conductivity,
pH, temperature and hardness. No stage raises the poisonous part of ammonia. An emergency is
never put off: then one large change comes first, and only shock and poison bound it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pleuston.base.errors import InputError
from pleuston.chemistry.speciation import ph_of_open_water
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.limits import Caps, Limit
from pleuston.planning.mixing import Mix, Mixed, after_change
from pleuston.planning.planner import cell, span, step, table
from pleuston.planning.policy import STEPS, STORED_AMMONIA
from pleuston.planning.sources import MOST_AT_ONCE, share_to_dilute, share_within_step
from pleuston.planning.steps import RISE

HARDNESS_STEP = STEPS["gh"][0]
"""Largest change of general or carbonate hardness in a day [dH]."""
LEAST_STAGE = 0.02
"""A smaller share than this is no stage: common practice, no source."""
MOST_STAGES = 14
HALVINGS = 12
EMERGENCY_EC = 0.30
"""Change of conductivity that an emergency's change stays within, as a share: beyond it the
limits library tells of osmotic shock."""
SHOCK_KELVIN = 5.0
"""Change of temperature that even an emergency's change stays within [K]: the limits library."""
MUCH_LESS = 0.75
"""Share of the poisonous ammonia that an emergency's change leaves at most where its water
raises the pH: common practice, no source."""
LEAST_AT_ONCE = 0.2
"""A smaller share is no large change: common practice, no source."""
WAIT_HOURS = 24.0
ROUNDED = 1.000001
"""What rounding may leave of a limit."""
STATES: Mapping[str, tuple[str, str]] = {
    "ammonium": ("total ammonia", "mg/L N"), "nitrite": ("nitrite", "mg/L N"),
    "nitrate": ("nitrate", "mg/L N"), "phosphate": ("phosphate", "mg/L P"),
    "copper": ("copper", "mg/L"), "chloride": ("chloride", "mg/L"),
    "sodium": ("sodium", "mg/L"), "potassium": ("potassium", "mg/L"),
    "ec25": ("conductivity", "uS/cm"), "kh": ("carbonate hardness", "dH"),
    "gh": ("general hardness", "dH"),
}  # fmt: skip
"""What can be diluted: its name in words, and unit."""


def needed_share(now: float, limit: float, brought: float) -> float:
    """Share of the water to replace so that a concentration falls to a limit.

    1 - (limit - brought)/(now - brought); 0 where it is there already, 1 where it can't be.

    >>> needed_share(40.0, 20.0, 0.0), round(needed_share(40.0, 25.0, 5.0), 4)
    (0.5, 0.4286)
    """
    return share_to_dilute(now, limit, brought)


@dataclass(frozen=True)
class Pour:
    """A source water as it is poured: its name, what it holds, and how much of what is diluted."""

    name: str
    mix: Mix
    brought: float
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Stage:
    """One water change: its share, what bound it, and the tank after it."""

    share: float
    binds: str
    amount: float
    after: Mixed


def allowed_share(
    tank: Mix, pour: Pour, caps: Caps, wanted: float, ph_most: float | None = None
) -> tuple[float, str]:
    """The share that a stage may replace within the caps of a day, and what binds it.

    Poisonous ammonia must not rise, neither at once nor once the water has breathed; nor the
    pH above `ph_most` (what it is now), where ammonia is stored.
    """
    bounds = {
        "what is wanted": wanted, "half of the water at once": MOST_AT_ONCE,
        "conductivity": share_within_step(tank.ec25, pour.mix.ec25, caps.ec),
        "temperature": _within(tank.temperature - pour.mix.temperature, caps.temperature),
        "general hardness": _within(tank.gh_dh - pour.mix.gh_dh, HARDNESS_STEP),
        "carbonate hardness": _within(tank.kh_dh - pour.mix.kh_dh, HARDNESS_STEP),
    }  # fmt: skip
    binds = min(bounds, key=lambda n: bounds[n])
    share = bounds[binds]
    before = tank.ph

    def quiet(mixed: Mixed) -> bool:
        return mixed.ph_step(before) <= caps.ph

    for name, holds in (("pH", quiet), ("stored ammonia", lambda m: harmless(tank, m, ph_most))):
        less = _largest(tank, pour.mix, share, holds)
        if less < share:
            share, binds = less, name
    return share, binds


def harmless(tank: Mix, mixed: Mixed, ph_most: float | None = None) -> bool:
    """Whether a change raises no poisonous ammonia, nor the pH while ammonia is stored."""
    if mixed.nh3 > tank.nh3(tank.ph) * ROUNDED:
        return False
    stored = mixed.mix.held["ammonium"] > STORED_AMMONIA
    most = (tank.ph if ph_most is None else ph_most) + RISE
    return not stored or max(mixed.ph_at_once, mixed.ph_later) <= most


def _within(gap: float, cap: float) -> float:
    return min(1.0, cap / abs(gap)) if gap else 1.0


def _largest(tank: Mix, water: Mix, most: float, holds: Callable[[Mixed], bool]) -> float:
    """The largest share up to `most` of which something holds, found by halving."""
    if most <= 0.0 or holds(after_change(tank, water, most)):
        return most
    low, high = 0.0, most
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if holds(after_change(tank, water, middle)):
            low = middle
        else:
            high = middle
    return low


def stages(
    tank: Mix, pour: Pour, now: float, limit: float, caps: Caps, ph_most: float | None = None
) -> tuple[list[Stage], str]:
    """The stages that bring a concentration to its limit, and what stops them, if anything.

    Between stages the tank comes back to its own temperature and CO2. ph_most: what the pH must
    not rise above while ammonia is stored, what it is at first unless given.
    """
    made: list[Stage] = []
    first = tank.ph if ph_most is None else ph_most
    while now > limit * ROUNDED and len(made) < MOST_STAGES:
        wanted = needed_share(now, limit, pour.brought)
        share, binds = allowed_share(tank, pour, caps, wanted, first)
        if share < min(LEAST_STAGE, wanted):
            return made, binds
        after = after_change(tank, pour.mix, share)
        now = (1.0 - share) * now + share * pour.brought
        made.append(Stage(share, binds, now, after))
        tank = settled(tank, after)
    return made, "" if now <= limit * ROUNDED else "the number of stages"


def settled(tank: Mix, after: Mixed) -> Mix:
    """The tank a day after a change: as warm as before, and with the CO2 of before."""
    mix = Mix(after.mix.held, tank.temperature)
    carbon = ph_of_open_water(mix.solution, tank.species.co2).carbon_inorganic
    return Mix({**mix.held, "carbon_inorganic": carbon}, mix.temperature)


def emergency_change(tank: Mix, pours: Sequence[Pour]) -> tuple[Pour | None, float, Mixed | None]:
    """The water and share of a large change at once.

    What counts is a large share, little poison left, and salts left alone. A water that raises
    the pH while ammonia is stored counts only where the poison still falls by a quarter. None
    where every water at hand would raise the poison, or shock by salts or temperature.
    """
    found: list[tuple[float, Pour, float, Mixed]] = []
    before = tank.nh3(tank.ph)
    for pour in pours:
        share = min(
            share_within_step(tank.ec25, pour.mix.ec25, EMERGENCY_EC),
            _within(tank.temperature - pour.mix.temperature, SHOCK_KELVIN),
        )
        if share < LEAST_AT_ONCE:
            continue
        after = after_change(tank, pour.mix, share)
        if harmless(tank, after) or after.nh3 <= MUCH_LESS * before:
            poison = after.nh3 / before if before > 0.0 else 0.0
            moved = abs(after.mix.ec25 / max(tank.ec25, 1.0) - 1.0)
            rise = max(0.0, after.ph_later - tank.ph)
            found.append((poison + 2.0 * moved + 2.0 * rise - share, pour, share, after))
    if not found:
        return None, 0.0, None
    return min(found, key=lambda f: f[0])[1:]


# -- in words ------------------------------------------------------------------------


def correction(
    tank: Mix, pours: Sequence[Pour], chosen: str, quantity: str, now: float, limit: float,
    litres: float, caps: Caps, *, emergency: str = "",
    now_range: tuple[float, float] | None = None, of_limit: Limit | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Dilute something to a limit, as an answer. emergency: why there is one; empty for none.

    now, limit: in the unit of STATES; of_limit: the animals' limit that it is, if it is one.
    Raises InputError where the water can't do it.
    """
    word, unit = STATES[quantity]
    pour = next(p for p in pours if p.name == chosen)
    if now > limit and pour.brought >= limit and not emergency:
        raise InputError(
            f"{chosen} itself holds {short(pour.brought)} {unit} of {word}, and "
            f"{short(limit)} is wanted", where="plan dilute",
            remedy="choose a water that holds less",
        )  # fmt: skip
    steps, then, left = [], tank, now
    if emergency:
        first, share, after = emergency_change(tank, pours)
        steps.append(at_once(tank, first, share, after, litres, emergency))
        if first is not None and after is not None:
            then, left = settled(tank, after), (1.0 - share) * now + share * first.brought
    blocked = left > limit and pour.brought >= limit
    made, stopped = ([], "its own " + word) if blocked else stages(
        then, pour, left, limit, caps, tank.ph)
    steps += [
        _told(i, s, litres, chosen, quantity, bool(emergency)) for i, s in enumerate(made, 1)
    ]
    return {
        "planner": "dilute", "quantity": quantity, "now": now, "limit": limit, "water": chosen,
        "share": needed_share(now, limit, pour.brought), "emergency": bool(emergency),
        "headline": _headline(word, unit, now, limit, pour, made, stopped, emergency),
        "said": [
            *_of_limit(of_limit, word),
            *_said(tank, pour, word, unit, now, limit, now_range, stopped, litres),
        ],
        "steps": steps, "tables": [_stage_table(then, made, litres, word, unit, left)],
        "stages": [_data(s, litres) for s in made], "stopped_by": stopped,
        "cautions": [CAUTIONS["water_change"], CAUTIONS["test"]],
        "sources": ["common_practice", "emerson1975", "plummer1982",
                    *([of_limit.source] if of_limit is not None else [])],
    }  # fmt: skip


def _data(stage: Stage, litres: float) -> dict[str, Any]:
    """A stage as data."""
    after = stage.after
    return {
        "share": stage.share, "litres": stage.share * litres, "binds": stage.binds,
        "left": stage.amount, "ec25": after.mix.ec25, "ph": after.ph_later, "nh3": after.nh3,
    }  # fmt: skip


def _of_limit(limit: Limit | None, word: str) -> list[str]:
    """Which limit of the animals it is that counts, and what it rests on."""
    if limit is None:
        return []
    return [
        f"What {word} is to come to is the limit at which one acts for "
        f"{', '.join(limit.who) or 'this tank'}: "
        f"'{limit.word}' ({limit.where}; {limit.conditions})."
    ]


def at_once(
    tank: Mix, pour: Pour | None, share: float, after: Mixed | None, litres: float, why: str
) -> dict[str, Any]:
    """The first step of an emergency: one large change, or animals out where no water fits.

    pour, share, after: what `emergency_change` found; litres: of the tank, net; why: a sentence.
    """
    lines = [
        f"{why} This does not wait for the caps of a day, and it is no matter that the tank is "
        "otherwise kept without water changes.",
        "Stir the surface, keep three quarters of it open, feed nothing.",
    ]  # fmt: skip
    if pour is None or after is None:
        lines.append(
            "No water at hand can be poured in by half without more poison or a shock: move the "
            "animals into a bucket of aged water of the tank's own hardness and warmth, and "
            "leave the tank to the stages below."
        )  # fmt: skip
        return step("Now: animals out, into matched water", *lines)
    lines.append(
        f"It leaves {short(after.nh3)} mg/L N of poisonous ammonia where there were "
        f"{short(tank.nh3(tank.ph))}, and {after.mix.ec25:.0f} uS/cm where there were "
        f"{tank.ec25:.0f}. Match the warmth, treat tap water for chlorine and chloramine. Test "
        "again within the hour and do it again where it is still high."
    )  # fmt: skip
    return step(f"Now: change {share * litres:.1f} L for {pour.name}", *lines)


def _told(
    i: int, stage: Stage, litres: float, water: str, quantity: str, after: bool
) -> dict[str, Any]:
    """A stage in words. after: whether a change at once came before the first."""
    word, unit = STATES[quantity]
    first = "Now" if i == 1 and not after else f"After {WAIT_HOURS:.0f} h, if the test agrees"
    return step(
        f"{first}: change {stage.share * litres:.1f} L for {water}",
        f"Leaves {short(stage.amount)} {unit} of {word}, {stage.after.mix.ec25:.0f} uS/cm, pH "
        f"{stage.after.ph_at_once:.2f} at once and {stage.after.ph_later:.2f} later.",
        "" if stage.binds == "what is wanted" else f"Held back by: {stage.binds}.",
        f"Before the next: test {word}, conductivity and pH"
        + (" and total ammonia" if quantity != "ammonium" else "")
        + (". Where they are not as told here, stop and plan again." if i == 1 else "."),
    )


def _stage_table(
    tank: Mix, made: Sequence[Stage], litres: float, word: str, unit: str, now: float
) -> dict[str, Any]:
    rows = [
        ["before", "", cell(now, unit.split()[0]), cell(tank.ec25, "uS/cm"), cell(tank.ph),
         cell(tank.kh_dh, "dH"), cell(tank.nh3(tank.ph), "mg/L"), ""]
    ]  # fmt: skip
    rows += [
        [f"{i}", cell(s.share * litres, "L"), cell(s.amount, unit.split()[0]),
         cell(s.after.mix.ec25, "uS/cm"), span(s.after.ph_at_once, s.after.ph_later),
         cell(s.after.mix.kh_dh, "dH"), cell(s.after.nh3, "mg/L"), s.binds]
        for i, s in enumerate(made, 1)
    ]  # fmt: skip
    return table(
        "The tank after each stage",
        ["Stage", "Replace", word.capitalize(), "Conductivity", "pH", "KH", "NH3 as N",
         "Bound by"], rows,
    )  # fmt: skip


def _headline(
    word: str, unit: str, now: float, limit: float, pour: Pour, made: Sequence[Stage],
    stopped: str, emergency: str,
) -> str:  # fmt: skip
    if emergency:
        rest = "then the stages" if made else "then test and plan again"
        return f"Act now: one large change with matched water, {rest}"
    if now <= limit:
        return f"Nothing to do: {word} is at {short(now)} {unit}, and {short(limit)} is allowed"
    if not made:
        return f"Not with {pour.name}: held back by {stopped}"
    much = "one change" if len(made) == 1 else f"{len(made)} changes, a day apart"
    end = f"to {short(made[-1].amount)} {unit}"
    rest = f"; then {stopped} holds it back" if stopped else ""
    return f"{much.capitalize()} with {pour.name} {'bring' if len(made) > 1 else 'brings'} " \
        f"{word} from {short(now)} {end}{rest}"  # fmt: skip


def _said(
    tank: Mix, pour: Pour, word: str, unit: str, now: float, limit: float,
    now_range: tuple[float, float] | None, stopped: str, litres: float,
) -> list[str]:  # fmt: skip
    wanted = needed_share(now, limit, pour.brought)
    said = []
    if now > limit and pour.brought < limit:
        said.append(
            f"All at once it would take {wanted:.0%} of the water ({wanted * litres:.1f} of "
            f"{litres:.1f} net litres): 1 - ({short(limit)} - {short(pour.brought)})/"
            f"({short(now)} - {short(pour.brought)})."
        )
    if now_range is not None:
        said.append(
            f"{word.capitalize()} lies between {short(now_range[0])} and {short(now_range[1])} "
            f"{unit} in 80 of 100 cases: test it first."
        )
    if tank.held["ammonium"] > STORED_AMMONIA:
        said.append(
            f"{short(tank.held['ammonium'])} mg/L N of ammonia are stored, "
            f"{short(tank.nh3(tank.ph))} of it poisonous. No stage is given that would raise the "
            "poisonous part, and nothing here raises the pH on purpose."
        )
    if stopped in ("stored ammonia", "pH", "carbonate hardness"):
        said.append(
            "A water nearer to the tank's own carbonate hardness and pH, or one softer, can do "
            "more: blend it, let it stand until it has breathed, then plan again."
        )
    if pour.assumed:
        said.append(
            f"The {word} of {pour.name} is assumed by its kind, as its analysis is silent: test it."
        )
    return said
