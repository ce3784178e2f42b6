"""The nine tanks: how they are set up and what will go wrong with them."""

from __future__ import annotations

from dataclasses import dataclass, field

from demo.world import IONS, World

LEMNA, SPIRODELA, SALVINIA = "Lemna minor", "Spirodela polyrhiza", "Salvinia natans"
SHRIMP, RAMSHORN, BLADDER = "Neocaridina davidi", "Planorbella duryi", "Physella acuta"

WATER_COLUMNS = (
    "water", "kind", "calcium_mg_l", "magnesium_mg_l", "sodium_mg_l", "potassium_mg_l",
    "bicarbonate_mg_l", "sulfate_mg_l", "chloride_mg_l", "nitrate_mg_l", "phosphate_mg_l",
    "iron_mg_l", "copper_ug_l", "zinc_ug_l", "ph", "kh_dh", "gh_dh", "ec25_us_cm", "from", "note",
)  # fmt: skip
WATERS = (
    ("hard tap", "tap", "92", "11", "25.5", "3.0", "268", "48", "38", "14", "0.3", "0.02", "9",
     "40", "7.5", "12", "15", "670", "2026-01-15", "supplier's sheet; run for two minutes first"),
    ("soft tap", "tap", "22", "3.2", "10.5", "1.2", "68", "16", "12", "4.0", "0.05", "0.02", "8",
     "30", "7.4", "3", "4", "200", "2026-01-15", "supplier's sheet; second supply of the house"),
    ("cellar tap", "tap", "22", "3.2", "10.5", "1.2", "68", "16", "12", "4.0", "0.05", "0.02", "",
     "", "7.4", "3", "4", "200", "2026-01-15", "same supply as soft tap; metals not known"),
    ("rain butt", "rain", "1.0", "0.2", "1.2", "0.3", "1.8", "1.9", "1.7", "1.5", "", "", "",
     "", "6.0", "", "", "15", "2026-01-20", "one analysis of a friend; felt roof"),
)  # fmt: skip
BLENDS = (("half rain", "hard tap", "0.5"), ("half rain", "rain butt", "0.5"))
NEW_PIPE_COPPER = 0.60
"""mg/L in what stood in the new pipe to the cellar tap, from week 9 on; nobody measured it."""


def analysis(name: str) -> dict[str, float]:
    """True make-up of a water [mg/L of the element, sulfate as ion, alkalinity meq/L]."""
    if name == "half rain":
        parts = (analysis("hard tap"), analysis("rain butt"))
        return {ion: 0.5 * (parts[0][ion] + parts[1][ion]) for ion in IONS}
    row = dict(zip(WATER_COLUMNS, next(w for w in WATERS if w[0] == name), strict=True))
    known = {key: float(value) for key, value in row.items() if _is_number(value)}
    return {
        "ca": known["calcium_mg_l"], "mg": known["magnesium_mg_l"], "na": known["sodium_mg_l"],
        "k": known["potassium_mg_l"], "cl": known["chloride_mg_l"], "so4": known["sulfate_mg_l"],
        "alk": known["bicarbonate_mg_l"] / 61.017, "tan": 0.01, "no2": 0.0,
        "no3": known["nitrate_mg_l"] * 14.007 / 62.004,
        "po4": known.get("phosphate_mg_l", 0.0) * 30.974 / 94.971,
        "cu": known.get("copper_ug_l", 5.0) / 1000.0,
    }  # fmt: skip


def _is_number(value: str) -> bool:
    return bool(value) and value.replace(".", "", 1).isdigit()


