"""Metals, evaporation, gas transfer and light against tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from pleuston.base import parameters
from pleuston.chemistry import evaporation, gas_exchange, metals, nitrogen_limits
from pleuston.chemistry.carbonate import (
    bicarbonate_share,
    carbonate_share,
    carbonic_first,
    carbonic_first_log,
    carbonic_second,
    carbonic_second_log,
    water_product_log,
)
from pleuston.chemistry.hardness import CACO3_PER_MEQ
from pleuston.chemistry.light import light_of_lux

from .compare import assert_relative, table

KELVIN = 273.15
CM_PER_H = 0.24
"""One cm/h in m/d."""
PRINTED_EXPONENT = 0.667 * 1.5
"""The table takes 0.667 for the exponent 2/3."""

CRITERIA: dict[str, tuple[Callable[[Any], Any], Callable[[Any], Any]]] = {
    "Cu": (metals.copper_cmc_epa1996, metals.copper_ccc_epa1996),
    "Zn": (metals.zinc_cmc_epa1996, metals.zinc_ccc_epa1996),
    "Pb": (metals.lead_cmc_epa1984, metals.lead_ccc_epa1984),
    "Ni": (metals.nickel_cmc_epa1996, metals.nickel_ccc_epa1996),
}


def test_criteria_of_metals_by_hardness() -> None:
    compared = 0
    for row in table("epa1996_metals_criteria"):
        if row["metal"] not in CRITERIA:
            continue
        hardness = float(row["hardness_mgCaCO3_L"]) * 2.0 / 100.087
        for function, column in zip(
            CRITERIA[row["metal"]], ("CMC_acute", "CCC_chronic"), strict=True
        ):
            assert_relative(1e3 * function(hardness), float(row[column]), 1e-5, row)
            compared += 1
    assert compared >= 80


def test_free_copper_without_organic_matter() -> None:
    rows = table("cu_inorganic_speciation")
    assert len(rows) == 15
    for row in rows:
        ph, alkalinity = float(row["pH"]), float(row["alk_mgCaCO3"]) / 50.0435
        strength = 1.5e-3 * alkalinity
        k1, k2 = carbonic_first(298.15, strength), carbonic_second(298.15, strength)
        one, two = bicarbonate_share(ph, k1, k2), carbonate_share(ph, k1, k2)
        carbon = 12.011 * alkalinity / (one + 2.0 * two)
        here = metals.copper_free_share(ph, 298.15, strength, one * carbon, two * carbon)
        assert 0.5 < here / float(row["f_Cu2+"]) < 2.0, row


def test_organic_matter_protects_from_copper_as_in_the_cited_line() -> None:
    for carbon in (0.1, 1.0, 5.0, 22.0):
        line = (17.2 * carbon + 30.2) / 30.2
        assert metals.copper_relief_carbon(carbon) == pytest.approx(line, rel=1e-12)
        effective = metals.copper_effective(10.0, carbon, 100.0 / CACO3_PER_MEQ, 7.5)
        assert effective == pytest.approx(10.0 / line, rel=1e-12)


def test_hardness_protects_from_copper_as_the_acute_criterion_says() -> None:
    for row in table("epa1996_metals_criteria"):
        hardness = float(row["hardness_mgCaCO3_L"])
        if row["metal"] != "Cu" or not 25.0 <= hardness <= 400.0:
            continue
        acute = metals.copper_effective(
            float(row["CMC_acute"]), 0.0, hardness / CACO3_PER_MEQ, 7.5
        )
        assert acute == pytest.approx(13.4391, rel=1e-5), row


def test_acting_copper_by_ph_follows_the_oracles_speciation() -> None:
    """Cu++ + CuOH+/5 + CuCO3/10 of the table at alkalinity 70, relative to pH 7.5."""
    acting = {
        float(row["pH"]): float(row["f_Cu2+"]) + float(row["f_CuOH"]) / 5
        + float(row["f_CuCO3"]) / 10
        for row in table("cu_inorganic_speciation") if row["alk_mgCaCO3"] == "70"
    }  # fmt: skip
    assert len(acting) == 5
    for ph, share in acting.items():
        assert metals.copper_relief_ph(ph) == pytest.approx(acting[7.5] / share, rel=0.15), ph


def test_nitrite_steps_of_the_guideline() -> None:
    chloride = {"Cl<2": 1.0, "Cl 2-4": 3.0, "Cl 4-6": 5.0, "Cl 6-8": 7.0, "Cl 8-10": 9.0}
    chloride["Cl>10"] = 11.0
    rows = [r for r in table("toxicity_thresholds") if r["item"].startswith("NO2-N 30-d avg Cl")]
    assert len(rows) == 6
    for row in rows:
        level = chloride[row["item"].removeprefix("NO2-N 30-d avg ")]
        most = float(row["condition"].removeprefix("max "))
        assert nitrogen_limits.nitrite_mean_bcmoe2009(level) == float(row["value"])
        assert nitrogen_limits.nitrite_most_bcmoe2009(level) == most


def test_evaporation_on_the_grid() -> None:
    rows = table("evaporation_grid")
    assert len(rows) == 245
    for row in rows:
        water, room = float(row["T_water"]) + KELVIN, float(row["T_air"]) + KELVIN
        here = evaporation.evaporation_shah(water, room, float(row["RH_pct"]) / 100.0, 1.0)
        expected = max(0.0, float(row["Shah_max_mmd"]))
        assert_relative(float(here), expected, 1e-4, row)


def test_evaporation_is_never_negative_and_follows_arrays() -> None:
    room = np.array([293.15, 303.15, 308.15])
    here = evaporation.evaporation_shah(293.15, room, 0.9, 1.0)
    assert here.shape == (3,)
    assert here[0] > 0.0
    assert here[2] == 0.0


def test_topping_up_concentrates() -> None:
    rows = [r for r in table("integrator_analytic_checks") if r["case"].startswith("evaporate")]
    assert len(rows) == 4
    assert "V=100 L E=2 L/d cin=200 C0=200" in rows[0]["case"]
    surface = 0.5
    for row in rows:
        here = evaporation.concentration_by_topping_up(
            200.0, 200.0, 2e-3 / surface, float(row["t"]), 0.1 / surface
        )
        assert here == pytest.approx(float(row["value"]), rel=1e-6)


def test_schmidt_numbers() -> None:
    rows = table("schmidt_numbers")
    assert len(rows) == 31
    for row in rows:
        kelvin = float(row["T_C"]) + KELVIN
        for function, column in (
            (gas_exchange.schmidt_oxygen, "O2_W14"),
            (gas_exchange.schmidt_co2, "CO2_W14"),
            (gas_exchange.schmidt_oxygen_raymond2012, "O2_Raymond2012"),
            (gas_exchange.schmidt_co2_raymond2012, "CO2_Raymond2012"),
        ):
            assert_relative(function(kelvin), float(row[column]), 1e-4, (column, row["T_C"]))
        viscosity = float(row["nu_1e-6"]) * 0.9982
        for function2, column in (
            (gas_exchange.diffusivity_oxygen, "D_O2_1e-9_Boudreau"),
            (gas_exchange.diffusivity_co2, "D_CO2_1e-9_Boudreau"),
        ):
            here = function2(kelvin, viscosity) / 86400.0 * 1e9
            assert here == pytest.approx(float(row[column]), rel=5e-3), (column, row["T_C"])


def test_authors_of_schmidt_numbers_agree() -> None:
    """Within 5 % up to 25 degC for oxygen and 22 degC for CO2; the fits part above."""
    pairs = {
        "oxygen": (gas_exchange.schmidt_oxygen, gas_exchange.schmidt_oxygen_raymond2012),
        "co2": (gas_exchange.schmidt_co2, gas_exchange.schmidt_co2_raymond2012),
    }
    apart = {
        (name, celsius)
        for name, (one, other) in pairs.items()
        for celsius in range(5, 29)
        if abs(other(celsius + KELVIN) / one(celsius + KELVIN) - 1.0) > 0.05
    }
    warm = {("oxygen", celsius) for celsius in range(26, 29)}
    assert apart == warm | {("co2", celsius) for celsius in range(23, 29)}


def test_transfer_multipliers() -> None:
    for row in table("schmidt_numbers"):
        kelvin = float(row["T_C"]) + KELVIN
        oxygen, co2 = gas_exchange.schmidt_oxygen(kelvin), gas_exchange.schmidt_co2(kelvin)
        for here, column in (
            (gas_exchange.transfer_moving(1.0, oxygen), "kO2_over_k600_n0.5"),
            (gas_exchange.transfer_moving(1.0, co2), "kCO2_over_k600_n0.5"),
            (gas_exchange.transfer_still(1.0, oxygen) ** PRINTED_EXPONENT, "kO2_over_k600_n0.667"),
            (gas_exchange.transfer_warming(kelvin), "theta1.024_rel20"),
        ):
            assert_relative(here, float(row[column]), 1e-4, (column, row["T_C"]))


def test_surface_renewal() -> None:
    rows = [r for r in table("k_natural_convection") if r["C_source"] == "Zappa2007"]
    assert len(rows) >= 3
    viscosity = {float(r["T_C"]): 1e-6 * float(r["nu_1e-6"]) for r in table("schmidt_numbers")}
    for row in rows:
        celsius = float(row["T_C"])
        schmidt = gas_exchange.schmidt_oxygen(celsius + KELVIN)
        here = gas_exchange.transfer_surface_renewal(
            float(row["B_m2s3"]), viscosity[celsius], schmidt
        )
        assert here == pytest.approx(float(row["kO2_m_d"]), rel=0.05), row


def test_enhancement_of_co2() -> None:
    rows = table("co2_chemical_enhancement")
    assert len(rows) == 40
    kelvin = 298.15
    k1, k2 = 10.0 ** carbonic_first_log(kelvin), 10.0 ** carbonic_second_log(kelvin)
    product = 10.0 ** water_product_log(kelvin)
    diffusivity = 1.89937e-9 * 86400.0
    for row in rows:
        velocity = CM_PER_H * float(row["k_cm_h"])
        here = gas_exchange.co2_enhancement(
            float(row["pH"]), velocity, diffusivity, k1, k2, product
        )
        assert here == pytest.approx(float(row["enhancement"]), rel=0.01), row


def test_light_per_lux_of_standard_lamps() -> None:
    rows = {row["source"]: float(row["umol_per_lux"]) for row in table("light_lux_to_ppfd_cie")}
    lamps = {n: p for n, p in parameters.load().items() if n.startswith("light_per_lux_")}
    assert len(lamps) == 15
    for name, lamp in lamps.items():
        source = lamp.where.removeprefix("illuminant ")
        here = light_of_lux(1000.0, lamp.value)
        assert here == pytest.approx(1000.0 * rows[source], rel=0.01), name
        assert lamp.low <= rows[source] <= lamp.high
