"""What a source water would do to a tank: CO2 and pH, softened water, nutrients, copper, salts."""

from __future__ import annotations

from pleuston.chemistry.evaporation import evaporation_shah
from pleuston.planning.limits import WaterState, limits_for
from pleuston.records.composition import element_share, molar_mass
from pleuston.records.library import library
from pleuston.records.record import Water
from pleuston.services import water_sums as sums
from pleuston.services.water_words import Finding, finding

FREQUENT_SHRIMP, FREQUENT_FISH = "Neocaridina davidi", "Poecilia wingei"
CO2_MUCH, CO2_ODD = 30.0, 150.0
"""CO2 that gasses animals when much fresh tap is used, and that no supply holds [mg/L]."""
SODIUM_SHARE = 0.6
"""Share of sodium among the cations from which a water counts as softened."""
NITRATE_LIMIT, NITRATE_LOOK = 50.0, 25.0
"""Nitrate of drinking water at most, and half of it [mg/L of the ion]; common practice."""
PHOSPHATE_LOOK = 1.0
NITROGEN_OF_PROTEIN = 0.16
COPPER_OF_MG = 0.2
"""Below this a copper number is more likely mg/L than ug/L."""
COPPER_DRINKING = 2000.0
"""Copper in drinking water at most [ug/L]; common practice."""
FIRST_DRAW = "water that stood in copper pipes overnight can hold ten times more than after a flush"
TANK_LITRES, TANK_SURFACE = 30.0, 0.1
TANK_KELVIN, ROOM_KELVIN, ROOM_HUMIDITY = 297.15, 294.15, 0.5
LID = 0.35
"""Share of open evaporation under a partial lid."""
YEAR = 365.0
EC_RISE_LOOK = 250.0
"""Rise of conductivity in a year of topping up that asks for softer water [uS/cm]."""
HOUSEHOLD = ("tap", "well")


def effects(water: Water) -> list[Finding]:
    """Findings about what the water does, as far as the analysis says."""
    return [
        *_carbon(water), *_softened(water), *_nutrients(water), *_copper(water), *_iron(water),
        *_top_up(water),
    ]  # fmt: skip


def _carbon(water: Water) -> list[Finding]:
    """CO2 of the water as drawn, and its pH after standing."""
    co2 = sums.co2(water)
    if not sums.alkalinity(water) or sums.strength(water) > sums.FRESH_MOST:
        return []
    air = sums.co2_of_air(sums.OUTDOOR_CO2)
    found = []
    if co2 is not None:
        times = co2 / air
        word, said = "fine", f"{times:.0f} times what air keeps dissolved: it gasses out"
        if times < 2.0:
            said = "about what air keeps dissolved"
        if times < 0.5:
            word, said = "look", "less than air keeps dissolved: limed, boiled or aerated water"
        if co2 > CO2_MUCH:
            word, said = "look", f"{times:.0f} times what air keeps: let it stand or aerate it"
        if co2 > CO2_ODD:
            word, said = "slip", "more than a supply holds: check the pH and the alkalinity"
        reason = f"from pH {float(water.ph or 0.0):g} and alkalinity at 25 degC; {said}"
        found.append(finding("co2", co2, "mg/L", word, reason, "plummer1982", None, CO2_MUCH))
    outdoors = sums.standing_ph(water, sums.OUTDOOR_CO2)
    indoors = sums.standing_ph(water, sums.INDOOR_CO2)
    drawn = f" (as drawn {float(water.ph):g})" if water.ph is not None else ""
    reason = (
        f"pH after standing in air: {outdoors:.2f} with 420 ppm CO2, {indoors:.2f} in a room "
        f"with 1000 ppm{drawn}"
    )
    found.append(
        finding("ph_after_standing", outdoors, "1", "fine", reason, "plummer1982", indoors,
                outdoors)
    )  # fmt: skip
    return found


def _softened(water: Water) -> list[Finding]:
    sodium, alkalinity = sums.given(water, "sodium"), sums.alkalinity(water)
    hard = sums.gh_noted(water)
    if sodium is None or alkalinity is None or hard is None or water.kind in ("rain", "ro"):
        return []
    meq = sodium / float(molar_mass("sodium"))
    share = meq / (meq + hard) if meq + hard > 0.0 else 0.0
    if share <= SODIUM_SHARE or hard >= alkalinity:
        word, said = "fine", "hardness and sodium are as in water that was not softened"
    else:
        word = "act" if hard < 0.36 else "look"
        said = (
            f"sodium is {100 * share:.0f} % of the cations and GH ({sums.dh(hard):.2g} dH) is "
            f"below KH ({sums.dh(alkalinity):.2g} dH): the sign of a household softener; snails "
            "and shrimp lack calcium in it, so take water from before the softener"
        )
    return [
        finding("softened", share, "1", word, said, "common_practice", None, SODIUM_SHARE)
    ]  # fmt: skip


