"""The tests that matter in a tank: readings that save more minutes than they take."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pleuston.planning.acts import Act, confidence
from pleuston.planning.value import MOST_EACH, Worth


def tests_worth(found: Sequence[Worth]) -> list[Act]:
    """The readings of a tank that save more than they take, most valuable for their price first."""
    return [_act(worth) for worth in found if worth.pays and worth.turns][:MOST_EACH]


def _act(worth: Worth) -> Act:
    by = worth.gauge
    ago = "It was never read" if np.isinf(worth.age) else f"Last read {worth.age:.0f} days ago"
    shows, chance, then = max(worth.turns, key=lambda t: t[1])
    kit = f" with {by.name}" if by.name else ""
    extra = " A kit's nothing is no proof of safety." if by.reading == "copper" else ""
    now = "nothing would be changed" if worth.now == "as now" else f"the plan is: {worth.now}"
    return Act(
        "test", by.reading, None, "",
        f"{ago}. Without it {now}; if it shows {shows}{kit} ({chance:.0%}), better: {then}. "
        f"Knowing is expected to save {worth.value:.1f} minutes a week, risk counted as minutes, "
        f"for {by.minutes:.2g} minutes and {by.coins:.2g} coins.{extra}",
        confidence(1.0 - chance), "The choice is made without it, and may be the worse one.",
        f"The choice between '{worth.now}' and '{then}'.",
        "It would change if the choice became plain, or the reading were fresh.",
        takes=by.minutes, worth=worth.value,
    )  # fmt: skip
