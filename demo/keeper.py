"""The invented keeper: coarse kits, a shaky hand, and one line of record per thing done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from demo.world import World

CHARTS: dict[str, tuple[float, ...]] = {
    "ammonium_ion": (0.0, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4),
    "nitrite_ion": (0.0, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0),
    "nitrate_ion": (0.0, 5.0, 12.0, 25.0, 50.0, 90.0),
    "phosphate_ion": (0.0, 0.2, 0.5, 1.0, 2.0, 4.0),
    "potassium": (0.0, 2.0, 4.0, 7.0, 10.0, 15.0),
    "copper": (0.0, 0.1, 0.2, 0.4, 0.8),
    "oxygen": (0.0, 2.0, 4.0, 6.0, 8.0, 10.0),
    "ph": (5.6, 6.0, 6.3, 6.6, 6.9, 7.2, 7.5, 7.8, 8.1, 8.4, 8.8),
}
"""Steps of the keeper's own charts; the step at 0 is the blank colour."""
BIAS = {"ammonium_ion": 1.12, "nitrate_ion": 0.85, "phosphate_ion": 1.05}
SHADE = {"ammonium_ion": 0.03}
"""The blank of the ammonium chart looks a little green already."""
SPREAD = {"phosphate_ion": 0.25, "nitrate_ion": 0.16, "potassium": 0.2}
PEN_FACTOR = 0.5
PEN_BIAS = 1.03
FULL_TEST = ("ammonium_ion", "nitrite_ion", "nitrate_ion", "kh", "gh", "ph", "phosphate_ion")
UNITS = {"kh": "dH", "gh": "dH", "ph": "", "ec25": "uS/cm", "pen_ppm": "ppm", "temperature": "C",
         "cover": "%", "level_drop": "mm", "room_temperature": "C", "humidity": "%"}  # fmt: skip
ION_OF = {"ammonium_ion": ("tan", 18.038 / 14.007), "nitrite_ion": ("no2", 46.005 / 14.007),
          "nitrate_ion": ("no3", 62.004 / 14.007), "phosphate_ion": ("po4", 94.971 / 30.974),
          "potassium": ("k", 1.0), "copper": ("cu", 1.0)}  # fmt: skip


def text(value: float | None, digits: int = 3) -> str:
    """A number as a keeper writes it."""
    if value is None:
        return ""
    shown = f"{value:.{digits}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


@dataclass
class Note:
    """One row of entries.csv before it is written."""

    at: datetime
    tank: str
    kind: str
    what: str = ""
    low: str = ""
    high: str = ""
    unit: str = ""
    method: str = ""
    note: str = ""
    id: str = ""

    @property
    def row(self) -> tuple[str, ...]:
        when = self.at.isoformat(timespec="minutes")
        return (self.id, when, self.tank, self.kind, self.what, self.low, self.high,
                self.unit, "keeper", self.method, self.note)  # fmt: skip


