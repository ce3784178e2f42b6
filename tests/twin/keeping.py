"""The twin's keeper: habits, a shaky hand, coarse kits, a line of record for what is noted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
from tests.twin.world import BREATHE_AIR, KINDS, SHELLED, SNAILS, Pour, World

from pleuston.records.record import Entry

START = datetime(2026, 1, 4, 0, tzinfo=UTC)
CHARTS: Mapping[str, tuple[float, ...]] = {
    "ammonium_ion": (0.0, 0.25, 0.5, 1.0, 2.0, 4.0), "nitrite_ion": (0.0, 0.25, 0.5, 1.0, 2.0, 5.0),
    "nitrate_ion": (0.0, 5.0, 10.0, 20.0, 40.0, 80.0), "phosphate_ion": (0.0, 0.25, 0.5, 1.0, 2.0),
    "potassium": (0.0, 2.0, 4.0, 6.0, 10.0, 15.0), "iron": (0.0, 0.05, 0.1, 0.25, 0.5),
    "copper": (0.0, 0.05, 0.1, 0.2, 0.5), "oxygen": (0.0, 2.0, 4.0, 6.0, 8.0, 10.0),
    "ph": (5.5, 6.0, 6.4, 6.8, 7.2, 7.6, 8.0, 8.4),
}  # fmt: skip
ION = {
    "ammonium_ion": ("ammonia", 1.288), "nitrite_ion": ("nitrite", 3.284),
    "nitrate_ion": ("nitrate", 4.427), "phosphate_ion": ("phosphorus", 3.066),
    "potassium": ("potassium", 1.0), "iron": ("iron", 1.0), "copper": ("copper", 1.0),
}  # fmt: skip
"""Reading -> the world's pool, and what turns it into the ion that is read."""
ROTATION = (("ammonium_ion", "nitrite_ion", "ph"), ("nitrate_ion", "kh", "gh"),
            ("phosphate_ion", "ph", "kh"), ("nitrate_ion", "potassium", "oxygen"))  # fmt: skip
MISSED, FALSE = 0.2, 0.015
"""Chance to overlook a sign that is there, and to see one that is not."""


@dataclass
class Kits:
    """What one keeper's kits and hands are like; drawn once."""

    chance: np.random.Generator

    def __post_init__(self) -> None:
        draw = self.chance
        self.bias = {what: float(np.exp(0.12 * draw.standard_normal())) for what in CHARTS}
        self.bias["ph"] = 1.0
        self.ph = float(0.1 * draw.standard_normal())
        self.pen = float(1.0 + 0.025 * draw.standard_normal())
        self.pen_drift = float(0.001 * draw.standard_normal())
        self.factor = float(draw.choice([0.0, 0.5, 0.64, 0.7]))
        """0: the pen shows conductivity."""
        self.drop = float(1.0 + 0.05 * draw.standard_normal())
        self.thermometer = float(0.3 * draw.standard_normal())
        self.scale = float(1.0 + 0.03 * draw.standard_normal())


@dataclass
class Habit:
    """How a keeper keeps one tank."""

    target: float = 0.45
    pinch: float = 0.06
    feed_days: tuple[int, ...] = (0, 1, 3, 4, 6)
    harvests: bool = True
    skipped: float = 0.07
    """Chance that a week's round is left out."""
    noted: float = 1.0
    """Share of a meal that its keeper thinks it is."""


