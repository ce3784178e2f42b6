"""What ions weigh and hold: from keepers' units to mg of the element and meq.

Standard atomic weights (IUPAC 2021, abridged). Nitrate and ammonium become mg of
N, phosphate mg of P, sulfate mg of S, bicarbonate and carbonate meq of alkalinity
and mg of C: the names are those of the states of a tank.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

ATOMIC_WEIGHT: dict[str, Fraction] = {
    "H": Fraction("1.008"),
    "C": Fraction("12.011"),
    "N": Fraction("14.007"),
    "O": Fraction("15.999"),
    "Na": Fraction("22.990"),
    "Mg": Fraction("24.305"),
    "P": Fraction("30.974"),
    "S": Fraction("32.06"),
    "Cl": Fraction("35.45"),
    "K": Fraction("39.098"),
    "Ca": Fraction("40.078"),
    "Fe": Fraction("55.845"),
    "Cu": Fraction("63.546"),
    "Zn": Fraction("65.38"),
}

ATOMS: dict[str, dict[str, int]] = {
    "ammonium": {"N": 1, "H": 4},
    "nitrite": {"N": 1, "O": 2},
    "nitrate": {"N": 1, "O": 3},
    "phosphate": {"P": 1, "O": 4},
    "sulfate": {"S": 1, "O": 4},
    "bicarbonate": {"H": 1, "C": 1, "O": 3},
    "carbonate": {"C": 1, "O": 3},
    "chloride": {"Cl": 1},
    "sodium": {"Na": 1},
    "potassium": {"K": 1},
    "calcium": {"Ca": 1},
    "magnesium": {"Mg": 1},
    "iron": {"Fe": 1},
    "copper": {"Cu": 1},
    "zinc": {"Zn": 1},
    "hydrogen": {"H": 1},
    "water": {"H": 2, "O": 1},
}
"""The atoms of each part a substance or an analysis may name."""

HOLDS: dict[str, tuple[str, str]] = {
    "ammonium": ("ammonium", "N"),
    "nitrite": ("nitrite", "N"),
    "nitrate": ("nitrate", "N"),
    "phosphate": ("phosphate", "P"),
    "sulfate": ("sulfate", "S"),
    "bicarbonate": ("carbon_inorganic", "C"),
    "carbonate": ("carbon_inorganic", "C"),
    "chloride": ("chloride", "Cl"),
    "sodium": ("sodium", "Na"),
    "potassium": ("potassium", "K"),
    "calcium": ("calcium", "Ca"),
    "magnesium": ("magnesium", "Mg"),
    "iron": ("iron", "Fe"),
    "copper": ("copper", "Cu"),
    "zinc": ("zinc", "Zn"),
}
"""The state each part goes to, and the element whose mg that state counts."""

ALKALINITY: dict[str, int] = {"bicarbonate": 1, "carbonate": 2}
"""Alkalinity of one unit of the part [eq/mol]."""

CHARGE: dict[str, int] = {
    "ammonium": 1, "sodium": 1, "potassium": 1, "calcium": 2, "magnesium": 2,
    "nitrite": -1, "nitrate": -1, "chloride": -1, "sulfate": -2, "phosphate": -1,
}  # fmt: skip
"""Charge counted for one unit of the part; phosphate counts as H2PO4-."""


def molar_mass(part: str) -> Fraction:
    """Mass of one mole of the part [g].

    >>> float(molar_mass("nitrate"))
    62.004
    """
    return sum((ATOMIC_WEIGHT[a] * n for a, n in ATOMS[part].items()), Fraction(0))


def element_share(part: str) -> Fraction:
    """Mass of the counted element in one mg of the part [mg/mg].

    >>> round(float(1 / element_share("nitrate")), 4)
    4.4266
    """
    return ATOMIC_WEIGHT[HOLDS[part][1]] / molar_mass(part)


def content_of(parts: Mapping[str, Fraction | float], mass: Fraction) -> dict[str, Fraction]:
    """What one mg of a substance gives to each state, from its parts per mole and its molar mass.

    >>> shares = content_of({"calcium": 1, "carbonate": 1}, Fraction("100.086"))
    >>> round(float(shares["calcium"]), 4), round(float(shares["alkalinity"]), 5)
    (0.4004, 0.01998)
    """
    content: dict[str, Fraction] = {}
    for part, count in parts.items():
        if part in HOLDS:
            state, element = HOLDS[part]
            share = Fraction(count) * ATOMIC_WEIGHT[element] / mass
            content[state] = content.get(state, Fraction(0)) + share
        if part in ALKALINITY:
            share = Fraction(count) * ALKALINITY[part] / mass
            content["alkalinity"] = content.get("alkalinity", Fraction(0)) + share
    return content
