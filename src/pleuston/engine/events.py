"""Turn a keeper's entries into jumps of the tank model.

A top-up fills to the mark: the litres a keeper notes are then a reading of what has
evaporated. Masses of feed, plant and animal become amounts of the elements.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

from pleuston.base.errors import EngineError
from pleuston.base.parameters import Parameter
from pleuston.engine.forcing import Clock
from pleuston.engine.schedule import Event
from pleuston.engine.waters import dissolved, water_at
from pleuston.records.library import Species, library
from pleuston.records.readings import mean_mass_g
from pleuston.records.record import Entry, Feed, Record, Tank
from pleuston.records.resolve import feed_named

SLOTS = ("floater1", "floater2", "floater3")
CARBON_OF_FEED = 0.45
"""Carbon in dry feed [g/g]: common practice, no source (proteins and starch hold 0.40 to 0.53)."""
NITROGEN_OF_PROTEIN = 1.0 / 6.25
BODY_CARBON = 100.0
"""Carbon in a gram of live fish, shrimp or snail flesh [mg/g]: a fifth dry matter, half carbon."""
FEED_DEFAULT: Mapping[str, float] = {
    "protein_pct": 42.0, "phosphorus_pct": 1.1, "potassium_pct": 0.8, "copper_mg_kg": 12.0,
    "moisture_pct": 8.0,
}  # fmt: skip
"""An ordinary dry feed where a record is silent: common practice, no source."""
SETTLED = timedelta(minutes=45)
"""A cover read within this time of a harvest is what the harvest left."""
ZINC_TO_COPPER = 8.0
IRON_TO_COPPER = 15.0
"""Zinc and iron of feeds go with their copper: common practice, no source."""


@dataclass(frozen=True)
class Plants:
    """Which floating species sits in which slot of the model."""

    slots: Mapping[str, str]
    """Scientific name -> slot."""
    models: Mapping[str, str]
    """Slot -> group whose growth parameters it takes."""


def floating_plants(record: Record, tank: str) -> Plants:
    """The floating species of a tank in order of appearance; at most three.

    Raises EngineError when there are more.
    """
    slots: dict[str, str] = {}
    models: dict[str, str] = {}
    for entry in record.entries_of(tank, kind=("plant_in", "harvest", "plant_out")):
        species = library().find_species(entry.what)
        if species.group != "floating" or species.name in slots:
            continue
        if len(slots) == len(SLOTS):
            raise EngineError(
                f"{species.name} would be the fourth floating species", where=f"tank {tank}",
                remedy="Count species of one growth form together: the model keeps three",
            )  # fmt: skip
        slot = SLOTS[len(slots)]
        slots[species.name], models[slot] = slot, species.model or "lemna"
    for slot in SLOTS:
        models.setdefault(slot, "lemna")
    return Plants(slots, models)


@dataclass(frozen=True)
class Maker:
    """Makes the jumps of one tank."""

    record: Record
    tank: Tank
    clock: Clock
    plants: Plants
    records: Mapping[str, Parameter]

    @cached_property
    def left(self) -> dict[str, Entry]:
        """The cover read right after each harvest, by the harvest's id."""
        return covers_left(self.record, self.tank.name)

    def events(self, entries: Iterable[Entry]) -> list[Event]:
        """The jumps of some entries, in order; entries that change nothing give none."""
        makers = {
            "feed": self.feed, "harvest": self.harvest, "plant_out": self.harvest,
            "top_up": self.top_up, "water_change": self.water_change, "dose": self.dose,
            "stock_in": self.stock, "birth": self.stock, "stock_out": self.unstock,
            "death": self.die, "plant_in": self.plant, "soil_disturbed": self.disturb,
        }  # fmt: skip
        made: list[Event] = []
        for entry in entries:
            if entry.kind in makers:
                made.extend(makers[entry.kind](entry))
        return made

    def feed(self, entry: Entry) -> list[Event]:
        """Feed: the elements of its grams."""
        return [self.feed_event(self.clock.day(entry.at), entry.what, entry.amount or 0.0)]

    def feed_event(self, day: float, name: str, grams: float) -> Event:
        """The jump of some grams of a feed."""
        feed = feed_named(self.record, name)
        return Event(day, "feed", feed_content(feed, grams))

    def harvest(self, entry: Entry) -> list[Event]:
        """Plants taken out: down to the cover seen right after, else by drained grams."""
        species = library().find_species(entry.what)
        day, grams = self.clock.day(entry.at), entry.amount or 0.0
        if species.group != "floating":
            return [Event(day, "trim_rooted", {"trim_grams": grams})]
        slot = self.plants.slots[species.name]
        seen = self.left.get(entry.id)
        if seen is not None and seen.amount:
            each = 1.0 - (1.0 - min(seen.amount / 100.0, 0.98)) ** (1.0 / len(self.plants.slots))
            return [Event(day, f"harvest_{slot}", {"harvest_grams": 0.0, "harvest_cover": each})]
        return [Event(day, f"harvest_{slot}", {"harvest_grams": grams, "harvest_cover": 1.0})]

    def water(self, day: float, name: str) -> dict[str, float]:
        """What a litre of a source water brings, as arguments of a top-up.

        The alkalinity follows from the charge of the ions.
        """
        moment = self.clock.moment(day)
        brought = dissolved(self.record, name, moment).per_litre
        room = self.record.rack.room_temperature or 294.15
        dissolved_in = {f"{s}_in": v for s, v in brought.items() if s != "alkalinity"}
        return dissolved_in | {
            "oxygen_in": 8.5, "temperature_in": room
        }

    def top_up(self, entry: Entry) -> list[Event]:
        """Filling to the mark with the entry's water."""
        day = self.clock.day(entry.at)
        return [self.top_up_event(day, entry.what or self.tank.top_up_water)]

    def top_up_event(self, day: float, water: str) -> Event:
        """The jump of filling to the mark."""
        pipe = {"source_pipe": self.piped(day, water), "source_day": day}
        brought = self.water(day, water) | pipe
        return Event(day, "top_up", {"to_mark": 1.0, "litres": 0.0} | brought)

    def piped(self, day: float, water: str) -> float:
        """Share of a water or blend that comes out of the house's pipes."""
        blend = next((b for b in self.record.blends if b.name == water), None)
        parts = blend.parts if blend is not None else ((water, 1.0),)
        moment = self.clock.moment(day)
        return sum(
            share for part, share in parts if water_at(self.record, part, moment).kind == "tap"
        )

    def water_change(self, entry: Entry) -> list[Event]:
        """Litres out, then as many in."""
        day, litres = self.clock.day(entry.at), entry.amount or 0.0
        return self.change_events(day, entry.what or self.tank.top_up_water, litres)

    def change_events(self, day: float, water: str, litres: float) -> list[Event]:
        """The two jumps of a water change."""
        share = min(litres / self.tank.net_l, 0.95)
        return [Event(day, "water_out", {"share": share}), self.top_up_event(day, water)]

    def dose(self, entry: Entry) -> list[Event]:
        """A salt or other substance, by its chemical content."""
        given = library().find_substance(entry.what).given(entry.amount or 0.0)
        arguments = {f"dose_{state}": v for state, v in given.items() if state != "alkalinity"}
        return [Event(self.clock.day(entry.at), "dose", arguments)]

    def animals(self, entry: Entry) -> tuple[Species, float]:
        """The species of an entry and the live grams it stands for."""
        species = library().find_species(entry.what)
        mass = mean_mass_g(entry)
        if mass is None:
            mass = species.adult_mass_g.best if species.adult_mass_g else 0.3
            mass *= 0.1 if entry.kind == "birth" else 1.0
        return species, mass * (entry.amount or 0.0)

    def stock(self, entry: Entry) -> list[Event]:
        """Animals come in, or are born (a tenth of an adult's mass unless noted)."""
        species, grams = self.animals(entry)
        return [
            Event(
                self.clock.day(entry.at), f"add_{species.group}",
                {"body_carbon": grams * BODY_CARBON},
            )
        ]  # fmt: skip

    def unstock(self, entry: Entry) -> list[Event]:
        """Animals leave the tank."""
        species, grams = self.animals(entry)
        return [
            Event(
                self.clock.day(entry.at), f"remove_{species.group}",
                {"body_carbon": grams * BODY_CARBON},
            )
        ]  # fmt: skip

    def die(self, entry: Entry) -> list[Event]:
        """Animals die and stay as detritus, half of what they were (the rest is taken out)."""
        species, grams = self.animals(entry)
        return [
            Event(
                self.clock.day(entry.at), f"die_{species.group}",
                {"body_carbon": grams * BODY_CARBON},
            )
        ]  # fmt: skip

    def plant(self, entry: Entry) -> list[Event]:
        """Plants come in: grams drained fresh, with middling reserves."""
        species = library().find_species(entry.what)
        day, grams = self.clock.day(entry.at), entry.amount or 0.0
        if species.group == "floating":
            slot = self.plants.slots[species.name]
            return [Event(day, f"add_{slot}", self.tissue(slot, grams))]
        return [Event(day, "add_rooted", self.tissue("rooted", grams))]

    def tissue(self, slot: str, grams: float) -> dict[str, float]:
        """Elements of some drained grams of plant, its reserves half full."""

        def value(role: str) -> float:
            return parameter_record(self.records, f"{slot}_{role}", self.plants).value

        dry = grams * value("dry_share")
        half = {
            name: 0.5 * (value(f"{name}_min") + value(f"{name}_max"))
            for name in ("nitrogen", "phosphorus", "potassium")
        }
        return {
            "plant_carbon": dry * 378.0, "plant_iron": dry * 0.6,
            "plant_copper": dry * 0.012, "plant_zinc": dry * 0.08,
        } | {f"plant_{n}": dry * q for n, q in half.items()}  # fmt: skip

    def disturb(self, entry: Entry) -> list[Event]:
        """Uprooting stirs part of the soil's water up (a tenth unless noted)."""
        share = entry.amount if entry.amount is not None else 0.1
        return [Event(self.clock.day(entry.at), "disturb_soil", {"share": min(max(share, 0), 1)})]


