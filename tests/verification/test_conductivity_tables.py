"""Conductivity against published standards, measured waters and a speciation program."""

from __future__ import annotations

from statistics import mean

import pytest

from pleuston.base.units import convert
from pleuston.chemistry import conductivity as k
from pleuston.chemistry.hardness import gh, hardness_as_caco3

from .compare import table

KELVIN = 273.15
C, N, P = 12.011, 14.007, 30.974
FRESH = 1700.0


def _conductivity(
    kelvin: float, ions: list[float], bicarbonate: float, carbonate: float, ph: float
) -> float:
    """Conductivity of eight strong ions and the carbonate species, mmol/L of carbon."""
    strength = k.ionic_strength(*[*ions, 0.0, bicarbonate + 2.0 * carbonate])
    strong = k.conductivity_of_strong_ions(kelvin, strength, *ions)
    rest = k.conductivity_of_carbonate(kelvin, strength, C * bicarbonate, C * carbonate, ph)
    return float(strong + rest)


def test_coefficients_are_those_of_the_table() -> None:
    rows = table("ionic_conductivity_mccleskey2012")
    here = {
        name: getattr(k, name)
        for name in ("K", "NA", "H", "NH4", "CA", "MG", "SO4", "CL", "CO3", "HCO3", "NO3", "OH")
    }
    compared = 0
    for row in rows:
        ion = here.get(row["ion"].upper())
        if ion is None:
            continue
        columns = ("l2", "l1", "l0", "A2", "A1", "A0", "B")
        assert list(ion) == [float(row[c]) for c in columns], row["ion"]
        compared += 1
    assert compared == len(here)


def test_thirty_waters_agree_with_speciation() -> None:
    waters = {row["id"]: row for row in table("phreeqc_waters30")}
    rows = table("conductivity_30waters")
    assert len(rows) == 30
    for row in rows:
        w = waters[row["id"]]
        mmol = {name: float(w[name]) for name in ("Ca", "Mg", "Na", "K", "NH4", "Cl", "SO4", "NO3")}
        masses = (40.078, 24.305, 22.990, 39.098, N, 35.45, 32.06, N)
        ions = [value * mass for value, mass in zip(mmol.values(), masses, strict=True)]
        carbon = float(w["HCO3_mmol"]), float(w["CO3_mmol"])
        here = _conductivity(298.15, ions, *carbon, float(w["pH_at25_closed"]))
        here += k.conductivity_of_minor_ions(0.0, P * float(w["PO4"]))
        assert here == pytest.approx(float(row["SC25_phreeqc"]), rel=0.05), row["name"]


def test_measured_fresh_waters_come_out_a_twelfth_high() -> None:
    """The known bias of sums over ions: it is why a factor is learnt for each tank."""
    ratios = []
    for row in table("conductivity_stuyfzand1987_measured"):
        measured = float(row["k20_measured"])
        if measured >= FRESH:
            continue
        ions = [
            float(row["Ca"]), float(row["Mg"]), float(row["Na"]), float(row["K"]),
            float(row["NH4"]) * N / 18.039, float(row["Cl"]), float(row["SO4"]) * 32.06 / 96.06,
            float(row["NO3"]) * N / 62.004,
        ]  # fmt: skip
        carbon = float(row["HCO3"]) / 61.017, float(row["CO3"]) / 60.009
        here = _conductivity(293.15, ions, *carbon, float(row["pH"]))
        assert here == pytest.approx(float(row["k20_mccleskey"]), rel=2e-3), row["no"]
        ratios.append(here / measured)
    assert len(ratios) == 19
    assert mean(ratios) == pytest.approx(1.08, abs=0.01)
    assert 0.99 <= min(ratios) <= max(ratios) <= 1.22


def test_compensation_to_25_degrees() -> None:
    rows = table("conductivity_temperature_factor")
    compared = 0
    for row in rows:
        celsius, published = float(row["T_C"]), float(row["f25_phreeqc"])
        if 15.0 <= celsius <= 30.0:
            compared += 1
            here = k.conductivity_at_25(1.0, celsius + KELVIN)
            assert here == pytest.approx(published, rel=0.01), row
    assert compared >= 28


def test_strength_from_conductivity_is_of_the_right_size() -> None:
    for row in table("phreeqc_waters30"):
        here = k.ionic_strength_of_conductivity(float(row["SC25_uScm"]))
        assert 0.7 < here / float(row["I_mol"]) < 1.4, row["name"]


def test_pens_agree_with_the_conductivity_of_their_salt() -> None:
    """ppm of NaCl in the table, turned to ions, give the conductivity of the table."""
    for ec in (447.0, 1413.0, 2070.0):
        ppm = ec * k.pen_factor_nacl(ec)
        mmol = ppm / 58.443
        ions = [0.0, 0.0, 22.990 * mmol, 0.0, 0.0, 35.45 * mmol, 0.0, 0.0]
        here = k.conductivity_of_strong_ions(298.15, 1e-3 * mmol, *ions)
        assert here == pytest.approx(ec, rel=0.015)


HARDNESS = {
    ("1 dKH or dGH", "mg/L CaCO3"): ("dH", "mg/L CaCO3"),
    ("1 dKH", "meq/L"): ("dH", "meq/L"),
    ("1 dGH", "mmol/L (Ca+Mg)"): ("dH", "mmol/L CaCO3"),
    ("1 meq/L", "dKH"): ("meq/L", "dH"),
    ("1 meq/L", "mg/L CaCO3"): ("meq/L", "mg/L CaCO3"),
    ("1 French degree", "mg/L CaCO3"): ("°f", "mg/L CaCO3"),
    ("1 English (Clark) degree", "mg/L CaCO3"): ("°e", "mg/L CaCO3"),
    ("1 gpg (US)", "mg/L CaCO3"): ("gpg", "mg/L CaCO3"),
    ("1 mg/L NH4-N", "mg/L NH4+"): ("mg/L NH4-N", "mg/L NH4"),
    ("1 mg/L NO3-N", "mg/L NO3-"): ("mg/L NO3-N", "mg/L NO3"),
    ("1 mg/L NO2-N", "mg/L NO2-"): ("mg/L NO2-N", "mg/L NO2"),
    ("1 mg/L PO4-P", "mg/L PO4(3-)"): ("mg/L PO4-P", "mg/L PO4"),
    ("1 US gal", "L"): ("US gal", "L"),
    ("1 mmHg", "kPa"): ("mmHg", "kPa"),
}


def test_units_of_hardness_and_of_ions() -> None:
    factors = {(r["from"], r["to"]): float(r["factor"]) for r in table("units_hardness")}
    for key, (unit, to) in HARDNESS.items():
        assert convert(1.0, unit, to) == pytest.approx(factors[key], rel=1e-4), key
    assert gh(factors["1 dGH as Ca", "mg/L Ca"], 0.0) == pytest.approx(0.356652, rel=1e-4)
    assert gh(0.0, factors["1 dGH as Mg", "mg/L Mg"]) == pytest.approx(0.356652, rel=1e-4)
    assert hardness_as_caco3(1.0) == pytest.approx(50.0435, rel=1e-4)
