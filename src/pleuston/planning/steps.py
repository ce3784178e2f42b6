"""How much of the water an act may replace or bring at once: steps in salts, hardness and pH.

A share of the water is replaced by another one; what is dissolved mixes in proportion. The pH is
that of the mix, its carbon still in it; where ammonia is stored it must not rise, neither at
once nor later, when the carbon of the mix has settled with the air: then it goes with the buffer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from pleuston.base.errors import InputError
from pleuston.chemistry.speciation import Water as Solution
from pleuston.chemistry.speciation import ph_of_water
from pleuston.engine.waters import whole_water
from pleuston.planning.limits import Caps, caps_for
from pleuston.planning.outlook import DH, animals_of, own_of
from pleuston.planning.policy import STEPS
from pleuston.planning.sources import MOST_AT_ONCE, Source, share_within_step
from pleuston.planning.view import View
from pleuston.records.record import Water

HARDNESS_STEP = min(STEPS["kh"][0], STEPS["gh"][0])
"""Degrees of hardness that an act may move the water by."""
CARBON = 12.011
"""Inorganic carbon of bicarbonate [mg/meq]."""
RISE = 0.02
"""Rise of the pH that is none [1]: less than any kit or pen shows."""
FITS = 1e-9
LEAST_SHARE = 0.005
"""Share of the water below which a change is none."""
SALT_PER_MG: float = 1.76
"""Conductivity [uS/cm] of a mg/L of potassium sulfate, its ions at infinite dilution
(73.5 and 80.0 S cm2/mol of charge): derived."""


@dataclass(frozen=True)
class Standing:
    """The middle of what is believed of a tank's water now."""

    ec25: float
    kh: float
    gh: float
    carbon: float
    """Inorganic carbon that goes with this hardness [mg/L]."""
    kelvin: float
    stored: bool
    """Whether ammonia may be stored."""

    @classmethod
    def of(cls, view: View) -> Standing:
        """As a tank stands.

        Where readings say another hardness than the members' own, the difference is taken as
        bicarbonate: what breathing leaves of CO2 stays, and so nearly does the pH.
        """
        litres, kh = view.state_now("water"), view.middle("kh")
        carbon, held = (
            float(np.median(view.state_now(s) / litres)) for s in ("carbon_inorganic", "alkalinity")
        )
        return cls(
            view.middle("ec25"), kh, view.middle("gh"),
            max(carbon + CARBON * (kh / DH - held), 0.0), view.middle("temperature") + 273.15,
            view.ammonia_stored,
        )  # fmt: skip


def caps_of(view: View) -> Caps:
    """How far an act may move the water for the animals present."""
    return caps_for(animals_of(view.belief.case, view.belief.at), own_of(view.belief))


def ph_of_mix(now: Standing, water: Source, share: float) -> float | None:
    """The pH of the tank's water with a share replaced; None where it has no buffer to tell by."""
    held = (1.0 - share) * now.kh / DH + share * water.per_litre["alkalinity"]
    carbon = (1.0 - share) * now.carbon + share * water.per_litre["carbon_inorganic"]
    try:
        return ph_of_water(Solution(now.kelvin, held, now.ec25 * 1.6e-5), max(carbon, 1e-3)).ph
    except InputError:
        return None


def ph_step(now: Standing, water: Source, share: float) -> float:
    """How far replacing a share moves the pH, at once or once it has settled with the air."""
    before, after = ph_of_mix(now, water, 0.0), ph_of_mix(now, water, share)
    at_once = after - before if before is not None and after is not None else 0.0
    held = max((1.0 - share) * now.kh + share * water.kh_dh, 1e-6)
    later = float(np.log10(held / max(now.kh, 1e-6)))
    return max(at_once, later, key=abs)


def raises_ph(now: Standing, water: Source, share: float) -> bool:
    """Whether replacing a share lifts the pH, at once or later."""
    before, after = ph_of_mix(now, water, 0.0), ph_of_mix(now, water, share)
    at_once = before is None or after is None or after > before + RISE
    return at_once or water.kh_dh > now.kh


def share_within_steps(now: Standing, water: Source, caps: Caps) -> float:
    """Share of the water that may be replaced by another at once; 0 where none may."""
    share = min(MOST_AT_ONCE, share_within_step(now.ec25, water.ec25, caps.ec))
    for held, brought in ((now.kh, water.kh_dh), (now.gh, water.gh_dh)):
        gap = abs(brought - held)
        share = min(share, HARDNESS_STEP / gap if gap > FITS else share)
    while share > LEAST_SHARE and abs(ph_step(now, water, share)) > caps.ph:
        share *= 0.8
    if share <= LEAST_SHARE or (now.stored and raises_ph(now, water, share)):
        return 0.0
    return share


@cache
def pure_water() -> Source:
    """Water without salts, for where none at hand fits."""
    made = whole_water(Water("RO or rain water", "ro", ph=5.8, kh_dh=0.0))
    return Source("RO or rain water", made.per_litre, made.assumed)


def that_fit(view: View, waters: Sequence[Source]) -> list[tuple[Source, float]]:
    """The waters that may go in now, with the share of each; pure water where none may.

    Pure water brings no buffer: what it thins out of the tank is acid and base alike.
    """
    now, caps = Standing.of(view), caps_of(view)
    found = [(w, share_within_steps(now, w, caps)) for w in waters]
    fit = [(w, share) for w, share in found if share > 0.0]
    if fit:
        return fit
    pure = pure_water()
    return [(pure, share_within_steps(replace(now, stored=False), pure, caps))]


def dose_within_step(ec25: float, per_mg: float, cap: float) -> float:
    """Salt [mg/L] that may be added at once without moving conductivity beyond its step.

    >>> round(dose_within_step(300.0, SALT_PER_MG, 0.1), 1)
    17.0
    """
    return cap * ec25 / per_mg
