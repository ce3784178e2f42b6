"""A year of a tank with weekly events: every element's books close, no store goes below zero."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import run_ensemble
from pleuston.engine.forcing import forcings
from pleuston.engine.kernel import tank_kernel
from pleuston.engine.schedule import Event
from pleuston.engine.start import SOIL_DEFAULT, soil_put_in
from pleuston.services.demo import write_demo
from pleuston.services.racks import open_rack

from .evaluate import tank

DAYS = 365.0
MEMBERS = 8
FINEST = 1e-12
"""Of what the tank holds: how far a year's books may be off."""
AT = datetime(2026, 7, 20, 9, tzinfo=UTC)
WATER: Mapping[str, float] = {
    "calcium_in": 40.0, "magnesium_in": 8.0, "potassium_in": 2.0, "sodium_in": 15.0,
    "chloride_in": 20.0, "sulfate_in": 8.0, "ammonium_in": 0.02, "nitrite_in": 0.01,
    "nitrate_in": 3.0, "phosphate_in": 0.3, "iron_in": 0.02, "copper_in": 0.05, "zinc_in": 0.1,
    "humic_in": 1.0, "dom_carbon_in": 0.5, "carbon_inorganic_in": 25.0, "oxygen_in": 9.0,
    "temperature_in": 288.0,
}  # fmt: skip
FEED: Mapping[str, float] = {
    "feed_carbon": 150.0, "feed_nitrogen": 25.0, "feed_phosphorus": 4.0, "feed_potassium": 3.0,
    "feed_iron": 0.06, "feed_copper": 0.004, "feed_zinc": 0.03,
}  # fmt: skip
DOSE: Mapping[str, float] = {
    f"dose_{salt}": 5.0
    for salt in ("calcium", "magnesium", "potassium", "sodium", "chloride", "sulfate", "nitrate",
                 "ammonium", "phosphate", "carbon_inorganic")
} | {"dose_iron": 0.5, "dose_copper": 0.01, "dose_zinc": 0.02}  # fmt: skip
PLANT: Mapping[str, float] = {
    "plant_carbon": 200.0, "plant_nitrogen": 20.0, "plant_phosphorus": 3.0,
    "plant_potassium": 18.0, "plant_iron": 0.2, "plant_copper": 0.01, "plant_zinc": 0.03,
}  # fmt: skip


def week(number: int) -> list[Event]:
    """What happens in a week: one of everything a keeper does in the course of a quarter."""
    day = 7.0 * number
    slot = f"floater{1 + number % 3}"
    group = ("fish", "shrimp", "snails")[number % 3]
    events = [
        Event(day + 0.4, "feed", FEED),
        Event(day + 3.4, "feed", FEED),
        Event(day + 5.0, "top_up", {**WATER, "to_mark": 1.0}),
        Event(day + 5.5, f"harvest_{slot}", {"harvest_grams": 8.0, "harvest_cover": 0.4}),
        Event(day + 5.6, f"add_{slot}", PLANT),
    ]
    rarer = (
        Event(day + 6.0, "water_out", {"share": 0.25}),
        Event(day + 6.0, "dose", DOSE),
        Event(day + 6.0, "trim_rooted", {"trim_grams": 10.0}),
        Event(day + 6.0, "add_rooted", PLANT),
        Event(day + 6.0, "disturb_soil", {"share": 0.3}),
        Event(day + 6.0, "add_soil", soil_put_in(SOIL_DEFAULT, 0.05)),
        Event(day + 6.0, "add_shell", {"shell_grains": 2000.0}),
        Event(day + 6.0, f"add_{group}", {"body_carbon": 40.0}),
        Event(day + 6.1, f"remove_{group}", {"body_carbon": 15.0}),
        Event(day + 6.0, f"die_{group}", {"body_carbon": 20.0}),
    )
    return [*events, rarer[number % len(rarer)]]


@dataclass(frozen=True)
class Year:
    """States at the start of every week and at the end, and the extents of all changes."""

    states: np.ndarray
    end: np.ndarray
    extents: np.ndarray


def spread(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Starts and parameters of a few unlike members."""
    rng = np.random.default_rng(17)
    start = case.start({}, MEMBERS)
    dissolved = ["oxygen", "calcium", "alkalinity", "carbon_inorganic", "water", "heat"]
    free = [i for i, s in enumerate(tank().states) if s not in dissolved]
    start[:, free] *= np.exp(0.3 * rng.standard_normal((MEMBERS, len(free))))
    parameters = case.parameters({}, MEMBERS)
    for i, name in enumerate(case.table.parameters):
        if name not in case.constants:
            record = case.record_of(name)
            away = rng.uniform(-0.4, 0.4, MEMBERS)
            ends = np.where(away > 0.0, record.high, record.low)
            parameters[:, i] += np.abs(away) * (ends - parameters[:, i])
    return start, parameters


@pytest.fixture(scope="module")
def year(tmp_path_factory: pytest.TempPathFactory) -> Year:
    folder: Path = tmp_path_factory.mktemp("rack") / "demo"
    case = tank_case(open_rack(write_demo(folder)), "Birch", AT)
    start, parameters = spread(case)
    drivers = forcings(case.record, case.tank, case.clock, DAYS)
    kept, total, now = [start], 0.0, start
    for number in range(53):
        first, last = 7.0 * number, min(7.0 * number + 7.0, DAYS)
        events = [e for e in week(number) if e.time < last]
        schedule = case.schedule(first, last, [last], events=events, drivers=drivers)
        run = run_ensemble(
            tank_kernel(), schedule, now, parameters, outputs=["ph"], scale=case.scale,
            extents=True,
        )  # fmt: skip
        assert run.good.all(), f"week {number}: {run.status}"
        assert run.extents is not None
        now, total = run.end, total + run.extents[-1]
        kept.append(now)
    return Year(np.array(kept), now, np.asarray(total))


@pytest.mark.parametrize("thing", tank().elements)
def test_books_close(year: Year, thing: str) -> None:
    model = tank()
    zero = Fraction(0)
    holds = np.array([float(s.holds.get(thing, zero)) for s in model.states.values()])
    carried = np.array([float(c.carried.get(thing, zero)) for c in (*model.rows, *model.moves)])
    came = carried @ year.extents
    made = (year.end - year.states[0]) @ holds
    moved = np.abs(carried) @ np.abs(year.extents)
    inventory = np.abs(year.states) @ np.abs(holds)
    assert (moved > 0.0).all() or thing == "charge"
    off = np.abs(made - came) / inventory.max(axis=0)
    assert off.max() <= FINEST, f"{thing} is off by {off.max():.2g} of what the tank holds"


def test_no_store_below_zero(year: Year) -> None:
    floored = [i for i, s in enumerate(tank().states.values()) if s.floor == 0.0]
    lowest = year.states[:, :, floored].min(axis=(0, 1))
    below = {list(tank().states)[floored[i]]: v for i, v in enumerate(lowest) if v < 0.0}
    assert not below


def test_every_kind_of_jump_happened(year: Year) -> None:
    done = {e.jump for number in range(53) for e in week(number)}
    assert done == set(tank().jumps)
    moves = year.extents[len(tank().rows) :]
    idle = [m.name for m, x in zip(tank().moves, moves, strict=True) if not np.abs(x).max() > 0.0]
    assert not idle