@dataclass
class Keeping:
    """One tank kept week by week; `entries` is the record so far, `truth` what was true."""

    name: str
    world: World
    habit: Habit
    kits: Kits
    chance: np.random.Generator
    happens: Callable[[Keeping, int], None]
    """Called at the start of every day: what the story does."""
    entries: list[Entry] = field(default_factory=list)
    truth: dict[str, list[float]] = field(default_factory=dict)
    day: int = 0
    extra_signs: dict[str, float] = field(default_factory=dict)
    """Signs that the story itself shows, with their chance in a week."""
    tests: list[str] = field(default_factory=list)
    """Tests asked for beside the rotation."""
    rotation: tuple[tuple[str, ...], ...] = ROTATION
    """What is tested week by week in turn; empty for a keeper who tests when asked to."""
    seen_dead: dict[str, int] = field(default_factory=dict)

    # the record

    def note(
        self, hour: float, kind: str, what: str = "", low: float | None = None,
        high: float | None = None, unit: str = "", method: str = "",
    ) -> None:  # fmt: skip
        """Write one line at an hour of today."""
        at = START + timedelta(days=self.day, hours=hour, minutes=int(self.chance.integers(0, 5)))
        key = UUID(bytes=self.chance.bytes(16), version=4)
        self.entries.append(Entry(str(key), at, self.name, kind, what, low, high, unit,
                                  "keeper", method))  # fmt: skip

    def exact(self, hour: float, kind: str, what: str, value: float, unit: str = "") -> None:
        """Write one exact amount."""
        shown = float(f"{value:.3g}")
        self.note(hour, kind, what, shown, shown, unit)

    def begin(self) -> None:
        """What is in the tank when the record begins."""
        for species, grams in self.world.plants.items():
            self.exact(8.0, "plant_in", species, grams, "g")
        self.exact(8.0, "plant_in", "Vallisneria spiralis", self.world.rooted, "g")
        for species, number in self.world.animals.items():
            self.exact(8.0, "stock_in", species, number)

    # time

    def week(self, asked: Callable[[Keeping], None] | None = None) -> None:
        """Seven days and the round of the last of them; `asked` replaces the usual acts."""
        for weekday in range(7):
            self.happens(self, self.day)
            self._meal(weekday)
            self._hours(0, 10)
            if weekday == 6:
                self._round(asked)
            self._hours(10, 24)
            self._remember()
            self.day += 1

    def _hours(self, start: int, end: int) -> None:
        world = self.world
        if start == 0:
            world.lowest, world.highest_ammonia = 99.0, 0.0
        for _ in range(start, end):
            world.step()
            world.lowest = min(world.lowest, world.oxygen)
            world.highest_ammonia = max(world.highest_ammonia, world.toxic)

    def _meal(self, weekday: int) -> None:
        if weekday in self.habit.feed_days and self.habit.pinch > 0.0:
            given = self.habit.pinch * float(np.exp(0.15 * self.chance.standard_normal()))
            self.world.feed(given)
            self.exact(9.0, "feed", "flake", self.habit.noted * self.habit.pinch, "g")

    def _remember(self) -> None:
        world = self.world
        now = {
            "ec25": world.conductivity, "kh": world.kh, "gh": world.gh, "ph": world.ph,
            "ammonium": world.at("ammonia"), "nitrite": world.at("nitrite"),
            "nitrate": world.at("nitrate"), "phosphate_ion": 3.066 * world.at("phosphorus"),
            "potassium": world.at("potassium"), "copper": world.at("copper"),
            "temperature": world.temperature, "cover": 100.0 * world.cover,
            "oxygen_dawn": world.lowest, "ammonia_nh3": world.highest_ammonia,
        }  # fmt: skip
        for name, value in now.items():
            self.truth.setdefault(name, []).append(float(value))

    # the round

    def _round(self, asked: Callable[[Keeping], None] | None) -> None:
        if asked is None and self.chance.random() < self.habit.skipped:
            return
        self._look()
        self._read()
        if asked is None:
            self.usual_acts()
        else:
            asked(self)
        for what in dict.fromkeys(self.tests):
            self.test(what)
        self.tests.clear()

    def usual_acts(self) -> None:
        """Thin to the target, fill to the mark."""
        if self.habit.harvests:
            self.thin(self.habit.target)
        self.top_up()

    def thin(self, target: float) -> None:
        """Take out floating plants until a cover is left, and weigh them."""
        world, cover = self.world, self.world.cover
        if cover <= target + 0.05:
            return
        left = np.log(1.0 - target) / np.log(1.0 - min(cover, 0.995))
        for species in list(world.plants):
            taken = world.harvest(species, world.plants[species] * (1.0 - left))
            weighed = taken * self.kits.scale * float(np.exp(0.1 * self.chance.standard_normal()))
            if weighed >= 0.5:
                self.exact(10.2, "harvest", species, round(weighed, 1), "g")
        self.read_cover(10.3)

    def top_up(self, water: Pour | None = None, litres: float | None = None) -> None:
        """Fill to the mark, or by some litres."""
        missing = max(self.world.build.litres - self.world.level, 0.0)
        poured = missing if litres is None else litres
        if poured < 0.05:
            return
        self.world.fill(poured, water)
        noted = poured * float(np.exp(0.06 * self.chance.standard_normal()))
        self.note(10.4, "top_up", (water or self.world.pour).name, round(noted, 2),
                  round(noted, 2), "L")  # fmt: skip

    def change(self, litres: float, water: Pour | None = None) -> None:
        """Change water, noted."""
        self.world.change(litres, water)
        self.exact(10.5, "water_change", (water or self.world.pour).name, litres, "L")

    # looking

    def signs(self) -> dict[str, bool]:
        """What there is to see today."""
        w = self.world
        gilled = any(n >= 1 and s not in BREATHE_AIR for s, n in w.animals.items())
        starved = w.fed < 0.4
        return {
            "gasping": gilled and w.lowest < 1.6, "film": w.film > 0.45,
            "cloudy": w.at("ammonia") > 0.6 or w.debris > 14.0 * w.build.litres,
            "scale": w.kh > 12.5, "algae": w.at("nitrate") > 9.0 and w.cover < 0.7,
            "pale_leaves": starved and w.scarce in ("nitrogen", "iron", "phosphorus"),
            "pinholes": starved and w.scarce == "potassium",
            "shells_pitted": w.kh < 1.3 and any(w.animals.get(s, 0) >= 1 for s in SNAILS),
            "leftovers": self.habit.pinch > 2.0 * self.usual_pinch,
            "hiding": w.at("copper") > 0.03 and any(w.animals.get(s, 0) >= 1 for s in SHELLED),
            "eaten_leaves": w.eaten > 0.01, "melt": False,
        }  # fmt: skip

    def __post_init__(self) -> None:
        self.usual_pinch = self.habit.pinch
        self.begin()

    def _look(self) -> None:
        for sign, there in self.signs().items():
            chance = self.extra_signs.get(sign, 1.0 - MISSED if there else FALSE)
            if sign in ("gasping", "melt", "eaten_leaves") and not there:
                chance = self.extra_signs.get(sign, 0.002)
            if self.chance.random() < chance:
                self.note(10.0, "seen", sign, 1.0, 1.0)
        for species, number in self.world.died.items():
            found = self.chance.binomial(number, 0.7)
            if found:
                self.exact(10.05, "death", species, float(found))
            self.seen_dead[species] = self.seen_dead.get(species, 0) + number
        self.world.died.clear()

    # reading

    def _read(self) -> None:
        self.thermometer()
        self.pen()
        if self.chance.random() < 0.75:
            self.read_cover(10.1)
        week = self.day // 7
        for what in self.rotation[week % len(self.rotation)] if self.rotation else ():
            if self.chance.random() < 0.85:
                self.test(what)

    def thermometer(self) -> None:
        """A thermometer of half degrees."""
        shaky = 0.15 * self.chance.standard_normal()
        value = self.world.temperature + self.kits.thermometer + shaky
        shown = round(2.0 * value) / 2.0
        self.note(10.0, "reading", "temperature", shown - 0.25, shown + 0.25, "C")

    def pen(self, factor: float = 1.0) -> None:
        """The pen: conductivity, or 'ppm' of its own factor."""
        kits = self.kits
        true = self.world.conductivity * (kits.pen + kits.pen_drift * self.day / 7.0) * factor
        value = true * float(np.exp(0.012 * self.chance.standard_normal()))
        if kits.factor:
            shown = float(round(value * kits.factor))
            self.note(10.0, "reading", "pen_ppm", shown, shown, "ppm", f"factor {kits.factor:g}")
        else:
            shown = round(value / 5.0) * 5.0
            self.note(10.0, "reading", "ec25", shown - 2.5, shown + 2.5, "uS/cm")

    def read_cover(self, hour: float) -> None:
        """Cover by eye, to the next five."""
        value = 100.0 * self.world.cover + 6.0 * self.chance.standard_normal()
        shown = float(np.clip(round(value / 5.0) * 5.0, 0.0, 100.0))
        self.note(hour, "reading", "cover", max(shown - 5.0, 0.0), min(shown + 5.0, 100.0), "%",
                  "eye")  # fmt: skip

    def test(self, what: str) -> None:
        """One drop test or chart."""
        world, draw = self.world, self.chance
        if what in ("kh", "gh"):
            true = getattr(world, what) * self.kits.drop + 0.15 * draw.standard_normal()
            drops = float(max(np.ceil(true), 1.0))
            self.note(10.1, "reading", what, drops - 1.0 if drops > 1 else None, drops, "dH",
                      "titration")  # fmt: skip
            return
        if what == "ph":
            value = world.ph + self.kits.ph + 0.1 * draw.standard_normal()
        elif what == "oxygen":
            value = world.oxygen * float(np.exp(0.1 * draw.standard_normal()))
        else:
            pool, ion = ION[what]
            value = world.at(pool) * ion * self.kits.bias[what]
            value *= float(np.exp(0.15 * draw.standard_normal()))
        self.chart(what, value)

    def chart(self, what: str, value: float) -> None:
        """The step of a chart that is nearest, as the interval it stands for."""
        steps = CHARTS[what]
        place = int(np.argmin([abs(value - s) for s in steps]))
        low = 0.5 * (steps[place - 1] + steps[place]) if place else None
        high = 0.5 * (steps[place] + steps[place + 1]) if place + 1 < len(steps) else None
        unit = "" if what == "ph" else "mg/L"
        self.note(10.1, "reading", what, low, high, unit, "chart")


PLANTS = tuple(KINDS)
