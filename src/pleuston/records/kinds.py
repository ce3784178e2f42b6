"""The words a record is written in: kinds of entries, readings, signs, settings.

Each kind says what its `what` column names, which unit its amount has, and
whether it may concern the whole rack (an empty tank cell).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """What an entry of one kind may say."""

    name: str
    what: str
    """What the `what` column names: reading, feed, animal, plant, water, substance,
    sign, setting, limited, text or nothing."""
    unit: str
    """The unit amounts are written in; empty for counts and for no amount."""
    quantity: str
    """How the amount is read: mass, volume, count, time, number, varies or none."""
    rack_wide: bool = False
    """True where the tank cell may stay empty."""


@dataclass(frozen=True, slots=True)
class Written:
    """What a value in an entry is of, how it is written and which values are possible."""

    name: str
    unit: str
    """The unit it is written in; empty for pH alone."""
    quantity: str
    """The quantity it stands for, named as an instrument without fault would show it."""
    canonical: str
    """The unit of that quantity inside the program."""
    least: float
    """The smallest possible value, in the written unit."""
    most: float
    """The largest possible value, in the written unit."""


@dataclass(frozen=True, slots=True)
class Reading(Written):
    """What a reading measures."""

    meaning: str
    rack_wide: bool = False


@dataclass(frozen=True, slots=True)
class Setting:
    """A thing of a tank that a keeper can change."""

    name: str
    unit: str
    least: float
    most: float
    choices: tuple[str, ...] = ()
    """The words it may be; empty for numbers and for names of waters."""

    @property
    def is_number(self) -> bool:
        return bool(self.unit)


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("reading", "reading", "", "varies", rack_wide=True),
        Kind("feed", "feed", "g", "mass"),
        Kind("harvest", "plant", "g", "mass"),
        Kind("top_up", "water", "L", "volume"),
        Kind("water_change", "water", "L", "volume"),
        Kind("dose", "substance", "mg", "mass"),
        Kind("stock_in", "animal", "", "count"),
        Kind("stock_out", "animal", "", "count"),
        Kind("death", "animal", "", "count"),
        Kind("birth", "animal", "", "count"),
        Kind("plant_in", "plant", "g", "mass"),
        Kind("plant_out", "plant", "g", "mass"),
        Kind("seen", "sign", "", "number"),
        Kind("setting", "setting", "", "varies"),
        Kind("soil_disturbed", "text", "", "number"),
        Kind("power_off", "text", "", "none", rack_wide=True),
        Kind("power_on", "text", "", "none", rack_wide=True),
        Kind("holiday", "text", "day", "time", rack_wide=True),
        Kind("note", "text", "", "none", rack_wide=True),
        Kind("photo", "text", "", "none", rack_wide=True),
        Kind("limit", "limited", "", "varies", rack_wide=True),
        Kind("limit_end", "limited", "", "varies", rack_wide=True),
    )
}
LIMIT_KINDS = ("limit", "limit_end")
"""A keeper's own limit, and its end: own_limits.py."""

MOST_MG_L = 1e5
"""No dissolved thing of a tank reaches a tenth of a kilogram per litre."""

READINGS: dict[str, Reading] = {
    item.name: item
    for item in (
        Reading("ammonium", "mg/L", "ammonium", "mg/L", 0.0, MOST_MG_L,
                "total ammonia nitrogen (ammonia and ammonium together), as N"),
        Reading("ammonium_ion", "mg/L", "ammonium", "mg/L", 0.0, MOST_MG_L,
                "total ammonia as the ion NH4+"),
        Reading("nitrite", "mg/L", "nitrite", "mg/L", 0.0, MOST_MG_L, "nitrite, as N"),
        Reading("nitrite_ion", "mg/L", "nitrite", "mg/L", 0.0, MOST_MG_L,
                "nitrite as the ion NO2-"),
        Reading("nitrate", "mg/L", "nitrate", "mg/L", 0.0, MOST_MG_L, "nitrate, as N"),
        Reading("nitrate_ion", "mg/L", "nitrate", "mg/L", 0.0, MOST_MG_L,
                "nitrate as the ion NO3-"),
        Reading("phosphate_ion", "mg/L", "phosphate", "mg/L", 0.0, MOST_MG_L,
                "phosphate as the ion PO4(3-); inside it is mg of P"),
        Reading("potassium", "mg/L", "potassium", "mg/L", 0.0, MOST_MG_L, "potassium"),
        Reading("iron", "mg/L", "iron", "mg/L", 0.0, MOST_MG_L, "total dissolved iron"),
        Reading("copper", "mg/L", "copper", "mg/L", 0.0, MOST_MG_L, "total copper"),
        Reading("ph", "", "ph", "1", 0.0, 14.0, "pH"),
        Reading("kh", "dH", "kh", "meq/L", 0.0, 200.0, "carbonate hardness (alkalinity)"),
        Reading("gh", "dH", "gh", "meq/L", 0.0, 400.0, "general hardness (Ca and Mg)"),
        Reading("ec25", "uS/cm", "ec25", "uS/cm", 0.0, 1e5, "conductivity at 25 degC"),
        Reading("pen_ppm", "ppm", "ec25", "uS/cm", 0.0, 1e5,
                "what a dissolved-solids pen shows; its method holds the pen's factor"),
        Reading("temperature", "C", "temperature", "K", -2.0, 60.0, "water temperature"),
        Reading("oxygen", "mg/L", "oxygen", "mg/L", 0.0, 60.0, "dissolved oxygen"),
        Reading("oxygen_pct", "%", "oxygen_saturation", "1", 0.0, 400.0,
                "dissolved oxygen as a share of saturation with air"),
        Reading("cover", "%", "cover", "1", 0.0, 100.0,
                "share of the surface under floating plants"),
        Reading("level_drop", "mm", "level_drop", "m", 0.0, 2000.0,
                "how far the water stands below its mark"),
        Reading("room_temperature", "C", "room_temperature", "K", -30.0, 60.0,
                "air temperature of the room", rack_wide=True),
        Reading("humidity", "%", "room_humidity", "1", 0.0, 100.0,
                "relative humidity of the room", rack_wide=True),
        Reading("light_ppfd", "umol/m2/s", "light", "umol/m^2/s", 0.0, 3000.0,
                "photosynthetic light at the water surface"),
    )
}  # fmt: skip

