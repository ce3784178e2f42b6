"""The source waters at hand: what a litre brings, and how much of it an act may use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pleuston.base.errors import InputError
from pleuston.chemistry.conductivity import (
    conductivity_of_carbonate,
    conductivity_of_minor_ions,
    conductivity_of_strong_ions,
    ionic_strength,
)
from pleuston.engine.case import Case
from pleuston.engine.waters import dissolved

WARM = 298.15
CARBONATE_PH = 8.0
"""pH at which a source water's carbonate is taken as bicarbonate."""
DH = 1.0 / 0.356652
MOST_AT_ONCE = 0.5
"""Largest share of the water changed at once: common practice, no source."""


@dataclass(frozen=True)
class Source:
    """A source water or blend."""

    name: str
    per_litre: Mapping[str, float]
    assumed: tuple[str, ...]
    """Numbers that its analysis does not give."""

    @property
    def ec25(self) -> float:
        """Conductivity of its ions [uS/cm]."""
        return conductivity_of(self.per_litre)

    @property
    def kh_dh(self) -> float:
        """Carbonate hardness [dH]."""
        return self.per_litre["alkalinity"] * DH

    @property
    def gh_dh(self) -> float:
        """General hardness [dH]."""
        return (self.per_litre["calcium"] / 20.039 + self.per_litre["magnesium"] / 12.1525) * DH


def conductivity_of(brought: Mapping[str, float]) -> float:
    """Conductivity at 25 degC [uS/cm] of what a litre brings."""
    carbon = max(brought["alkalinity"], 0.0) * 12.011
    strong = ionic_strength(
        brought["calcium"], brought["magnesium"], brought["sodium"], brought["potassium"], 0.0,
        brought["chloride"], brought["sulfate"], brought["nitrate"], 0.0, brought["alkalinity"],
    )  # fmt: skip
    ions = conductivity_of_strong_ions(
        WARM, strong, brought["calcium"], brought["magnesium"], brought["sodium"],
        brought["potassium"], 0.0, brought["chloride"], brought["sulfate"], brought["nitrate"],
    )  # fmt: skip
    weak = conductivity_of_carbonate(WARM, strong, carbon, 0.0, CARBONATE_PH)
    return float(ions + weak + conductivity_of_minor_ions(0.0, brought["phosphate"]))


def sources(case: Case, at: float) -> tuple[Source, ...]:
    """The rack's waters and blends as they are at a moment; those without name or use left out."""
    moment = case.clock.moment(at)
    names = [*(w.name for w in case.record.waters), *(b.name for b in case.record.blends)]
    own = case.record.tank_at(case.tank.name, moment).top_up_water
    made = []
    for name in dict.fromkeys([*names, own] if own else names):
        try:
            found = dissolved(case.record, name, moment)
        except InputError:
            continue
        made.append(Source(name, found.per_litre, found.assumed))
    return tuple(made)


def share_within_step(tank_ec: float, source_ec: float, cap: float) -> float:
    """Share of the water that a change may replace without moving conductivity beyond a cap.

    >>> share_within_step(400.0, 200.0, 0.1), share_within_step(400.0, 400.0, 0.1)
    (0.2, 0.5)
    """
    gap = abs(source_ec - tank_ec) / max(tank_ec, 1.0)
    return min(MOST_AT_ONCE, cap / gap) if gap > 0.0 else MOST_AT_ONCE


def share_to_dilute(now: float, wanted: float, brought: float) -> float:
    """Share of the water to replace so that a concentration falls to what is wanted.

    >>> share_to_dilute(10.0, 5.0, 0.0), share_to_dilute(1.0, 5.0, 0.0)
    (0.5, 0.0)
    """
    if now <= wanted:
        return 0.0
    return 1.0 if brought >= wanted else (now - wanted) / (now - brought)
