"""The timeline of a run: what is merged, in which order, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import run_ensemble
from pleuston.engine.kernel import Array, Table
from pleuston.engine.schedule import (
    BEGIN,
    LAND,
    PASS,
    Event,
    Schedule,
    Series,
    build_schedule,
    constant,
)

from .built import built
from .small_pond import DAY_LIGHT, PARAMETERS, START, pond

LAMP = Series(np.array([0.0, 0.4, 0.8]), np.array([0.0, 1.0, 0.0]))
AIR = {"light": LAMP, "warmth": constant(0.5)}


@pytest.fixture(scope="module")
def table() -> Table:
    return built(pond).kernel.table


def timeline(table: Table, **changed: object) -> Schedule:
    given: dict[str, object] = {
        "start": 0.0, "end": 1.0, "forcings": AIR,
        "events": [Event(0.5, "feed", {"feed_amount": 2.0})], "records": [0.0, 0.5, 1.0],
    }  # fmt: skip
    return build_schedule(table, **(given | changed))  # type: ignore[arg-type]


def test_every_moment_is_landed_on(table: Table) -> None:
    made = timeline(table, records=[0.1, 0.5, 1.0])
    np.testing.assert_array_equal(made.times, [0.0, 0.1, 0.4, 0.5, 0.8, 1.0])
    assert made.days == 1.0
    assert list(made.record_at) == [-1, 0, -1, 1, -1, 2]
    assert list(made.jump_first) == [0, 0, 0, 0, 1, 1, 1]


def test_steps_are_kept_only_where_nothing_happened(table: Table) -> None:
    made = timeline(table, records=[0.1, 0.5, 1.0])
    # start, a record, a lamp switch, a feeding, a lamp switch
    assert list(made.keep_step) == [BEGIN, PASS, BEGIN, BEGIN, BEGIN]


def test_the_corner_of_a_straight_line_is_landed_on_with_the_step_kept(table: Table) -> None:
    made = timeline(table, forcings={**AIR, "light": DAY_LIGHT}, events=[], records=[])
    np.testing.assert_array_equal(made.times, DAY_LIGHT.times)
    assert list(made.keep_step) == [BEGIN, LAND, LAND, LAND, LAND]
    light = table.at("forcing", "light")
    np.testing.assert_array_equal(made.x0[:, light], [0.0, 0.0, 1.0, 1.0, 0.0])
    np.testing.assert_array_equal(made.x1[:, light], [0.0, 1.0, 1.0, 0.0, 0.0])


def test_slight_corners_are_gone_over(table: Table) -> None:
    gentle = replace(DAY_LIGHT, gentle=True)
    made = timeline(table, forcings={**AIR, "light": gentle}, events=[], records=[])
    assert list(made.keep_step) == [BEGIN, PASS, PASS, PASS, PASS]


def test_steps_hold_from_their_time_on(table: Table) -> None:
    made = timeline(table)
    light = table.at("forcing", "light")
    np.testing.assert_array_equal(made.times, [0.0, 0.4, 0.5, 0.8, 1.0])
    np.testing.assert_array_equal(made.x0[:, light], [0.0, 1.0, 1.0, 0.0])
    np.testing.assert_array_equal(made.x1[:, light], made.x0[:, light])


def test_a_run_may_start_in_the_middle_of_a_series(table: Table) -> None:
    made = timeline(table, start=0.6, end=0.9, events=[], records=[])
    np.testing.assert_array_equal(made.times, [0.6, 0.8, 0.9])
    np.testing.assert_array_equal(made.x0[:, table.at("forcing", "light")], [1.0, 0.0])


def test_jumps_at_one_time_keep_the_order_given(table: Table) -> None:
    events = [
        Event(0.5, "harvest", {"harvest_share": 0.5}), Event(0.2, "feed", {"feed_amount": 1.0}),
        Event(0.5, "feed", {"feed_amount": 3.0}),
    ]  # fmt: skip
    made = timeline(table, events=events, records=[])
    assert [table.jumps[k] for k in made.jump_kind] == ["feed", "harvest", "feed"]
    assert made.jump_args[2, table.at("argument", "feed_amount")] == 3.0
    assert made.jump_args[1, table.at("argument", "feed_amount")] == 0.0


def run(made: Schedule, *outputs: str) -> Array:
    kit = built(pond)
    found = run_ensemble(
        kit.kernel, made, kit.states(START), kit.parameters(PARAMETERS), outputs=outputs,
        tolerance=1e-9,
    )  # fmt: skip
    assert found.good.all()
    return found.values[..., 0]


def test_a_record_is_taken_before_the_jumps_at_its_time(table: Table) -> None:
    fed = [Event(0.5, "feed", {"feed_amount": 2.0})]
    with_feed = run(timeline(table, events=fed, records=[0.5, 0.5 + 1e-6]), "ammonium")
    without = run(timeline(table, events=[], records=[0.5, 0.5 + 1e-6]), "ammonium")
    assert with_feed[0, 0] == pytest.approx(without[0, 0], rel=1e-6)
    assert with_feed[1, 0] - without[1, 0] == pytest.approx(2.0, abs=1e-3)


def test_a_jump_at_the_start_happens(table: Table) -> None:
    fed = [Event(0.0, "feed", {"feed_amount": 2.0})]
    found = run(timeline(table, events=fed, records=[0.0, 1e-6]), "ammonium")
    assert found[0, 0] == START["ammonium"]
    assert found[1, 0] == pytest.approx(START["ammonium"] + 2.0, abs=1e-3)


def test_all_moves_of_a_jump_see_the_state_before_it(table: Table) -> None:
    cut = [Event(0.0, "harvest", {"harvest_share": 0.5})]
    found = run(timeline(table, events=cut, records=[1e-9]), "plant", "ammonium")
    plant = START["plant"]
    assert found[0, 0] == pytest.approx(plant * (1.0 - 0.5 - 0.05), rel=1e-6)
    assert found[0, 1] == pytest.approx(START["ammonium"] + 0.05 * plant, rel=1e-6)


def test_more_records_change_nothing_but_where_it_looks(table: Table) -> None:
    few = run(timeline(table, records=[1.0]), "ammonium", "plant")
    many = run(timeline(table, records=np.linspace(0.0, 1.0, 101)), "ammonium", "plant")
    np.testing.assert_allclose(many[-1], few[-1], rtol=1e-6)


@pytest.mark.parametrize(
    ("changed", "what", "remedy"),
    [
        ({"end": 0.0}, "ends at day 0, not after its start 0", "end after the start"),
        ({"forcings": {"light": LAMP}}, "missing: ['warmth'], unknown: []", "every forcing"),
        ({"forcings": {**AIR, "wind": LAMP}}, "unknown: ['wind']", "no other"),
        (
            {"forcings": {**AIR, "light": replace(LAMP, values=np.array([0.0, np.nan, 0.0]))}},
            "light is not finite", "gaps",
        ),
        ({"events": [Event(1.0, "feed")]}, "feed at day 1 lies outside 0..1", "move the run"),
        ({"events": [Event(-0.1, "feed")]}, "feed at day -0.1 lies outside", "Leave it out"),
        (
            {"events": [Event(0.1, "feed", {"feed_amount": float("inf")})]},
            "an amount is not finite", "Correct the entry",
        ),
        ({"records": [0.5, 0.5]}, "record times must rise", "drop doubles"),
        ({"records": [0.5, 0.2]}, "record times must rise", "Sort"),
        ({"records": [1.1]}, "lie within the run", "Sort"),
        ({"events": [Event(0.1, "fed")]}, "no jump called fed", "Did you mean feed?"),
        (
            {"events": [Event(0.1, "feed", {"feed_amont": 1.0})]},
            "no argument called feed_amont", "Did you mean feed_amount?",
        ),
    ],
)  # fmt: skip
def test_refused(table: Table, changed: dict[str, object], what: str, remedy: str) -> None:
    with pytest.raises(EngineError) as caught:
        timeline(table, **changed)
    assert what in str(caught.value)
    assert remedy in str(caught.value)
