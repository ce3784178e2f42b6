"""Signs that only a belief's members show now: which nutrient starves the plants, and copper.

Each is the share of members beyond a level, so it is as sure as the belief is. What is read is
left to the readings: on tanks of another make, levels of members named fewer causes rightly.
"""

from __future__ import annotations

import numpy as np

from pleuston.biology.nutrients import droop_response
from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.cause_signs import Sign
from pleuston.inference.readings import with_slow_error
from pleuston.inference.tank import ERROR, PREDICTED, TankBelief

CERTAIN = 0.97
"""No share of members counts for more, nor its opposite for less: the model may be wrong."""
STARVED = 0.5
"""Share of its growth that the scarcest nutrient leaves a plant that counts as starved."""
STORED = ("nitrogen", "phosphorus", "potassium")
COPPER = 0.015
"""Copper [mg/L] above which shrimp and snails may suffer (arthur1970)."""


def member_signs(belief: TankBelief, threads: int | None = None) -> dict[str, Sign]:
    """The signs that members show on the coming day, nothing done to the tank."""
    run = _tomorrow(belief, threads)
    copper = run.of(PREDICTED["copper"])[-1]
    error = belief.values.get(ERROR + "copper")
    if error is not None:
        copper = with_slow_error("copper", copper, error)
    low, high = 1000.0 * np.quantile(copper, [0.1, 0.9])
    words = f"by the balance copper is {low:.2g} to {high:.2g} ug/L now"
    return {"copper_high": Sign(_sure(copper > COPPER), words), **_starved(belief, run)}


def _tomorrow(belief: TankBelief, threads: int | None) -> Trajectory:
    case, start = belief.case, belief.at
    outputs = {PREDICTED["copper"], "iron_concentration"}
    outputs |= {f"{slot}_fresh_mass" for slot in case.plants.slots.values()}
    return run_tank(
        case.schedule(start, start + 1.0, [start + 1.0], events=[]), belief.end,
        belief.parameters, outputs=sorted(outputs), scale=case.scale, tolerance=INTERACTIVE,
        threads=threads,
    )  # fmt: skip


def _sure(beyond: np.ndarray) -> float:
    return float(np.clip(beyond.mean(), 1.0 - CERTAIN, CERTAIN))


def _starved(belief: TankBelief, run: Trajectory) -> dict[str, Sign]:
    """By nutrient: the share of members whose largest floating plant it starves."""
    case = belief.case
    slots = list(case.plants.slots.values())
    if not slots:
        return {}
    largest = max(slots, key=lambda s: float(np.median(run.of(f"{s}_fresh_mass")[-1])))

    def parameter(name: str) -> Array:
        return belief.parameters[:, case.table.at("parameter", f"{largest}_{name}")]

    dry = np.maximum(run.of(f"{largest}_fresh_mass")[-1] * parameter("dry_share"), 1e-9)
    left = {}
    for name in STORED:
        quota = run.end[:, case.table.at("state", f"{largest}_{name}")] / dry
        left[name] = droop_response(quota, parameter(f"{name}_min"), parameter(f"{name}_max"))
    iron = run.of("iron_concentration")[-1]
    left["iron"] = iron / (iron + parameter("iron_half"))
    table = np.array(list(left.values()))
    scarcest, worst = table.argmin(axis=0), table.min(axis=0)
    made = {}
    for place, name in enumerate(left):
        short = (scarcest == place) & (worst < STARVED)
        words = f"{name} starves the floating plants in {100 * short.mean():.0f} of 100 members"
        made[f"starved_of_{name}"] = Sign(_sure(short), words)
    return made