@dataclass(frozen=True)
class Story:
    """One tank: what the record says of it, and its hidden start."""

    tank: str
    net_l: float
    surface: float
    lid: str
    flow: str
    heater: float | None
    hours: float
    ppfd: float
    soil: str
    soil_mm: int
    cap_mm: int
    started: str
    water: str
    target: int
    feed: str
    portion: float
    """Grams of feed on a feeding day."""
    feed_days: tuple[int, ...]
    """Days of the week, Monday 0."""
    plants: dict[str, float]
    animals: dict[str, int]
    rooted: tuple[str, float]
    start_mix: tuple[tuple[str, float], ...]
    """Waters and factors that give the water of the first day."""
    start: dict[str, float] = field(default_factory=dict)
    """Concentrations of the first day that differ from that mix [mg/L]."""
    hidden: dict[str, float] = field(default_factory=dict)
    """Other true values of the world."""
    pen_shows_ec: bool = False
    cause: str = "nothing_wrong"
    since_week: int = 1
    """The week in which it could first be seen."""
    truth: str = ""

    def world(self) -> World:
        """The true tank on its first day."""
        mg = dict.fromkeys(IONS, 0.0)
        for water, factor in self.start_mix:
            for ion, value in analysis(water).items():
                mg[ion] += factor * value * self.net_l
        for ion, value in self.start.items():
            old, mg[ion] = mg[ion], value * self.net_l
            if ion == "no3":
                mg["na"] += max(0.0, (mg[ion] - old) / 14.007 * 22.99)
        world = World(
            self.net_l, self.surface, self.lid, self.flow, self.heater, self.hours, self.ppfd, mg,
            dict(self.plants), dict(self.animals), rooted=self.rooted[1], litres=self.net_l,
        )  # fmt: skip
        for name, value in self.hidden.items():
            setattr(world, name, value)
        return world


