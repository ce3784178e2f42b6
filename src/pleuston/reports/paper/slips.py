"""Give-away slips: what it is, whether metal may be in it, and where it must never go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.planning.give_away import notice_for, slip_law
from pleuston.records.library import Species, library
from pleuston.records.record import Entry, Water
from pleuston.reports.paper.facts import Facts, both_names, species_of
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import clean, day_of, number, span

LONGEST_REGION = 60
METALS = ("copper", "zinc")
COPPER_TRACE_UG_L = 5.0
"""Copper in the top-up water [ug/L] that is worth a word on a slip; a guess, below every limit."""
NEVER = "Never release any of it, or its water, into ponds, streams, ditches or drains."
SURPLUS = "Too much of it: dry it, or freeze it for two days, then household waste."
UNWANTED = "No longer wanted: back to the giver or on to another keeper. Ill: ask a vet."
"""For animals, which are never surplus to be thrown away."""
LAW = "Rules on invasive plants and snails differ by place and year. Ask the authority for " \
    "nature conservation or plant health where you live before you pass it on."  # fmt: skip
RESTRICTED = "Restricted in some places: CHECK FIRST whether it may be kept or passed on at all."
QUARANTINE = "Rinse, look for snails and eggs, keep it two weeks in a tub of its own."


def slips(facts: Facts, waters: Sequence[Water], region: str = "") -> Sheet:
    """One slip for each plant and animal of a tank.

    region: where it is given away, as a lead to its authority; the rack's own where none is given.
    """
    place = clean(region or facts.record.rack.region, LONGEST_REGION)
    names = [*facts.floating, *facts.rooted, *facts.animals]
    if not names:
        raise InputError(
            "no plant or animal is in it by its record", where=f"tank {facts.name}",
            remedy="Note plant_in or stock_in first",
        )  # fmt: skip
    metal = metal_flag(facts, waters)
    data = {
        "slips": [_slip(name, facts, metal, place) for name in names],
        "never": NEVER,
    }  # fmt: skip
    return sheet_of("slip", f"Give-away slips of {facts.name}", facts.local, data)


def _slip(name: str, facts: Facts, metal: str, region: str) -> dict[str, Any]:
    known = species_of(name)
    animal = known is not None and known.is_animal
    return {
        **both_names(name),
        "tank": facts.name,
        "day": day_of(facts.local),
        "restricted": RESTRICTED if known is None or known.check_law or _listed(known, region)
        else "",
        "law": slip_law(known, region) if region else LAW,
        "surplus": UNWANTED if animal or known is None else SURPLUS,
        "likes": _likes(known),
        "metal": metal,
        "food": "" if animal else "Not food for people or stock, not for salad compost.",
        "quarantine": QUARANTINE if not animal
        else "Keep it two weeks apart; get it used to your water over an hour or two.",
        "amount": "Number" if animal else "Drained, g",
    }  # fmt: skip


def _listed(known: Species, region: str) -> bool:
    return bool(region) and notice_for(region).names(known.name)


def _likes(known: Species | None) -> str:
    """The comfortable ranges of a species, as the library has them."""
    if known is None:
        return ""
    ranges = ((known.temperature_c, "{} °C"), (known.ph, "pH {}"), (known.gh_dh, "GH {} °dH"))
    said = [text.format(span(value.low, value.high)) for value, text in ranges if value is not None]
    return ", ".join(said)


def metal_flag(facts: Facts, waters: Sequence[Water]) -> str:
    """Why metal is suspected, or that it isn't known; never that there is none."""
    reasons = [r for e in facts.record.entries_of(facts.tank.name, until=facts.moment)
               if (r := _of_entry(e))]  # fmt: skip
    for water in waters:
        if water.name == facts.tank.top_up_water and (water.copper_ug_l or 0) >= COPPER_TRACE_UG_L:
            found = number(float(water.copper_ug_l or 0))
            reasons.append(f"topped up with water of {found} µg/L copper")
    if not reasons:
        return "METAL: not known. Nothing was noted, and no test was made that could rule it out."
    return f"METAL SUSPECTED: {'; '.join(list(dict.fromkeys(reasons))[:3])}. Dry, bag, bin."


def _of_entry(entry: Entry) -> str:
    if entry.kind == "dose" and _gives_metal(entry.what):
        return f"dosed with {entry.what}"
    if entry.kind == "reading" and entry.what in METALS and (entry.low or 0.0) > 0.0:
        return f"{entry.what} read at {span(entry.low, entry.high, entry.unit)}"
    return ""


def _gives_metal(substance: str) -> bool:
    try:
        content = library().find_substance(substance).content
    except UnknownNameError:
        return "copper" in substance.casefold() or "zinc" in substance.casefold()
    return any(metal in content for metal in METALS)
