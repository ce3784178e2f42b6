"""Ensembles: the same numbers whatever the threads, one bad member harms no other."""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import Control, Trajectory, describe_failures, run_ensemble
from pleuston.engine.kernel import LANES, Array
from pleuston.engine.schedule import Event, Schedule, build_schedule, constant

from .built import Built, built
from .small_pond import DAY_LIGHT, PARAMETERS, START, pond

OUTPUTS = ("ammonium", "plant", "acid")


@pytest.fixture(scope="module")
def kit() -> Built:
    return built(pond)


def schedule(kit: Built, days: float = 5.0) -> Schedule:
    series = {"light": DAY_LIGHT, "warmth": constant(0.5)}
    fed = [Event(float(d) + 0.3, "feed", {"feed_amount": 0.5}) for d in range(int(days))]
    return build_schedule(kit.kernel.table, 0.0, days, series, fed, np.arange(0.5, days, 0.5))


def members(kit: Built, number: int, seed: int = 3) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    y, p = kit.states(START, number), kit.parameters(PARAMETERS, number)
    return (
        y * np.exp(0.5 * rng.standard_normal(y.shape)),
        p * np.exp(0.3 * rng.standard_normal(p.shape)),
    )


def run(kit: Built, y: Array, p: Array, **options: object) -> Trajectory:
    given: dict[str, object] = {"outputs": OUTPUTS, "extents": True, **options}
    return run_ensemble(kit.kernel, schedule(kit), y, p, **given)  # type: ignore[arg-type]


def same(a: Trajectory, b: Trajectory, take: slice = slice(None)) -> None:
    assert a.extents is not None
    assert b.extents is not None
    for one, other in (
        (a.values, b.values), (a.low, b.low), (a.high, b.high), (a.extents, b.extents),
        (a.end.T, b.end.T),
    ):  # fmt: skip
        np.testing.assert_array_equal(one[..., take], other[..., take])


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_the_same_bits_whatever_the_threads(kit: Built, threads: int) -> None:
    y, p = members(kit, 100)
    first = run(kit, y, p, threads=1)
    assert first.good.all()
    same(first, run(kit, y, p, threads=threads))
    same(first, run(kit, y, p, threads=threads, control=Control()))


@pytest.mark.parametrize("number", [1, 7, 8, 9, 16, 17])
def test_a_last_block_is_filled_up_unseen(kit: Built, number: int) -> None:
    y, p = members(kit, 24)
    few = run(kit, y[:number], p[:number])
    assert few.end.shape == (number, 4)
    assert few.values.shape == (len(few.times), len(OUTPUTS), number)
    assert few.status.shape == (number,)
    whole = number // LANES * LANES
    same(few, run(kit, y, p), slice(0, whole))
    # a repeated member takes no part in the choice of steps beyond its twin
    padded = np.minimum(np.arange(24), number - 1)
    same(few, run(kit, y[padded], p[padded]), slice(0, number))


def test_blocks_may_come_in_any_order(kit: Built) -> None:
    y, p = members(kit, 3 * LANES)
    order = np.r_[16:24, 0:8, 8:16]
    moved, back = run(kit, y[order], p[order]), np.argsort(order)
    first = run(kit, y, p)
    np.testing.assert_array_equal(moved.values[..., back], first.values)
    np.testing.assert_array_equal(moved.end[back], first.end)


def test_block_mates_matter_within_the_tolerance_only(kit: Built) -> None:
    y, p = members(kit, LANES)
    for tolerance in (1e-3, 1e-6):
        together = run(kit, y, p, tolerance=tolerance).end
        alone = np.concatenate(
            [run(kit, y[i : i + 1], p[i : i + 1], tolerance=tolerance).end for i in range(LANES)]
        )
        off = np.abs(together - alone) / (kit.kernel.table.typical + np.abs(alone))
        assert 0.0 < off.max() < 10.0 * tolerance


def test_what_a_caller_gives_is_left_alone(kit: Built) -> None:
    y, p = members(kit, LANES)
    before = y.copy(), p.copy()
    run(kit, y, p)
    np.testing.assert_array_equal(y, before[0])
    np.testing.assert_array_equal(p, before[1])


# -- what comes out ---------------------------------------------------------------


def test_outputs_by_name(kit: Built) -> None:
    y, p = members(kit, 3)
    found = run(kit, y, p)
    np.testing.assert_array_equal(found.of("plant"), found.values[:, 1])
    np.testing.assert_array_equal(found.of("lowest_oxygen"), found.low[:, 0])
    np.testing.assert_array_equal(found.of("highest_ammonium"), found.high[:, 1])
    with pytest.raises(EngineError, match=r"did not record plnt. Did you mean plant"):
        found.of("plnt")


def test_extremes_lie_around_the_records(kit: Built) -> None:
    y, p = members(kit, 20)
    found = run(kit, y, p, outputs=("oxygen", "ammonium"))
    for i, name in enumerate(("oxygen", "ammonium")):
        now = found.of(name)
        assert (found.low[:, i] <= now).all()
        assert (found.high[:, i] >= now).all()
        assert (found.low[1:, i] <= now[:-1]).all()
        assert (found.high[1:, i] >= now[:-1]).all()
    assert (found.high[:, 1] - found.low[:, 1] > 0.1).any()