def covers_left(record: Record, tank: str) -> dict[str, Entry]:
    """The cover that the keeper read right after a harvest, by the harvest's id.

    What is left is then known better than what grew: the grams weighed are a reading of
    the growth, as litres of a top-up are one of what evaporated.
    """
    read = [
        e for e in record.entries_of(tank, kind="reading") if e.what == "cover" and e.tank == tank
    ]
    found = {}
    for harvest in record.entries_of(tank, kind="harvest"):
        later = (e for e in read if harvest.at < e.at <= harvest.at + SETTLED)
        first = next(later, None)
        if first is not None and harvest.tank == tank:
            found[harvest.id] = first
    return found


def feed_content(feed: Feed, grams: float) -> dict[str, float]:
    """Elements [mg] of some grams of a feed as it is given."""

    def part(name: str) -> float:
        value = getattr(feed, name)
        return FEED_DEFAULT[name] if value is None else float(value)

    copper = grams * part("copper_mg_kg") / 1000.0
    return {
        "feed_carbon": grams * (1.0 - part("moisture_pct") / 100.0) * CARBON_OF_FEED * 1000.0,
        "feed_nitrogen": grams * part("protein_pct") / 100.0 * NITROGEN_OF_PROTEIN * 1000.0,
        "feed_phosphorus": grams * part("phosphorus_pct") * 10.0,
        "feed_potassium": grams * part("potassium_pct") * 10.0,
        "feed_copper": copper,
        "feed_zinc": copper * ZINC_TO_COPPER,
        "feed_iron": copper * IRON_TO_COPPER,
    }


def parameter_record(records: Mapping[str, Parameter], name: str, plants: Plants) -> Parameter:
    """The record behind a parameter of the model.

    A slot of a floating plant takes its group's record (`lemna_growth_max`), else the
    record shared by all (`floater_growth_max`); a metal or animal its own, else the
    family's. Raises EngineError when there is none.
    """
    words = name.split("_")
    ways = [[w] for w in words]
    for i, word in enumerate(words):
        if word in SLOTS:
            ways[i] = [plants.models[word], "floater"]
        elif word in ("copper", "zinc"):
            ways[i] = [word, "metal"]
        elif word in ("fish", "shrimp", "snails"):
            ways[i] = [word, "animal"]
    candidates = [""]
    for options in ways:
        candidates = [f"{c}_{o}" if c else o for o in options for c in candidates]
    for candidate in candidates:
        if candidate in records:
            return records[candidate]
    raise EngineError(
        f"no record gives {name}", where="base/parameters",
        remedy=f"Add one of {', '.join(candidates)}",
    )  # fmt: skip
