"""One tank as the engine runs it: its parameters, start, forcings and jumps.

A case is made from a record up to a moment. `parameters` and `start` turn the values of
uncertain things (drawn from priors or learned) into the arrays of an ensemble.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import pairwise

import numpy as np

from pleuston.base import parameters as parameter_files
from pleuston.base.errors import EngineError
from pleuston.base.parameters import Parameter
from pleuston.engine.events import Maker, Plants, floating_plants, parameter_record
from pleuston.engine.forcing import Clock, forcings
from pleuston.engine.kernel import Array, Table, tank_table
from pleuston.engine.schedule import Event, Schedule, Series, build_schedule
from pleuston.engine.start import Opening, opening, start_states
from pleuston.engine.waters import WATER_IN, usual_water
from pleuston.records.record import Entry, Record, Tank

WALL_HEIGHT_SHARE = 1.15
"""Glass below the waterline over that of a box of the net depth: common practice, no source."""
WEEK, UNLOGGED_AFTER = 7.0, 21.0
"""Days between top-ups that are taken for granted, and without any before they are."""
BED_HEAT = 0.3
"""Water equivalent of a litre of wet soil and cap beyond its pore water [L/L]: guess."""


@dataclass(frozen=True)
class Case:
    """One tank of a record, ready to run from its start."""

    record: Record
    tank: Tank
    clock: Clock
    plants: Plants
    records: Mapping[str, Parameter]

    @cached_property
    def table(self) -> Table:
        """The table of the tank model."""
        return tank_table()

    @cached_property
    def maker(self) -> Maker:
        """Makes this tank's jumps."""
        return Maker(self.record, self.tank, self.clock, self.plants, self.records)

    @cached_property
    def opening(self) -> Opening:
        """What is known of the tank at the start of the record."""
        return opening(self.record, self.tank, self.clock)

    @property
    def scale(self) -> float:
        """Size relative to a tank of 30 L."""
        return self.tank.net_l / 30.0

    @cached_property
    def constants(self) -> dict[str, float]:
        """The tank's own dimensions, as parameters of the model."""
        tank = self.tank
        depth = tank.water_depth
        side = float(np.sqrt(tank.surface_m2))
        bed = (tank.soil_depth + tank.cap_depth) * tank.surface_m2 * 1000.0
        return {
            "surface_area": tank.surface_m2,
            "wall_area": 4.0 * side * depth * WALL_HEIGHT_SHARE,
            "net_volume": tank.net_l,
            "cap_depth": tank.cap_depth,
            "bed_heat_capacity": BED_HEAT * bed,
        }

    @cached_property
    def base(self) -> Array:
        """The parameters of the model at their recorded values."""
        return np.array([self._value(n) for n in self.table.parameters])

    def _value(self, name: str) -> float:
        if name in self.constants:
            return self.constants[name]
        own = self.opening.parameters.get(name)
        return own if own is not None else self.record_of(name).value

    def record_of(self, name: str) -> Parameter:
        """The record behind a parameter of the model."""
        return parameter_record(self.records, name, self.plants)

    def parameters(self, values: Mapping[str, Array], members: int) -> Array:
        """(members, parameters): recorded values, with those of `values` in their place."""
        result = np.tile(self.base, (members, 1))
        for name, column in values.items():
            if name in self.table.index["parameter"]:
                result[:, self.table.at("parameter", name)] = column
        return result

    def start(self, values: Mapping[str, Array], members: int) -> Array:
        """(members, states) at the start of the record."""
        return start_states(self.table, self.opening, values, members)

    def events(self, until: float, entries: Sequence[Entry] | None = None) -> list[Event]:
        """The jumps of the record from its start to a day."""
        given = self.record.entries_of(self.tank.name) if entries is None else entries
        made = [*self.maker.events(given), *self.unlogged_top_ups(given, until)]
        return [e for e in made if 0.0 <= e.time < until]

    def unlogged_top_ups(self, entries: Sequence[Entry], until: float) -> list[Event]:
        """Weekly top-ups where none is logged for three weeks: no keeper lets a tank dry out.

        The water is the one poured before, else the usual one; a holiday stays without.
        """
        poured = [e for e in entries if e.kind in WATER_IN and e.tank == self.tank.name]
        days = [0.0, *(self.clock.day(e.at) for e in poured), until]
        usual = usual_water(self.record, self.tank)
        waters = [usual, *(e.what or usual for e in poured)]
        away = [
            (self.clock.day(e.at), self.clock.day(e.at) + (e.amount or 0.0))
            for e in entries if e.kind == "holiday"
        ]  # fmt: skip
        made = []
        for (start, end), water in zip(pairwise(days), waters, strict=True):
            if end - start < UNLOGGED_AFTER:
                continue
            weeks = np.arange(start + WEEK, end - WEEK / 2.0, WEEK)
            made += [
                self.maker.top_up_event(float(day), water)
                for day in weeks if not any(first <= day < last for first, last in away)
            ]  # fmt: skip
        return made

    def schedule(
        self, start: float, end: float, records: Sequence[float] | Array,
        events: Sequence[Event] | None = None, drivers: Mapping[str, Series] | None = None,
    ) -> Schedule:  # fmt: skip
        """The timeline from day to day; the record's own jumps and forcings unless given."""
        jumps = self.events(end) if events is None else list(events)
        series = forcings(self.record, self.tank, self.clock, end) if drivers is None else drivers
        inside = [e for e in jumps if start <= e.time < end]
        return build_schedule(self.table, start, end, series, inside, records)


def tank_case(record: Record, name: str, at: datetime) -> Case:
    """The case of a tank from the record up to a moment, nothing later.

    Raises EngineError when nothing is known of the tank before that moment.
    """
    known = record.until(at)
    tank = known.tank(name)
    entries = known.entries_of(name)
    moments = [e.at for e in entries if e.tank == name]
    if not moments:
        raise EngineError(
            f"nothing is recorded before {at.isoformat()}", where=f"tank {name}",
            remedy="Ask for a later time, or record its plants, animals and a reading",
        )  # fmt: skip
    clock = Clock(min(moments), known)
    return Case(known, tank, clock, floating_plants(known, name), parameter_files.load())
