"""A top-up water by recipe: source waters and mineral doses that come nearest to a target.

Shares of the waters sum to one, doses are never negative; among mixes that reach the target as
well, the one with least salt from the jar. What can't be reached is told with the reason. What
the mix does over months follows from litres poured and what the harvest takes along.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from pleuston.base.errors import InputError
from pleuston.chemistry.metals import copper_ccc_epa1996
from pleuston.engine.kernel import Array
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.least_squares import nonnegative
from pleuston.planning.limits import Caps
from pleuston.planning.planner import cell, step, table
from pleuston.planning.sources import DH, Source, conductivity_of
from pleuston.records.composition import HOLDS, element_share
from pleuston.records.library import library

PASSES = 12
SUM_WEIGHT = 1e4
WORTH: Mapping[str, float] = {"ec25": 1.0 / 15.0, "gh": 1.0 / 0.25, "kh": 1.0 / 0.25}
"""Weight of a target: one over what is as bad [uS/cm, dH]; common practice, no source."""
DOSE_PRICE = 1e-3
"""What a mg/L from a jar costs beside a miss, so that waters come before salts."""
FULFILLED: Mapping[str, float] = {"ec25": 10.0, "gh": 0.3, "kh": 0.3}
"""A target is reached within this [uS/cm, dH]: what a pen and a drop test tell apart."""
UNITS: Mapping[str, str] = {"ec25": "uS/cm", "gh": "dH", "kh": "dH"}
WORDS: Mapping[str, str] = {
    "ec25": "conductivity", "gh": "general hardness", "kh": "carbonate hardness",
}  # fmt: skip
SALTS = (
    "calcium sulfate dihydrate", "calcium chloride dihydrate", "magnesium sulfate heptahydrate",
    "sodium bicarbonate", "potassium bicarbonate",
)  # fmt: skip
"""Substances that dissolve in a bucket; chalk does not within a day."""
IONS = ("calcium", "magnesium", "sodium", "potassium", "bicarbonate", "sulfate", "chloride",
        "nitrate", "phosphate")  # fmt: skip
MOST_WATERS = 4
HELD_AT, FAR_OFF = 3.0, 20.0
"""How many times the mix's concentration a tank is held at by changes, and from which on the end
of the rise is too far off to be told."""
LEAST_PART = 0.01
"""A smaller share of a water is left out."""


@dataclass(frozen=True)
class Recipe:
    """Shares of waters, doses [mg/L], and what a litre of the mix holds."""

    shares: Mapping[str, float]
    doses: Mapping[str, float]
    held: Mapping[str, float]

    @property
    def ec25(self) -> float:
        """Conductivity [uS/cm]."""
        return conductivity_of(self.held)

    def of(self, quantity: str) -> float:
        """A target's quantity in the mix."""
        return self.ec25 if quantity == "ec25" else hardness_of(self.held)[quantity]


def hardness_of(held: Mapping[str, float]) -> dict[str, float]:
    """General and carbonate hardness of what a litre holds [dH]."""
    hard = held.get("calcium", 0.0) / 20.039 + held.get("magnesium", 0.0) / 12.1525
    return {"gh": hard * DH, "kh": held.get("alkalinity", 0.0) * DH}


def recipe(
    waters: Sequence[Source], salts: Sequence[str], targets: Mapping[str, float]
) -> Recipe:
    """The mix that comes nearest to targets of conductivity and hardness.

    Raises InputError without water or target, and for more than four waters.
    """
    if not waters or not targets:
        raise InputError(
            "no water is chosen" if not waters else "no target is given", "plan mix",
            "choose waters, and a conductivity or hardness to reach",
        )  # fmt: skip
    if len(waters) > MOST_WATERS:
        raise InputError(f"{len(waters)} waters", "plan mix", f"choose at most {MOST_WATERS}")
    parts = [dict(w.per_litre) for w in waters]
    parts += [library().find_substance(s).given(1.0) for s in salts]
    scale, x = 1.0, np.zeros(len(parts))
    for _ in range(PASSES):
        x = _solved(parts, len(waters), targets, scale)
        held = _held(parts, x)
        rough = sum(float(v) * _ec_of(p) for v, p in zip(x, parts, strict=True))
        scale = conductivity_of(held) / rough if rough > 0.0 else 1.0
    x = _without_traces(parts, len(waters), targets, scale, x)
    n = len(waters)
    return Recipe(
        {w.name: float(v) for w, v in zip(waters, x[:n], strict=True) if v > 0.0},
        {s: float(v) for s, v in zip(salts, x[n:], strict=True) if v > 1e-3}, _held(parts, x),
    )  # fmt: skip


