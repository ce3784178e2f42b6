"""Electric conductivity of fresh water from its ions, and what pens show of it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, strip
from pleuston.chemistry.carbonate import proton_activity


class Ion(NamedTuple):
    """Coefficients of the molal conductivity of an ion, t in degC (mccleskey2012)."""

    l2: float
    l1: float
    l0: float
    a2: float
    a1: float
    a0: float
    b: float


K = Ion(0.003046, 1.261, 40.7, 0.00535, 0.9316, 22.59, 1.5)
NA = Ion(0.003763, 0.877, 26.23, 0.00027, 1.141, 32.07, 1.7)
H = Ion(0.01414, 5.355, 224.2, 0.00918, 1.842, 39.23, 0.3)
NH4 = Ion(0.003341, 1.285, 39.04, 0.00132, 0.607, 11.19, 0.3)
CA = Ion(0.009645, 1.984, 62.28, 0.03174, 2.334, 132.3, 2.8)
MG = Ion(0.01068, 1.695, 57.16, 0.02453, 1.915, 80.5, 2.1)
SO4 = Ion(0.01037, 2.838, 82.37, 0.03324, 5.889, 193.5, 2.6)
CL = Ion(0.003817, 1.337, 40.99, 0.00613, 0.9469, 22.01, 1.5)
CO3 = Ion(0.00326, 2.998, 64.03, 0.00181, 5.542, 120.2, 2.3)
HCO3 = Ion(0.000614, 0.9048, 21.14, 0.00503, 0.8957, 10.97, 0.1)
NO3 = Ion(0.001925, 1.214, 39.9, 0.00118, 0.5045, 23.31, 0.1)
OH = Ion(0.003396, 2.925, 121.3, 0.00933, 0.1086, 35.9, 0.01)


def _ion_conductivity(ion: Ion, celsius: Any, root: Any) -> Any:
    """Conductivity of an ion per concentration [uS/cm per mmol/L]; root of total strength."""
    free = ion.l0 + celsius * (ion.l1 + ion.l2 * celsius)
    drag = ion.a0 + celsius * (ion.a1 + ion.a2 * celsius)
    return free - drag * root / (1.0 + ion.b * root)


@cited("stumm1996", "definition of ionic strength")
def ionic_strength(
    calcium_concentration: Any,
    magnesium_concentration: Any,
    sodium_concentration: Any,
    potassium_concentration: Any,
    ammonium_concentration: Any,
    chloride_concentration: Any,
    sulfate_concentration: Any,
    nitrate_concentration: Any,
    nitrite_concentration: Any,
    alkalinity_concentration: Any,
) -> Any:
    """Half the sum of concentration times charge squared over all ions [mol/L].

    Concentrations in mg/L of the element; alkalinity_concentration [meq/L], counted as
    bicarbonate; ion pairs and the traces of other ions are left out. Never below zero.
    """
    singles = (
        strip(sodium_concentration, "mg/L") * (1.0 / 22.990)
        + strip(potassium_concentration, "mg/L") * (1.0 / 39.098)
        + strip(ammonium_concentration, "mg/L") * (1.0 / 14.007)
        + strip(chloride_concentration, "mg/L") * (1.0 / 35.45)
        + strip(nitrate_concentration, "mg/L") * (1.0 / 14.007)
        + strip(nitrite_concentration, "mg/L") * (1.0 / 14.007)
        + np.abs(strip(alkalinity_concentration, "meq/L"))
    )
    doubles = (
        strip(calcium_concentration, "mg/L") * (4.0 / 40.078)
        + strip(magnesium_concentration, "mg/L") * (4.0 / 24.305)
        + strip(sulfate_concentration, "mg/L") * (4.0 / 32.06)
    )
    return attach(0.5e-3 * (singles + doubles), "mol/L")


@cited("parkhurst2013", "median slope over 30 synthetic fresh waters, speciated")
def ionic_strength_of_conductivity(ec25: Any) -> Any:
    """Ionic strength guessed from conductivity [mol/L].

    ec25 [uS/cm], 10 to 2500: 1.27e-5 EC; the slope lies between 0.94e-5 and 1.46e-5.

    >>> print(round(ionic_strength_of_conductivity(400.0), 5))
    0.00508
    """
    return attach(1.27e-5 * strip(ec25, "uS/cm"), "mol/L")


@cited(
    "mccleskey2012",
    "table of ionic molal conductivities: cations and strong anions, total ionic strength",
)
def conductivity_of_strong_ions(
    temperature: Any,
    ionic_strength: Any,
    calcium_concentration: Any,
    magnesium_concentration: Any,
    sodium_concentration: Any,
    potassium_concentration: Any,
    ammonium_concentration: Any,
    chloride_concentration: Any,
    sulfate_concentration: Any,
    nitrate_concentration: Any,
) -> Any:
    """Conductivity by the ions that don't depend on pH, at the water's own temperature [uS/cm].

    temperature [K], 273 to 363 K; ionic_strength [mol/L], 0 to 1; concentrations [mg/L] of
    the element as free ions. At fresh-water strength pairs of calcium or magnesium with
    sulfate make it 1 to 5 % high. For the value at 25 degC give 298.15 K.

    >>> print(round(conductivity_of_strong_ions(298.15, 0.01, 0, 0, 0, 390.98, 0, 354.5, 0, 0)))
    1423
    """
    t = strip(temperature, "K") - 273.15
    root = np.sqrt(strip(ionic_strength, "mol/L"))
    total = (
        _ion_conductivity(CA, t, root) * (strip(calcium_concentration, "mg/L") * (1.0 / 40.078))
        + _ion_conductivity(MG, t, root) * (strip(magnesium_concentration, "mg/L") * (1.0 / 24.305))
        + _ion_conductivity(NA, t, root) * (strip(sodium_concentration, "mg/L") * (1.0 / 22.990))
        + _ion_conductivity(K, t, root) * (strip(potassium_concentration, "mg/L") * (1.0 / 39.098))
        + _ion_conductivity(NH4, t, root) * (strip(ammonium_concentration, "mg/L") * (1.0 / 14.007))
        + _ion_conductivity(CL, t, root) * (strip(chloride_concentration, "mg/L") * (1.0 / 35.45))
        + _ion_conductivity(SO4, t, root) * (strip(sulfate_concentration, "mg/L") * (1.0 / 32.06))
        + _ion_conductivity(NO3, t, root) * (strip(nitrate_concentration, "mg/L") * (1.0 / 14.007))
    )
    return attach(total, "uS/cm")


@cited("mccleskey2012", "table of ionic molal conductivities: carbonate species, H+ and OH-")
def conductivity_of_carbonate(
    temperature: Any,
    ionic_strength: Any,
    bicarbonate_concentration: Any,
    carbonate_concentration: Any,
    ph: Any,
) -> Any:
    """Conductivity by bicarbonate, carbonate, proton and hydroxide [uS/cm].

    temperature [K], 273 to 363 K; ionic_strength [mol/L]; bicarbonate_concentration,
    carbonate_concentration [mg/L of C]; ph [1]. The activities of H+ and OH- stand for
    their concentrations; OH- counts at 25 degC, Kw 1.01e-14.

    >>> print(round(conductivity_of_carbonate(298.15, 0.0, 12.011, 0.0, 7.0), 1))
    44.2
    """
    t = strip(temperature, "K") - 273.15
    root = np.sqrt(strip(ionic_strength, "mol/L"))
    proton = strip(proton_activity(ph), "mol/L")
    total = (
        _ion_conductivity(HCO3, t, root)
        * (strip(bicarbonate_concentration, "mg/L") * (1.0 / 12.011))
        + _ion_conductivity(CO3, t, root)
        * (strip(carbonate_concentration, "mg/L") * (1.0 / 12.011))
        + _ion_conductivity(H, t, root) * (1e3 * proton)
        + _ion_conductivity(OH, t, root) * (1.01e-11 / proton)
    )
    return attach(total, "uS/cm")


@cited("haynes2016", "conductivity of ions at infinite dilution: NO2- 71.8, H2PO4- 36")
def conductivity_of_minor_ions(nitrite_concentration: Any, phosphate_concentration: Any) -> Any:
    """Conductivity at 25 degC by nitrite and phosphate [uS/cm].

    nitrite_concentration [mg/L of N]; phosphate_concentration [mg/L of P], as H2PO4-;
    infinite dilution.

    >>> print(round(conductivity_of_minor_ions(14.007, 0.0), 1))
    71.8
    """
    nitrite = strip(nitrite_concentration, "mg/L") * (71.8 / 14.007)
    phosphate = strip(phosphate_concentration, "mg/L") * (36.0 / 30.974)
    return attach(nitrite + phosphate, "uS/cm")


@cited("parkhurst2013", "quadratic through seven fresh waters at 0 to 35 degC, speciated")
def conductivity_warming(temperature: Any) -> Any:
    """Conductivity at a temperature over that at 25 degC, same fresh water [1].

    temperature [K], 278 to 308 K; within 1 % at 288 to 303 K.

    >>> print(round(1 / conductivity_warming(293.15), 3))
    1.117
    """
    x = strip(temperature, "K") - 298.15
    return 1.0 + x * (0.0213 + 6.6e-5 * x)


@cited("parkhurst2013", "quadratic through seven fresh waters at 0 to 35 degC, speciated")
def conductivity_at_25(conductivity_here: Any, temperature: Any) -> Any:
    """Conductivity brought to 25 degC [uS/cm].

    conductivity_here [uS/cm], at the water's own temperature; temperature [K], 278 to 308 K.

    >>> print(round(conductivity_at_25(345.2, 293.15)))
    386
    """
    return conductivity_here / conductivity_warming(temperature)


@cited("common_practice", "a pen multiplies conductivity by its factor")
def pen_reading(ec25: Any, pen_factor: Any) -> Any:
    """What a dissolved-solids pen with a fixed factor shows in its own ppm [1].

    ec25 [uS/cm]; pen_factor [1], 0.4 to 1 ppm per uS/cm.

    >>> print(pen_reading(400.0, 0.5))
    200.0
    """
    return strip(ec25, "uS/cm") * pen_factor


_SCALE_EC = np.array([23.0, 84.0, 447.0, 1413.0, 1500.0, 2070.0, 2764.0, 8974.0, 12880.0])
_SCALE_KCL = np.array([11.6, 40.38, 225.6, 744.7, 757.1, 1045.0, 1382.0, 5101.0, 7447.0])
_SCALE_NACL = np.array([10.7, 38.04, 215.5, 702.1, 737.1, 1041.0, 1414.8, 4487.0, 7230.0])
_SCALE_442 = np.array([14.74, 50.5, 300.0, 1000.0, 1050.0, 1500.0, 2062.7, 7608.0, 11367.0])


def _factor_between(ec25: Any, shown: Any) -> Any:
    known = np.log(_SCALE_EC)
    return np.interp(np.log(strip(ec25, "uS/cm")), known, shown / _SCALE_EC)


@cited("common_practice", "conversion table of instrument manuals, KCl scale")
def pen_factor_kcl(ec25: Any) -> Any:
    """Factor of a pen on the potassium chloride scale, for numbers and arrays [1].

    ec25 [uS/cm], 23 to 12880: between the points of the table straight over log EC.

    >>> print(round(pen_factor_kcl(447.0), 3))
    0.505
    """
    return _factor_between(ec25, _SCALE_KCL)


@cited("common_practice", "conversion table of instrument manuals, NaCl scale")
def pen_factor_nacl(ec25: Any) -> Any:
    """Factor of a pen on the sodium chloride scale, for numbers and arrays [1].

    ec25 [uS/cm], 23 to 12880: between the points of the table straight over log EC.

    >>> print(round(pen_factor_nacl(447.0), 3))
    0.482
    """
    return _factor_between(ec25, _SCALE_NACL)


@cited("common_practice", "conversion table of instrument manuals, 442 scale")
def pen_factor_442(ec25: Any) -> Any:
    """Factor of a pen on the 442 scale, 40 % Na2SO4, 40 % NaHCO3, 20 % NaCl, for numbers [1].

    ec25 [uS/cm], 23 to 12880: between the points of the table straight over log EC.

    >>> print(round(pen_factor_442(1413.0), 3))
    0.708
    """
    return _factor_between(ec25, _SCALE_442)
