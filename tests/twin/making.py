"""Tanks of the twin from their first day on: kept for weeks, written as one record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from tests.twin.keeping import START, Keeping, Kits
from tests.twin.stories import MASS, STORIES, Start
from tests.twin.world import Pour, World

from pleuston.records.record import Rack, Record, Tank, Water


@dataclass(frozen=True)
class Kept:
    """A record, and what was true: by day from the start of the record."""

    record: Record
    tank: str
    truth: Mapping[str, np.ndarray]
    cause: str
    onset: int
    visible: int
    keeping: Keeping


def keeping_of(story: str, seed: int, name: str = "Aspen") -> tuple[Keeping, Start]:
    """A tank at the start of its record, ready to be kept week by week."""
    draw = np.random.default_rng([seed, *story.encode()])
    start = STORIES[story].make(draw)
    world = World(start.build, start.pour, draw, dict(start.plants), dict(start.animals), MASS,
                  start.room, start.season)  # fmt: skip
    start.prepare(world)
    _settle(world, start)
    keeping = Keeping(name, world, replace(start.habit), Kits(draw), draw, start.happens)
    return keeping, start


def _settle(world: World, start: Start) -> None:
    """A running tank has found its balance before its record begins."""
    if start.build.soil_age < 60.0:
        return
    for day in range(28):
        if day % 7 in start.habit.feed_days:
            world.feed(start.habit.pinch)
        world.day()
        if day % 7 == 6:
            _thinned(world, start.habit.target)
            world.fill(max(start.build.litres - world.level, 0.0))
    world.died.clear()
    world.poured = 0.0
    world.hour = 0


def _thinned(world: World, target: float) -> None:
    if world.cover > target:
        left = np.log(1.0 - target) / np.log(1.0 - min(world.cover, 0.995))
        for name in list(world.plants):
            world.harvest(name, world.plants[name] * (1.0 - left))


def tank_of(keeping: Keeping, start: Start) -> Tank:
    """The tank's row, as its keeper describes it."""
    b = start.build
    began = START - timedelta(days=b.soil_age)
    return Tank(
        keeping.name, round(b.litres, 1), round(b.area, 3), lid=b.lid, heater_c=b.heater,
        light_hours=b.hours, light_ppfd=round(b.light, -1), soil="garden soil", soil_mm=25.0,
        cap_mm=25.0, soil_since=began, started=began, flow=b.flow, top_up_water=start.pour.name,
        cover_target_pct=round(100.0 * start.habit.target),
    )  # fmt: skip


def water_of(pour: Pour) -> Water:
    """The water's row: hardness is known, little else."""
    known = 15.0 if pour.kind == "tap" and pour.salts > 500.0 else None
    return Water(
        pour.name, pour.kind, kh_dh=round(pour.kh, 1), gh_dh=round(pour.gh, 1),
        ec25_us_cm=round(pour.conductivity, -1), potassium_mg_l=known,
    )  # fmt: skip


def record_of(
    keepings: list[tuple[Keeping, Start]], name: str = "Shelf"
) -> Record:
    """One record of some tanks."""
    waters = {start.pour.name: water_of(start.pour) for _, start in keepings}
    entries = sorted((e for k, _ in keepings for e in k.entries), key=lambda e: (e.at, e.id))
    room = float(np.mean([start.room for _, start in keepings]))
    return Record(
        Rack(name=name, timezone="Etc/UTC", room_c=round(room, 1), room_humidity_pct=45.0),
        waters=tuple(waters.values()), tanks=tuple(tank_of(k, s) for k, s in keepings),
        entries=tuple(entries),
    )  # fmt: skip


def kept(story: str, seed: int, weeks: int = 20) -> Kept:
    """A tank kept for some weeks."""
    told = STORIES[story]
    keeping, start = keeping_of(story, seed)
    for _ in range(weeks):
        keeping.week()
    truth = {n: np.array(v) for n, v in keeping.truth.items()}
    return Kept(record_of([(keeping, start)]), keeping.name, truth, told.cause, told.onset,
                told.onset + told.seen_after, keeping)  # fmt: skip


def rack(stories: list[str], seed: int, weeks: int = 20) -> Record:
    """Several tanks of one keeper: one room, one set of kits, one tap."""
    kits = Kits(np.random.default_rng([seed, 3]))
    pairs = []
    for place, story in enumerate(stories):
        keeping, start = keeping_of(story, seed + 101 * place, f"Tank {place + 1}")
        keeping.kits = kits
        own = replace(start.pour, name=f"{start.pour.name} {place + 1}")
        keeping.world.pour = start.pour = own
        for _ in range(weeks):
            keeping.week()
        pairs.append((keeping, start))
    return record_of(pairs)
