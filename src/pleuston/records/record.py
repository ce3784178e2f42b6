"""Everything a keeper notes about a rack: frozen data, no files, no clock.

Numbers are in the units of their field names, as the keeper gave them; the
properties beside them give canonical units. All times are aware and in UTC, so
that differences are true even over a change of the clocks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

from pleuston.base.errors import UnknownNameError
from pleuston.records.near import near_names

KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class Rack:
    """The settings of a rack."""

    name: str = ""
    timezone: str = ""
    latitude_deg: float | None = None
    altitude_m: float | None = None
    room_c: float | None = None
    room_humidity_pct: float | None = None
    region: str = ""
    round_minutes: float | None = None
    """Minutes that the keeper has for a round; None for the usual ones."""

    @property
    def zone(self) -> tzinfo | None:
        """The time zone of local times; None when the rack names none."""
        return ZoneInfo(self.timezone) if self.timezone else None

    @property
    def room_temperature(self) -> float | None:
        """Mean room temperature [K]."""
        return None if self.room_c is None else self.room_c + KELVIN

    @property
    def room_humidity(self) -> float | None:
        """Mean relative humidity of the room [1]."""
        return None if self.room_humidity_pct is None else self.room_humidity_pct / 100


@dataclass(frozen=True, slots=True)
class Water:
    """One analysis of a source water; nitrate, phosphate and sulfate as ions."""

    name: str
    kind: str = "tap"
    calcium_mg_l: float | None = None
    magnesium_mg_l: float | None = None
    sodium_mg_l: float | None = None
    potassium_mg_l: float | None = None
    bicarbonate_mg_l: float | None = None
    sulfate_mg_l: float | None = None
    chloride_mg_l: float | None = None
    nitrate_mg_l: float | None = None
    phosphate_mg_l: float | None = None
    iron_mg_l: float | None = None
    copper_ug_l: float | None = None
    zinc_ug_l: float | None = None
    ph: float | None = None
    kh_dh: float | None = None
    gh_dh: float | None = None
    ec25_us_cm: float | None = None
    valid_from: datetime | None = None
    note: str = ""
    valid_from_text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Blend:
    """A mix of source waters; the shares sum to one."""

    name: str
    parts: tuple[tuple[str, float], ...]
    """Pairs of a water's name and its share."""


@dataclass(frozen=True, slots=True)
class Feed:
    """What a feed holds, of the feed as it is given (moist)."""

    name: str
    protein_pct: float | None = None
    phosphorus_pct: float | None = None
    potassium_pct: float | None = None
    copper_mg_kg: float | None = None
    moisture_pct: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Soil:
    """What a batch of soil holds, of its dry mass."""

    name: str
    organic_pct: float | None = None
    nitrogen_pct: float | None = None
    phosphorus_pct: float | None = None
    copper_mg_kg: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Tank:
    """A tank as it was set up; later changes are `setting` entries."""

    name: str
    net_l: float
    surface_m2: float
    lid: str = "open"
    heater_c: float | None = None
    light_hours: float | None = None
    light_ppfd: float | None = None
    soil: str = ""
    soil_mm: float | None = None
    cap_mm: float | None = None
    soil_since: datetime | None = None
    started: datetime | None = None
    flow: str = "still"
    top_up_water: str = ""
    cover_target_pct: float | None = None
    note: str = ""
    soil_since_text: str = field(default="", compare=False)
    started_text: str = field(default="", compare=False)

    @property
    def water_depth(self) -> float:
        """Net litres spread over the surface [m]."""
        return self.net_l / 1000 / self.surface_m2

    @property
    def heater_setpoint(self) -> float | None:
        """Heater set-point [K]; None when unheated."""
        return None if self.heater_c is None else self.heater_c + KELVIN

    @property
    def soil_depth(self) -> float:
        """Depth of the soil [m]; 0 where none is given."""
        return (self.soil_mm or 0.0) / 1000

    @property
    def cap_depth(self) -> float:
        """Depth of the cap over the soil [m]; 0 where none is given."""
        return (self.cap_mm or 0.0) / 1000

    @property
    def cover_target(self) -> float | None:
        """Share of the surface to leave under floating plants [1]."""
        return None if self.cover_target_pct is None else self.cover_target_pct / 100


