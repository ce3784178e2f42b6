"""Acts of a round: what to do in one tank, with amount, reason, confidence, and what if not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

MINUTES: Mapping[str, float] = {
    "thin": 2.0, "open_surface": 1.0, "feed_less": 0.2, "stop_feeding": 0.2, "top_up": 1.0,
    "change_top_up": 0.5, "water_change": 8.0, "dose": 1.0, "test": 3.0, "look": 0.5,
    "remove_dead": 1.0, "stir_surface": 0.5, "no_new_animals": 0.0, "check_source": 5.0,
    "check_kit": 3.0, "lid": 0.5, "cool": 3.0,
}  # fmt: skip
"""Minutes that an act takes at the rack: common practice, no source."""
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

    @property
    def minutes(self) -> float:
        """Minutes it takes."""
        return MINUTES.get(self.act, 1.0)

    def as_data(self) -> dict[str, Any]:
        """The act as data."""
        amount = None if self.amount is None else round(self.amount, 3)
        return {**asdict(self), "amount": amount, "caution": CAUTIONS.get(self.act, "")}


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
