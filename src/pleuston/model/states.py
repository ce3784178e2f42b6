"""Every state of a tank: its unit, what one unit of it holds, and its floor.

States are amounts per tank, never concentrations, so that top-up, evaporation
and harvest are exact. `holds` gives the composition of one unit of the state
in conserved things; coefficients that chemistry fixes follow from it.

Sources of the compositions: standard atomic weights (IUPAC 2021 abridged);
Redfield-like tissue contents are named where they are used.
"""

from __future__ import annotations

from fractions import Fraction

from pleuston.model.declare import State

MASS_C = Fraction("12.011")
MASS_N = Fraction("14.007")
MASS_P = Fraction("30.974")
MASS_K = Fraction("39.098")
MASS_CA = Fraction("40.078")
MASS_MG = Fraction("24.305")
MASS_NA = Fraction("22.990")
MASS_CL = Fraction("35.45")
MASS_S = Fraction("32.06")
MASS_FE = Fraction("55.845")
MASS_CU = Fraction("63.546")
MASS_ZN = Fraction("65.38")
MASS_CACO3 = Fraction("100.086")

CONSERVED = (
    "water", "C", "N", "P", "K", "Ca", "Mg", "Na", "Cl", "S", "Fe", "Cu", "Zn",
    "charge", "oxygen_demand",
)  # fmt: skip

DEMAND_C = 32 / MASS_C
"""Oxygen that burns one mg of organic carbon (oxidation state 0) to CO2."""

# Tissue of plants besides C, N, P, K, Fe and metals, per mg C: duckweed holds
# 378 mg C, 12 mg Ca, 4 mg Mg and 4 mg S per g dry mass.
PLANT = {
    "C": Fraction(1),
    "oxygen_demand": DEMAND_C,
    "Ca": Fraction(12, 378),
    "Mg": Fraction(4, 378),
    "S": Fraction(4, 378),
}
# C5H7NO2 with 1/50 of the carbon mass as phosphorus.
MICROBE = {
    "C": Fraction(1),
    "oxygen_demand": DEMAND_C,
    "N": MASS_N / (5 * MASS_C),
    "P": Fraction(1, 50),
}
# Animal body: C:N 4.2 and C:P 25 by mass (fish, shrimp and snail flesh alike).
ANIMAL = {
    "C": Fraction(1),
    "oxygen_demand": DEMAND_C,
    "N": Fraction(10, 42),
    "P": Fraction(1, 25),
}
ORGANIC_C = {"C": Fraction(1), "oxygen_demand": DEMAND_C}


def _one(element: str, **more: Fraction) -> dict[str, Fraction]:
    return {element: Fraction(1), **more}


CARBONATE = {"Ca": MASS_CA / MASS_CACO3, "C": MASS_C / MASS_CACO3}

