"""What planners stand on: the record of the rack, and how a tank stands as last worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from pleuston.base import parameters
from pleuston.base.errors import InputError
from pleuston.engine.events import floating_plants, parameter_record
from pleuston.engine.waters import dissolved
from pleuston.inference.tank import TankBelief
from pleuston.planning.limits import Caps, Limit, WaterState, caps_for, limits_for
from pleuston.planning.mixer import Use
from pleuston.planning.mixing import Mix, measured
from pleuston.planning.outlook import run_ahead
from pleuston.planning.policy import STORED_AMMONIA
from pleuston.planning.sources import DH, Source
from pleuston.records.library import library
from pleuston.records.own_limits import OwnLimit, own_limits
from pleuston.records.record import Record, Tank
from pleuston.services.plan_kinds import DILUTED
from pleuston.services.racks import counts

WEEKS = 4.0
CLINGING = 0.15
"""Water that clings to drained plants, as a share of their mass: common practice, 10 to 25 %."""
STANDING = ("ec25", "kh", "gh", "ph", "temperature", "ammonium", "nitrite", "nitrate", "copper",
            "potassium", "phosphate_ion", "ammonia_nh3")  # fmt: skip
P_OF_PO4 = 30.974 / 94.970
Spread = tuple[float, float, float]


@dataclass(frozen=True)
class Ground:
    """A rack's record at a moment, a tank of it or none, and how that stands.

    standing: by quantity what 10, 50 and 90 % of members stay below, as last worked out; empty
    where nothing is.
    """

    record: Record
    tank: str
    moment: datetime
    standing: Mapping[str, Spread]

    @cached_property
    def setup(self) -> Tank:
        """The tank with its settings of now."""
        return self.record.tank_at(self.tank, self.moment)

    @cached_property
    def animals(self) -> tuple[str, ...]:
        """Scientific names of the animals present."""
        entries = self.record.entries_of(self.tank, until=self.moment)
        present = counts(e for e in entries if e.tank == self.tank)
        return tuple(sorted({library().find_species(n).name for n, k in present.items() if k}))

    @cached_property
    def own(self) -> tuple[OwnLimit, ...]:
        """The keeper's own limits of the tank, in force at the moment."""
        return own_limits(self.record, self.tank, self.moment) if self.tank else ()

    @property
    def caps(self) -> Caps:
        """How far an act may move the water in a day."""
        return caps_for(self.animals if self.tank else (), self.own)

    @property
    def invertebrates(self) -> bool:
        """Whether shrimp or snails live here."""
        return any(library().find_species(n).group != "fish" for n in self.animals)

    def source(self, name: str) -> Source:
        """A water or blend of the rack, else of the library."""
        found = dissolved(self.record, name, self.moment)
        return Source(name, found.per_litre, found.assumed)

    def water_names(self) -> list[str]:
        """The rack's waters and blends; the library's where there are none."""
        names = [*(w.name for w in self.record.waters), *(b.name for b in self.record.blends)]
        return list(dict.fromkeys(names)) or list(library().waters)

    def sources(self) -> list[Source]:
        """The rack's waters and blends, those without use left out."""
        made = []
        for name in self.water_names():
            try:
                made.append(self.source(name))
            except InputError:
                continue
        return made

    def value(self, name: str, typed: float | None) -> float | None:
        """What was typed, else the middle of what is believed."""
        if typed is not None:
            return typed
        found = self.standing.get(name)
        return None if found is None else found[1]

    def water(self, values: Mapping[str, Any]) -> Mix:
        """The tank's water by what was typed, else by what is believed.

        Raises InputError that names everything that is not known.
        """
        names = ("ec25", "kh", "gh", "ph", "temperature", "ammonium")
        known = {n: self.value(n, values.get(n)) for n in names}
        missing = [n for n in names[:5] if known[n] is None]
        if missing:
            raise InputError(
                f"not known of {self.tank or 'the tank'}: {', '.join(missing)}", where="plan",
                remedy="type them in, or let the tank be worked out first",
            )  # fmt: skip
        return measured(
            ec25=known["ec25"] or 0.0, kh=known["kh"] or 0.0, gh=known["gh"] or 0.0,
            ph=known["ph"], celsius=known["temperature"] or 0.0,
            ammonium=known["ammonium"] or 0.0,
        )  # fmt: skip

    def limit_of(self, quantity: str, mix: Mix, severity: str) -> Limit | None:
        """The animals' strictest upper limit of something in this water, of one severity.

        Chloride, which guards against nitrite, is not known of a tank: none counts.
        """
        state = WaterState(
            mix.temperature, mix.ph, None, mix.gh_dh / DH, None
        )
        found = [
            x for x in limits_for(self.animals, state, self.own)
            if (x.quantity, x.side, x.severity) == (quantity, "high", severity)
        ]  # fmt: skip
        return min(found, key=lambda x: x.value, default=None)

    def use(self, litres: float | None, poured: float | None) -> Use:
        """How the tank is filled up, by the record of the last four weeks unless typed."""
        if not self.tank:
            return Use(litres or 0.0, poured or 0.0)
        since = self.moment - timedelta(weeks=WEEKS)
        recent = [
            e for e in self.record.entries_of(self.tank, until=self.moment)
            if e.at > since and e.tank == self.tank
        ]  # fmt: skip
        topped = sum(e.amount or 0.0 for e in recent if e.kind == "top_up") / WEEKS
        taken: dict[str, float] = {}
        grams = 0.0
        for entry in (e for e in recent if e.kind == "harvest" and e.amount):
            grams += (entry.amount or 0.0) / WEEKS
            for state, share in self._make_up(entry.what).items():
                taken[state] = taken.get(state, 0.0) + share * (entry.amount or 0.0) / WEEKS
        high = self.standing.get("ammonium", (0.0, 0.0, 0.0))[2]
        return Use(
            litres or self.setup.net_l, topped if poured is None else poured,
            CLINGING * grams / 1000.0, taken, self.value("ec25", None), self.value("kh", None),
            high > STORED_AMMONIA,
        )  # fmt: skip

    def _make_up(self, species: str) -> dict[str, float]:
        """Potassium of a drained gram of a plant [mg], its reserves half full."""
        found = library().find_species(species)
        plants = floating_plants(self.record, self.tank)
        slot = plants.slots.get(found.name, "rooted")
        records = parameters.load()

        def value(role: str) -> float:
            return parameter_record(records, f"{slot}_{role}", plants).value

        half = 0.5 * (value("potassium_min") + value("potassium_max"))
        return {"potassium": value("dry_share") * half}

    def with_standing(self, standing: Mapping[str, Spread]) -> Ground:
        """The same, with how the tank stands."""
        return replace(self, standing=standing)


