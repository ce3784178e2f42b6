"""Acts of a round: what to do in one tank, with amount, reason, confidence, and what if not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

MINUTES: Mapping[str, float] = {
    "thin": 0.6, "open_surface": 0.5, "feed_less": 0.0, "feed_more": 0.0,
    "stop_feeding": 0.0, "top_up": 0.3,
    "change_top_up": 0.0, "water_change": 6.0, "dose": 1.0, "test": 3.0, "look": 0.3,
    "remove_dead": 0.5, "stir_surface": 0.3, "no_new_animals": 0.0, "check_source": 5.0,
    "check_kit": 3.0, "lid": 0.3, "cool": 2.0,
}  # fmt: skip
"""Minutes that an act takes a keeper who goes from tank to tank: common practice, no source. A
round of nine tanks takes ten minutes: a look of 10 s, thinning 25 s and weighing, topping up 15 s.
Food that is not given and another can to fill from take none. A test waits for its colour by
itself; what counts is the keeper's own time."""
CAUTIONS: Mapping[str, str] = {
    "water_change": "Never start a siphon by mouth. Unplug heater and lamp before hands or level "
    "go down. Treat tap water for chlorine and chloramine, and match temperature and salts.",
    "thin": "Dry or freeze surplus plants and bin them: never into ponds, ditches or drains that "
    "lead to streams. Some species may not be passed on; ask your authority.",
    "dose": "Dose by the net litres. Keep salts away from children and food.",
    "test": "Kit reagents can burn: gloves, eyes, a cap instead of the thumb.",
    "stir_surface": "Dry hands and drip loops before touching plugs.",
    "remove_dead": "Wash hands; cover cuts, wear gloves. If many died, ask a vet.",
}


@dataclass(frozen=True)
class Act:
    """One thing to do."""

    act: str
    what: str
    amount: float | None
    unit: str
    reason: str
    confidence: str
    if_skipped: str
    binds: str = ""
    """What makes it necessary, or holds its amount back."""
    would_change: str = ""
    """What would have to be known or to happen for the advice to change."""
    safety: bool = False
    """It guards animals: it is never put off for want of minutes."""
    takes: float | None = None
    """Minutes it takes where they differ from what is usual for its kind."""
    worth: float | None = None
    """Of a test: minutes a week that knowing is expected to save."""

    @property
    def minutes(self) -> float:
        """Minutes it takes."""
        return MINUTES.get(self.act, 1.0) if self.takes is None else self.takes

    def as_data(self) -> dict[str, Any]:
        """The act as data."""
        amount = None if self.amount is None else round(self.amount, 3)
        made = {
            "act": self.act, "what": self.what, "amount": amount, "unit": self.unit,
            "reason": self.reason, "confidence": self.confidence, "if_skipped": self.if_skipped,
            "binds": self.binds, "would_change": self.would_change, "safety": self.safety,
            "minutes": round(self.minutes, 2), "caution": CAUTIONS.get(self.act, ""),
        }  # fmt: skip
        return made if self.worth is None else {**made, "worth": round(self.worth, 2)}


def confidence(chance: float) -> str:
    """low, fair or good, by how far the members agree."""
    sure = max(chance, 1.0 - chance)
    return "good" if sure >= 0.9 else "fair" if sure >= 0.7 else "low"


def short(value: float) -> str:
    """A number as a person would write it: two figures, whole from a hundred on.

    >>> short(0.01234), short(9.96), short(99.7), short(336.4)
    ('0.012', '10', '100', '336')
    """
    return f"{value:.0f}" if abs(value) >= 99.5 else f"{value:.2g}"