LIMIT_SEVERITIES = ("watch", "act", "danger")
"""How bad it is to be beyond a limit, mild first."""


@dataclass(frozen=True, slots=True)
class Limited(Written):
    """What a keeper may set an own limit for."""

    sides: tuple[str, ...] = ("low", "high")
    """`low`: at least; `high`: at most."""


def _limited_readings() -> list[Limited]:
    """Readings whose quantity may have a limit, written as the readings are."""
    names = (
        "ammonium", "ammonium_ion", "nitrite", "nitrite_ion", "nitrate", "nitrate_ion",
        "potassium", "iron", "copper", "ph", "kh", "gh", "ec25", "temperature", "cover",
    )  # fmt: skip
    return [
        Limited(r.name, r.unit, r.quantity, r.canonical, r.least, r.most)
        for r in (READINGS[name] for name in names)
    ]


LIMITED: dict[str, Limited] = {
    item.name: item
    for item in (
        *_limited_readings(),
        Limited("phosphate_ion", "mg/L", "phosphate_ion", "mg/L", 0.0, MOST_MG_L),
        Limited("ammonia_nh3", "mg/L", "ammonia_nh3", "mg/L", 0.0, MOST_MG_L),
        Limited("oxygen_dawn", "mg/L", "oxygen_dawn", "mg/L", 0.0, 60.0),
        Limited("ec_step", "%", "ec_step", "1", 1.0, 100.0, ("high",)),
        Limited("ph_step", "", "ph_step", "1", 0.05, 14.0, ("high",)),
        Limited("temperature_step", "K", "temperature_step", "K", 0.1, 50.0, ("high",)),
    )
}
"""Steps are how far one day may move the water: of conductivity the share of what it was."""

LIDS = ("open", "partial", "tight")
FLOWS = ("still", "gentle", "strong")
WATER_KINDS = ("tap", "rain", "ro", "well", "bottle")

SETTINGS: dict[str, Setting] = {
    item.name: item
    for item in (
        Setting("light_hours", "h", 0.0, 24.0),
        Setting("light_ppfd", "umol/m2/s", 0.0, 3000.0),
        Setting("heater_c", "C", 0.0, 45.0),
        Setting("cover_target_pct", "%", 0.0, 100.0),
        Setting("lid", "", 0.0, 0.0, LIDS),
        Setting("flow", "", 0.0, 0.0, FLOWS),
        Setting("top_up_water", "", 0.0, 0.0),
    )
}

SIGNS: dict[str, str] = {
    "gasping": "animals breathe at the surface",
    "film": "a film or scum on the surface",
    "algae": "more algae than usual",
    "pale_leaves": "young or all leaves pale or yellow",
    "pinholes": "small holes in older leaves",
    "melt": "leaves fall apart quickly",
    "cloudy": "cloudy water",
    "snails_up": "many snails at or above the waterline",
    "stunted": "new leaves small or crippled",
    "roots_long": "roots of floating plants unusually long",
    "roots_shed": "roots of floating plants dropping off",
    "smell": "a smell of rot or rotten eggs",
    "bubbles_soil": "gas bubbles from the soil",
    "not_eating": "food is left",
    "hiding": "animals hide or lie still",
    "thin_animals": "animals thin, hollow-bellied or losing colour",
    "shells_pitted": "snail shells pitted or white",
    "moult_trouble": "shrimp die while moulting",
    "scale": "white crust at the waterline",
    "yellow_water": "water tinted yellow or brown",
    "dead_animal": "a dead animal found",
    "missing_animal": "an animal not seen",
}
"""Signs a keeper may note; other words are kept too, but nothing is concluded from them."""