def _ec_of(part: Mapping[str, float]) -> float:
    return conductivity_of(dict.fromkeys(_STATES, 0.0) | dict(part))


_STATES = ("calcium", "magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate",
           "phosphate", "alkalinity")  # fmt: skip


def _solved(
    parts: Sequence[Mapping[str, float]], waters: int, targets: Mapping[str, float], scale: float
) -> Array:
    """Shares and doses for one slope of conductivity over ions."""
    count = len(parts)
    rows: list[Array] = []
    wanted: list[float] = []
    for name, target in targets.items():
        each = [_ec_of(p) * scale if name == "ec25" else hardness_of(p)[name] for p in parts]
        rows.append(np.asarray(np.array(each) * WORTH[name], dtype=np.float64))
        wanted.append(target * WORTH[name])
    rows.append(np.asarray(SUM_WEIGHT * (np.arange(count) < waters)))
    wanted.append(SUM_WEIGHT)
    for j in range(waters, count):
        rows.append(np.asarray(DOSE_PRICE * (np.arange(count) == j)))
        wanted.append(0.0)
    x = nonnegative(np.array(rows, dtype=float), np.array(wanted))
    x[:waters] /= x[:waters].sum()
    return x


def _without_traces(
    parts: Sequence[Mapping[str, float]], waters: int, targets: Mapping[str, float], scale: float,
    x: Array,
) -> Array:  # fmt: skip
    """The same without waters of which only a trace would go in."""
    kept = [i for i in range(len(parts)) if i >= waters or x[i] >= LEAST_PART]
    if len(kept) == len(parts):
        return x
    part = _solved([parts[i] for i in kept], sum(i < waters for i in kept), targets, scale)
    made = np.zeros(len(parts))
    made[kept] = part
    return made


def _held(parts: Sequence[Mapping[str, float]], x: Array) -> dict[str, float]:
    total: dict[str, float] = dict.fromkeys(_STATES, 0.0)
    for part, amount in zip(parts, x, strict=True):
        for state, value in part.items():
            total[state] = total.get(state, 0.0) + float(amount) * value
    return total


def missed(
    made: Recipe, waters: Sequence[Source], salts: Sequence[str], targets: Mapping[str, float]
) -> list[str]:
    """What a mix does not reach, and why."""
    said = []
    for name, target in targets.items():
        got = made.of(name)
        if abs(got - target) <= max(FULFILLED[name], 0.03 * target):
            continue
        why = _why(name, got, target, waters, salts, targets)
        said.append(
            f"{WORDS[name].capitalize()} of {short(target)} {UNITS[name]} is not reached, the mix "
            f"has {short(got)}: {why}."
        )
    return said


def _why(
    name: str, got: float, target: float, waters: Sequence[Source], salts: Sequence[str],
    targets: Mapping[str, float],
) -> str:  # fmt: skip
    of_waters = [w.ec25 if name == "ec25" else hardness_of(w.per_litre)[name] for w in waters]
    bring = [
        s for s in salts if name == "ec25" or hardness_of(library().find_substance(s).given(1.0))[
            name] > 0.0
    ]  # fmt: skip
    if got > target and min(of_waters) > target:
        return f"the lowest of the chosen waters has {short(min(of_waters))}; add a softer one"
    if got < target and max(of_waters) < target and not bring:
        most = short(max(of_waters))
        return f"the highest of the chosen waters has {most}, and no dose brings it"
    others = ", ".join(f"{WORDS[n]} {short(t)}" for n, t in targets.items() if n != name)
    if not others:
        return "the waters at hand don't allow it"
    return f"it can't stand together with {others}"


# -- over months ---------------------------------------------------------------------