def standing_of(answer: Mapping[str, Any]) -> dict[str, Spread]:
    """How a tank stands, from its answer `now`."""
    found: dict[str, Spread] = {}
    for name in STANDING:
        told = answer.get("quantities", {}).get(name)
        if told is not None:
            found[name] = (told["p10"], told["p50"], told["p90"])
    return _with_phosphate(found)


def standing_of_belief(belief: TankBelief, threads: int | None = None) -> dict[str, Spread]:
    """How a tank stands, from its belief."""
    ahead = run_ahead(belief, 1, threads=threads)
    found: dict[str, Spread] = {}
    for name in STANDING:
        low, middle, high = np.quantile(ahead.values(name)[0], [0.1, 0.5, 0.9])
        found[name] = (float(low), float(middle), float(high))
    return _with_phosphate(found)


def _with_phosphate(found: dict[str, Spread]) -> dict[str, Spread]:
    ion = found.pop("phosphate_ion", None)
    if ion is not None:
        found["phosphate"] = (ion[0] * P_OF_PO4, ion[1] * P_OF_PO4, ion[2] * P_OF_PO4)
    return found


def brought_by(source: Source, quantity: str) -> float:
    """How much of something that is diluted a litre of a water brings."""
    assert quantity in DILUTED
    if quantity in ("ec25", "kh", "gh"):
        return {"ec25": source.ec25, "kh": source.kh_dh, "gh": source.gh_dh}[quantity]
    return source.per_litre.get(quantity, 0.0)
