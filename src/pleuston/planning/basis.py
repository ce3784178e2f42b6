"""What an answer from a belief rests on, in a sentence."""

from __future__ import annotations

from pleuston.inference.tank import FEW, TankBelief


def basis(belief: TankBelief) -> str:
    """How many readings of the tank are behind it, or that the literature alone is."""
    if not belief.readings:
        return (
            "No reading of this tank is behind it: it rests on values from the literature and on "
            "practice alone."
        )
    few = ""
    if belief.readings < FEW:
        few = " Few as they are, values from the literature weigh more."
    count = "one reading" if belief.readings == 1 else f"{belief.readings} readings"
    return f"It rests on {count} of this tank, and on the literature where they tell nothing.{few}"