def weeks_to_double(litres: float, poured: float, held: float, brought: float) -> float:
    """Weeks of topping up until something that only gathers has doubled: V c / (E c_in).

    litres: net; poured: a week; held, brought: concentrations of tank and top-up.

    >>> round(weeks_to_double(26.0, 1.4, 100.0, 100.0), 1)
    18.6
    """
    gathered = poured * brought
    return litres * held / gathered if gathered > 0.0 else float("inf")


def steady_factor(poured: float, taken: float) -> float:
    """How many times a top-up's concentration the tank comes to in the end: (E + W)/W.

    poured: litres a week that evaporate; taken: litres a week that leave as water, with
    harvested plants, siphoned or spilled.

    >>> steady_factor(1.4, 0.1)
    15.0
    """
    return (poured + taken) / taken if taken > 0.0 else float("inf")


def step_of_filling(litres: float, poured: float, tank_ec: float, mix_ec: float) -> float:
    """Change of conductivity by filling up what evaporated, as a share of what it was before.

    >>> step_of_filling(26.0, 2.6, 400.0, 0.0)
    -0.1
    """
    gone = min(poured / litres, 0.9)
    before = tank_ec / (1.0 - gone)
    return (tank_ec + gone * mix_ec) / before - 1.0


@dataclass(frozen=True)
class Use:
    """How a tank is filled up: net litres, litres a week, and what leaves with the harvest.

    taken: by state [mg a week], by the plants' own make-up; wet: litres a week that cling to
    them. tank: what a litre of the tank holds, where it is known.
    """

    litres: float
    poured: float
    wet: float = 0.0
    taken: Mapping[str, float] | None = None
    tank_ec: float | None = None
    tank_kh: float | None = None
    stored_ammonia: bool = False


def mix_plan(
    waters: Sequence[Source], salts: Sequence[str], targets: Mapping[str, float], use: Use,
    caps: Caps, amount: float = 10.0,
) -> dict[str, Any]:  # fmt: skip
    """A top-up water by recipe, with its ions, its drift and what it can't do, as an answer."""
    made = recipe(waters, salts, targets)
    reached = {n: made.of(n) for n in ("ec25", "gh", "kh")}
    off = missed(made, waters, salts, targets)
    kinds = {w.name: w for w in waters}
    assumed = [f"{n} ({', '.join(kinds[n].assumed)})" for n in made.shares if kinds[n].assumed]
    blocked = (
        use.stored_ammonia and use.tank_kh is not None and reached["kh"] > use.tank_kh
    )  # fmt: skip
    said = [*off, *_cautious(made, use, caps, blocked)]
    if assumed:
        said.append(f"By kind of water, as the analysis is silent: {'; '.join(assumed)}.")
    return {
        "planner": "mix", "shares": dict(made.shares), "doses": dict(made.doses),
        "reached": reached, "targets": dict(targets), "missed": off, "assumed": assumed,
        "headline": _headline(made, reached, off, blocked),
        "said": said, "steps": _recipe_steps(made, amount, blocked),
        "tables": [
            table(f"For {amount:g} L", ["Part", "Amount"], [
                *([n, cell(s * amount, "L")] for n, s in made.shares.items()),
                *([n, cell(d * amount / 1000.0, "g")] for n, d in made.doses.items()),
            ]),
            table("What it comes to", ["", "Wanted", "The mix"], [
                [WORDS[n].capitalize(), cell(targets[n], UNITS[n]) if n in targets else "",
                 cell(reached[n], UNITS[n])] for n in ("ec25", "gh", "kh")
            ]),
            table("What a litre of it holds", ["Ion", "Amount"], _ions(made.held)),
            *_drift(made, use),
        ],
        "cautions": [CAUTIONS["dose"]] if made.doses else [], "sources": ["mccleskey2012"],
    }  # fmt: skip


def _ions(held: Mapping[str, float]) -> list[list[Any]]:
    rows: list[list[Any]] = []
    for ion in IONS:
        if ion == "bicarbonate":
            amount = held["alkalinity"] * 61.016
        else:
            amount = held[HOLDS[ion][0]] / float(element_share(ion))
        rows.append([ion.capitalize(), cell(amount, "mg/L")])
    return [*rows, ["Copper", cell(1000.0 * held.get("copper", 0.0), "ug/L")]]


