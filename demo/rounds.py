"""Twenty weeks, day by day: what the keeper does and sees while the tanks go on."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np

from demo.keeper import FULL_TEST, Keeper, Note
from demo.stories import (
    BLADDER,
    NEW_PIPE_COPPER,
    RAMSHORN,
    SHRIMP,
    STORIES,
    Story,
    analysis,
)
from demo.world import ANIMALS, FLOATERS, World

START = datetime(2026, 3, 2)
WEEKS = 20
HOLIDAY = (81, 87)
"""First and last day away, counted from the start."""
MISSED = {"Alder": (5, 13), "Birch": (8,), "Cedar": (4,), "Elder": (6, 17), "Fern": (11,),
          "Gorse": (3, 15), "Iris": (11, 18)}  # fmt: skip
"""Weeks in which no round was made of a tank."""


def room(day: int, chance: np.random.Generator) -> float:
    """Mean temperature of the room: spring to summer, with one warm spell."""
    warm_spell = 2.0 * np.exp(-(((day - 121) / 6.0) ** 2))
    return float(20.4 + 3.4 * np.sin(np.pi * day / 280.0) ** 2 + warm_spell + chance.normal(0, 0.4))


def dryness(day: int) -> float:
    """Heated air in March dries more than the air of July."""
    return float(1.15 - 0.25 * day / 140.0)


class Shelf:
    """One tank with its story, its hidden world and the keeper before it."""

    def __init__(self, place: int, story: Story, keeper: Keeper, chance: np.random.Generator):
        self.place = place
        self.story = story
        self.keeper = keeper
        self.chance = chance
        self.world: World = story.world()
        self.water = story.water
        self.truth: list[dict[str, float]] = []

    # the first day

    def begin(self) -> None:
        story, keeper, tank = self.story, self.keeper, self.story.tank
        keeper.at(START, 9.0 + 0.2 * self.place)
        for species, grams in story.plants.items():
            keeper.amount(tank, "plant_in", species, grams, "g", 0, "scale, drained 5 min",
                          "present at the start of the record")  # fmt: skip
        species, grams = story.rooted
        keeper.amount(tank, "plant_in", species, grams, "g", 0, "guessed",
                      "present at the start of the record")  # fmt: skip
        for species, count in story.animals.items():
            self.stock(species, count, "present at the start of the record")
        shown = 5 * round(story.ppfd / 5 + self.chance.normal(0, 0.5))
        keeper.write(tank, "reading", "light_ppfd", str(shown - 5), str(shown + 5), "umol/m2/s",
                     "borrowed meter")  # fmt: skip
        keeper.cover(tank, self.world)
        keeper.thermometer(tank, self.world.temperature)
        keeper.pen(tank, self.world, story.pen_shows_ec)
        for what in FULL_TEST:
            keeper.test(tank, self.world, what)

    def stock(self, species: str, count: int, note: str) -> None:
        mass = f"{ANIMALS[species].mass:g} g"
        self.keeper.write(self.story.tank, "stock_in", species, str(count), str(count), "", mass,
                          note)  # fmt: skip

    # the week

    def round_of(self, week: int, day: datetime) -> None:
        """Look, thin, measure, top up."""
        story, keeper, tank = self.story, self.keeper, self.story.tank
        keeper.at(day, 9.5 + 0.12 * self.place)
        self._look(week)
        keeper.cover(tank, self.world)
        if story.tank != "Dogwood" or week <= 4:
            self._thin()
        keeper.thermometer(tank, self.world.temperature)
        keeper.pen(tank, self.world, story.pen_shows_ec)
        for what in self._tests(week):
            keeper.test(tank, self.world, what)
        if story.tank == "Gorse":
            self._siphon()
        litres = keeper.top_up(tank, self.world, self.water)
        self._pour(litres, week)
        if week % 3 == 1:
            self._trim()

    def _pour(self, litres: float, week: int) -> None:
        water = analysis(self.water)
        if self.water == "cellar tap" and week >= 9:
            water["cu"] = NEW_PIPE_COPPER * float(self.chance.lognormal(0.0, 0.2))
        self.world.add_water(litres, water)

    def _siphon(self) -> None:
        """Mulm is drawn off with two litres and rain put back."""
        self.world.take_water(2.0)
        self.world.add_water(2.0, analysis("rain butt"))
        self.world.detritus *= 0.9
        self.keeper.amount(self.story.tank, "water_change", "rain butt", 2.0, "L", 1,
                           note="mulm siphoned off")  # fmt: skip

    def _thin(self) -> None:
        world, keeper, tank = self.world, self.keeper, self.story.tank
        if len(world.plants) > 1:
            self._weigh_three()
            keeper.cover(tank, world, "after")
            return
        ((species, grams),) = world.plants.items()
        aim = self.story.target / 100.0 * float(self.chance.normal(1.0, 0.08))
        if world.cover < aim + 0.05:
            return
        left = float(np.arctanh(aim)) * FLOATERS[species].half_cover * world.surface
        world.thin(species, grams - left)
        keeper.harvest(tank, species, grams - left)
        keeper.cover(tank, world, "after")

    def _weigh_three(self) -> None:
        """Each ring is emptied, weighed and given back what it had on the first day."""
        for species, grams in list(self.world.plants.items()):
            back = self.story.plants[species]
            if grams <= back:
                continue
            weighed = grams * float(self.chance.normal(1.05, 0.03))
            note = f"ring held {weighed:.1f} g, {back:g} g put back"
            self.keeper.amount(self.story.tank, "harvest", species, weighed - back, "g", 1,
                               "scale, drained 5 min", note)  # fmt: skip
            self.world.thin(species, grams - back)

    def _trim(self) -> None:
        species, grams = self.story.rooted
        extra = self.world.rooted - grams
        if extra >= 4.0:
            self.world.rooted = grams
            self.keeper.harvest(self.story.tank, species, extra, "trimmings")

    def _tests(self, week: int) -> tuple[str, ...]:
        """Full tests go round the tanks; where something is off, one more is made."""
        tank = self.story.tank
        if (week + self.place) % 3 == 0:
            more: tuple[str, ...] = ()
            if tank == "Elder" and week >= 14:
                more = ("potassium",)
            return (*FULL_TEST, *more)
        wanted: dict[str, tuple[bool, tuple[str, ...]]] = {
            "Cedar": (week >= 11 and week % 2 == 1, ("copper", "ammonium_ion", "nitrite_ion")),
            "Elder": (week >= 10, ("nitrate_ion",)),
            "Fern": (week >= 9, ("ammonium_ion", "nitrite_ion", "nitrate_ion")),
            "Gorse": (week >= 7, ("kh", "ph", "ammonium_ion")),
            "Birch": (week % 2 == 0, ("kh", "gh")),
            "Iris": (week <= 9, ("ammonium_ion", "nitrite_ion", "nitrate_ion", "ph")),
        }
        when, what = wanted.get(tank, (False, ()))
        return what if when else ()

    def _look(self, week: int) -> None:
        """What strikes the eye; each sign is noted only now and then."""
        world, tank = self.world, self.story.tank
        potassium = world.conc("k")
        signs: list[tuple[bool, float, str]] = [
            (world.film > 0.3, 0.6, "film"),
            (world.film > 0.5, 0.45, "cloudy"),
            (tank == "Fern" and week >= 9, 0.4, "not_eating"),
            (tank == "Fern" and week >= 11, 0.5, "algae"),
            (potassium < 0.9, 0.55, "pinholes"),
            (potassium < 0.6, 0.45, "pale_leaves"),
            (world.kh < 1.5 and RAMSHORN in world.animals, 0.55, "shells_pitted"),
            (world.kh < 0.9 and RAMSHORN in world.animals, 0.6, "snails_up"),
            (world.conc("cu") > 0.015 and SHRIMP in world.animals, 0.3, "hiding"),
            (world.conc("ca") / 20.04 * world.conc("alk") > 30.0, 0.35, "scale"),
            (tank == "Iris" and week in (2, 3, 4), 0.6, "algae"),
            (tank == "Iris" and week == 1, 1.0, "cloudy"),
            (True, 0.02, "algae"),
        ]
        for there, share, sign in signs:
            if there and self.chance.random() < share:
                self.keeper.seen(tank, sign)

    # every day

    def feed(self, number: int, day: datetime) -> None:
        story = self.story
        if day.weekday() not in story.feed_days or sum(self.world.animals.values()) == 0:
            return
        if self.chance.random() < 0.06:
            return
        factor = 3.0 if story.tank == "Fern" and number >= 49 else 1.0
        if story.tank == "Iris":
            factor = min(1.0, 0.35 + (number - 42) / 50.0)
        grams = max(0.01, round(story.portion * factor * float(self.chance.normal(1.0, 0.1)), 2))
        self.world.fed = grams * float(self.chance.normal(1.0, 0.06))
        self.keeper.at(day, 18.4 + 0.04 * self.place)
        self.keeper.amount(story.tank, "feed", story.feed, grams, "g", 2)

    def dawn(self, day: datetime) -> None:
        """Before the lamps: who gasps, who has died."""
        world, tank = self.world, self.story.tank
        fish = [s for s in world.animals if ANIMALS[s].group == "fish"]
        if fish and world.oxygen_dawn < 2.0 and self.chance.random() < 0.22:
            self.keeper.at(day, 6.6)
            self.keeper.seen(tank, "gasping", "before the lamps, fine by noon")
            if self.chance.random() < 0.35:
                self.keeper.test(tank, world, "oxygen")
        for species in list(world.animals):
            for _ in range(world.animals[species]):
                if self.chance.random() < self._hazard(species):
                    self._death(species, day)

    def _hazard(self, species: str) -> float:
        """Chance of an animal to die on a day."""
        world, group = self.world, ANIMALS[species].group
        chance = 0.0002
        copper, acid = world.conc("cu"), max(0.0, 1.0 - world.kh / 0.9)
        if group == "shrimp":
            chance += 0.016 * (copper / 0.04) ** 1.5 + 0.002 * acid
        if group == "snail":
            chance += 0.002 * (copper / 0.04) ** 2 + 0.030 * acid
        if group == "fish" and world.oxygen_dawn < 1.0:
            chance += 0.004
        return chance

    def _death(self, species: str, day: datetime) -> None:
        found = bool(self.chance.random() < (0.55 if species == BLADDER else 0.8))
        self.world.die(species, removed=found)
        self.keeper.at(day, 7.4)
        if found:
            self.keeper.write(self.story.tank, "death", species, "1", "1", note="taken out")
        elif self.chance.random() < 0.4:
            self.keeper.seen(self.story.tank, "missing_animal", species)

    def births(self, day: datetime) -> None:
        """Shrimp breed where nothing harms them."""
        world = self.world
        well = world.conc("cu") < 0.012 and world.kh > 1.5 and world.temperature > 21.0
        count = world.animals.get(SHRIMP, 0)
        if 4 <= count < 40 and well and self.chance.random() < 0.012:
            young = int(self.chance.integers(2, 6))
            world.animals[SHRIMP] += young
            self.keeper.at(day, 17.5)
            self.keeper.write(self.story.tank, "birth", SHRIMP, str(young), str(young),
                              note="as many as seen")  # fmt: skip

    def go_on(self, day_room: float, day_dry: float) -> None:
        world = self.world
        rot = world.detritus / world.full_l
        world.film = float(np.clip(0.9 * world.film + 0.1 * (rot - 1.2), 0.0, 1.0))
        world.day(day_room, day_dry)
        self.truth.append({
            "ec25": world.ec25, "cover": world.cover, "kh": world.kh, "gh": world.gh,
            "oxygen": world.oxygen_dawn, "tan": world.conc("tan"), "no2": world.conc("no2"),
            "no3": world.conc("no3"), "po4": world.conc("po4"), "k": world.conc("k"),
            "cu": world.conc("cu"), "ph": world.ph_morning, "film": world.film,
            "grams": sum(world.plants.values()), "temp": world.temperature,
            "detritus": world.detritus, "litres": world.litres,
            "animals": float(sum(world.animals.values())),
        })  # fmt: skip


def _special(shelves: dict[str, Shelf], number: int, day: datetime, keeper: Keeper) -> None:
    """Single happenings of the twenty weeks."""
    acts: dict[int, Callable[[], None]] = {
        HOLIDAY[0]: lambda: _holiday(keeper, day),
        42: lambda: _first_shrimp(shelves["Iris"], day),
        57: lambda: _plumber(keeper, day),
        98: lambda: _new_hours(shelves["Alder"], 8.5, day, "algae on the glass"),
        112: lambda: _new_hours(shelves["Iris"], 9.0, day, ""),
    }
    if number in acts:
        acts[number]()


def _holiday(keeper: Keeper, day: datetime) -> None:
    keeper.at(day, 8.0)
    length = str(HOLIDAY[1] - HOLIDAY[0] + 1)
    keeper.write("", "holiday", "away", length, length, "day", note="nobody feeds")


def _plumber(keeper: Keeper, day: datetime) -> None:
    keeper.at(day, 12.0)
    keeper.write("", "note", note="the pipe to the cellar tap was replaced")


def _first_shrimp(shelf: Shelf, day: datetime) -> None:
    shelf.keeper.at(day, 16.0)
    shelf.world.animals[SHRIMP] = 12
    shelf.stock(SHRIMP, 12, "first animals")


def _new_hours(shelf: Shelf, hours: float, day: datetime, why: str) -> None:
    shelf.keeper.at(day, 21.0)
    shelf.world.hours = hours
    shelf.keeper.amount(shelf.story.tank, "setting", "light_hours", hours, "h", 1, note=why)


def _room_readings(keeper: Keeper, day: datetime, degrees: float, number: int) -> None:
    keeper.at(day, 9.4)
    keeper.thermometer("", degrees, "room_temperature")
    if number % 14 == 6:
        keeper.hygrometer(44.0 + 8.0 * number / 140.0)


def twenty_weeks(seed: int) -> tuple[list[Note], dict[str, Shelf]]:
    """Run all tanks; give all notes in order of time, each with its id, and the hidden worlds.

    Every tank has its own chances, so that a change to one leaves the others as they are.
    """
    chance = np.random.default_rng(seed)
    keeper = Keeper(chance)
    shelves: dict[str, Shelf] = {}
    for place, story in enumerate(STORIES):
        own = np.random.default_rng((seed, place))
        shelves[story.tank] = Shelf(place, story, Keeper(own), own)
        shelves[story.tank].begin()
    for number in range(7 * WEEKS):
        _one_day(shelves, number, keeper)
    notes = keeper.notes + [note for shelf in shelves.values() for note in shelf.keeper.notes]
    notes.sort(key=lambda note: note.at)
    for note in notes:
        note.id = str(uuid.UUID(bytes=chance.bytes(16), version=4))
    return notes, shelves


def _one_day(shelves: dict[str, Shelf], number: int, keeper: Keeper) -> None:
    day, week = START + timedelta(days=number), number // 7 + 1
    degrees, dry = room(number, keeper.chance), dryness(number)
    away = HOLIDAY[0] <= number <= HOLIDAY[1]
    _special(shelves, number, day, keeper)
    if number % 7 == 6 and not away:
        _room_readings(keeper, day, degrees, number)
    for shelf in shelves.values():
        if not away:
            if number > 0:
                shelf.dawn(day)
            if number % 7 == 6 and week not in MISSED.get(shelf.story.tank, ()):
                shelf.round_of(week, day)
            shelf.feed(number, day)
            shelf.births(day)
        shelf.go_on(degrees, dry)
