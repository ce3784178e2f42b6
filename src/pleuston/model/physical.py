"""Derived quantities of water, air and salts that rows and pages use.

Concentrations are amounts over the tank's water; the pH is the root of the charge
balance. Where a published equation exists it lives in `chemistry`, and this module
only gives it the tank's own names.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.base.cited import cited
from pleuston.base.maths import attach, saturating, strip
from pleuston.chemistry.ammonia import ammonia_dissociation
from pleuston.chemistry.carbonate import (
    LN10,
    activity_log,
    calcite_log,
    carbonic_first,
    carbonic_second,
    co2_at_equilibrium,
    phosphoric_second,
    water_product,
)
from pleuston.chemistry.conductivity import (
    conductivity_of_carbonate,
    conductivity_of_minor_ions,
    conductivity_of_strong_ions,
    ionic_strength,
)
from pleuston.chemistry.evaporation import evaporation_shah
from pleuston.chemistry.gas_exchange import (
    co2_enhancement,
    schmidt_co2,
    schmidt_oxygen,
    transfer_moving,
    transfer_surface_renewal,
)
from pleuston.chemistry.hardness import gh
from pleuston.chemistry.metals import copper_effective
from pleuston.chemistry.oxygen import oxygen_at_saturation
from pleuston.model import lighting
from pleuston.model.declare import implicit

VISCOSITY = 0.95e-6
"""Kinematic viscosity of water at 22 degC [m^2/s]."""
HEAT_OF_WATER = 4.186
"""Heat that warms a litre of water by one kelvin [kJ/L/K] (hyland1983)."""


def litres_of(volume: Any) -> Any:
    """Litres of a volume in cubic metres [L]."""
    return attach(1000.0, "L/m^3") * volume


@cited("common_practice", "heat content over heat capacity")
def temperature(heat: Any, water: Any, bed_heat_capacity: Any) -> Any:
    """Water temperature [K] from heat [kJ above 0 degC], water and bed [L of water]."""
    capacity = HEAT_OF_WATER * strip(water + bed_heat_capacity, "L")
    return attach(273.15 + strip(heat, "kJ") / capacity, "K")


def _per_litre(amount: Any, water: Any) -> Any:
    return amount / water


@cited("common_practice", "amount over volume")
def oxygen_concentration(oxygen: Any, water: Any) -> Any:
    """Dissolved oxygen [mg/L]."""
    return _per_litre(oxygen, water)


@cited("common_practice", "amount over volume")
def carbon_inorganic_concentration(carbon_inorganic: Any, water: Any) -> Any:
    """Dissolved inorganic carbon [mg/L of C]."""
    return _per_litre(carbon_inorganic, water)


@cited("common_practice", "amount over volume")
def calcium_concentration(calcium: Any, water: Any) -> Any:
    """Calcium [mg/L]."""
    return _per_litre(calcium, water)


@cited("common_practice", "amount over volume")
def magnesium_concentration(magnesium: Any, water: Any) -> Any:
    """Magnesium [mg/L]."""
    return _per_litre(magnesium, water)


@cited("common_practice", "amount over volume")
def potassium_concentration(potassium: Any, water: Any) -> Any:
    """Potassium [mg/L]."""
    return _per_litre(potassium, water)


@cited("common_practice", "amount over volume")
def sodium_concentration(sodium: Any, water: Any) -> Any:
    """Sodium [mg/L]."""
    return _per_litre(sodium, water)


@cited("common_practice", "amount over volume")
def chloride_concentration(chloride: Any, water: Any) -> Any:
    """Chloride [mg/L]."""
    return _per_litre(chloride, water)


@cited("common_practice", "amount over volume")
def sulfate_concentration(sulfate: Any, water: Any) -> Any:
    """Sulfate [mg/L of S]."""
    return _per_litre(sulfate, water)


@cited("common_practice", "amount over volume")
def alkalinity_concentration(alkalinity: Any, water: Any) -> Any:
    """Alkalinity, the charge of strong cations over strong anions [meq/L]."""
    return _per_litre(alkalinity, water)


@cited("common_practice", "amount over volume")
def ammonium_concentration(ammonium: Any, water: Any) -> Any:
    """Total ammonia nitrogen [mg/L of N]."""
    return _per_litre(ammonium, water)


@cited("common_practice", "amount over volume")
def nitrite_concentration(nitrite: Any, water: Any) -> Any:
    """Nitrite [mg/L of N]."""
    return _per_litre(nitrite, water)


@cited("common_practice", "amount over volume")
def nitrate_concentration(nitrate: Any, water: Any) -> Any:
    """Nitrate [mg/L of N]."""
    return _per_litre(nitrate, water)


@cited("common_practice", "amount over volume")
def phosphate_concentration(phosphate: Any, water: Any) -> Any:
    """Phosphate [mg/L of P]."""
    return _per_litre(phosphate, water)


@cited("common_practice", "amount over volume")
def iron_concentration(iron: Any, water: Any) -> Any:
    """Dissolved iron, chelated for the most part [mg/L]."""
    return _per_litre(iron, water)


@cited("common_practice", "amount over volume")
def metal_concentration(metal: Any, water: Any) -> Any:
    """A dissolved metal [mg/L]."""
    return _per_litre(metal, water)


@cited("common_practice", "amount over volume")
def humic_concentration(humic: Any, water: Any) -> Any:
    """Refractory dissolved organic carbon [mg/L of C]."""
    return _per_litre(humic, water)


@cited("common_practice", "amount over volume")
def dom_carbon_concentration(dom_carbon: Any, water: Any) -> Any:
    """Labile dissolved organic carbon [mg/L of C]."""
    return _per_litre(dom_carbon, water)


@cited("common_practice", "sum of the two pools")
def dissolved_carbon_concentration(humic_concentration: Any, dom_carbon_concentration: Any) -> Any:
    """Dissolved organic carbon, refractory and labile [mg/L of C]."""
    return humic_concentration + dom_carbon_concentration


# -- acid and base -------------------------------------------------------------


@cited("stumm1996", "charge balance in total concentrations")
def charge_residual(
    hydrogen: Any, carbonic_first: Any, carbonic_second: Any, water_product: Any,
    ammonia_dissociation: Any, phosphoric_second: Any, carbon_inorganic_concentration: Any,
    ammonium_concentration: Any, phosphate_concentration: Any, alkalinity_concentration: Any,
) -> Any:  # fmt: skip
    """Charge [mmol/L] that the weak acids and bases carry beyond the alkalinity; 0 at the pH.

    Alkalinity counts Na+, K+, 2 Ca2+, 2 Mg2+ and all ammonia as NH4+, less Cl-, 2 SO4--,
    NO3-, NO2- and all phosphate as H2PO4-. Electric neutrality then makes it equal to
    HCO3- + 2 CO3-- + OH- - H+ + NH3 + HPO4--.
    """
    h = strip(hydrogen, "mol/L")
    k1, k2 = strip(carbonic_first, "mol/L"), strip(carbonic_second, "mol/L")
    kw, ka = strip(water_product, "mol^2/L^2"), strip(ammonia_dissociation, "mol/L")
    kp = strip(phosphoric_second, "mol/L")
    carbon = strip(carbon_inorganic_concentration, "mg/L") / 12.011
    nitrogen = strip(ammonium_concentration, "mg/L") / 14.007
    phosphorus = strip(phosphate_concentration, "mg/L") / 30.974
    carbonate = carbon * (k1 * h + 2.0 * k1 * k2) / (h * h + k1 * h + k1 * k2)
    water = 1e3 * (kw / h - h)
    bases = nitrogen * ka / (ka + h) + phosphorus * kp / (kp + h)
    return carbonate + water + bases - strip(alkalinity_concentration, "meq/L")


HYDROGEN = implicit("hydrogen", residual=charge_residual, unit="mol/L", start=1e-7)


@cited("stumm1996", "definition of pH")
def ph(hydrogen: Any) -> Any:
    """pH of the water [1]."""
    return np.log(strip(hydrogen, "mol/L")) * (-1.0 / LN10)


@cited("stumm1996", "ionisation fractions")
def carbon_dioxide_concentration(
    carbon_inorganic_concentration: Any, hydrogen: Any, carbonic_first: Any, carbonic_second: Any
) -> Any:
    """Carbon as dissolved CO2 [mg/L of C]."""
    h = hydrogen
    share = h * h / (h * h + carbonic_first * h + carbonic_first * carbonic_second)
    return carbon_inorganic_concentration * share


@cited("stumm1996", "ionisation fractions")
def bicarbonate_concentration(
    carbon_inorganic_concentration: Any, hydrogen: Any, carbonic_first: Any, carbonic_second: Any
) -> Any:
    """Carbon as bicarbonate [mg/L of C]."""
    h = hydrogen
    share = carbonic_first * h / (h * h + carbonic_first * h + carbonic_first * carbonic_second)
    return carbon_inorganic_concentration * share


@cited("stumm1996", "ionisation fractions")
def carbonate_concentration(
    carbon_inorganic_concentration: Any, hydrogen: Any, carbonic_first: Any, carbonic_second: Any
) -> Any:
    """Carbon as carbonate [mg/L of C]."""
    h = hydrogen
    both = carbonic_first * carbonic_second
    return carbon_inorganic_concentration * both / (h * h + carbonic_first * h + both)


@cited("emerson1975", "equation for the fraction")
def ammonia_concentration(
    ammonium_concentration: Any, ammonia_dissociation: Any, hydrogen: Any
) -> Any:
    """Nitrogen as un-ionised ammonia, the poisonous share [mg/L of N]."""
    return ammonium_concentration * ammonia_dissociation / (ammonia_dissociation + hydrogen)


@cited("plummer1982", "solubility product of calcite; activities by Davies")
def calcite_saturation(
    calcium_concentration: Any, carbonate_concentration: Any, temperature: Any,
    ionic_strength: Any,
) -> Any:  # fmt: skip
    """Ion activity product of calcite over its solubility product [1]; above 1 it can form."""
    ions = (strip(calcium_concentration, "mg/L") / 40078.0) * (
        strip(carbonate_concentration, "mg/L") / 12011.0
    )
    log_g = activity_log(temperature, ionic_strength)
    return ions * np.exp(LN10 * (8.0 * log_g - calcite_log(temperature)))


# -- conductivity and solids ---------------------------------------------------


@cited("mccleskey2012", "sum of ionic conductivities at 25 degC; factor fitted per tank")
def conductivity(
    conductivity_factor: Any, ionic_strength: Any, calcium_concentration: Any,
    magnesium_concentration: Any, sodium_concentration: Any, potassium_concentration: Any,
    ammonium_concentration: Any, chloride_concentration: Any, sulfate_concentration: Any,
    nitrate_concentration: Any, nitrite_concentration: Any, phosphate_concentration: Any,
    bicarbonate_concentration: Any, carbonate_concentration: Any, ph: Any,
) -> Any:  # fmt: skip
    """Electric conductivity at 25 degC [uS/cm]."""
    at = attach(298.15, "K")
    strong = conductivity_of_strong_ions(
        at, ionic_strength, calcium_concentration, magnesium_concentration,
        sodium_concentration, potassium_concentration, ammonium_concentration,
        chloride_concentration, sulfate_concentration, nitrate_concentration,
    )  # fmt: skip
    weak = conductivity_of_carbonate(
        at, ionic_strength, bicarbonate_concentration, carbonate_concentration, ph
    )
    minor = conductivity_of_minor_ions(nitrite_concentration, phosphate_concentration)
    return conductivity_factor * (strong + weak + minor)


@cited("common_practice", "sum of the ions, bicarbonate counted in full")
def dissolved_solids(
    calcium_concentration: Any, magnesium_concentration: Any, sodium_concentration: Any,
    potassium_concentration: Any, chloride_concentration: Any, sulfate_concentration: Any,
    bicarbonate_concentration: Any, nitrate_concentration: Any, phosphate_concentration: Any,
) -> Any:  # fmt: skip
    """Dissolved solids as the sum of the ions [mg/L]."""
    return (
        calcium_concentration + magnesium_concentration + sodium_concentration
        + potassium_concentration + chloride_concentration
        + sulfate_concentration * (96.06 / 32.06) + bicarbonate_concentration * (61.017 / 12.011)
        + nitrate_concentration * (62.004 / 14.007) + phosphate_concentration * (94.97 / 30.974)
    )  # fmt: skip


# -- gases and surface ---------------------------------------------------------


@cited("common_practice", "share of the saturation concentration")
def oxygen_percent(oxygen_concentration: Any, oxygen_at_saturation: Any) -> Any:
    """Dissolved oxygen as a share of saturation with air [1]."""
    return oxygen_concentration / oxygen_at_saturation


@cited("zappa2007", "k = 0.42 (eps nu)^(1/4) Sc^(-1/2), eps the buoyancy flux of cooling")
def transfer_convective(evaporation: Any, surface_area: Any) -> Any:
    """Transfer velocity at Schmidt number 600 of water that sinks as it cools [m/d].

    A heated, open tank stirs itself: eps = g a Q/(rho c), a 2.4e-4 per kelvin, Q the latent
    heat of the evaporation, 28.3 W/m2 for a millimetre a day; viscosity 0.95e-6 m2/s.
    """
    millimetres = strip(evaporation, "L/d") / strip(surface_area, "m^2")
    dissipation = 9.81 * 2.4e-4 / (998.0 * 4184.0) * 28.3 * (millimetres + 1e-6)
    return transfer_surface_renewal(attach(dissipation, "m^2/s^3"), VISCOSITY, 600.0)


@cited("common_practice", "velocity by stirring beside that by cooling; a lid calms still water")
def transfer_600(
    flow_level: Any, air_stone: Any, lid_openness: Any, gas_exchange_still: Any,
    gas_exchange_gentle: Any, gas_exchange_strong: Any, gas_exchange_air_stone: Any,
    gas_exchange_lid: Any, transfer_convective: Any,
) -> Any:  # fmt: skip
    """Transfer velocity of a gas of Schmidt number 600 through open water [m/d].

    A lid keeps draughts from still water. It does not hold a pump's current back, and
    that it lets less evaporate is in the velocity by cooling already. The air below it is
    no hindrance: to lose a quarter of a millimetre a day, air must pass by the cubic metre.
    """
    gentle = np.minimum(flow_level, 1.0) * (gas_exchange_gentle - gas_exchange_still)
    strong = np.maximum(flow_level - 1.0, 0.0) * (gas_exchange_strong - gas_exchange_gentle)
    calm = gas_exchange_lid + (1.0 - gas_exchange_lid) * lid_openness
    stirred = gas_exchange_still * calm + gentle + strong
    both = np.sqrt(stirred * stirred + transfer_convective * transfer_convective)
    return both + air_stone * gas_exchange_air_stone


@cited("janse2005", "duckweed group: reaeration times max(0, 1 - kLemnAer D); floor 0.3")
def surface_open_to_gas(
    floater1_density: Any, floater2_density: Any, floater3_density: Any,
    floater1_gas_hindrance: Any, floater2_gas_hindrance: Any, floater3_gas_hindrance: Any,
) -> Any:  # fmt: skip
    """Share of gas exchange that floating plants leave [1]."""
    hindered = (
        floater1_density * floater1_gas_hindrance
        + floater2_density * floater2_gas_hindrance
        + floater3_density * floater3_gas_hindrance
    )
    return np.maximum(1.0 - hindered, 0.3)


@cited("filgas2008", "a film lets a half to a third of the gas through; stirring tears it")
def film_open_to_gas(surface_film: Any, flow_level: Any, air_stone: Any) -> Any:
    """Share of gas exchange that a film on still water leaves [1].

    The film's resistance adds to that of the water: 1/(1 + surface_film). A pump or an air
    stone keeps the surface clear.
    """
    calm = (1.0 - np.minimum(flow_level, 1.0)) * (1.0 - np.minimum(air_stone, 1.0))
    return 1.0 / (1.0 + surface_film * calm)


@cited("wanninkhof2014", "k = k600 (Sc/600)^-1/2")
def oxygen_transfer(
    transfer_600: Any, surface_open_to_gas: Any, film_open_to_gas: Any, temperature: Any
) -> Any:
    """Transfer velocity of oxygen [m/d]."""
    clean = transfer_moving(transfer_600, schmidt_oxygen(temperature))
    return clean * surface_open_to_gas * film_open_to_gas


@cited("hoover1969", "chemical enhancement of CO2 exchange")
def carbon_dioxide_transfer(
    transfer_600: Any, surface_open_to_gas: Any, film_open_to_gas: Any, temperature: Any,
    ph: Any, carbonic_first: Any, carbonic_second: Any, water_product: Any,
) -> Any:  # fmt: skip
    """Transfer velocity of carbon dioxide, sped up by its reaction with water [m/d]."""
    clean = transfer_moving(transfer_600, schmidt_co2(temperature))
    plain = clean * surface_open_to_gas * film_open_to_gas
    warmth = strip(temperature, "K") - 298.15
    diffusivity = attach(1.66e-4 * (1.0 + 0.025 * warmth), "m^2/d")
    return plain * co2_enhancement(
        ph, plain, diffusivity, carbonic_first, carbonic_second, water_product
    )


@cited("shah2014", "evaporation of open water; lid and plants as factors")
def evaporation(
    temperature: Any, room_temperature: Any, room_humidity: Any, air_pressure: Any,
    surface_area: Any, lid_openness: Any, evaporation_factor: Any, evaporation_of_cover: Any,
    water_depth: Any,
) -> Any:  # fmt: skip
    """Water lost to the room [L/d]; it ceases while the last two centimetres go."""
    open_water = evaporation_shah(temperature, room_temperature, room_humidity, air_pressure)
    depth = strip(open_water, "kg/m^2/d") * strip(surface_area, "m^2")
    left = saturating(strip(water_depth, "m") ** 3, 0.02**3)
    return attach(depth, "L/d") * lid_openness * evaporation_factor * evaporation_of_cover * left


@cited("brezny1973", "plant over open-water evaporation, by species; E = Eo (1 + c (R - 1))")
def evaporation_of_cover(
    floater1_cover: Any, floater2_cover: Any, floater3_cover: Any,
    floater1_evaporation_ratio: Any, floater2_evaporation_ratio: Any,
    floater3_evaporation_ratio: Any,
) -> Any:  # fmt: skip
    """Evaporation with floating plants over that of open water [1]."""
    return (
        1.0 + floater1_cover * (floater1_evaporation_ratio - 1.0)
        + floater2_cover * (floater2_evaporation_ratio - 1.0)
        + floater3_cover * (floater3_evaporation_ratio - 1.0)
    )  # fmt: skip


@cited("common_practice", "millimetres on the glass")
def level_drop(net_volume: Any, water: Any, surface_area: Any) -> Any:
    """How far the water stands below its mark [m]."""
    return (net_volume - water) / (litres_of(surface_area))


@cited("common_practice", "volume over surface")
def water_depth(water: Any, surface_area: Any) -> Any:
    """Depth of the water [m]."""
    return water / litres_of(surface_area)


# -- metals ----------------------------------------------------------------------


@cited("kramer2004", "relief by dissolved organic carbon")
def metal_free_concentration(
    metal_concentration: Any, metal_organic_binding: Any, dissolved_carbon_concentration: Any
) -> Any:
    """A dissolved metal that organic matter leaves free to act [mg/L]."""
    return metal_concentration / (1.0 + metal_organic_binding * dissolved_carbon_concentration)


QUANTITIES = (
    temperature, oxygen_concentration, carbon_inorganic_concentration, calcium_concentration,
    magnesium_concentration, potassium_concentration, sodium_concentration,
    chloride_concentration, sulfate_concentration, alkalinity_concentration,
    ammonium_concentration, nitrite_concentration, nitrate_concentration,
    phosphate_concentration, iron_concentration, metal_concentration, humic_concentration,
    dom_carbon_concentration, dissolved_carbon_concentration, ionic_strength, carbonic_first,
    carbonic_second, water_product, ammonia_dissociation, phosphoric_second, ph,
    carbon_dioxide_concentration, bicarbonate_concentration, carbonate_concentration,
    ammonia_concentration, calcite_saturation, gh, conductivity, dissolved_solids,
    oxygen_at_saturation, oxygen_percent, co2_at_equilibrium, transfer_convective, transfer_600,
    surface_open_to_gas, film_open_to_gas, oxygen_transfer, carbon_dioxide_transfer, evaporation,
    evaporation_of_cover, level_drop, water_depth, metal_free_concentration,
    copper_effective, *lighting.QUANTITIES,
)  # fmt: skip
"""Every derived quantity of this half of the model."""