def _nutrients(water: Water) -> list[Finding]:
    found = []
    nitrate, phosphate = sums.given(water, "nitrate"), sums.given(water, "phosphate")
    flake = library().feeds["flake"]
    if nitrate is not None:
        nitrogen = nitrate * float(element_share("nitrate"))
        protein = (flake.protein_pct or 0.0) / 100.0
        feed = nitrogen / (1000.0 * NITROGEN_OF_PROTEIN * protein)
        word = "fine" if nitrate <= NITRATE_LOOK else "look" if nitrate <= NITRATE_LIMIT else "act"
        reason = (
            f"a litre brings {nitrogen:.2g} mg of nitrogen, as much as {1000 * feed:.2g} mg of "
            "flake feed; plants can use it"
        )
        if word != "fine":
            reason += f"; drinking water holds at most {NITRATE_LIMIT:g} mg/L"
        found.append(
            finding("nitrate", nitrate, "mg/L", word, reason, "common_practice", None,
                    NITRATE_LIMIT)
        )  # fmt: skip
    if phosphate is not None:
        phosphorus = phosphate * float(element_share("phosphate"))
        word = "fine" if phosphate <= PHOSPHATE_LOOK else "look"
        reason = f"a litre brings {phosphorus:.2g} mg of phosphorus"
        if word == "look":
            reason += ": dosed against lead or copper pipes, or fertiliser has come in"
        found.append(
            finding("phosphate", phosphate, "mg/L", word, reason, "common_practice", None,
                    PHOSPHATE_LOOK)
        )  # fmt: skip
    return found


def _copper(water: Water) -> list[Finding]:
    """Copper against invertebrates and fish, at the water's hardness and no organic carbon."""
    if water.copper_ug_l is None:
        if water.kind not in HOUSEHOLD:
            return []
        reason = f"copper is not given: have it measured, first draw and flushed; {FIRST_DRAW}"
        return [finding("copper", None, "ug/L", "look", reason, "common_practice")]
    copper = float(water.copper_ug_l)
    found = []
    if 0.0 < copper < COPPER_OF_MG and water.kind in HOUSEHOLD:
        reason = (
            f"{copper:g} ug/L is less than a supply holds; if mg/L was meant it is "
            f"{1e3 * copper:g} ug/L"
        )
        found.append(
            finding("likely_slip_copper", 1e3 * copper, "ug/L", "slip", reason, "common_practice")
        )
    if copper > COPPER_DRINKING:
        reason = "more than drinking water may hold: check the unit (ug/L) and the decimal point"
        found.append(
            finding("likely_slip_copper", copper, "ug/L", "slip", reason, "common_practice", None,
                    COPPER_DRINKING)
        )  # fmt: skip
    return [*found, _copper_finding(water, copper)]


def _copper_finding(water: Water, copper: float) -> Finding:
    ph = None if water.ph is None else float(water.ph)
    state = WaterState(ph=ph, gh=sums.gh_noted(water), dissolved_carbon=0.0)
    limits = {
        (animal, limit.severity): limit
        for animal in (FREQUENT_SHRIMP, FREQUENT_FISH)
        for limit in limits_for([animal], state)
        if limit.quantity == "copper"
    }
    watch, act = limits[FREQUENT_SHRIMP, "watch"], limits[FREQUENT_SHRIMP, "act"]
    fish = limits[FREQUENT_FISH, "watch"]
    word = "fine"
    if copper > 1e3 * watch.value:
        word = "act" if copper > 1e3 * act.value else "look"
    chosen = act if word == "act" else watch
    reason = (
        f"shrimp and snails: watch above {1e3 * watch.value:.3g}, act above {1e3 * act.value:.3g}; "
        f"fish: watch above {1e3 * fish.value:.3g} ug/L, at this hardness and without organic "
        "carbon"
    )
    if water.kind in HOUSEHOLD:
        reason += f". {_draw(water)}"
    high = 1e3 * watch.value
    return finding("copper", copper, "ug/L", word, reason, chosen.source, None, high)


def _draw(water: Water) -> str:
    note = f"{water.name} {water.note}".casefold()
    if any(word in note for word in ("first draw", "stagn", "stood", "overnight")):
        return "A first draw: let it run until cold, and measure again"
    if any(word in note for word in ("flush", "run for", "ran ", "after a minute")):
        return f"A flushed sample; {FIRST_DRAW}, so run the tap before filling the can"
    return f"Not said whether first draw or flushed; {FIRST_DRAW}"


def _iron(water: Water) -> list[Finding]:
    """Iron that is more likely ug/L than mg/L."""
    if water.iron_mg_l is None or float(water.iron_mg_l) <= 5.0:
        return []
    iron = float(water.iron_mg_l)
    reason = f"{iron:g} mg/L would be rusty brown; if ug/L was meant it is {iron / 1e3:g} mg/L"
    return [finding("likely_slip_iron", iron / 1e3, "mg/L", "slip", reason, "common_practice")]


def _top_up(water: Water) -> list[Finding]:
    """How fast the water's own salts pile up when it replaces what evaporates."""
    open_water = float(evaporation_shah(TANK_KELVIN, ROOM_KELVIN, ROOM_HUMIDITY, 1.0))
    litres = open_water * TANK_SURFACE * LID
    days = TANK_LITRES / litres
    whole = not sums.missing(water)
    ec = float(water.ec25_us_cm) if water.ec25_us_cm is not None else None
    if ec is None:
        ec = sums.ec25(water) / sums.HIGH_BY if whole else None
    if ec is None:
        return []
    rise = ec * YEAR / days
    word = "fine" if rise <= EC_RISE_LOOK else "look"
    reason = (
        f"days until top-up has brought its own salts once more: {TANK_LITRES:g} L over "
        f"{litres:.2g} L/d under a partial lid; conductivity then rises by about {rise:.0f} "
        "uS/cm a year if nothing takes salts out"
    )
    if word == "look":
        reason += ": blend it with rain or reverse-osmosis water"
    return [finding("salts_double", days, "d", word, reason, "shah2014")]
