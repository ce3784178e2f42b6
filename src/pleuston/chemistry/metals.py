"""Copper, zinc, lead and nickel: criteria by hardness, and what water leaves of copper's harm."""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.carbonate import LN10, activity_log, carbonic_second, proton_activity
from pleuston.chemistry.hardness import hardness_as_caco3


def _criterion(gh: Any, slope: float, constant: float, dissolved: Any) -> Any:
    logarithm = np.log(strip(hardness_as_caco3(gh), "mg/L"))
    return attach(1e-3 * dissolved(logarithm) * np.exp(slope * logarithm + constant), "mg/L")


@cited("epa1996", "copper, acute: 0.960 exp(0.9422 ln H - 1.700) ug/L")
def copper_cmc_epa1996(gh: Any) -> Any:
    """Dissolved copper not to be exceeded for an hour [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(copper_cmc_epa1996(100 / 50.0435), 4))
    0.0134
    """
    return _criterion(gh, 0.9422, -1.700, lambda _: 0.960)


@cited("epa1996", "copper, chronic: 0.960 exp(0.8545 ln H - 1.702) ug/L")
def copper_ccc_epa1996(gh: Any) -> Any:
    """Dissolved copper not to be exceeded for four days [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(copper_ccc_epa1996(100 / 50.0435), 4))
    0.009
    """
    return _criterion(gh, 0.8545, -1.702, lambda _: 0.960)


@cited("epa1996", "zinc, acute: 0.978 exp(0.8473 ln H + 0.884) ug/L")
def zinc_cmc_epa1996(gh: Any) -> Any:
    """Dissolved zinc not to be exceeded for an hour [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(zinc_cmc_epa1996(100 / 50.0435), 3))
    0.117
    """
    return _criterion(gh, 0.8473, 0.884, lambda _: 0.978)


@cited("epa1996", "zinc, chronic: 0.986 exp(0.8473 ln H + 0.884) ug/L")
def zinc_ccc_epa1996(gh: Any) -> Any:
    """Dissolved zinc not to be exceeded for four days [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(zinc_ccc_epa1996(100 / 50.0435), 3))
    0.118
    """
    return _criterion(gh, 0.8473, 0.884, lambda _: 0.986)


@cited("epa1984", "lead, acute: (1.46203 - 0.145712 ln H) exp(1.273 ln H - 1.460) ug/L")
def lead_cmc_epa1984(gh: Any) -> Any:
    """Dissolved lead not to be exceeded for an hour [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(lead_cmc_epa1984(100 / 50.0435), 3))
    0.065
    """
    return _criterion(gh, 1.273, -1.460, lambda log_h: 1.46203 - 0.145712 * log_h)


@cited("epa1984", "lead, chronic: (1.46203 - 0.145712 ln H) exp(1.273 ln H - 4.705) ug/L")
def lead_ccc_epa1984(gh: Any) -> Any:
    """Dissolved lead not to be exceeded for four days [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(lead_ccc_epa1984(100 / 50.0435), 4))
    0.0025
    """
    return _criterion(gh, 1.273, -4.705, lambda log_h: 1.46203 - 0.145712 * log_h)


@cited("epa1996", "nickel, acute: 0.998 exp(0.846 ln H + 2.255) ug/L")
def nickel_cmc_epa1996(gh: Any) -> Any:
    """Dissolved nickel not to be exceeded for an hour [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(nickel_cmc_epa1996(100 / 50.0435), 3))
    0.468
    """
    return _criterion(gh, 0.846, 2.255, lambda _: 0.998)


@cited("epa1996", "nickel, chronic: 0.997 exp(0.846 ln H + 0.0584) ug/L")
def nickel_ccc_epa1996(gh: Any) -> Any:
    """Dissolved nickel not to be exceeded for four days [mg/L].

    gh [meq/L], 0.5 to 8 (H 25 to 400 mg/L CaCO3).

    >>> print(round(nickel_ccc_epa1996(100 / 50.0435), 3))
    0.052
    """
    return _criterion(gh, 0.846, 0.0584, lambda _: 0.997)


REFERENCE_HARDNESS = 100.0
"""Hardness [mg/L CaCO3] of the water that effective copper is told for."""
REFERENCE_PH = 7.5
REFERENCE_ALKALINITY = 1.4e-3
"""Equivalents a litre; the pH's relief is worked out at this alkalinity."""
REFERENCE_STRENGTH = 2e-3


@cited("kramer2004", "abstract: EC50 of Daphnia magna = 17.2 DOC + 30.2 ug/L")
def copper_relief_carbon(dissolved_carbon_concentration: Any) -> Any:
    """Factor by which dissolved organic carbon raises the copper that harms [1].

    dissolved_carbon_concentration [mg/L of C], 0 to 22: 1 + 0.57 DOC. The kind of organic
    matter changes it up to fourfold.

    >>> print(round(copper_relief_carbon(2.0), 1))
    2.1
    """
    return 1.0 + (17.2 / 30.2) * strip(dissolved_carbon_concentration, "mg/L")


