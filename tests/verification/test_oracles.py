"""Live comparison with programs made by others."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import gsw  # type: ignore[import-untyped]
import numpy as np
import psychrolib  # type: ignore[import-untyped]
import pytest
from phreeqc import Phreeqc  # type: ignore[import-untyped]

from pleuston.chemistry import ammonia, carbonate, conductivity, evaporation, metals, oxygen
from pleuston.chemistry.speciation import Water, ph_of_open_water

pytestmark = pytest.mark.oracle
KELVIN = 273.15
C, CA, MG, S = 12.011, 40.078, 24.305, 32.06
Run = Callable[[str], dict[str, float]]
PUNCH = """
SELECTED_OUTPUT 1
 -reset false
 -pH true
USER_PUNCH 1
 -headings co2 nh3 carbon ec calcite copper strength
 10 PUNCH MOL("CO2"), MOL("NH3"), TOT("C(4)"), SC, SI("Calcite"), MOL("Cu+2"), MU
"""
COPPER = """
SOLUTION_SPECIES
 Cu+2 + 2 H2O = Cu(OH)2 + 2 H+
 log_k -16.2
"""


def _session(database: str, change: str = "") -> Run:
    session = Phreeqc()
    assert session.LoadBuiltInDatabase(database) == 0
    assert session.RunString(f"{change}{PUNCH}END\n") == 0

    def run(text: str) -> dict[str, float]:
        assert session.RunString(text) == 0
        session.SetCurrentSelectedOutputUserNumber(1)
        rows = session.GetSelectedOutputRowCount()
        names = [
            str(session.GetSelectedOutputValue(0, n))
            for n in range(session.GetSelectedOutputColumnCount())
        ]
        values = [session.GetSelectedOutputValue(rows - 1, n) for n in range(len(names))]
        return dict(zip(names, values, strict=True))

    return run


@pytest.fixture(scope="module")
def run() -> Run:
    return _session("phreeqc.dat")


@pytest.mark.parametrize("celsius", [18.0, 24.0, 29.0])
@pytest.mark.parametrize("hardness", [0.5, 1.5, 4.0])
@pytest.mark.parametrize("ppm", [420.0, 1200.0, 5000.0])
def test_ph_conductivity_and_calcite(run: Run, celsius: float, hardness: float, ppm: float) -> None:
    """An open water of calcium, magnesium, sodium, chloride, sulfate and bicarbonate."""
    kelvin = celsius + KELVIN
    vapour = evaporation.saturated_vapour_pressure(kelvin)
    pressure = ppm * 1e-6 * (1.0 - vapour)
    text = f"""
    SOLUTION 1
     temp {celsius}
     units mmol/kgw
     pH 7 charge
     Ca {0.5 * hardness}
     Mg {0.15 * hardness}
     Na {0.3 + 0.2 * hardness}
     Cl 0.3
     S(6) {0.1 * hardness}
     C(4) 1 CO2(g) {np.log10(pressure)}
    END
    """
    there = run(text)
    ions = (
        CA * 0.5 * hardness, MG * 0.15 * hardness, 22.990 * (0.3 + 0.2 * hardness), 0.0, 0.0,
        35.45 * 0.3, S * 0.1 * hardness, 0.0,
    )  # fmt: skip
    alkalinity = float(carbonate.alkalinity_of_strong_ions(*ions, 0.0, 0.0))
    strength = float(conductivity.ionic_strength(*ions, 0.0, alkalinity))
    water = Water(kelvin, alkalinity, strength, ions[0], ions[1], ions[6])
    co2 = float(carbonate.co2_at_equilibrium(kelvin, 1.0, ppm * 1e-6))
    here = ph_of_open_water(water, co2)
    assert here.ph == pytest.approx(there["pH"], abs=0.02)
    assert here.co2 / C == pytest.approx(1e3 * there["co2"], rel=0.02)
    assert here.calcite_saturation_log == pytest.approx(there["calcite"], abs=0.05)
    ends = (here.calcium_charged, here.magnesium_charged, *ions[2:6], here.sulfate_charged, 0.0)
    charges = (here.bicarbonate + 2.0 * here.carbonate_charged) / C
    charged = conductivity.ionic_strength(*[*ends, 0.0, charges])
    ec = conductivity.conductivity_of_strong_ions(kelvin, charged, *ends)
    ec += conductivity.conductivity_of_carbonate(
        kelvin, charged, here.bicarbonate, here.carbonate_charged, here.ph
    )
    assert ec == pytest.approx(there["ec"], rel=0.05)


@pytest.mark.parametrize("celsius", [10.0, 20.0, 28.0])
@pytest.mark.parametrize("ph", [6.5, 8.0, 9.0])
@pytest.mark.parametrize("salt", [0.1, 8.0])
def test_ammonia(run: Run, celsius: float, ph: float, salt: float) -> None:
    there = run(
        f"SOLUTION 1\n temp {celsius}\n units mmol/kgw\n pH {ph}\n N(-3) 0.01\n"
        f" Na {salt}\n Cl {salt} charge\nEND\n"
    )
    here = ammonia.ammonia_fraction(ph, celsius + KELVIN, there["strength"])
    assert here == pytest.approx(there["nh3"] / 1e-5, rel=0.01)


@pytest.mark.parametrize("ph", [6.5, 7.5, 8.5])
@pytest.mark.parametrize("alkalinity", [0.4, 1.4, 4.0])
def test_free_copper(ph: float, alkalinity: float) -> None:
    """The database's own constant of Cu(OH)2 is far too strong and is set right first."""
    there = _session("wateq4f.dat", COPPER)(
        f"SOLUTION 1\n temp 25\n units mmol/kgw\n pH {ph}\n Alkalinity {alkalinity}\n"
        f" Ca {alkalinity / 2} charge\n Cu(2) 1.574e-4\nEND\n"
    )
    k1 = carbonate.carbonic_first(298.15, there["strength"])
    k2 = carbonate.carbonic_second(298.15, there["strength"])
    carbon = 1e3 * C * there["carbon"]
    here = metals.copper_free_share(
        ph, 298.15, there["strength"],
        carbon * carbonate.bicarbonate_share(ph, k1, k2),
        carbon * carbonate.carbonate_share(ph, k1, k2),
    )  # fmt: skip
    assert 0.5 < here / (there["copper"] / 1.574e-7) < 2.0


