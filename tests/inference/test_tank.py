"""What a record turns into for learning: harvests, taps, and errors that stay."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pleuston.engine.case import Case, tank_case
from pleuston.inference.readings import MEMORY, observation_model
from pleuston.inference.tank import ERROR, TAKEN, learn_tank, tank_prior, tank_readings
from pleuston.planning.outlook import SHOWN, with_model_error
from pleuston.records.record import Entry, Rack, Record, Tank, Water

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
WATERS = (
    Water("pipe", kind="tap", kh_dh=4.0, gh_dh=5.0), Water("sky", kind="rain", kh_dh=0.1, gh_dh=0.1)
)  # fmt: skip


def _record(*more: Entry, water: str = "pipe", weeks: int = 6) -> Record:
    tank = Tank("Elm", 30.0, 0.1, top_up_water=water)
    entries = [_entry(0.0, "plant_in", "Lemna minor", 9.0, "g"), *more]
    entries += [_entry(7.0 * w, "top_up", water, 0.5, "L") for w in range(1, weeks + 1)]
    return Record(
        Rack(name="Shelf", timezone="Etc/UTC"), tanks=(tank,), waters=WATERS,
        entries=tuple(sorted(entries, key=lambda e: e.at)),
    )  # fmt: skip


def _case(record: Record, days: float = 42.5) -> Case:
    return tank_case(record, "Elm", START + timedelta(days=days))


def _entry(day: float, kind: str, what: str, amount: float, unit: str = "") -> Entry:
    at = START + timedelta(days=day)
    return Entry(f"{kind}-{what}-{day}", at, "Elm", kind, what, amount, amount, unit)


HARVEST = _entry(14.0, "harvest", "Lemna minor", 5.0, "g")
LEFT = _entry(14.0 + 2.0 / 1440.0, "reading", "cover", 40.0, "%")


def test_a_harvest_leaves_the_cover_seen_after_it_and_its_grams_are_a_reading() -> None:
    case = _case(_record(HARVEST, LEFT))
    (event,) = [e for e in case.events(42.0) if e.jump == "harvest_floater1"]
    assert event.arguments["harvest_grams"] == 0.0
    assert event.arguments["harvest_cover"] == pytest.approx(0.4)
    pairs, _ = tank_readings(case, 42.0)
    (weighed,) = [(r, name) for r, name in pairs if r.quantity == "harvest"]
    assert weighed[1] == TAKEN + "floater1_fresh_mass"
    assert weighed[0].is_exact
    assert not [r for r, _ in pairs if r.quantity == "cover"]


def test_without_a_look_after_it_a_harvest_takes_its_grams() -> None:
    late = _entry(15.0, "reading", "cover", 40.0, "%")
    case = _case(_record(HARVEST, late))
    (event,) = [e for e in case.events(42.0) if e.jump == "harvest_floater1"]
    assert event.arguments == {"harvest_grams": 5.0, "harvest_cover": 1.0}
    pairs, _ = tank_readings(case, 42.0)
    (there,) = [r for r, _ in pairs if r.quantity == "harvest"]
    assert (there.low, there.high) == (5.0, None)
    assert len([r for r, _ in pairs if r.quantity == "cover"]) == 1


def test_only_what_comes_out_of_a_pipe_may_have_gained_copper() -> None:
    taps = [tank_prior(_case(_record(water=w)), until=42.0).names for w in ("pipe", "sky")]
    assert {"pipe_copper", "pipe_copper_day"} <= set(taps[0])
    assert not {"pipe_copper", "pipe_copper_day"} & set(taps[1])
    piped = [_case(_record(water=w)).maker.piped(7.0, w) for w in ("pipe", "sky")]
    assert piped == [1.0, 0.0]


def test_a_new_pipe_is_learned_from_readings_of_copper() -> None:
    before = [_entry(d, "reading", "copper", 0.01, "mg/L") for d in (6.5, 13.5, 20.5)]
    after = [_entry(d, "reading", "copper", 0.15, "mg/L") for d in (34.5, 41.5)]
    calm = learn_tank(_record(*before), "Elm", START + timedelta(days=42), members=64)
    more = learn_tank(_record(*before, *after), "Elm", START + timedelta(days=42), members=64)
    quiet, loud = (np.median(b.values["pipe_copper"]) for b in (calm, more))
    assert loud > 10.0 * quiet
    assert np.median(more.values["pipe_copper_day"]) > 14.0


def test_an_error_that_stays_is_shown_and_fades() -> None:
    kh = [_entry(d, "reading", "kh", 9.0, "dH") for d in (7.5, 14.5, 21.5, 28.5, 35.5)]
    made = learn_tank(_record(*kh), "Elm", START + timedelta(days=36), members=64)
    assert len(made.values[ERROR + "kh"]) == 64
    raw = np.full((2, 64), 5.0)
    error = made.values[ERROR + "kh"]
    shown = with_model_error(raw, SHOWN["kh"], made, np.array([0.0, 50.0 * MEMORY]))
    offset = observation_model("kh").offset * SHOWN["kh"].scale
    np.testing.assert_allclose(shown[0], (5.0 + offset) * np.exp(error) - offset)
    assert abs(np.corrcoef(shown[1], error)[0, 1]) < 0.5
