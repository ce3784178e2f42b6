"""Amounts of the first hour for one tank: litres, surface, and how far cold water cools it."""

from __future__ import annotations

from typing import Any

from pleuston.planning.planner import step
from pleuston.services.plan_ground import Ground

THIRD = 1.0 / 3.0
OPEN = 0.75
"""Share of the surface to open where animals gasp, as on the card."""
FRIDGE = 5.0
"""Celsius of a closed bottle from a refrigerator: guess."""
MOST_COOLER = 2.0
"""Kelvin that a tank may be cooled in a day, as on the card; the keeper's own limit may be less."""
WORDS = (("ec25", "{:.0f} µS/cm"), ("gh", "GH {:.1f} °dH"), ("kh", "KH {:.1f} °dH"),
         ("ph", "pH {:.1f}"))  # fmt: skip


def amounts_now(ground: Ground) -> list[dict[str, Any]]:
    """What the steps of the cards come to in a tank, by its measures and what is believed of it."""
    litres, area = ground.setup.net_l, ground.setup.surface_m2
    warm = ground.value("temperature", None)
    believed = [
        text.format(ground.standing[n][1]) for n, text in WORDS if n in ground.standing
    ]
    match = f"Matched: {'as warm as the tank' if warm is None else f'{warm:.0f} °C'}"
    match += (", near " + ", ".join(believed)) if believed else ", as hard and as salty"
    made = [
        step(f"A third of the water is {litres * THIRD:.1f} L, half is {litres / 2.0:.1f} L",
             match + ". Treat tap water for chlorine. Never suck a siphon on with the mouth."),
        step(f"Three quarters of the surface are {area * OPEN * 1e4:.0f} cm²",
             "Push floating plants into the rest, or take them out."),
    ]  # fmt: skip
    most = min(MOST_COOLER, ground.caps.temperature)
    if warm is not None and warm > FRIDGE + most:
        each = (warm - FRIDGE) / (litres + 1.0)
        count = max(1, int(most / each))
        made.append(step(
            f"A closed bottle of 1 L at {FRIDGE:.0f} °C cools it by {each:.1f} °C",
            f"At most {count} in a day, one at a time: no more than {most:.2g} °C."
            if each <= most else "That is too much: take a smaller bottle.",
        ))  # fmt: skip
    return made