WEEKDAYS = (0, 1, 2, 3, 4)
STORIES = (
    Story(
        "Alder", 24.0, 0.080, "tight", "still", None, 9.0, 70.0, "mineralised soil", 25, 25,
        "2024-05-11", "soft tap", 40, "flake", 0.036, (0, 1, 3, 4, 6), {LEMNA: 9.0},
        {"Boraras brigittae": 8, SHRIMP: 14}, ("Cryptocoryne wendtii", 40.0),
        (("soft tap", 1.35),), {"no3": 1.4, "po4": 0.08, "k": 5.0, "tan": 0.02},
        {"soil_n": 350.0, "soil_k": 500.0, "rooted_rate": 0.010}, truth="steady under its lid",
    ),
    Story(
        "Birch", 40.0, 0.120, "open", "still", 24.0, 9.0, 85.0, "garden soil", 30, 30,
        "2023-09-02", "hard tap", 45, "flake", 0.07, (0, 1, 2, 4, 5), {SPIRODELA: 15.0},
        {"Poecilia wingei": 9, RAMSHORN: 8}, ("Vallisneria spiralis", 50.0),
        (("hard tap", 1.08),), {"no3": 2.6, "po4": 0.15, "k": 6.0, "tan": 0.03}, {},
        True, "salt_creep", 4,
        "an open tank is topped up with hard tap only: dissolved solids go up week by week",
    ),
    Story(
        "Cedar", 30.0, 0.100, "partial", "gentle", 23.0, 9.0, 75.0, "garden soil", 25, 30,
        "2024-02-17", "cellar tap", 40, "shrimp pellet", 0.05, (0, 2, 3, 5), {LEMNA: 11.0},
        {SHRIMP: 34, BLADDER: 15}, ("Sagittaria subulata", 35.0),
        (("soft tap", 1.7),), {"no3": 1.8, "po4": 0.10, "k": 4.5, "tan": 0.02}, {},
        False, "copper_source", 10,
        "new copper pipe to the cellar tap from week 9; standing water holds 0.6 mg/L copper",
    ),
    Story(
        "Dogwood", 36.0, 0.120, "partial", "still", 24.0, 10.0, 100.0, "garden soil", 30, 30,
        "2024-08-24", "half rain", 45, "granule", 0.09, (0, 1, 2, 3, 4, 5), {LEMNA: 13.0},
        {"Danio margaritatus": 14, "Corydoras pygmaeus": 8}, ("Hygrophila difformis", 40.0),
        (("hard tap", 0.95),), {"no3": 3.2, "po4": 0.25, "k": 9.0, "tan": 0.03},
        {"soil_k": 1800.0}, True, "overgrown_cover", 7,
        "thinning is left out from week 5: the mat closes and dawn oxygen falls",
    ),
    Story(
        "Elder", 28.0, 0.100, "open", "still", 23.0, 9.0, 80.0, "garden soil", 25, 25,
        "2021-04-10", "rain butt", 40, "flake", 0.06, (0, 1, 2, 4, 5), {LEMNA: 11.0},
        {"Tanichthys albonubes": 6, RAMSHORN: 5}, ("Bacopa monnieri", 35.0),
        (("hard tap", 0.45), ("rain butt", 0.55)),
        {"no3": 2.2, "po4": 0.20, "k": 2.7, "tan": 0.02},
        {"soil_n": 250.0, "soil_k": 10.0, "p_rest": 0.12, "denitrify": 0.002},
        False, "potassium_short", 9,
        "old soil and rain hold no potassium: growth stalls while nitrate rises",
    ),
    Story(
        "Fern", 45.0, 0.135, "partial", "still", 24.5, 9.0, 85.0, "mineralised soil", 30, 30,
        "2024-01-20", "half rain", 45, "flake", 0.10, (0, 1, 2, 3, 4), {SPIRODELA: 17.0},
        {"Poecilia reticulata": 10, RAMSHORN: 6}, ("Vallisneria spiralis", 55.0),
        (("hard tap", 1.0),), {"no3": 3.0, "po4": 0.20, "k": 7.0, "tan": 0.03},
        {"most_oxidise": 0.8, "soil_k": 1500.0}, True, "overfeeding", 9,
        "three times the feed from week 8",
    ),
    Story(
        "Gorse", 35.0, 0.110, "open", "still", None, 8.5, 80.0, "garden soil", 25, 30,
        "2023-03-18", "rain butt", 45, "algae wafer", 0.06, (0, 2, 4, 6), {LEMNA: 12.0},
        {RAMSHORN: 26, SHRIMP: 10}, ("Sagittaria subulata", 40.0),
        (("hard tap", 0.27), ("rain butt", 0.73)),
        {"no3": 1.5, "po4": 0.15, "k": 5.0, "tan": 0.02},
        {"soil_n": 450.0, "soil_k": 900.0}, False, "hardness_draining", 6,
        "rain only: carbonate hardness drains, shells pit, snails die and foul the water",
    ),
    Story(
        "Hazel", 50.0, 0.180, "partial", "gentle", 24.0, 9.0, 95.0, "garden soil", 30, 30,
        "2024-10-05", "soft tap", 50, "granule", 0.09, (0, 1, 2, 3, 4, 5),
        {LEMNA: 6.0, SPIRODELA: 6.0, SALVINIA: 9.0}, {"Hyphessobrycon amandae": 16, BLADDER: 12},
        ("Helanthium tenellum", 45.0), (("soft tap", 1.9),),
        {"no3": 2.5, "po4": 0.18, "k": 7.0, "tan": 0.02}, {"soil_k": 1600.0, "soil_n": 700.0},
        True, "nothing_wrong", 1, "three floating plants in three rings, weighed every week",
    ),
    Story(
        "Iris", 32.0, 0.110, "partial", "still", 24.0, 8.0, 70.0, "potting soil", 25, 30,
        "2026-03-02", "half rain", 45, "shrimp pellet", 0.03, (0, 2, 4, 5), {LEMNA: 5.0},
        {}, ("Vallisneria spiralis", 25.0), (("half rain", 1.0),), {},
        {"soil_n": 750.0, "soil_n_rate": 0.022, "p_rest": 0.12, "soil_k": 1500.0,
         "oxidise_tan": 0.02, "oxidise_no2": 0.015, "detritus": 5.0, "rooted_rate": 0.03,
         "most_oxidise": 4.0}, False, "young_bacteria", 1,
        "a new soil tank: ammonia, then nitrite, then animals in week 7",
    ),
)  # fmt: skip

TANK_COLUMNS = (
    "tank", "net_l", "surface_m2", "lid", "heater_c", "light_hours", "light_ppfd", "soil",
    "soil_mm", "cap_mm", "soil_since", "started", "flow", "top_up_water", "cover_target_pct",
    "note",
)  # fmt: skip
RACK = (
    ("name", "Invented demo rack"), ("timezone", "Etc/GMT-1"), ("latitude_deg", "50"),
    ("altitude_m", "100"), ("room_c", "22"), ("room_humidity_pct", "48"), ("region", ""),
)  # fmt: skip


def tank_rows() -> list[tuple[str, ...]]:
    """The rows of tanks.csv."""
    rows: list[tuple[str, ...]] = []
    for s in STORIES:
        heater = "" if s.heater is None else f"{s.heater:g}"
        rows.append((
            s.tank, f"{s.net_l:g}", f"{s.surface:g}", s.lid, heater, f"{s.hours:g}",
            f"{s.ppfd:g}", s.soil, str(s.soil_mm), str(s.cap_mm), s.started, s.started, s.flow,
            s.water, str(s.target), "invented",
        ))  # fmt: skip
    return rows
