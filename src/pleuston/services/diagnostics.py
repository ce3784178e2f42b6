"""How the learning of a tank went, in a keeper's words: doubts, and what readings told."""

from __future__ import annotations

from typing import Any

from pleuston.inference.readings import ReadingInterval
from pleuston.inference.tank import ERROR, TankBelief, tank_readings
from pleuston.planning.hours import local_time
from pleuston.services.state_now import last_readings, written

WRONG = 0.5
"""Chance from which a reading is named: more likely wrong than not."""
WELL, LITTLE = 0.5, 0.2
"""Share of the variance before that readings took away, from which a number counts as learned
well, or a little: a choice."""
ENOUGH = 100.0
"""Members that should count, as in `Diagnostics.doubtful`."""
WORDS = {
    "light_factor": "light that reaches the plants", "evaporation_factor": "evaporation",
    "conductivity_factor": "what the pen shows of the salts",
    "gas_exchange_still": "exchange with the air over still water",
    "gas_exchange_lid": "exchange with the air under the lid",
    "gas_exchange_gentle": "exchange with the air in gentle flow",
    "gas_exchange_strong": "exchange with the air in strong flow",
    "feed_factor": "grams in a pinch of feed", "nitrification_capacity": "nitrifying bacteria",
    "denitrification_velocity": "nitrate lost to the soil's bacteria",
    "detritus_hydrolysis": "how fast waste rots",
    "soil_mineralisation": "what the soil gives off", "rooted_growth_max": "rooted plants' growth",
    "rooted_loss": "rooted plants' losses", "nitrite_oxidiser_half": "oxidation of nitrite",
    "scale_growth": "lime that settles", "soil_exchange": "exchange of the soil with the water",
    "soil_oxygen_demand": "oxygen the soil takes", "source_copper": "copper of a source",
    "pipe_copper": "copper from the pipes", "pipe_copper_day": "the day copper came up",
}  # fmt: skip


def diagnostics_of(belief: TankBelief) -> dict[str, Any]:
    """How a belief came about, as data and in words."""
    how = belief.diagnostics
    return {
        "words": _words(belief), "effective_members": round(how.effective_members, 1),
        "method": how.method, "runs": how.runs, "failed": how.failed, "doubtful": how.doubtful,
        "why_doubtful": why_doubtful(belief), "readings": belief.readings,
        "unused": list(belief.unused), "doubted": doubted(belief), "told": told(belief),
    }  # fmt: skip


def why_doubtful(belief: TankBelief) -> list[str]:
    """Each reason to have the belief confirmed by another method."""
    how = belief.diagnostics
    reasons = [
        (how.effective_members < ENOUGH,
         f"only {how.effective_members:.0f} of the tried tanks count, {ENOUGH:.0f} should"),
        (how.failed > 0.1 * how.runs, f"{how.failed} of {how.runs} runs did not go through"),
        (how.tempered < 1.0, "few tried tanks agree with all readings, so they were taken "
                             "less at their word"),
        (how.shift > 0.5, "two steps of the learning differ"),
    ]  # fmt: skip
    return [words for holds, words in reasons if holds]


def _words(belief: TankBelief) -> str:
    why = why_doubtful(belief)
    count = f"Learned from {belief.readings} reading{'' if belief.readings == 1 else 's'}"
    if not belief.readings:
        return "Nothing was read yet: it rests on what is known of such tanks."
    if not why:
        return f"{count}; the learning went as it should."
    return f"{count}; take it with doubt: {'; '.join(why)}."


def doubted(belief: TankBelief) -> list[dict[str, Any]]:
    """The readings more likely wrong than the model, likeliest first, with their entries."""
    pairs, _ = tank_readings(belief.case, belief.at)
    chances = belief.diagnostics.misread
    if len(pairs) != len(chances):
        return []
    found = [
        {"at": local_time(belief, r.time), "quantity": r.quantity, "wrong": round(chance, 3),
         **_as_noted(belief, r)}
        for (r, _), chance in zip(pairs, chances, strict=True) if chance >= WRONG
    ]  # fmt: skip
    return sorted(found, key=lambda row: -row["wrong"])


def _as_noted(belief: TankBelief, reading: ReadingInterval) -> dict[str, str]:
    """The entry behind a reading and how it was written; of a sign there is none."""
    case, harvest = belief.case, reading.quantity == "harvest"
    entries = (case.record.entries_of(case.tank.name, kind="harvest") if harvest
               else last_readings(belief).get(reading.quantity, []))  # fmt: skip
    for entry in entries:
        if abs(case.clock.day(entry.at) - reading.time) < 1e-6:
            word = "harvest of " if harvest else ""
            return {"value": f"{word}{written(entry)}", "entry": entry.id}
    return {"value": "as the animals showed", "entry": ""}


def told(belief: TankBelief) -> list[dict[str, Any]]:
    """What the readings did and did not tell, in three groups."""
    names = [n for n in belief.names if not n.startswith(ERROR)]
    shares = belief.diagnostics.informed
    groups = {
        "learned well": (WELL, 2.0), "learned a little": (LITTLE, WELL),
        "still as the literature has it": (-1.0, LITTLE),
    }  # fmt: skip
    paired = list(zip(names, shares, strict=False))
    return [
        {"word": word, "names": [_name(belief, n) for n, s in paired if low <= s < high]}
        for word, (low, high) in groups.items()
    ]


def _name(belief: TankBelief, name: str) -> str:
    """A learned number in a keeper's words."""
    slots = {f"{slot}_growth_max": s for s, slot in belief.case.plants.slots.items()}
    if name in slots:
        return f"growth of {slots[name]}"
    return WORDS.get(name, name.replace("initial_", "at the start: ").replace("_", " "))
