"""The NumPy stepper gives what the compiled one gives, also where things go wrong."""

from __future__ import annotations

import numpy as np
import pytest
from tests.verification import asm1, small_models
from tests.verification.test_asm1_chain import CLOSED, FLOW, KINETICS

from pleuston.base.errors import EngineError
from pleuston.engine.ensemble import Control, Trajectory, run_ensemble
from pleuston.engine.kernel import Array
from pleuston.engine.numpy_stepper import run_ensemble_numpy
from pleuston.engine.schedule import Event, Schedule, build_schedule, constant

from .built import Built, built
from .small_pond import DAY_LIGHT, PARAMETERS, START, pond

CLOSE = 1e-8


@pytest.fixture(scope="module")
def kit() -> Built:
    return built(pond)


def schedule(kit: Built) -> Schedule:
    events = [
        Event(0.0, "feed", {"feed_amount": 1.0}), Event(1.5, "harvest", {"harvest_share": 0.5}),
        Event(1.5, "feed", {"feed_amount": 0.5}), Event(2.2, "harvest", {"harvest_share": 0.9}),
    ]  # fmt: skip
    series = {"light": DAY_LIGHT, "warmth": constant(0.5)}
    return build_schedule(kit.kernel.table, 0.0, 3.0, series, events, np.arange(0.0, 3.01, 0.25))


def members(kit: Built, number: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(8)
    y, p = kit.states(START, number), kit.parameters(PARAMETERS, number)
    return (
        y * np.exp(rng.standard_normal(y.shape)),
        p * np.exp(0.7 * rng.standard_normal(p.shape)),
    )


def both(
    kit: Built, made: Schedule, y: Array, p: Array, **options: object
) -> tuple[Trajectory, Trajectory]:
    """The same run on the compiled kernel and on NumPy."""
    given: dict[str, object] = {"outputs": kit.kernel.table.observed, "extents": True, **options}
    return (
        run_ensemble(kit.kernel, made, y, p, **given),  # type: ignore[arg-type]
        run_ensemble_numpy(kit.module, kit.kernel.table, made, y, p, **given),  # type: ignore[arg-type]
    )


def alike(kit: Built, fast: Trajectory, slow: Trajectory) -> None:
    np.testing.assert_array_equal(fast.status, slow.status)
    np.testing.assert_array_equal(fast.steps, slow.steps)
    typical = float(kit.kernel.table.typical.max())
    assert fast.extents is not None
    assert slow.extents is not None
    for a, b in (
        (fast.values, slow.values), (fast.low, slow.low), (fast.high, slow.high),
        (fast.extents, slow.extents), (fast.end, slow.end),
    ):  # fmt: skip
        np.testing.assert_allclose(a, b, rtol=CLOSE, atol=CLOSE * typical)


@pytest.mark.parametrize("tolerance", [1e-1, 1e-3, 1e-5])
def test_pond(kit: Built, tolerance: float) -> None:
    fast, slow = both(kit, schedule(kit), *members(kit, 20), tolerance=tolerance)
    assert fast.good.all()
    if tolerance == 1e-1:
        assert slow.steps[:, 2].sum() > 0, "the limiter was at work"
        assert (slow.end >= 0.0).all()
    alike(kit, fast, slow)


def test_closed_forms() -> None:
    """A model without forcings, arguments, jumps, tracked or implicit quantities."""
    kit = built(small_models.closed_forms)
    made = build_schedule(kit.kernel.table, 0.0, 5.0, {}, [], [1.0, 5.0])
    y = kit.states(small_models.START, 9) * np.linspace(0.5, 1.5, 9)[:, None]
    p = kit.parameters(small_models.PARAMETERS, 9)
    alike(kit, *both(kit, made, y, p, tolerance=1e-5))


def test_activated_sludge() -> None:
    kit = built(asm1.tank)
    feed = {n: float(CLOSED[0][n]) for n in asm1.STATES}
    values = {
        **KINETICS, **{f"{n}_feed": v for n, v in feed.items()}, "flow": FLOW, "volume": 1000.0,
        "kLa": 100.0, "S_O_saturated": 8.0,
    }  # fmt: skip
    p = kit.parameters(values, 10)
    p[:, kit.kernel.table.at("parameter", "kLa")] *= np.linspace(0.0, 2.0, 10)
    made = build_schedule(kit.kernel.table, 0.0, 0.2, {}, [], np.linspace(0.0, 0.2, 5))
    alike(kit, *both(kit, made, kit.states(feed, 10), p))


def test_wider_blocks_differ_within_the_tolerance(kit: Built) -> None:
    y, p = members(kit, 20)
    fast, wide = both(kit, schedule(kit), y, p, tolerance=1e-5)
    wide = run_ensemble_numpy(
        kit.module, kit.kernel.table, schedule(kit), y, p, outputs=fast.outputs, tolerance=1e-5,
        lanes=20,
    )  # fmt: skip
    assert wide.steps.shape == (1, 3)
    assert wide.extents is None
    off = np.abs(wide.end - fast.end) / (kit.kernel.table.typical + np.abs(fast.end))
    assert 0.0 < off.max() < 1e-4


def test_a_member_that_fails(kit: Built) -> None:
    y, p = members(kit, 8)
    p[3, kit.kernel.table.at("parameter", "nitrification")] = 1e9
    fast, slow = both(kit, schedule(kit), y, p)
    np.testing.assert_array_equal(fast.status, slow.status)
    assert np.flatnonzero(slow.status).tolist() == [3]
    assert np.isnan(slow.end[3]).all()
    others = np.arange(8) != 3
    np.testing.assert_allclose(fast.end[others], slow.end[others], rtol=1e-2)


def test_too_many_steps(kit: Built) -> None:
    fast, slow = both(kit, schedule(kit), *members(kit, 8), tolerance=1e-12, max_steps=5)
    assert (slow.status == 1).all()
    np.testing.assert_array_equal(fast.status, slow.status)


def test_progress_and_cancellation(kit: Built) -> None:
    seen: list[float] = []
    y, p = members(kit, 9)
    both_options = {"outputs": ["plant"], "control": Control(progress=seen.append)}
    run_ensemble_numpy(kit.module, kit.kernel.table, schedule(kit), y, p, **both_options)  # type: ignore[arg-type]
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    with pytest.raises(EngineError, match="the run was cancelled"):
        run_ensemble_numpy(
            kit.module, kit.kernel.table, schedule(kit), y, p, outputs=["plant"],
            control=Control(cancelled=True),
        )  # fmt: skip


def test_refuses_what_the_compiled_one_refuses(kit: Built) -> None:
    y, p = members(kit, 3)
    y[0, 0] = np.nan
    with pytest.raises(EngineError, match="ammonium is not finite"):
        both(kit, schedule(kit), y, p)
    with pytest.raises(EngineError, match="ammonium is not finite"):
        run_ensemble_numpy(kit.module, kit.kernel.table, schedule(kit), y, p, outputs=[])