@cited("epa1996", "copper, acute: slope 0.9422 on ln H, H 25 to 400 mg/L")
def copper_relief_hardness(gh: Any) -> Any:
    """Copper that harms in this hardness over that at 100 mg/L CaCO3 [1].

    gh [meq/L]; 25 and 400 mg/L CaCO3 stand for what is softer and harder: (H/100)^0.9422.

    >>> print(round(copper_relief_hardness(50.0 / 50.0435), 2))
    0.52
    """
    hardness = np.clip(strip(hardness_as_caco3(gh), "mg/L"), 25.0, 400.0)
    return np.exp(0.9422 * np.log(hardness / REFERENCE_HARDNESS))


@cited("deschamphelaere2002", "abstract: CuOH+ and CuCO3 bind five and ten times less than Cu++")
def copper_relief_ph(ph: Any) -> Any:
    """Copper that harms at this pH over that at pH 7.5 [1].

    ph [1]; 6 and 9 stand for what is below and above. Hydroxide and carbonate tie copper up
    (alkalinity 1.4 meq/L, 25 degC): acting copper is Cu++ + CuOH+/5 + CuCO3/10.

    >>> print(*(round(copper_relief_ph(x), 2) for x in (6.5, 7.0, 8.0, 8.5)))
    0.35 0.59 1.41 1.74
    """
    return _acting_share(REFERENCE_PH) / _acting_share(np.clip(strip(ph, "1"), 6.0, 9.0))


def _acting_share(ph: Any) -> Any:
    proton = strip(proton_activity(ph), "mol/L")
    second = strip(carbonic_second(298.15, REFERENCE_STRENGTH), "mol/L") / proton
    bicarbonate = REFERENCE_ALKALINITY / (1.0 + 2.0 * second)
    pairs = _copper_pairs(proton, 298.15, REFERENCE_STRENGTH, bicarbonate, bicarbonate * second)
    return (1.0 + pairs[3] / 5.0 + pairs[0] / 10.0) / (1.0 + sum(pairs))


@cited("epa1996", "hardness; carbon and pH by kramer2004 and deschamphelaere2002")
def copper_relief(dissolved_carbon_concentration: Any, gh: Any, ph: Any) -> Any:
    """Copper that harms in this water over that in a bare, middling one [1].

    dissolved_carbon_concentration [mg/L of C]; gh [meq/L]; ph [1]. The middling water has no
    organic matter, 100 mg/L CaCO3 of hardness and pH 7.5.

    >>> print(round(copper_relief(2.0, 100.0 / 50.0435, 7.5), 1))
    2.1
    """
    return (
        copper_relief_carbon(dissolved_carbon_concentration)
        * copper_relief_hardness(gh)
        * copper_relief_ph(ph)
    )


@cited("epa1996", "hardness; carbon and pH by kramer2004 and deschamphelaere2002")
def copper_effective(
    copper_concentration: Any, dissolved_carbon_concentration: Any, gh: Any, ph: Any
) -> Any:
    """Copper that would act alike in a bare, middling water [mg/L].

    copper_concentration [mg/L], dissolved; the rest as for `copper_relief`.

    >>> print(round(copper_effective(0.010, 2.0, 100.0 / 50.0435, 7.5), 4))
    0.0047
    """
    return copper_concentration / copper_relief(dissolved_carbon_concentration, gh, ph)


def _copper_pairs(
    proton: Any, temperature: Any, ionic_strength: Any, bicarbonate: Any, carbonate: Any
) -> tuple[Any, Any, Any, Any, Any]:
    """CuCO3, Cu(CO3)2, CuHCO3, CuOH and Cu(OH)2 over the free ion [1], from mol/L."""
    log_g = activity_log(temperature, ionic_strength)
    double = np.exp(LN10 * 4.0 * log_g)
    quadruple = double * double
    return (
        10.0**6.77 * carbonate * quadruple,
        10.0**10.2 * carbonate * carbonate * quadruple,
        10.0**1.8 * bicarbonate * double,
        10.0**-7.5 * np.exp(LN10 * 3.0 * log_g) / proton,
        10.0**-16.19 * double / (proton * proton),
    )


@cited("allison1991", "minteq: CuCO3 6.77, Cu(CO3)2 10.2, CuHCO3 1.8, CuOH -7.5, Cu(OH)2 -16.19")
def copper_free_share(
    ph: Any,
    temperature: Any,
    ionic_strength: Any,
    bicarbonate_concentration: Any,
    carbonate_concentration: Any,
) -> Any:
    """Share of dissolved copper that is the free ion, without organic matter [1].

    ph [1], 6 to 9; temperature [K], constants of 298 K; ionic_strength [mol/L];
    bicarbonate_concentration, carbonate_concentration [mg/L of C]. Good to a factor of 2.
    """
    proton = strip(proton_activity(ph), "mol/L")
    bicarbonate = strip(bicarbonate_concentration, "mg/L") / 12011.0
    carbonate = strip(carbonate_concentration, "mg/L") / 12011.0
    pairs = _copper_pairs(proton, temperature, ionic_strength, bicarbonate, carbonate)
    return 1.0 / (1.0 + sum(pairs))
