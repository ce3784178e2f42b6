"""A tank of another make: pools in hourly steps, simple rules, numbers invented for it.

Nothing here is taken from the program's model or its parameter files. Pools are few, plants
have no reserves, pH follows a rule of thumb, bacteria are a capacity, and oxygen one equation.
It is a truth to learn from, not a good model: being unlike the program's own is its purpose.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

HOURS = 24
WET = {"nitrogen": 2.6, "phosphorus": 0.42, "potassium": 2.1, "iron": 0.012}
"""What a gram of drained floating plants holds [mg]; invented for the twin."""
FOOD = {"nitrogen": 68.0, "phosphorus": 11.0, "potassium": 8.0}
"""What a gram of food holds [mg]; invented for the twin."""
EQUIVALENT = 2.8 / 14.0
"""Carbonate hardness of one milligram of nitrogen per litre that gains or loses a proton [dH]."""
HALF = {"nitrogen": 0.12, "phosphorus": 0.02, "potassium": 0.7, "iron": 0.008}
"""Concentrations at which plants take half of what they could [mg/L]."""


@dataclass
class Kind:
    """A floating plant of the twin."""

    name: str
    growth: float
    dense: float
    """Drained grams that close a square metre."""


KINDS = {
    "Lemna minor": Kind("Lemna minor", 0.27, 520.0),
    "Spirodela polyrhiza": Kind("Spirodela polyrhiza", 0.22, 820.0),
    "Salvinia natans": Kind("Salvinia natans", 0.19, 1100.0),
    "Pistia stratiotes": Kind("Pistia stratiotes", 0.16, 3200.0),
}


@dataclass
class Pour:
    """A water that comes in: hardness [dH], other salts [uS/cm], nutrients [mg/L]."""

    name: str
    kind: str
    kh: float
    gh: float
    salts: float
    nitrate: float = 1.0
    phosphorus: float = 0.03
    potassium: float = 1.5
    iron: float = 0.01
    copper: float = 0.004
    sodium: bool = False

    @property
    def conductivity(self) -> float:
        """As a pen would show it [uS/cm]."""
        return 31.0 * max(self.gh, self.kh if self.sodium else 0.0) + self.salts


@dataclass
class Build:
    """What a tank is: its dimensions, lamp, lid, bed and habits of its water."""

    litres: float = 28.0
    area: float = 0.11
    lid: str = "open"
    light: float = 75.0
    hours: float = 9.0
    heater: float | None = None
    flow: str = "still"
    soil_age: float = 500.0
    soil_store: float = 900.0
    """Nitrogen that the soil may still let out [mg]."""
    soil_potassium: float = 250.0
    rooted: float = 60.0
    bacteria: float = 14.0
    """Ammonia that the bacteria turn in a day at most [mg of N]."""
    leach: float = 0.0
    """Hardness that stones and soil give [dH/week]."""
    denitrify: float = 0.05
    """Share of the nitrate that the bed takes in a day."""
    iron_rise: float = 0.004
    """Iron that soil and food give [mg/L a day]."""


LID = {"open": 1.0, "partial": 0.5, "tight": 0.12}
STIR = {"still": 0.085, "gentle": 0.1, "strong": 0.13}
"""Exchange with the air [m/h]."""


@dataclass
class World:
    """One tank and its hidden state, stepped by the hour."""

    build: Build
    pour: Pour
    chance: np.random.Generator
    plants: dict[str, float]
    """Drained grams of each floating plant."""
    animals: dict[str, float] = field(default_factory=dict)
    mass: dict[str, float] = field(default_factory=dict)
    """Grams of one animal of each kind."""
    room: float = 21.5
    season: float = 0.0
    """Warming of the room [K/week]."""

    def __post_init__(self) -> None:
        b = self.build
        self.hour = 0
        self.level = b.litres
        self.temperature = b.heater or self.room
        self.kh, self.gh, self.salts = self.pour.kh, self.pour.gh, self.pour.salts
        self.ammonia, self.nitrite = 0.02 * b.litres, 0.01 * b.litres
        self.nitrate, self.phosphorus = 1.2 * b.litres, 0.08 * b.litres
        self.potassium = (0.5 * self.pour.potassium + 2.0) * b.litres
        self.iron, self.copper = 0.03 * b.litres, self.pour.copper * b.litres
        self.oxygen, self.debris, self.film = 7.0, 40.0, 0.1
        self.copper_bed = 0.0
        self.gut = 0.0
        self.bacteria = b.bacteria
        self.second = 0.9 * b.bacteria
        self.rooted = b.rooted
        self.soil = b.soil_store
        self.soil_potassium = b.soil_potassium
        self.dimmed = 1.0
        self.stalled = 1.0
        self.eaten = 0.0
        self.filming = 0.0
        self.taken = dict.fromkeys(WET, 0.0)
        self.given = {"nitrogen": 0.0}
        self.lost_nitrogen = 0.0
        self.lowest = 9.0
        self.highest_ammonia = 0.0
        self.died: dict[str, int] = {}
        self.poured = 0.0
        self.away = 0.0

    # what can be read

    def at(self, name: str) -> float:
        """Concentration of a pool [mg/L]."""
        return float(getattr(self, name)) / self.level

    @property
    def cover(self) -> float:
        """Share of the surface under floating plants."""
        full = sum(g / KINDS[n].dense for n, g in self.plants.items()) / self.build.area
        return float(1.0 - np.exp(-full * 2.3) if full < 2.0 else 0.99)

    @property
    def conductivity(self) -> float:
        """Conductivity at 25 degrees [uS/cm]."""
        nitrate = self.nitrate / self.level
        hard = max(self.gh, self.kh) if self.pour.sodium else self.gh
        return float(31.0 * hard + self.salts + 5.2 * nitrate + 1.7 * self.potassium / self.level)

    @property
    def ph(self) -> float:
        """A rule of thumb: hardness lifts it, the day lifts it, a closed mat lowers it."""
        day = 0.25 if self.lit else -0.1
        return float(np.clip(6.85 + 0.75 * np.log10((self.kh + 0.15) / 4.0)
                             + day - 0.25 * self.cover, 4.5, 8.6))  # fmt: skip

    @property
    def toxic(self) -> float:
        """Free ammonia [mg/L of N]; Emerson et al. 1975, as keepers' tables give it."""
        power = 0.0902 + 2729.92 / (273.15 + self.temperature) - self.ph
        return float(self.at("ammonia") / (1.0 + 10.0**power))

    @property
    def lit(self) -> bool:
        """Whether the lamp is on."""
        return 8.0 <= self.hour % HOURS < 8.0 + self.build.hours

    # what is done to it

    def feed(self, grams: float) -> None:
        """Food in: a third leaves the animals as ammonia, the rest lies there at last."""
        mouths = sum(n * self.mass[s] for s, n in self.animals.items())
        eaten = min(grams, 0.05 * mouths)
        nitrogen = grams * FOOD["nitrogen"]
        share = eaten / grams if grams > 0.0 else 0.0
        self.gut += 0.42 * share * nitrogen
        self.debris += nitrogen * (1.0 - 0.42 * share)
        self.phosphorus += 0.6 * grams * FOOD["phosphorus"]
        self.potassium += grams * FOOD["potassium"]
        self.film = min(1.0, self.film + 1.2 * max(grams - eaten, 0.0))
        self.given["nitrogen"] += nitrogen

    def harvest(self, name: str, grams: float) -> float:
        """Take out a plant; gives what was taken."""
        taken = min(grams, 0.95 * self.plants.get(name, 0.0))
        self.plants[name] = self.plants.get(name, 0.0) - taken
        self.lost_nitrogen += taken * WET["nitrogen"]
        return taken

    def fill(self, litres: float, water: Pour | None = None) -> None:
        """Pour water in."""
        water = water or self.pour
        before, self.level = self.level, self.level + litres
        for name in ("kh", "gh", "salts"):
            mixed = (getattr(self, name) * before + getattr(water, name) * litres) / self.level
            setattr(self, name, mixed)
        for name in ("nitrate", "phosphorus", "potassium", "iron", "copper"):
            setattr(self, name, getattr(self, name) + getattr(water, name) * litres)
        self.given["nitrogen"] += water.nitrate * litres
        self.temperature += (19.0 - self.temperature) * min(litres / self.level, 0.5) * 0.5
        self.poured += litres

    def change(self, litres: float, water: Pour | None = None) -> None:
        """Take water out and pour as much in."""
        share = min(litres / self.level, 0.9)
        for name in ("ammonia", "nitrite", "nitrate", "phosphorus", "potassium", "iron", "copper"):
            gone = share * getattr(self, name)
            setattr(self, name, getattr(self, name) - gone)
            if name in ("ammonia", "nitrite", "nitrate"):
                self.lost_nitrogen += gone
        self.level *= 1.0 - share
        before = self.poured
        self.fill(litres, water)
        self.poured = before
        self.oxygen += (8.0 - self.oxygen) * share

    def dose(self, substance: str, milligrams: float) -> None:
        """Salts by their chemical name."""
        if substance == "potassium sulfate":
            self.potassium += 0.449 * milligrams
            self.salts += 1.5 * milligrams / self.level
        elif substance == "sodium bicarbonate":
            self.kh += milligrams / self.level / 30.0
            self.salts += 0.9 * milligrams / self.level
        elif substance == "calcium carbonate":
            self.kh += milligrams / self.level / 17.8
            self.gh += milligrams / self.level / 17.8
        elif substance == "chelated iron":
            self.iron += 0.1 * milligrams

    def rot(self, nitrogen: float) -> None:
        """Dead matter in [mg of N]."""
        self.debris += nitrogen
        self.given["nitrogen"] += nitrogen

    # an hour

    def step(self) -> None:
        """One hour."""
        self._warm()
        self._plants()
        self._nitrogen()
        self._air()
        self._animals()
        self._water()
        self.hour += 1

    def day(self) -> None:
        """Twenty-four hours; lowest oxygen and highest free ammonia are of this day."""
        self.lowest, self.highest_ammonia = 99.0, 0.0
        for _ in range(HOURS):
            self.step()
            self.lowest = min(self.lowest, self.oxygen)
            self.highest_ammonia = max(self.highest_ammonia, self.toxic)

    def _warm(self) -> None:
        outside = self.room + self.season * self.hour / 168.0 + 0.5 * np.sin(
            2.0 * np.pi * (self.hour % HOURS - 9.0) / HOURS)  # fmt: skip
        aim = outside + (0.8 if self.lit else 0.0)
        if self.build.heater is not None:
            aim = max(aim, self.build.heater)
        self.temperature += 0.09 * (aim - self.temperature)

    def _plants(self) -> None:
        light = self.build.light * self.dimmed
        bright = light / (light + 45.0) if self.lit else 0.0
        warm = float(np.exp(-(((self.temperature - 26.0) / 9.0) ** 2)))
        food = {"nitrogen": (self.ammonia + self.nitrate) / self.level,
                "phosphorus": self.at("phosphorus"), "potassium": self.at("potassium"),
                "iron": self.at("iron")}  # fmt: skip
        least = min(c / (c + HALF[n]) for n, c in food.items())
        self.scarce = min(food, key=lambda n: food[n] / (food[n] + HALF[n]))
        self.fed = least
        closed = self.cover
        poison = 1.0 / (1.0 + (self.at("copper") / 0.35) ** 3)
        still = {"still": 1.0, "gentle": 0.92, "strong": 0.55}[self.build.flow]
        for name, grams in self.plants.items():
            kind = KINDS[name]
            rate = kind.growth * bright * warm * least * poison * still * self.stalled
            grown = grams * rate * max(1.0 - closed / 1.06, 0.0) / 9.0 * (24.0 / HOURS)
            gone = grams * (0.012 + self.eaten) / HOURS
            self.plants[name] = max(grams + grown - gone, 0.02)
            self._eat(grown)
            self.debris += gone * WET["nitrogen"]
            self.potassium += 0.6 * gone * WET["potassium"]
            self.phosphorus += 0.4 * gone * WET["phosphorus"]
        below = bright * (1.0 - 0.85 * closed)
        grown = self.rooted * 0.03 * below * warm / 9.0 * least ** 0.5
        gone = self.rooted * (0.006 + 0.7 * self.eaten) / HOURS
        self.rooted += grown - gone
        share = 0.5 * grown
        self._eat(share)
        from_soil = min(share * WET["nitrogen"], self.soil)
        self.soil -= from_soil
        self.given["nitrogen"] += 0.0
        self.rooted_soil = from_soil
        self.debris += gone * WET["nitrogen"]
        self.growing = sum(g * 0.01 for g in self.plants.values()) * bright

    def _eat(self, grams: float) -> None:
        need = grams * WET["nitrogen"]
        first = min(0.7 * need, 0.5 * self.ammonia)
        self.ammonia -= first
        then = min(need - first, 0.5 * self.nitrate)
        self.nitrate -= then
        self.kh = max(self.kh + EQUIVALENT * (then - first) / self.level, 0.02)
        for name in ("phosphorus", "potassium", "iron"):
            have = getattr(self, name)
            setattr(self, name, have - min(grams * WET[name], 0.5 * have))

    def _nitrogen(self) -> None:
        warm = 1.07 ** (self.temperature - 23.0)
        rotted = self.debris * 0.05 / HOURS * warm
        self.debris -= rotted
        self.ammonia += 0.85 * rotted
        self.lost_nitrogen += 0.15 * rotted
        self.phosphorus += 0.09 * rotted
        out = min(self.gut, 0.12 * self.gut + 1e-9)
        self.gut -= out
        self.ammonia += out
        soil = self.soil * 0.0009 / HOURS * (4.0 * np.exp(-self.build.soil_age / 45.0) + 0.5)
        self.soil -= soil
        self.ammonia += soil
        leak = self.soil_potassium * 0.002 / HOURS
        self.phosphorus *= 1.0 - 0.012 / HOURS
        self.soil_potassium -= leak
        self.potassium += leak
        self.iron += self.build.iron_rise * self.level / HOURS
        self.iron *= 1.0 - 0.04 / HOURS
        c, n = self.at("ammonia"), self.at("nitrite")
        breath = self.oxygen / (self.oxygen + 0.8)
        first = min(self.bacteria * c / (c + 0.12) * warm * breath / HOURS, 0.5 * self.ammonia)
        then = min(self.second * n / (n + 0.06) * warm * breath / HOURS, 0.5 * self.nitrite)
        self.ammonia -= first
        self.nitrite += first - then
        self.nitrate += then
        aim = 6.0 + 26.0 * first * HOURS / max(self.bacteria, 0.1)
        self.bacteria += (min(aim, 40.0) - self.bacteria) * 0.05 / HOURS
        aim = 5.0 + 26.0 * then * HOURS / max(self.second, 0.1)
        self.second += (min(aim, 40.0) - self.second) * 0.035 / HOURS
        gone = self.nitrate * self.build.denitrify / HOURS
        self.nitrate -= gone
        self.lost_nitrogen += gone
        self.kh += EQUIVALENT * (out + 0.85 * rotted + soil - 2.0 * first + gone) / self.level
        self.kh = max(self.kh, 0.02)

    def _air(self) -> None:
        full = 14.6 - 0.39 * self.temperature + 0.0045 * self.temperature**2
        depth = self.level / 1000.0 / self.build.area
        self.film = max(self.film * (1.0 - 0.25 / HOURS) + self.filming / HOURS, 0.02)
        free = (1.0 - 0.92 * self.cover**3) * (1.0 - 0.85 * min(self.film, 1.0))
        rate = STIR[self.build.flow] * (0.35 + 0.65 * LID[self.build.lid]) * free / depth
        rate = min(rate, 0.8)
        bright = self.growing
        made = (2.2 * bright + 0.05 * self.rooted * (1.0 - 0.85 * self.cover)
                * (1.0 if self.lit else 0.0)) / self.level  # fmt: skip
        heat = 2.0 ** ((self.temperature - 24.0) / 10.0)
        beasts = sum(n * 0.42 * self.mass[s] ** 0.8 for s, n in self.animals.items()
                     if s not in BREATHE_AIR)  # fmt: skip
        used = heat * (beasts + 0.035 * self.debris + 0.012 * self.rooted + 1.0) / self.level
        used *= self.oxygen / (self.oxygen + 0.4)
        self.oxygen = max(self.oxygen + rate * (full - self.oxygen) + made - used, 0.05)
        self.oxygen = min(self.oxygen, 1.6 * full)

    def _water(self) -> None:
        dry = 0.0018 * self.build.area * 1000.0 * LID[self.build.lid]
        dry *= 1.06 ** (self.temperature - 23.0) * (1.0 - 0.3 * self.cover)
        lost = min(dry / HOURS, 0.02 * self.level)
        before, self.level = self.level, self.level - lost
        for name in ("kh", "gh", "salts"):
            setattr(self, name, getattr(self, name) * before / self.level)
        if self.kh > 13.0 and self.lit:
            scaled = 0.012 * (self.kh - 13.0)
            self.kh -= scaled
            self.gh -= scaled
        self.kh += self.build.leach / 168.0
        self.gh += self.build.leach / 168.0
        bound = self.copper * 0.1 / HOURS
        self.copper -= bound
        self.copper_bed += bound

    def _animals(self) -> None:
        for name, number in list(self.animals.items()):
            risk = 0.0002
            shell = name in SHELLED
            if self.oxygen < 1.2 and name not in BREATHE_AIR:
                risk += 0.06 * (1.2 - self.oxygen)
            if self.toxic > 0.12:
                risk += 0.02 * (self.toxic / 0.12 - 1.0)
            if self.at("nitrite") > 1.5:
                risk += 0.004
            if shell and self.at("copper") > 0.015:
                risk += 0.0009 * (self.at("copper") / 0.015 - 1.0)
            if name in SNAILS and self.kh < 1.0:
                risk += 0.0012 * (1.0 - self.kh)
            if self.temperature > 30.5:
                risk += 0.002 * (self.temperature - 30.5)
            lost = int(self.chance.binomial(int(number), min(risk / 10.0, 0.5)))
            if lost:
                self.animals[name] -= lost
                self.died[name] = self.died.get(name, 0) + lost
                self.rot(0.5 * lost * self.mass[name] * 24.0)


SNAILS = ("Planorbella duryi", "Physella acuta")
SHELLED = (*SNAILS, "Neocaridina davidi")
BREATHE_AIR = ("Betta splendens", "Physella acuta", "Planorbella duryi", "Trichopsis pumila")