def test_oxygen_saturation() -> None:
    celsius = np.linspace(0.0, 40.0, 41)
    micromol = gsw.O2sol_SP_pt(0.0, celsius)
    density = gsw.rho(0.0, gsw.CT_from_t(0.0, celsius, 0.0), 0.0)
    there = micromol * density * 31.9988e-6
    here = oxygen.oxygen_at_saturation(celsius + KELVIN, 1.0)
    assert here == pytest.approx(there, abs=0.002)


@pytest.fixture
def metric() -> Any:
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib


@pytest.mark.parametrize("celsius", [5.0, 18.0, 24.0, 30.0])
@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.9])
def test_moist_air(metric: Any, celsius: float, humidity: float) -> None:
    kelvin, pascal = celsius + KELVIN, 101325.0
    saturated = evaporation.saturated_vapour_pressure(kelvin)
    assert saturated * pascal == pytest.approx(metric.GetSatVapPres(celsius), rel=1e-5)
    vapour = humidity * saturated
    ratio = metric.GetHumRatioFromRelHum(celsius, humidity, pascal)
    assert evaporation.humidity_ratio(vapour, 1.0) == pytest.approx(ratio, rel=1e-4)
    volume = metric.GetMoistAirVolume(celsius, ratio, pascal)
    assert evaporation.dry_air_density(kelvin, vapour, 1.0) == pytest.approx(1 / volume, rel=1e-5)