@dataclass
class Keeper:
    """Reads and notes; every chance comes from one generator."""

    chance: np.random.Generator
    notes: list[Note] = field(default_factory=list)
    clock: datetime = datetime(2026, 3, 2)

    def at(self, day: datetime, hour: float) -> None:
        """Set the clock to an hour of a day, a few minutes off."""
        minutes = int(hour * 60 + self.chance.integers(0, 7))
        self.clock = day + timedelta(minutes=minutes)

    def write(
        self, tank: str, kind: str, what: str = "", low: str = "", high: str = "",
        unit: str = "", method: str = "", note: str = "", minutes: int = 0,
    ) -> Note:  # fmt: skip
        """Note one thing, some minutes after the last."""
        self.clock += timedelta(minutes=minutes)
        made = Note(self.clock, tank, kind, what, low, high, unit, method, note)
        self.notes.append(made)
        return made

    def amount(
        self, tank: str, kind: str, what: str, value: float, unit: str, digits: int = 3,
        method: str = "", note: str = "",
    ) -> Note:  # fmt: skip
        """Note an exact amount."""
        shown = text(value, digits)
        return self.write(tank, kind, what, shown, shown, unit, method, note)

    def seen(self, tank: str, sign: str, note: str = "") -> None:
        self.write(tank, "seen", sign, "1", "1", note=note)

    # readings

    def test(self, tank: str, world: World, what: str) -> None:
        """One drop test or chart of the water as it stands."""
        if what in ("kh", "gh"):
            true = world.kh if what == "kh" else world.gh
            self._drops(tank, what, true)
            return
        if what == "ph":
            value = world.ph_morning + self.chance.normal(0.0, 0.10)
        elif what == "oxygen":
            value = world.oxygen_dawn * self.chance.lognormal(0.0, 0.12)
        else:
            store, ion = ION_OF[what]
            value = world.conc(store) * ion * BIAS.get(what, 1.0) + SHADE.get(what, 0.0)
            value *= self.chance.lognormal(0.0, SPREAD.get(what, 0.12))
        self._chart(tank, what, value)

    def _chart(self, tank: str, what: str, value: float) -> None:
        """The nearest colour stands for all up to the middles between the colours."""
        steps = CHARTS[what]
        place = int(np.argmin([abs(value - step) for step in steps]))
        if self.chance.random() < 0.04:
            place = int(np.clip(place + self.chance.choice((-1, 1)), 0, len(steps) - 1))
        low, high = middles(steps, place)
        unit = UNITS.get(what, "mg/L")
        self.write(tank, "reading", what, text(low), text(high), unit, "chart", minutes=1)

    def _drops(self, tank: str, what: str, true: float) -> None:
        """A count of drops: the colour turned somewhere within the last."""
        count = max(1, int(np.ceil(true * self.chance.normal(1.0, 0.03))))
        low = "" if count == 1 else str(count - 1)
        self.write(tank, "reading", what, low, str(count), "dH", "titration", minutes=1)

    def pen(self, tank: str, world: World, shows_ec: bool) -> None:
        """The pen shows whole ppm, or conductivity in tens."""
        value = world.ec25 * PEN_BIAS * self.chance.normal(1.0, 0.012)
        if shows_ec:
            shown = round(value / 10.0) * 10
            self.write(tank, "reading", "ec25", str(shown - 5), str(shown + 5), "uS/cm", "pen")
            return
        shown_ppm = round(value * PEN_FACTOR)
        low, high = text(shown_ppm - 0.5), text(shown_ppm + 0.5)
        self.write(tank, "reading", "pen_ppm", low, high, "ppm", f"pen factor {PEN_FACTOR}")

    def thermometer(self, tank: str, degrees: float, what: str = "temperature") -> None:
        shown = round(2.0 * (degrees + self.chance.normal(0.2, 0.2))) / 2.0
        self.write(tank, "reading", what, text(shown - 0.25), text(shown + 0.25), "C",
                   "thermometer")  # fmt: skip

    def hygrometer(self, percent: float) -> None:
        shown = round(percent + self.chance.normal(0.0, 2.0))
        self.write("", "reading", "humidity", str(shown - 3), str(shown + 3), "%", "dial")

    def cover(self, tank: str, world: World, note: str = "") -> None:
        """By eye, to the next five in a hundred."""
        shown = 5 * round(20.0 * float(np.clip(world.cover + self.chance.normal(0, 0.04), 0, 1)))
        low, high = max(0, shown - 5), min(100, shown + 5)
        self.write(tank, "reading", "cover", str(low), str(high), "%", "eye", note, minutes=1)

    def harvest(self, tank: str, species: str, grams: float, note: str = "") -> None:
        """Drained grams: some water always clings."""
        shown = grams * self.chance.normal(1.07, 0.06)
        method = "scale, drained 5 min"
        self.amount(tank, "harvest", species, max(1.0, shown), "g", 0, method, note)

    def top_up(self, tank: str, world: World, water: str) -> float:
        """Fill to the mark; the ruler says how much. Gives the litres poured in."""
        true = world.full_l - world.litres
        mm = round(true / world.surface + self.chance.normal(0.0, 0.7))
        if mm < 1:
            return 0.0
        self.write(tank, "reading", "level_drop", text(mm - 1), text(mm + 1), "mm", "ruler")
        low, high = text((mm - 1) * world.surface, 2), text((mm + 1) * world.surface, 2)
        self.write(tank, "top_up", water, low, high, "L", f"{mm} mm on the glass", minutes=1)
        return max(0.0, true * float(self.chance.normal(1.0, 0.02)))


def middles(steps: Sequence[float], place: int) -> tuple[float | None, float | None]:
    """The range a colour stands for; the blank is open below, the last open above."""
    low = None if place == 0 else 0.5 * (steps[place - 1] + steps[place])
    high = None if place == len(steps) - 1 else 0.5 * (steps[place] + steps[place + 1])
    return low, high
