"""A part of the bed renewed: what it frees, by hand and by its peak, in every answer."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from pleuston.engine.start import soil_put_in
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.plan import AS_NOW, Plan
from pleuston.planning.plans import SOON
from pleuston.planning.soil_age import soil_age
from pleuston.planning.whatif import tried, what_if
from pleuston.records.resolve import soil_named

from .rack import START, belief, entry, record

A_DAY = 480
"""Looks a day: one every three minutes."""


def bare_bed(kilograms: float) -> TankBelief:
    """A soil of 2 kg under water without a plant or an animal."""
    made = record([entry(0.0, "top_up", "soft", 1.0)], soil="garden soil", light_hours=0.0)
    at = START + timedelta(days=10)
    found = learn_tank(made, "Fern", at, members=24, threads=1, from_prior=True)
    assert found.case.opening.soil_mass == pytest.approx(kilograms)
    return found


@pytest.mark.parametrize("part", [0.25, 0.5, 1.0])
def test_a_part_renewed_frees_its_share_of_what_bed_and_new_soil_hold(part: float) -> None:
    """Garden soil of 0.2 % nitrogen, 0.9 % of it ammonium: 18 mg/kg. A quarter of 2 kg: 9 mg come
    to what is held, and a quarter of all is stirred into the water, there three minutes later.
    """
    made = bare_bed(2.0)
    table, end = made.case.table, made.end
    plan = Plan("part", soil=("garden soil", part * 2.0))
    run, usual = (tried(made, p, 1, 24, apart=1.0 / A_DAY).ahead for p in (plan, AS_NOW))
    fresh = soil_put_in(soil_named(made.case.record, "garden soil"), 2.0 * part)
    held = end[:, table.at("state", "ammonium_soil")] + fresh["soil_in_ammonium"]
    by_hand = part * held / end[:, table.at("state", "water")]
    after = round(SOON * A_DAY)
    assert run.times[after] - made.at == pytest.approx(SOON + 1.0 / A_DAY)
    rise = run.run.of("ammonium_concentration") - usual.run.of("ammonium_concentration")
    assert np.abs(rise[after - 1]).max() < 1e-6
    assert rise[after] == pytest.approx(by_hand, rel=0.05)


def test_ammonia_of_a_renewal_grows_with_the_part_and_is_told_by_its_peak() -> None:
    """The peak lasts hours: at the end of the day plants have taken most of it."""
    made = belief(soil="garden soil")
    told = {part: soil_age(made, part, threads=1) for part in (0.1, 0.25, 1.0)}
    peaks = [told[part]["ammonia"]["highest"][1] for part in (0.1, 0.25, 1.0)]
    assert peaks[0] > 2.0 * told[0.1]["ammonia"]["highest_usual"][1]
    assert peaks[0] < peaks[1] < peaks[2]
    assert peaks[2] / peaks[1] > 3.0
    hours = [told[part]["ammonia"]["hours_above"][1] for part in (0.1, 0.25, 1.0)]
    assert hours == sorted(hours)
    assert hours[2] > 24.0
    assert "hours of the first 72" in str(told[0.25]["steps"])


def test_a_what_if_of_new_soil_stirs_the_bed_too() -> None:
    made = belief(soil="garden soil")
    events = tried(made, Plan("part", soil=("garden soil", 0.5)), 2, 24).events
    jumps = [e.jump for e in events if e.jump in ("add_soil", "disturb_soil")]
    assert jumps == ["add_soil", "disturb_soil"]
    share = next(e.arguments["share"] for e in events if e.jump == "disturb_soil")
    assert share == pytest.approx(0.5 / made.case.opening.soil_mass)
    shown = what_if(made, [Plan("all", soil=("garden soil", 2.0))], days=7, members=24)
    apart = shown["plans"][1]["differences"]["ammonia_nh3"]["mean"]
    assert apart[1] > 0.0
    first = [p["quantities"]["ammonia_nh3"]["p50"][0] for p in shown["plans"]]
    assert first[1] > 5.0 * first[0]


def test_soil_put_in_adds_to_the_bed_and_its_like_leaves_the_balance_alone() -> None:
    """Twice the soil with twice its calcium gives the water no more than it did."""
    made = bare_bed(2.0)
    table = made.case.table
    run = tried(made, Plan("more", soil=("garden soil", 0.5)), 1, 24).ahead.run
    np.testing.assert_allclose(run.end[:, table.at("state", "soil_mass")], 2.5, rtol=1e-6)
    one = soil_put_in(soil_named(made.case.record, "garden soil"), 1.0)
    two = soil_put_in(soil_named(made.case.record, "garden soil"), 2.0)
    assert two["soil_in_calcium"] / two["soil_in_mass"] == pytest.approx(
        one["soil_in_calcium"] / one["soil_in_mass"]
    )
    assert one["soil_in_calcium"] == pytest.approx(1500.0), "30 L/kg at 50 mg/L"
