"""The files of a rack folder and their columns: the one place they are listed.

Reading, writing and the description in `datapackage.json` all follow from here.
"""

from __future__ import annotations

from dataclasses import dataclass

from pleuston.records.kinds import FLOWS, KINDS, LIDS, WATER_KINDS


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a file, and the field of the record it fills."""

    name: str
    type: str
    """text, number, time or day-or-time."""
    meaning: str
    least: float | None = None
    most: float | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    field: str = ""

    @property
    def attribute(self) -> str:
        return self.field or self.name


@dataclass(frozen=True, slots=True)
class Table:
    """A file of a rack folder."""

    file: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    """The columns that name a row; no two rows share them."""
    required: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)


def _text(name: str, meaning: str, field: str = "") -> Column:
    return Column(name, "text", meaning, field=field)


def _name(name: str, meaning: str, field: str = "") -> Column:
    return Column(name, "text", meaning, required=True, field=field)


def _number(
    name: str, meaning: str, least: float = 0.0, most: float | None = None, required: bool = False
) -> Column:
    return Column(name, "number", meaning, least, most, required)


def _percent(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning, 0.0, 100.0)


def _amount(name: str, what: str) -> Column:
    return Column(name, "number", what, 0.0, None)


RACK_SETTINGS: dict[str, Column] = {
    column.name: column
    for column in (
        _text("name", "name of the rack"),
        _text("timezone", "time zone of times without offset, as in the IANA list"),
        _number("latitude_deg", "latitude [deg]", -90.0, 90.0),
        _number("altitude_m", "height above the sea [m]", -430.0, 6000.0),
        _number("room_c", "mean room temperature [degC]", -30.0, 60.0),
        _percent("room_humidity_pct", "mean relative humidity of the room [%]"),
        _text("region", "region, for notices about the law"),
        _number("round_minutes", "minutes that there are for a week's round [min]", 1.0, 10000.0),
    )
}

RACK = Table(
    "rack.csv",
    "one setting of the rack per row",
    (_name("key", "name of the setting"), _text("value", "its value")),
    key=("key",),
    required=True,
)
WATERS = Table(
    "waters.csv",
    "one analysis of a source water per row",
    (
        _name("water", "name of the water", field="name"),
        Column("kind", "text", "where it comes from", choices=WATER_KINDS, required=True),
        _amount("calcium_mg_l", "calcium [mg/L]"),
        _amount("magnesium_mg_l", "magnesium [mg/L]"),
        _amount("sodium_mg_l", "sodium [mg/L]"),
        _amount("potassium_mg_l", "potassium [mg/L]"),
        _amount("bicarbonate_mg_l", "bicarbonate [mg/L]"),
        _amount("sulfate_mg_l", "sulfate, as the ion [mg/L]"),
        _amount("chloride_mg_l", "chloride [mg/L]"),
        _amount("nitrate_mg_l", "nitrate, as the ion [mg/L]"),
        _amount("phosphate_mg_l", "phosphate, as the ion [mg/L]"),
        _amount("iron_mg_l", "iron [mg/L]"),
        _amount("copper_ug_l", "copper [ug/L]"),
        _amount("zinc_ug_l", "zinc [ug/L]"),
        _number("ph", "pH", 0.0, 14.0),
        _number("kh_dh", "carbonate hardness [German degrees]", 0.0, 200.0),
        _number("gh_dh", "general hardness [German degrees]", 0.0, 400.0),
        _number("ec25_us_cm", "conductivity at 25 degC [uS/cm]", 0.0, 1e5),
        Column("from", "day", "valid from this date", field="valid_from"),
        _text("note", "free text"),
    ),
    key=("water", "from"),
)
BLENDS = Table(
    "blends.csv",
    "one part of a blend of waters per row",
    (
        _name("blend", "name of the blend"),
        _name("part", "name of a water"),
        _number("share", "share of that water [1]", 0.0, 1.0, required=True),
    ),
    key=("blend", "part"),
)
FEEDS = Table(
    "feeds.csv",
    "one feed per row, of the feed as it is given",
    (
        _name("feed", "name of the feed", field="name"),
        _percent("protein_pct", "protein [% of mass]"),
        _percent("phosphorus_pct", "phosphorus [% of mass]"),
        _percent("potassium_pct", "potassium [% of mass]"),
        _number("copper_mg_kg", "copper [mg/kg]", 0.0, 1e6),
        _percent("moisture_pct", "moisture [% of mass]"),
        _text("note", "free text"),
    ),
    key=("feed",),
)
SOILS = Table(
    "soils.csv",
    "one batch of soil per row, of its dry mass",
    (
        _name("soil", "name of the soil", field="name"),
        _percent("organic_pct", "organic matter [% of dry mass]"),
        _percent("nitrogen_pct", "nitrogen [% of dry mass]"),
        _percent("phosphorus_pct", "phosphorus [% of dry mass]"),
        _number("copper_mg_kg", "copper [mg/kg of dry mass]", 0.0, 1e6),
        _text("note", "free text"),
    ),
    key=("soil",),
)
TANKS = Table(
    "tanks.csv",
    "one tank per row, as it was set up",
    (
        _name("tank", "name of the tank", field="name"),
        _number("net_l", "water it holds at its mark [L]", required=True),
        _number("surface_m2", "surface of the water [m2]", required=True),
        Column("lid", "text", "its lid", choices=LIDS, required=True),
        _number("heater_c", "heater set-point [degC]; empty when unheated", 0.0, 45.0),
        _number("light_hours", "hours of light per day [h]", 0.0, 24.0),
        _number("light_ppfd", "light at the water surface [umol m-2 s-1]", 0.0, 3000.0),
        _text("soil", "name of its soil"),
        _amount("soil_mm", "depth of the soil [mm]"),
        _amount("cap_mm", "depth of the cap over the soil [mm]"),
        Column("soil_since", "day", "when the soil was put in"),
        Column("started", "day", "when the tank was filled"),
        Column("flow", "text", "movement of the water", choices=FLOWS, required=True),
        _text("top_up_water", "the water or blend it is topped up with"),
        _percent("cover_target_pct", "share of the surface to leave under plants [%]"),
        _text("note", "free text"),
    ),
    key=("tank",),
    required=True,
)
ENTRIES = Table(
    "entries.csv",
    "one thing that happened per row; rows are added, never changed",
    (
        _text("id", "UUID; made when empty"),
        Column("at", "time", "when it happened", required=True),
        _text("tank", "name of the tank; empty where the whole rack is meant"),
        Column("kind", "text", "what kind of entry it is", choices=tuple(KINDS), required=True),
        _text("what", "what it concerns: a reading, feed, species, water, substance, sign, limit"),
        Column("low", "number", "lower end of the amount; empty: below the first step"),
        Column("high", "number", "upper end of the amount; empty: above the last step"),
        _text("unit", "unit of low and high"),
        _text("by", "who noted it"),
        _text("method", "how: kit, instrument, the pen's factor, mean mass; severity of a limit"),
        _text("note", "free text"),
    ),
    key=("id",),
    required=True,
)

TABLES = (RACK, WATERS, BLENDS, FEEDS, SOILS, TANKS, ENTRIES)
PACKAGE_FILE = "datapackage.json"
FILES = (*(table.file for table in TABLES), PACKAGE_FILE)
