"""The core of the tank model on one page of plain Python: for reading and teaching.

Water, oxygen, nitrogen, phosphorus, nitrifying bacteria and one floating plant, by the same
rows as the whole model (a test holds the two equal). What the whole model works out from other
states is given here: `temperature` [K], `ph`, `oxygen_at_saturation` [mg/L], `oxygen_transfer`
[m/d], `evaporation` [L/d], `ammonia` (un-ionised) [mg/L of N], `carbon` (inorganic) [mg/L of C],
and the shares `vigour`, `minerals` and `other_nutrients` of the growth that all else allows.
Amounts are mg in the tank (water: L), rates mg/d; `p` has the parameters by the model's names.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log

Values = Mapping[str, float]
CHANGES: Mapping[str, Mapping[str, float]] = {
    "evaporate": {"water": -1},
    "absorb_oxygen": {"oxygen": 1},
    "release_oxygen": {"oxygen": -1},
    "oxidise_ammonium": {"ammonium": -1, "nitrite": 1, "oxygen": -48 / 14.007},
    "oxidise_nitrite": {"nitrite": -1, "nitrate": 1, "oxygen": -16 / 14.007},
    "grow_ammonia_oxidisers": {
        "ammonia_oxidisers": 1, "ammonium": -14.007 / (5 * 12.011), "phosphate": -0.02,
        "oxygen": 32 / 12.011,
    },
    "grow_nitrite_oxidisers": {
        "nitrite_oxidisers": 1, "ammonium": -14.007 / (5 * 12.011), "phosphate": -0.02,
        "oxygen": 32 / 12.011,
    },
    "decay_ammonia_oxidisers": {
        "ammonia_oxidisers": -1, "detritus_nitrogen": 14.007 / (5 * 12.011),
        "detritus_phosphorus": 0.02,
    },
    "decay_nitrite_oxidisers": {
        "nitrite_oxidisers": -1, "detritus_nitrogen": 14.007 / (5 * 12.011),
        "detritus_phosphorus": 0.02,
    },
    "hydrolyse_nitrogen": {"detritus_nitrogen": -1, "dom_nitrogen": 1},
    "hydrolyse_phosphorus": {"detritus_phosphorus": -1, "dom_phosphorus": 1},
    "mineralise_nitrogen": {"dom_nitrogen": -1, "ammonium": 1},
    "mineralise_phosphorus": {"dom_phosphorus": -1, "phosphate": 1},
    "photosynthesise_floater": {"floater_carbon": 1},
    "respire_floater": {"floater_carbon": -1},
    "shed_floater_carbon": {"floater_carbon": -1},
    "shed_floater_nitrogen": {"floater_nitrogen": -1, "ammonium": 0.25, "detritus_nitrogen": 0.75},
    "shed_floater_phosphorus": {
        "floater_phosphorus": -1, "phosphate": 0.25, "detritus_phosphorus": 0.75,
    },
    "take_up_ammonium_floater": {"ammonium": -1, "floater_nitrogen": 1},
    "take_up_nitrate_floater": {"nitrate": -1, "floater_nitrogen": 1},
    "take_up_phosphate_floater": {"phosphate": -1, "floater_phosphorus": 1},
}  # fmt: skip
"""What a unit of each row does to the states of this page."""


def share(x: float, half: float) -> float:
    """0 at none, one half at `half`, 1 at plenty."""
    return x / (half + x)


def within(x: float) -> float:
    """Held between 0 and 1."""
    return min(max(x, 0.0), 1.0)


def air_rates(y: Values, p: Values, given: Values) -> dict[str, float]:
    """Evaporation, and oxygen through the surface both ways."""
    reach = 1000.0 * given["oxygen_transfer"] * p["surface_area"]  # L/d
    return {
        "evaporate": given["evaporation"],
        "absorb_oxygen": reach * given["oxygen_at_saturation"],
        "release_oxygen": reach * y["oxygen"] / y["water"],
    }


def bacteria_rates(y: Values, p: Values, given: Values) -> dict[str, float]:
    """Ammonium to nitrite to nitrate, the bacteria that do it, and decay."""
    nh4, no2, o2, po4 = (y[n] / y["water"] for n in ("ammonium", "nitrite", "oxygen", "phosphate"))
    arrhenius = (1.0 / 298.15 - 1.0 / given["temperature"]) / 0.0083145
    warmth = exp(log(p["decay_q10"]) * 0.1 * (given["temperature"] - 298.15))
    cover = 1.0 - exp(-y["floater_carbon"] / 378.0 / p["surface_area"] * p["floater_cover_area"])
    film = p["wall_area"] + (2.0 + cover * p["floater_root_film"]) * p["surface_area"]
    most = p["nitrification_capacity"] * film
    wish1, wish2 = (y[f"{n}_oxidisers"] * p[f"{n}_oxidation_max"] for n in ("ammonia", "nitrite"))
    fit = within((given["ph"] - 5.5) / 1.6)
    first = wish1 * most / (wish1 + most) * exp(p["ammonia_oxidation_energy"] * arrhenius) * fit
    first *= share(nh4, p["ammonia_oxidiser_half"]) * share(o2, p["ammonia_oxidiser_oxygen_half"])
    second = wish2 * most / (wish2 + most) * exp(p["nitrite_oxidation_energy"] * arrhenius) * fit
    second *= share(no2, p["nitrite_oxidiser_half"]) * share(o2, p["nitrite_oxidiser_oxygen_half"])
    second *= 1.0 - share(given["ammonia"], p["nitrite_oxidiser_ammonia_inhibition"])
    supply = share(given["carbon"], 0.5) * share(po4, 0.001)
    decay, hydrolysis = p["nitrifier_decay"] * warmth, p["detritus_hydrolysis"] * warmth
    mineralisation = p["dom_mineralisation"] * warmth
    return {
        "oxidise_ammonium": first,
        "oxidise_nitrite": second,
        "grow_ammonia_oxidisers": first * p["ammonia_oxidiser_yield"] * supply,
        "grow_nitrite_oxidisers": second * p["nitrite_oxidiser_yield"] * supply * share(nh4, 0.005),
        "decay_ammonia_oxidisers": decay * y["ammonia_oxidisers"],
        "decay_nitrite_oxidisers": decay * y["nitrite_oxidisers"],
        "hydrolyse_nitrogen": hydrolysis * y["detritus_nitrogen"],
        "hydrolyse_phosphorus": hydrolysis * y["detritus_phosphorus"],
        "mineralise_nitrogen": mineralisation * y["dom_nitrogen"],
        "mineralise_phosphorus": mineralisation * y["dom_phosphorus"],
    }


def floater_rates(y: Values, p: Values, given: Values) -> dict[str, float]:
    """One floating plant: it grows on its reserves, fills them from the water, and ages."""
    f = {k.removeprefix("floater_"): v for k, v in p.items() if k.startswith("floater_")}
    dry, carbon, t = y["floater_carbon"] / 378.0, y["floater_carbon"], given["temperature"]
    thick = dry / p["surface_area"] * f["extinction"]
    light, half = given["light"] * p["light_factor"], f["light_half"]
    lit = log((half + light) / (half + light * exp(-thick))) / thick
    span = (f["coldest"] if t <= f["best"] else f["warmest"]) - f["best"]
    warm = 10.0 ** -(((t - f["best"]) / span) ** 2)
    food, hunger = given["other_nutrients"], {}
    for n in ("nitrogen", "phosphorus"):
        quota, low, high = y[f"floater_{n}"] / dry, f[f"{n}_min"], f[f"{n}_max"]
        food = min(food, within((1.0 - low / quota) * high / (high - low)))
        hunger[n] = dry * f[f"{n}_uptake_max"] * warm * within((high - quota) / (high - low))
    growth = f["growth_max"] * warm * lit * food * given["vigour"]
    loss = f["loss"] * exp(log(f["loss_q10"]) * 0.1 * (t - 298.15))
    steady = max(0.3 * f["growth_max"] * warm * food * given["vigour"] / (1.0 + thick), 1e-4)
    dead = min(steady / (exp(min(steady * f["life"], 50.0)) - 1.0), f["mortality_most"])
    nh4, no3, po4 = (y[n] / y["water"] for n in ("ammonium", "nitrate", "phosphate"))
    k = f["ammonium_half"]
    first = nh4 / (k + no3) * (no3 / (k + nh4) + k / (nh4 + no3))  # ammonium before nitrate
    wanted = hunger["nitrogen"] * f["nitrate_share"] * (0.5 + 0.5 * share(light, 5.0))
    return {
        "photosynthesise_floater": carbon * growth * (1.0 - f["water_share"]) * given["minerals"],
        "respire_floater": carbon * loss * (1.0 - f["root_respiration"]),
        "shed_floater_carbon": carbon * dead,
        "shed_floater_nitrogen": y["floater_nitrogen"] * dead,
        "shed_floater_phosphorus": y["floater_phosphorus"] * dead,
        "take_up_ammonium_floater": hunger["nitrogen"] * first * share(nh4, k),
        "take_up_nitrate_floater": wanted * (1.0 - first) * share(no3, f["nitrate_half"]),
        "take_up_phosphate_floater": hunger["phosphorus"] * share(po4, f["phosphate_half"]),
    }


def after_step(y: Values, p: Values, given: Values, days: float) -> dict[str, float]:
    """The states after a short step: every row's rate times what a unit of it does."""
    rates = air_rates(y, p, given) | bacteria_rates(y, p, given) | floater_rates(y, p, given)
    change = dict.fromkeys(y, 0.0)
    for row, rate in rates.items():
        for state, amount in CHANGES[row].items():
            change[state] += amount * rate * days
    return {state: y[state] + change[state] for state in y}