def _headline(
    made: Recipe, reached: Mapping[str, float], off: Sequence[str], blocked: bool
) -> str:
    if blocked:
        return "Not now: ammonia is stored, and this mix would raise the pH"
    parts = [f"{s:.0%} {n}" for n, s in made.shares.items()]
    parts += [f"{short(d)} mg/L {n}" for n, d in made.doses.items()]
    end = "the nearest that can be had" if off else "as wanted"
    return (
        f"{', '.join(parts)}: {reached['ec25']:.0f} uS/cm, GH {reached['gh']:.1f}, KH "
        f"{reached['kh']:.1f}, {end}"
    )


def _cautious(made: Recipe, use: Use, caps: Caps, blocked: bool) -> list[str]:
    said = []
    if blocked:
        said.append(
            "Ammonia may be stored: a harder mix would turn it to poison. Test ammonia, get rid "
            "of it with water no harder than the tank's, and mix this afterwards."
        )
    if use.tank_ec is not None and use.poured > 0.0:
        moved = step_of_filling(use.litres, use.poured, use.tank_ec, made.ec25)
        times = max(1, ceil(abs(moved) / caps.ec - 1e-9))
        said.append(
            f"Filling up a week's {use.poured:.1f} L at once moves conductivity by {moved:+.0%}; "
            + ("that is within the cap of a day." if times == 1 else
               f"the cap of a day is {caps.ec:.0%}: fill up {times} times a week.")
        )  # fmt: skip
    hard = hardness_of(made.held)["gh"] / DH
    copper, limit = made.held.get("copper", 0.0), float(copper_ccc_epa1996(max(hard, 0.5)))
    if copper > 0.5 * limit:
        said.append(
            f"It brings {1000.0 * copper:.2g} ug/L of copper with every litre; the long-term "
            f"criterion at this hardness is {1000.0 * limit:.2g}. A kit that shows nothing does "
            "not clear it for shrimp and snails."
        )
    return said


def _recipe_steps(made: Recipe, amount: float, blocked: bool) -> list[dict[str, Any]]:
    if blocked:
        return []
    pours = [f"{s * amount:.2f} L of {n}" for n, s in made.shares.items()]
    weighs = [f"{d * amount / 1000.0:.2f} g of {n}" for n, d in made.doses.items()]
    return [
        step(f"Mix {amount:g} L", *pours, *weighs),
        step("Let it stand a day, stirred now and then", "Chlorine leaves, carbon dioxide settles "
             "and salts dissolve; chloramine does not leave by standing."),
        step("Read it with the pen and a drop test before the first filling",
             f"It should show {made.ec25:.0f} uS/cm within a tenth."),
    ]  # fmt: skip


def _drift(made: Recipe, use: Use) -> list[dict[str, Any]]:
    """What gathers when evaporated water is filled up with the mix, state by state."""
    if use.poured <= 0.0:
        return []
    taken = use.taken or {}
    wet = use.wet
    rows: list[list[Any]] = []
    for state in ("chloride", "sodium", "sulfate", "calcium", "magnesium", "potassium"):
        brought = use.poured * made.held[state]
        out = taken.get(state, 0.0)
        net = brought - out
        double = weeks_to_double(use.litres, use.poured, made.held[state], made.held[state])
        if net <= 0.0:
            said = "falls: the harvest takes more"
        elif out > 0.0:
            weeks = use.litres * made.held[state] / net
            said = f"doubles in {weeks:.0f} weeks from the mix's own"
        else:
            said = f"doubles in {double:.0f} weeks from the mix's own"
        rows.append([state.capitalize(), cell(brought, "mg"), cell(out, "mg"), said])
    made_table = table(
        "What a week brings and the harvest takes", ["Element", "Brought", "Taken", "So it"], rows
    )
    end = steady_factor(use.poured, wet)
    hold = use.poured / (HELD_AT - 1.0)
    known = (
        f"What plants don't take comes to {end:.0f} times the mix's in the end, as {short(wet)} L "
        "a week leave with wet plants." if end <= FAR_OFF else
        "Hardly any water leaves as water, so what plants don't take goes on gathering. Replacing "
        f"{short(hold)} L a week would hold it at {HELD_AT:.0f} times the mix's."
    )  # fmt: skip
    made_table["note"] = known
    return [made_table]
