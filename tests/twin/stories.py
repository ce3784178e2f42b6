"""What happens to the twin's tanks: one story for each cause, and healthy ones that look odd."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from tests.twin.keeping import Habit, Keeping
from tests.twin.world import Build, Pour, World

Happens = Callable[[Keeping, int], None]
MASS = {"Neocaridina davidi": 0.22, "Planorbella duryi": 0.9, "Physella acuta": 0.1,
        "Poecilia wingei": 0.22, "Tanichthys albonubes": 0.45, "Betta splendens": 2.0,
        "Boraras brigittae": 0.06, "Trichopsis pumila": 0.4}  # fmt: skip
SOFT, MIDDLE, HARD = (2.5, 4.0, 60.0), (6.0, 9.0, 90.0), (13.0, 18.0, 170.0)
"""Waters of a tap: carbonate and total hardness [dH], other salts [uS/cm]."""


@dataclass(frozen=True)
class Story:
    """A cause (an id of the exchange format), when it starts, when it can be seen."""

    cause: str
    make: Callable[[np.random.Generator], Start]
    onset: int = 56
    seen_after: int = 14
    """Days from the onset until what the keeper notes could show it."""

    @property
    def healthy(self) -> bool:
        """Whether nothing is wrong."""
        return self.cause == "nothing_wrong"


def _nothing_happens(_keeping: Keeping, _day: int) -> None:
    """A day like others."""


def _as_it_is(_world: World) -> None:
    """The world as it was made."""


@dataclass
class Start:
    """A tank before its record begins."""

    build: Build
    pour: Pour
    plants: dict[str, float]
    animals: dict[str, float]
    habit: Habit = field(default_factory=Habit)
    happens: Happens = _nothing_happens
    room: float = 21.5
    season: float = 0.0
    prepare: Callable[[World], None] = _as_it_is


def usual(draw: np.random.Generator) -> Start:
    """A tank where nothing is wrong, unlike the last."""
    litres = float(draw.uniform(14.0, 54.0))
    depth = float(draw.uniform(0.2, 0.3))
    area = litres / 1000.0 / depth
    lid = str(draw.choice(["open", "partial", "tight"]))
    kh, gh, salts = SOFT if lid == "open" or draw.random() < 0.4 else MIDDLE
    spread = float(np.exp(0.15 * draw.standard_normal()))
    pour = Pour("mains", "tap", kh * spread, gh * spread, salts,
                nitrate=float(draw.uniform(0.3, 3.0)), potassium=float(draw.uniform(1.5, 5.0)))
    build = Build(
        litres, area, lid=lid,
        light=float(draw.uniform(50.0, 110.0)), hours=float(draw.choice([8.0, 9.0, 10.0])),
        heater=float(draw.choice([23.0, 24.0])) if draw.random() < 0.5 else None,
        flow=str(draw.choice(["still", "still", "gentle"])),
        soil_age=float(draw.uniform(300.0, 1500.0)), soil_store=25.0 * litres,
        soil_potassium=70.0 * litres, rooted=2.0 * litres, bacteria=0.5 * litres,
        leach=float(draw.uniform(0.0, 0.08)), denitrify=float(draw.uniform(0.03, 0.07)),
    )  # fmt: skip
    some = list(draw.choice(["Lemna minor", "Spirodela polyrhiza", "Salvinia natans",
                             "Pistia stratiotes"], size=1 + int(draw.random() < 0.3),
                            replace=False))  # fmt: skip
    dense = {"Lemna minor": 520.0, "Spirodela polyrhiza": 820.0, "Salvinia natans": 1100.0,
             "Pistia stratiotes": 3200.0}  # fmt: skip
    plants = {str(n): 0.26 * area * dense[str(n)] / len(some) for n in some}
    animals: dict[str, float] = {"Neocaridina davidi": float(draw.integers(8, 20)),
                                 "Planorbella duryi": float(draw.integers(4, 9))}
    if litres > 20.0:
        fish = str(draw.choice(["Poecilia wingei", "Tanichthys albonubes", "Boraras brigittae"]))
        animals[fish] = float(draw.integers(5, 9))
    mouths = sum(n * MASS[s] for s, n in animals.items())
    habit = Habit(target=float(draw.uniform(0.3, 0.5)),
                  pinch=round(float(np.clip(0.012 * mouths, 0.02, 0.2)), 3))
    return Start(build, pour, plants, animals, habit, room=float(draw.uniform(20.5, 22.5)),
                 season=float(draw.uniform(-0.05, 0.08)))  # fmt: skip


def _with(start: Start, **changes: object) -> Start:
    return replace(start, build=replace(start.build, **changes))  # type: ignore[arg-type]


def _from(day: int, act: Callable[[Keeping], None]) -> Happens:
    """Do something once, on one day."""

    def happens(keeping: Keeping, today: int) -> None:
        if today == day:
            act(keeping)

    return happens


# healthy


def lidded(draw: np.random.Generator) -> Start:
    """A stable tank under a tight lid."""
    return _with(usual(draw), lid="tight")


def nitrate_nothing(draw: np.random.Generator) -> Start:
    """Nitrate reads nothing and plants grow well: ammonia feeds them."""
    start = _with(usual(draw), denitrify=0.5, soil_store=2000.0, soil_age=200.0)
    start.habit.pinch *= 1.5
    return start


def replanted(draw: np.random.Generator) -> Start:
    """Cloudy for some days after replanting, and well."""

    def act(keeping: Keeping) -> None:
        keeping.world.rooted += 15.0
        keeping.exact(9.5, "plant_in", "Vallisneria spiralis", 15.0, "g")
        keeping.extra_signs["cloudy"] = 0.9

    def happens(keeping: Keeping, day: int) -> None:
        if day == 56:
            act(keeping)
        if day == 68:
            keeping.extra_signs.pop("cloudy", None)

    return replace(usual(draw), happens=happens)


def salty(draw: np.random.Generator) -> Start:
    """High conductivity that stays: hard water under a lid."""
    start = _with(usual(draw), lid="tight")
    kh, gh, salts = HARD
    return replace(start, pour=replace(start.pour, kh=0.8 * kh, gh=0.9 * gh, salts=3.0 * salts))


def new_and_well(draw: np.random.Generator) -> Start:
    """Two months old, planted thickly from the first day; nothing ever showed."""
    return _with(usual(draw), soil_age=70.0, rooted=90.0)


def dense_and_well(draw: np.random.Generator) -> Start:
    """A closed mat over animals that breathe air."""
    start = usual(draw)
    start.habit.target = 0.85
    return replace(start, animals={"Trichopsis pumila": 5.0, "Physella acuta": 10.0})


# causes


def salt_creep(draw: np.random.Generator) -> Start:
    """An open tank topped up with hard water."""
    start = _with(usual(draw), lid="open", litres=22.0, area=0.11, heater=25.0)
    kh, gh, salts = HARD
    return replace(start, pour=replace(start.pour, kh=kh, gh=gh, salts=salts), room=22.5)


def hardness_draining(draw: np.random.Generator) -> Start:
    """Rain alone: what nitrification eats is not brought back."""
    start = _with(usual(draw), leach=-0.22, lid="partial")
    start.habit.pinch *= 2.0
    rain = Pour("butt", "rain", 0.1, 0.2, 8.0, nitrate=0.3, potassium=0.4)

    def prepare(world: World) -> None:
        world.kh, world.gh, world.salts = 4.5, 6.0, 90.0

    return replace(start, pour=rain, prepare=prepare)


def copper_source(draw: np.random.Generator) -> Start:
    """New pipework: standing water brings copper from one day on."""
    start = _with(usual(draw), lid="open", litres=20.0, area=0.1)

    def act(keeping: Keeping) -> None:
        keeping.world.pour = replace(keeping.world.pour, copper=0.9)

    return replace(start, happens=_from(56, act),
                   animals={"Neocaridina davidi": 20.0, "Planorbella duryi": 8.0})  # fmt: skip


def overgrown(draw: np.random.Generator) -> Start:
    """Thinning is left out from one day on."""
    start = _with(usual(draw), light=100.0, flow="still")

    def act(keeping: Keeping) -> None:
        keeping.habit.harvests = False

    start.animals.setdefault("Tanichthys albonubes", 6.0)
    return replace(start, happens=_from(42, act))


def heat(draw: np.random.Generator) -> Start:
    """A heat wave that stays."""
    start = _with(usual(draw), heater=None)

    def happens(keeping: Keeping, day: int) -> None:
        if 56 <= day < 64:
            keeping.world.room += 1.1

    return replace(start, happens=happens)


def overfeeding(draw: np.random.Generator) -> Start:
    """Three times the food from one day on, noted or not."""
    start, noted = usual(draw), bool(draw.random() < 0.6)

    def act(keeping: Keeping) -> None:
        keeping.habit.pinch *= 3.5
        if not noted:
            keeping.habit.noted /= 3.5

    return replace(start, happens=_from(56, act))


def dead_animal(draw: np.random.Generator) -> Start:
    """A large snail dies out of sight."""

    def act(keeping: Keeping) -> None:
        keeping.world.rot(9.0 * keeping.world.build.litres)
        keeping.extra_signs |= {"missing_animal": 0.7, "cloudy": 0.5}

    def happens(keeping: Keeping, day: int) -> None:
        if day == 56:
            act(keeping)
        if day == 77:
            keeping.extra_signs.pop("cloudy", None)

    return replace(usual(draw), happens=happens)


def plant_dieback(draw: np.random.Generator) -> Start:
    """Rooted plants melt within a week."""

    def happens(keeping: Keeping, day: int) -> None:
        world = keeping.world
        if 56 <= day < 63:
            lost = 0.2 * world.rooted
            world.rooted -= lost
            world.rot(1.2 * lost)
            keeping.extra_signs["melt"] = 0.8
        if day == 84:
            keeping.extra_signs.pop("melt", None)

    return replace(usual(draw), happens=happens)


def soil_release(draw: np.random.Generator) -> Start:
    """Pulling plants lets out what the soil holds."""
    noted = bool(draw.random() < 0.75)

    def act(keeping: Keeping) -> None:
        keeping.world.ammonia += 2.0 * keeping.world.build.litres
        keeping.world.phosphorus += 0.4 * keeping.world.build.litres
        keeping.world.given["nitrogen"] += 2.0 * keeping.world.build.litres
        if noted:
            keeping.note(9.0, "soil_disturbed")

    return replace(_with(usual(draw), bacteria=5.0), happens=_from(61, act))


def young_bacteria(draw: np.random.Generator) -> Start:
    """A new tank: ammonia, then nitrite."""
    start = _with(usual(draw), soil_age=6.0, soil_store=1800.0, bacteria=0.3, rooted=25.0)
    start.animals = {"Physella acuta": 6.0}
    start.plants = {n: 0.4 * g for n, g in start.plants.items()}
    return start


def _starved(draw: np.random.Generator) -> Start:
    start = _with(usual(draw), lid="partial", soil_age=1500.0, light=100.0)
    rain = Pour("butt", "rain", 0.4, 0.8, 12.0, nitrate=0.2, phosphorus=0.005, potassium=0.1)

    def prepare(world: World) -> None:
        world.kh, world.gh, world.salts, world.phosphorus = 5.0, 7.0, 80.0, 0.3 * world.level

    return replace(start, pour=rain, prepare=prepare)


def nitrogen_short(draw: np.random.Generator) -> Start:
    """The bed and the plants take more nitrogen than food brings."""
    start = _with(_starved(draw), soil_store=10.0)

    def happens(keeping: Keeping, day: int) -> None:
        if day == 42:
            keeping.habit.pinch *= 0.3
            keeping.world.build = replace(keeping.world.build, denitrify=0.8)

    return replace(start, happens=happens)


def phosphorus_short(draw: np.random.Generator) -> Start:
    """Phosphorus is bound as fast as it comes."""
    start = _starved(draw)

    def happens(keeping: Keeping, day: int) -> None:
        if day >= 42:
            keeping.world.phosphorus *= 0.06

    return replace(start, happens=happens)


def potassium_short(draw: np.random.Generator) -> Start:
    """Old soil and rain hold no potassium."""
    start = _with(_starved(draw), soil_potassium=5.0)

    def happens(keeping: Keeping, day: int) -> None:
        if day >= 35:
            keeping.world.potassium *= 0.85

    return replace(start, happens=happens)


def iron_short(draw: np.random.Generator) -> Start:
    """Iron settles faster than it comes."""
    start = _starved(draw)

    def happens(keeping: Keeping, day: int) -> None:
        if day >= 42:
            keeping.world.iron *= 0.4

    return replace(start, happens=happens)


def low_light(draw: np.random.Generator) -> Start:
    """The lamp fails; sometimes the keeper measures it."""

    def act(keeping: Keeping) -> None:
        keeping.world.dimmed = 0.22
        if keeping.chance.random() < 0.5:
            shown = 0.22 * keeping.world.build.light
            keeping.note(9.0, "reading", "light_ppfd", 0.9 * shown, 1.1 * shown, "umol/m2/s")

    return replace(usual(draw), happens=_from(56, act))


def too_much_flow(draw: np.random.Generator) -> Start:
    """A pump is put in, and noted."""
    start = _with(usual(draw), flow="still")

    def act(keeping: Keeping) -> None:
        keeping.world.build = replace(keeping.world.build, flow="strong")
        keeping.entries.append(
            replace(_setting(keeping), what="flow", note="strong")
        )

    return replace(start, happens=_from(56, act))


def _setting(keeping: Keeping):  # type: ignore[no-untyped-def]
    keeping.note(9.0, "setting", "flow")
    return keeping.entries.pop()


def grazing(draw: np.random.Generator) -> Start:
    """Animals eat the plants from one day on."""

    def act(keeping: Keeping) -> None:
        keeping.world.eaten = 0.09

    return replace(usual(draw), happens=_from(56, act))


def surface_film(draw: np.random.Generator) -> Start:
    """A film forms and stays."""

    def act(keeping: Keeping) -> None:
        keeping.world.filming = 0.4

    return replace(_with(usual(draw), flow="still"), happens=_from(56, act))


def osmotic_step(draw: np.random.Generator) -> Start:
    """A large change with a very different water."""
    start = usual(draw)

    def act(keeping: Keeping) -> None:
        world = keeping.world
        other = replace(world.pour, gh=world.pour.gh + 14.0, salts=world.pour.salts + 250.0)
        world.change(0.6 * world.level, other)
        litres = 0.6 * world.build.litres
        keeping.exact(9.0, "water_change", world.pour.name, litres, "L")
        for name in ("Neocaridina davidi",):
            lost = int(0.4 * world.animals.get(name, 0))
            world.animals[name] = world.animals.get(name, 0) - lost
            world.died[name] = world.died.get(name, 0) + lost
        keeping.extra_signs["hiding"] = 0.6

    def happens(keeping: Keeping, day: int) -> None:
        if day == 60:
            act(keeping)
        if day == 75:
            keeping.extra_signs.pop("hiding", None)

    return replace(start, happens=happens)


def softened_water(draw: np.random.Generator) -> Start:
    """A softener is put in the house: sodium takes the place of hardness."""
    start = _with(usual(draw), lid="open")

    def happens(keeping: Keeping, day: int) -> None:
        world = keeping.world
        if day == 56:
            world.pour = replace(world.pour, gh=0.3, sodium=True)
        if day in (57, 64, 71):
            world.change(0.35 * world.level)
            litres = 0.35 * world.build.litres
            keeping.exact(9.0, "water_change", world.pour.name, litres, "L")

    return replace(start, happens=happens)


def reading_fault(draw: np.random.Generator) -> Start:
    """The pen slips a digit."""

    def act(keeping: Keeping) -> None:
        keeping.pen(factor=float(keeping.chance.choice([0.1, 2.0, 10.0])))

    return replace(usual(draw), happens=_from(89, act))


STORIES: Mapping[str, Story] = {
    "lidded": Story("nothing_wrong", lidded), "open": Story("nothing_wrong", usual),
    "nitrate_nothing": Story("nothing_wrong", nitrate_nothing),
    "replanted": Story("nothing_wrong", replanted), "salty": Story("nothing_wrong", salty),
    "new_and_well": Story("nothing_wrong", new_and_well),
    "dense_and_well": Story("nothing_wrong", dense_and_well),
    "salt_creep": Story("salt_creep", salt_creep, 0, 49),
    "hardness_draining": Story("hardness_draining", hardness_draining, 0, 70),
    "copper_source": Story("copper_source", copper_source, 56, 21),
    "overgrown_cover": Story("overgrown_cover", overgrown, 42, 21),
    "heat": Story("heat", heat, 56, 8),
    "overfeeding": Story("overfeeding", overfeeding, 56, 14),
    "dead_animal": Story("dead_animal", dead_animal, 56, 4),
    "plant_dieback": Story("plant_dieback", plant_dieback, 56, 6),
    "soil_release": Story("soil_release", soil_release, 61, 1),
    "young_bacteria": Story("young_bacteria", young_bacteria, 0, 7),
    "nitrogen_short": Story("nitrogen_short", nitrogen_short, 42, 28),
    "phosphorus_short": Story("phosphorus_short", phosphorus_short, 42, 28),
    "potassium_short": Story("potassium_short", potassium_short, 35, 35),
    "iron_short": Story("iron_short", iron_short, 42, 28),
    "low_light": Story("low_light", low_light, 56, 21),
    "too_much_flow": Story("too_much_flow", too_much_flow, 56, 14),
    "grazing": Story("grazing", grazing, 56, 14),
    "surface_film": Story("surface_film", surface_film, 56, 7),
    "osmotic_step": Story("osmotic_step", osmotic_step, 60, 2),
    "softened_water": Story("softened_water", softened_water, 56, 14),
    "reading_fault": Story("reading_fault", reading_fault, 89, 1),
}