STATES: tuple[State, ...] = (
    # water and heat
    State("water", "L", {"water": Fraction(1)}, typical=30.0),
    State("heat", "kJ", {}, floor=None, typical=3000.0),
    # gases
    State("oxygen", "mg", {"oxygen_demand": Fraction(-1)}, typical=240.0),
    State("carbon_inorganic", "mg", _one("C"), typical=900.0),
    # ions
    State("calcium", "mg", _one("Ca", charge=2 / MASS_CA), typical=1200.0),
    State("magnesium", "mg", _one("Mg", charge=2 / MASS_MG), typical=250.0),
    State("potassium", "mg", _one("K", charge=1 / MASS_K), typical=100.0),
    State("sodium", "mg", _one("Na", charge=1 / MASS_NA), typical=400.0),
    State("chloride", "mg", _one("Cl", charge=-1 / MASS_CL), typical=600.0),
    State("sulfate", "mg", _one("S", charge=-2 / MASS_S), typical=250.0),
    State("alkalinity", "meq", {"charge": Fraction(-1)}, floor=None, typical=60.0),
    # dissolved nitrogen
    State("ammonium", "mg", _one("N", charge=1 / MASS_N), typical=3.0),
    State(
        "nitrite", "mg",
        _one("N", charge=-1 / MASS_N, oxygen_demand=-48 / MASS_N), typical=2.0,
    ),
    State(
        "nitrate", "mg",
        _one("N", charge=-1 / MASS_N, oxygen_demand=-64 / MASS_N), typical=30.0,
    ),
    # others dissolved; phosphate counts one charge (H2PO4-), iron is chelated
    # and metals are bound for the most part, so neither carries charge
    State("phosphate", "mg", _one("P", charge=-1 / MASS_P), typical=5.0),
    State("iron", "mg", _one("Fe"), typical=1.0),
    State("metal", "mg", _one("metal"), typical=0.2),
    State("humic", "mg", ORGANIC_C, typical=60.0),
    State("dom_carbon", "mg", ORGANIC_C, typical=40.0),
    State("dom_nitrogen", "mg", _one("N"), typical=5.0),
    State("dom_phosphorus", "mg", _one("P"), typical=0.5),
    # particles: uneaten feed, faeces, dead plant and animal
    State("detritus_carbon", "mg", ORGANIC_C, typical=800.0),
    State("detritus_nitrogen", "mg", _one("N"), typical=80.0),
    State("detritus_phosphorus", "mg", _one("P"), typical=12.0),
    State("detritus_potassium", "mg", _one("K"), typical=10.0),
    State("detritus_iron", "mg", _one("Fe"), typical=1.0),
    State("detritus_metal", "mg", _one("metal"), typical=0.1),
    # attached microbes
    State("heterotrophs", "mg", MICROBE, typical=200.0),
    State("ammonia_oxidisers", "mg", MICROBE, typical=20.0),
    State("nitrite_oxidisers", "mg", MICROBE, typical=10.0),
    # floating plants, three species at most
    State("floater_carbon", "mg", PLANT, typical=1200.0),
    State("floater_nitrogen", "mg", _one("N"), typical=120.0),
    State("floater_phosphorus", "mg", _one("P"), typical=20.0),
    State("floater_potassium", "mg", _one("K"), typical=120.0),
    State("floater_iron", "mg", _one("Fe"), typical=1.5),
    State("floater_metal", "mg", _one("metal"), typical=0.05),
    # rooted and submerged plants
    State("rooted_carbon", "mg", PLANT, typical=3000.0),
    State("rooted_nitrogen", "mg", _one("N"), typical=240.0),
    State("rooted_phosphorus", "mg", _one("P"), typical=30.0),
    State("rooted_potassium", "mg", _one("K"), typical=240.0),
    State("rooted_metal", "mg", _one("metal"), typical=0.1),
    # algae, film and suspended together
    State("algae_carbon", "mg", ORGANIC_C, typical=100.0),
    State("algae_nitrogen", "mg", _one("N"), typical=15.0),
    State("algae_phosphorus", "mg", _one("P"), typical=2.0),
    # soil below the cap; its dry mass holds nothing that is not in the stores below
    State("soil_mass", "kg", {}, typical=2.0),
    State("soil_carbon", "mg", ORGANIC_C, typical=20000.0),
    State("soil_nitrogen", "mg", _one("N"), typical=1500.0),
    State("soil_phosphorus", "mg", _one("P"), typical=300.0),
    State("soil_slow_carbon", "mg", ORGANIC_C, typical=50000.0),
    State("soil_slow_nitrogen", "mg", _one("N"), typical=3000.0),
    State("soil_slow_phosphorus", "mg", _one("P"), typical=1000.0),
    State("ammonium_soil", "mg", _one("N", charge=1 / MASS_N), typical=50.0),
    State("phosphate_soil", "mg", _one("P", charge=-1 / MASS_P), typical=100.0),
    State("potassium_soil", "mg", _one("K"), typical=200.0),
    State("calcium_soil", "mg", _one("Ca"), typical=3000.0),
    State("iron_soil", "mg", _one("Fe"), typical=10000.0),
    State("metal_soil", "mg", _one("metal"), typical=30.0),
    State("reduced_soil", "mg", {"oxygen_demand": Fraction(1)}, typical=500.0),
    # mineral: calcium carbonate on the glass, and in shells and shell grit
    State("scale", "mg", CARBONATE, typical=500.0),
    State("shell", "mg", CARBONATE, typical=1000.0),
    # animals as groups
    State("animal_gut_carbon", "mg", ORGANIC_C, typical=40.0),
    State("animal_gut_nitrogen", "mg", _one("N"), typical=7.0),
    State("animal_gut_phosphorus", "mg", _one("P"), typical=1.0),
    State("animal_body", "mg", ANIMAL, typical=300.0),
)
"""Names with the word floater, animal or metal stand for each of the family."""
