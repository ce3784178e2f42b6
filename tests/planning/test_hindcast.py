"""Forecasts held against later readings: the rule of scoring, and a world that is the model."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from pleuston.base.errors import InputError
from pleuston.engine.case import tank_case
from pleuston.inference.readings import IntervalData, ReadingInterval, observation_model
from pleuston.inference.tank import learn_tank
from pleuston.planning.hindcast import (
    Held,
    hindcast,
    hold,
    outside,
    predicted,
    scores,
    starts_of,
    without_later_readings,
)
from pleuston.planning.outlook import change_held_back
from pleuston.records.record import Record

from .rack import START, entry, record, usual


def test_a_reading_across_the_edge_of_a_band_counts_by_its_part() -> None:
    wide = Held("ph", 3.0, 0.0, 1.0, 0.1, None, None)
    assert [wide.inside(b) for b in (0.5, 0.8, 0.9)] == pytest.approx([0.5, 0.8, 0.9])
    assert Held("ph", 3.0, 0.97, 0.97, 0.1, None, None).inside(0.9) == 0.0
    assert Held("ph", 3.0, 0.97, 0.97, 0.1, None, None).inside(0.95) == 1.0


def test_starts_lie_four_weeks_apart_and_too_short_a_record_is_refused() -> None:
    day = timedelta(days=1)
    assert starts_of(START, START + 50 * day) == [START + 42 * day]
    assert starts_of(START, START + 100 * day) == [START + 44 * day, START + 72 * day]
    assert len(starts_of(START, START + 400 * day)) == 4
    with pytest.raises(InputError, match="48 days"):
        starts_of(START, START + 48 * day)


def test_scores_weigh_by_quantity_and_days_ahead() -> None:
    rows = [Held("ec25", d, 0.5, 0.5, 1.0, 2.0, 0.5) for d in (7.0, 7.1, 28.0)]
    made = scores([*rows, Held("ph", 2.0, 0.99, 0.99, 1.0, None, None)])
    assert (made["n"], made["bands"]["90"]) == (4, 0.75)
    ec, ph = made["quantities"]
    assert [lead["n"] for lead in ec["leads"]] == [1, 1, 1]
    assert (ec["skill_last"], ec["skill_line"]) == (0.5, -1.0)
    assert ph["skill_last"] is None


def test_bands_hold_what_the_members_themselves_would_read() -> None:
    belief = learn_tank(record(usual(2)), "Fern", START + timedelta(days=10), members=400,
                        from_prior=True)  # fmt: skip
    rng = np.random.default_rng(5)
    spread = np.exp(rng.normal(np.log(300.0), 0.1, 400))
    data = IntervalData.of([ReadingInterval("ec25", 300.0, 300.0, 14.0)])
    model = observation_model("ec25")
    noise = float(data.sd[0])
    exact, classed = [], []
    for one in rng.choice(spread, 300):
        seen = float(model.scaled(one)) + noise * rng.standard_normal()
        value = float(np.exp(seen) - model.offset) if model.transform == "log" else seen
        exact.append((ReadingInterval("ec25", value, value, 14.0), "conductivity"))
        low = 50.0 * np.floor(value / 50.0)
        classed.append((ReadingInterval("ec25", low, low + 50.0, 14.0), "conductivity"))
    members, good = np.tile(spread[:, None], (1, 300)), np.ones(400, dtype=bool)
    assert observation_model("ec25").transform in ("log", "linear")
    for pairs in (exact, classed):
        bands = scores(hold(belief, pairs, members, good))["bands"]
        assert bands["50"] == pytest.approx(0.5, abs=0.1)
        assert bands["90"] == pytest.approx(0.9, abs=0.06)
    moved = scores(hold(belief, exact, 1.8 * members, good))["bands"]
    assert moved["90"] < 0.5


def test_a_past_forecast_doubts_what_an_outlook_doubts() -> None:
    belief = learn_tank(record(usual(2)), "Fern", START + timedelta(days=10), members=60,
                        from_prior=True)  # fmt: skip
    lead, law = 20.0, observation_model("nitrate")
    pair = (ReadingInterval("nitrate", 1.0, 2.0, belief.at + lead), "nitrate_concentration")
    members, good = np.full((60, 1), 1.4), np.ones(60, dtype=bool)
    held = change_held_back(belief, "nitrate", pair[1], np.array([lead]))[0]
    known, left = belief.error_ahead("nitrate", [lead])
    spread = np.hypot(left[0], 0.29)
    middle = law.scaled(1.4) + known[0] - held
    chances = [stats.norm(middle, spread).cdf(law.scaled(b)).mean() for b in (1.0, 2.0)]
    [got] = hold(belief, [pair], members, good)
    assert np.abs(held).max() > 0.1
    assert [got.start, got.end] == pytest.approx(chances, abs=1e-6)


def test_what_lies_within_a_reading_costs_nothing() -> None:
    assert outside(np.array([1.0, 2.5, 5.0]), -np.inf, 3.0).tolist() == [0.0, 0.0, 2.0]


def test_later_acts_are_known_and_later_readings_are_not() -> None:
    later = record([
        *usual(3), entry(3.0, "reading", "temperature", 22.0), entry(9.0, "reading", "ph", 7.0),
        entry(16.0, "reading", "temperature", 19.0),
    ])  # fmt: skip
    kept = without_later_readings(later, START + timedelta(days=10))
    assert [e.what for e in kept.entries if e.kind == "reading"] == ["temperature", "ph"]
    acts = [e for e in later.entries if e.kind != "reading"]
    assert [e for e in kept.entries if e.kind != "reading"] == acts


def _world(seed: int) -> Record:
    """Ten weeks of a tank that is one draw of the model itself, read weekly."""
    weeks = 11
    done = [e for e in usual(weeks) if e.kind != "top_up"]
    acts = record(done)
    at = START + timedelta(days=7 * weeks - 1)
    prior = learn_tank(acts, "Fern", START + timedelta(hours=2), members=32, seed=seed,
                       from_prior=True)  # fmt: skip
    case = tank_case(acts, "Fern", at)
    what = {"nitrate_ion": ("nitrate", "nitrate_concentration"), "ec25": ("ec25", "conductivity"),
            "kh": ("kh", "alkalinity_concentration")}  # fmt: skip
    days = [7.0 * w + 6.0 for w in range(1, weeks - 1)]
    pairs = [(ReadingInterval(q, 1.0, 1.0, d), out) for d in days for q, out in what.values()]
    members, _ = predicted(prior, case, pairs)
    rng = np.random.default_rng(seed)
    entries = list(done)
    slow = {q: observation_model(q).discrepancy * rng.standard_normal() for q, _ in what.values()}
    names = {q: name for name, (q, _) in what.items()}
    for (reading, _), value in zip(pairs, members[0], strict=True):
        model = observation_model(reading.quantity)
        kept = np.exp(-7.0 / model.memory)
        fresh = np.sqrt(1.0 - kept**2) * model.discrepancy * rng.standard_normal()
        slow[reading.quantity] = kept * slow[reading.quantity] + fresh
        data = IntervalData.of([replace(reading, low=float(value), high=float(value))])
        reader = float(np.sqrt(max(data.sd[0] ** 2 - model.discrepancy**2, 0.0)))
        moved = float(model.scaled(value)) + slow[reading.quantity] + reader * rng.normal()
        back = float(np.exp(moved) - model.offset) if model.transform == "log" else moved
        shown = max(back, 0.0) * {"nitrate": 4.4266, "kh": 2.8038, "ec25": 1.0}[reading.quantity]
        entries.append(entry(reading.time, "reading", names[reading.quantity], round(shown, 4),
                             unit={"nitrate": "mg/L", "kh": "dH", "ec25": "uS/cm"}[
                                 reading.quantity]))  # fmt: skip
    return record(entries)


@pytest.mark.slow
def test_where_the_world_is_the_model_bands_hold_what_they_say() -> None:
    at = START + timedelta(days=76)
    made = [hindcast(_world(seed), "Fern", at, seed=seed) for seed in range(1, 9)]
    n = sum(m["n"] for m in made)
    assert n >= 60
    share = {b: sum(m["bands"][b] * m["n"] for m in made) / n for b in ("50", "80", "90", "95")}
    assert 0.85 <= share["90"] <= 0.98, share
    assert 0.38 <= share["50"] <= 0.68, share
    assert hindcast(_world(1), "Fern", at, seed=1) == made[0]
