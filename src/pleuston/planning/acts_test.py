"""The test that matters: the reading whose doubt decides most about a limit."""

from __future__ import annotations

import numpy as np

from pleuston.planning.acts import Act
from pleuston.planning.view import WEEK, View, bound_of

EVERY = {"copper": 28.0}
USUAL = 14.0
"""Days after which a reading that matters is worth repeating: common practice, no source."""
WORTH = 0.08
"""Least doubt, chance times its opposite weighted by severity, that is worth a test."""
WEIGHT = {"watch": 0.3, "act": 1.0, "danger": 1.5}
READ = {"ammonia_nh3": "ammonium", "oxygen_dawn": "oxygen"}
KNOWN_AT_SIGHT = ("cover", "temperature")
NAMES = {"oxygen": ("oxygen", "oxygen_pct"), "ec25": ("ec25", "pen_ppm")}


def test_worth(view: View) -> list[Act]:
    """The one reading worth taking this week, if any is."""
    doubt: dict[str, tuple[float, str]] = {}
    for limit in view.limits:
        if limit.quantity in KNOWN_AT_SIGHT:
            continue
        chance = view.chance(limit, WEEK)
        name = READ.get(limit.quantity, limit.quantity)
        worth = WEIGHT.get(limit.severity, 0.0) * chance * (1.0 - chance)
        if worth > doubt.get(name, (0.0, ""))[0]:
            why = f"{chance:.0%} of members cross '{limit.word}' ({bound_of(limit)}) this week"
            doubt[name] = (worth, why)
    for name, (worth, why) in sorted(doubt.items(), key=lambda d: -d[1][0]):
        age = view.last("reading", NAMES.get(name, (name, f"{name}_ion")))
        if worth < WORTH or age < EVERY.get(name, USUAL):
            continue
        ago = "it was never read" if np.isinf(age) else f"it was last read {age:.0f} days ago"
        extra = " A kit's nothing is no proof of safety." if name == "copper" else ""
        return [
            Act("test", name, None, "", f"{why}, the others do not, and {ago}.{extra}", "fair",
                "The advice that rests on it stays unsure.")
        ]  # fmt: skip
    return []