def test_extents_account_for_every_change(kit: Built) -> None:
    y, p = members(kit, 20)
    found = run(kit, y, p)
    assert found.extents is not None
    table = kit.kernel.table
    matrix = np.zeros((len(table.rows) + len(table.moves), len(table.states)))
    for i, pairs in enumerate([*kit.module.ROWS, *kit.module.MOVES]):
        for state, coefficient in pairs:
            matrix[i, state] = coefficient
    plant = table.at("state", "plant")
    made = y[:, plant] + np.einsum("rcm,c->rm", found.extents, matrix[:, plant])
    np.testing.assert_allclose(made, found.of("plant"), rtol=1e-12)
    assert (np.diff(found.extents, axis=0) >= -1e-9).all()
    assert found.extents[-1, len(table.rows) + table.at("move", "feed_ammonium")].min() == 2.5


def test_without_extents_none_are_kept(kit: Built) -> None:
    y, p = members(kit, 3)
    assert run(kit, y, p, extents=False).extents is None


# -- what goes wrong ----------------------------------------------------------------


def test_a_member_that_fails_harms_no_other(kit: Built) -> None:
    y, p = members(kit, 2 * LANES)
    sound = run(kit, y, p, tolerance=1e-6)
    bad = p.copy()
    bad[3, kit.kernel.table.at("parameter", "uptake")] = 1e305
    found = run(kit, y, bad, tolerance=1e-6)
    assert found.status[3] in (2, 3)
    assert np.flatnonzero(found.status).tolist() == [3]
    assert np.isnan(found.end[3]).all()
    assert np.isnan(found.of("plant")[-1, 3])
    assert np.isnan(found.low[-1, :, 3]).all()
    others = np.arange(2 * LANES) != 3
    np.testing.assert_allclose(found.end[others], sound.end[others], rtol=1e-4)
    np.testing.assert_array_equal(found.end[LANES:], sound.end[LANES:])
    text = describe_failures(found)
    assert text.startswith("1 member(s): ")
    assert "look at the inputs of this tank" in text


def test_too_many_steps_is_told_with_a_remedy(kit: Built) -> None:
    y, p = members(kit, LANES)
    found = run(kit, y, p, tolerance=1e-12, max_steps=50)
    assert (found.status == 1).all()
    assert not found.good.any()
    assert describe_failures(found) == (
        "8 member(s): too many steps in one segment: loosen the tolerance or look at the inputs"
    )
    assert describe_failures(run(kit, y, p)) == ""


def test_a_member_no_step_is_small_enough_for(kit: Built) -> None:
    y, p = members(kit, LANES)
    p[5, kit.kernel.table.at("parameter", "nitrification")] = 1e9
    found = run(kit, y, p)
    assert np.flatnonzero(found.status).tolist() == [5]
    assert describe_failures(found).startswith("1 member(s): the step became too small")


def test_cancelled_before_it_starts(kit: Built) -> None:
    y, p = members(kit, 64)
    with pytest.raises(EngineError, match="the run was cancelled"):
        run(kit, y, p, control=Control(cancelled=True))


def test_cancelled_by_whoever_watches(kit: Built) -> None:
    y, p = members(kit, 400)
    control = Control()
    seen: list[float] = []

    def watch(share: float) -> None:
        seen.append(share)
        control.cancelled = True

    control.progress = watch
    with pytest.raises(EngineError, match="the run was cancelled"):
        run(kit, y, p, control=control, threads=1, tolerance=1e-9)
    assert seen
    assert seen[-1] < 1.0


def test_progress_rises_to_the_end(kit: Built) -> None:
    y, p = members(kit, 100)
    seen: list[float] = []
    run(kit, y, p, control=Control(progress=seen.append), threads=2)
    assert seen == sorted(seen)
    assert seen[0] > 0.0
    assert seen[-1] == 1.0


def broken(y: Array, p: Array, what: str) -> tuple[Array, Array]:
    y, p = y.copy(), p.copy()
    if what == "state":
        y[1, 2] = np.nan
    elif what == "parameter":
        p[0, 0] = np.inf
    elif what == "short":
        y = y[:, :-1]
    elif what == "flat":
        p = p[0]
    elif what == "unequal":
        p = p[:-1]
    else:
        y, p = y[:0], p[:0]
    return y, p


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("state", "the states of a member: plant is not finite"),
        ("parameter", "the parameters of a member: exchange is not finite"),
        ("short", "states have shape (9, 3), not (members, 4)"),
        ("flat", "parameters have shape (6,), not (members, 6)"),
        ("unequal", "9 starts but 8 sets of parameters"),
        ("none", "states have shape (0, 4), not (members, 4)"),
    ],
)
def test_refused(kit: Built, what: str, said: str) -> None:
    with pytest.raises(EngineError) as caught:
        run(kit, *broken(*members(kit, 9), what))
    assert said in str(caught.value)


def test_an_unknown_output_names_near_ones(kit: Built) -> None:
    with pytest.raises(EngineError, match=r"no observed called amonium.*Did you mean ammonium"):
        run(kit, *members(kit, 2), outputs=["amonium"])