@dataclass(frozen=True, slots=True)
class Entry:
    """A thing that happened: never changed, only followed by other entries."""

    id: str
    at: datetime
    tank: str
    kind: str
    what: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    by: str = ""
    method: str = ""
    note: str = ""
    at_text: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise ValueError(f"entry {self.id}: the time {self.at} has no time zone")
        object.__setattr__(self, "at", self.at.astimezone(UTC))

    @property
    def amount(self) -> float | None:
        """The middle of low and high in the entry's unit; None when neither is known."""
        known = [value for value in (self.low, self.high) if value is not None]
        return float(sum(known)) / len(known) if known else None


@dataclass(frozen=True, slots=True)
class Record:
    """A rack with its waters, feeds, soils, tanks and all that happened."""

    rack: Rack = field(default_factory=Rack)
    waters: tuple[Water, ...] = ()
    blends: tuple[Blend, ...] = ()
    feeds: tuple[Feed, ...] = ()
    soils: tuple[Soil, ...] = ()
    tanks: tuple[Tank, ...] = ()
    entries: tuple[Entry, ...] = ()

    def tank(self, name: str) -> Tank:
        """Give the tank of that name as it was set up."""
        for tank in self.tanks:
            if tank.name == name:
                return tank
        names = [tank.name for tank in self.tanks]
        raise UnknownNameError(
            what=f"there is no tank named {name!r}",
            where=f"rack {self.rack.name}".strip(),
            remedy=near_names(name, names),
        )

    def entries_of(
        self, tank: str, until: datetime | None = None, kind: str | Iterable[str] = ()
    ) -> tuple[Entry, ...]:
        """Give the entries of a tank in order of time, those of the whole rack among them."""
        kinds = {kind} if isinstance(kind, str) else set(kind)
        found = (
            entry
            for entry in self.entries
            if entry.tank in (tank, "")
            and (until is None or entry.at <= until)
            and (not kinds or entry.kind in kinds)
        )
        return tuple(sorted(found, key=lambda entry: entry.at))

    def until(self, time: datetime) -> Record:
        """Give the record as it stood at that time: nothing later is in it.

        A water whose first analysis is later keeps its name and kind alone.
        """
        return replace(
            self,
            waters=_waters_until(self.waters, time),
            tanks=tuple(t for t in self.tanks if t.started is None or t.started <= time),
            entries=tuple(entry for entry in self.entries if entry.at <= time),
        )

    def tank_at(self, name: str, time: datetime) -> Tank:
        """Give the tank with all its `setting` entries up to that time carried out."""
        tank = self.tank(name)
        for entry in self.entries_of(name, until=time, kind="setting"):
            tank = changed_by(tank, entry)
        return tank

    def water_rows(self, name: str) -> tuple[Water, ...]:
        """Give all analyses of the rack's own water of that name, oldest first."""
        rows = [water for water in self.waters if water.name == name]
        return tuple(sorted(rows, key=lambda water: water.valid_from or _EARLIEST))

    def local(self, time: datetime) -> datetime:
        """Give the time on the rack's own clock (UTC when it names no time zone)."""
        return time.astimezone(self.rack.zone or UTC)


_EARLIEST = datetime(1, 1, 2, tzinfo=UTC)


def _waters_until(waters: tuple[Water, ...], time: datetime) -> tuple[Water, ...]:
    known = [w for w in waters if w.valid_from is None or w.valid_from <= time]
    names = {water.name for water in known}
    for water in waters:
        if water.name not in names:
            names.add(water.name)
            known.append(Water(water.name, water.kind))
    return tuple(known)


def changed_by(tank: Tank, entry: Entry) -> Tank:
    """Give the tank after one `setting` entry."""
    match entry.what:
        case "lid":
            return replace(tank, lid=entry.note)
        case "flow":
            return replace(tank, flow=entry.note)
        case "top_up_water":
            return replace(tank, top_up_water=entry.note)
        case "heater_c":
            return replace(tank, heater_c=entry.amount)
        case "light_hours":
            return replace(tank, light_hours=entry.amount)
        case "light_ppfd":
            return replace(tank, light_ppfd=entry.amount)
        case "cover_target_pct":
            return replace(tank, cover_target_pct=entry.amount)
        case _:
            raise UnknownNameError(
                what=f"a tank has no setting named {entry.what!r}",
                where=f"entry {entry.id}",
                remedy="use light_hours, light_ppfd, heater_c, cover_target_pct, lid, flow "
                "or top_up_water",
            )
