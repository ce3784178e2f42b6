"""The stepper beside solutions in closed form, other solvers, and its own promises."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import lambertw
from tests.engine.built import built
from tests.engine.small_pond import DAY_LIGHT, PARAMETERS, START, pond
from tests.verification import small_models
from tests.verification.compare import rounding

from pleuston.engine.ensemble import Trajectory, run_ensemble
from pleuston.engine.kernel import Array
from pleuston.engine.schedule import Series, build_schedule, constant

DATA = Path(__file__).parent / "data" / "closed_forms.csv"
TIGHT = 1e-10


def _chain(t: float) -> tuple[float, float, float]:
    a = 2.0 * np.exp(-0.5 * t)
    b = 2.0 * 0.5 / (0.3 - 0.5) * (np.exp(-0.5 * t) - np.exp(-0.3 * t))
    return float(a), float(b), float(2.0 - a - b)


def _saturating(t: float) -> float:
    return float(np.real(lambertw(2.0 * np.exp(2.0 - 0.5 * t))))


EXACT: dict[str, tuple[str, float, Callable[[float], float]]] = {
    "reaeration Cs": ("oxygen", 24.0, lambda t: 8.263 - 4.263 * float(np.exp(-0.1 * t))),
    "reaeration+": ("used", 24.0, lambda t: 5.263 + 3.0 * float(np.exp(-0.1 * t))),
    "Bateman NH4": ("ammonium", 1.0, lambda t: _chain(t)[0]),
    "Bateman NO2": ("nitrite", 1.0, lambda t: _chain(t)[1]),
    "Bateman NO3": ("nitrate", 1.0, lambda t: _chain(t)[2]),
    "Michaelis-Menten": ("store", 1.0, _saturating),
    "evaporate/top-up": ("salt_concentration", 1.0, lambda t: 200.0 + 2.0 * 200.0 / 100.0 * t),
    "logistic": ("plant", 1.0, lambda t: 1000.0 / (10.0 + 90.0 * float(np.exp(-0.2 * t)))),
}
"""Start of a case's name -> (output, times of a day, solution)."""


def cases() -> list[tuple[str, float, float]]:
    """(case, time, value) of the table."""
    lines = (x for x in DATA.read_text("utf-8").splitlines() if not x.startswith("#"))
    return [(r["case"], float(r["t"]), float(r["value"])) for r in csv.DictReader(lines)]


def _of(case: str) -> tuple[str, float, Callable[[float], float]]:
    return next(found for start, found in EXACT.items() if case.startswith(start))


@cache
def _solved() -> Trajectory:
    kit = built(small_models.closed_forms)
    times = sorted({t / _of(case)[1] for case, t, _ in cases()})
    schedule = build_schedule(kit.kernel.table, 0.0, max(times) + 1.0, {}, [], times)
    return run_ensemble(
        kit.kernel, schedule, kit.states(small_models.START),
        kit.parameters(small_models.PARAMETERS), outputs=kit.kernel.table.observed,
        tolerance=TIGHT, max_steps=10**7,
    )  # fmt: skip


@pytest.mark.parametrize(("case", "time", "printed"), cases())
def test_solution_in_closed_form(case: str, time: float, printed: float) -> None:
    output, per_day, exact = _of(case)
    run = _solved()
    assert run.good.all()
    at = int(np.argmin(np.abs(run.times - time / per_day)))
    value = float(run.of(output)[at, 0])
    assert value == pytest.approx(exact(time), rel=1e-6, abs=1e-12)
    doubt = rounding(time)
    moved = abs(exact(time + doubt) - exact(time - doubt))
    assert value == pytest.approx(printed, rel=0.0, abs=1.01 * (rounding(printed) + moved) + 1e-12)


def test_every_case_of_the_table_is_there() -> None:
    assert {_of(case)[0] for case, _, _ in cases()} == {output for output, _, _ in EXACT.values()}
    assert len(cases()) == 49


# -- order and agreement with other solvers ------------------------------------


def _pond(tolerance: float, steps: int | None = None, days: float = 1.0) -> Array:
    """End of the pond after some days; with fixed steps when their number is given."""
    kit = built(pond)
    series = {"light": DAY_LIGHT, "warmth": Series(np.array([0.0, days]), np.array([0, 1.0]), True)}
    schedule = build_schedule(kit.kernel.table, 0.0, days, series, [], [])
    step = days / steps if steps else 1.0 / 1440.0
    run = run_ensemble(
        kit.kernel, schedule, kit.states(START), kit.parameters(PARAMETERS), outputs=[],
        tolerance=tolerance, h_first=step, h_max=step if steps else 0.125, max_steps=10**7,
    )  # fmt: skip
    assert run.good.all()
    return np.asarray(run.end[0])


def _oracle(method: str, days: float = 1.0) -> Array:
    """The same by SciPy, which calls the rates of the compiled kernel."""
    kit = built(pond)
    table = kit.kernel.table
    p = kit.parameters(PARAMETERS)

    def change(t: float, y: Array) -> Array:
        forcing = {"light": float(np.interp(t, DAY_LIGHT.times, DAY_LIGHT.values))}
        x = np.array([forcing.get(n, t / days) for n in table.forcings])
        return np.asarray(kit.kernel.rates(y[None, :], p, x)[1][0])

    y, kinks = kit.states(START)[0], [*DAY_LIGHT.times[DAY_LIGHT.times < days], days]
    for a, b in itertools.pairwise(kinks):
        found = solve_ivp(change, (a, b), y, method=method, rtol=1e-10, atol=1e-11)
        assert found.success
        y = found.y[:, -1]
    return np.asarray(y)


def test_the_fast_block_is_a_part_of_the_jacobian() -> None:
    table = built(pond).kernel.table
    assert 0 < len(table.data["fast"]) < len(table.states)


def test_order_is_three_with_a_part_of_the_jacobian_and_moving_forcings() -> None:
    reference = _pond(1e-11)
    errors = [
        float(np.max(np.abs(_pond(1e30, n) - reference) / np.maximum(np.abs(reference), 1e-3)))
        for n in (256, 512, 1024)
    ]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert errors[-1] > 1e-10, "the errors are not rounding alone"
    assert (orders > 2.8).all(), (errors, orders)
    assert (orders < 3.4).all(), (errors, orders)


@pytest.mark.parametrize("method", ["Radau", "LSODA"])
def test_tight_run_agrees_with_another_solver(method: str) -> None:
    np.testing.assert_allclose(_pond(1e-10), _oracle(method), rtol=2e-7, atol=1e-9)


def test_tight_run_agrees_with_cvode() -> None:
    from sksundae.cvode import CVODE

    kit = built(pond)
    p = kit.parameters(PARAMETERS)
    table = kit.kernel.table

    def fill(t: float, y: Array, change: Array) -> None:
        forcing = {"light": float(np.interp(t, DAY_LIGHT.times, DAY_LIGHT.values))}
        x = np.array([forcing.get(n, t) for n in table.forcings])
        change[:] = kit.kernel.rates(np.asarray(y)[None, :], p, x)[1][0]

    y, kinks = kit.states(START)[0], [*DAY_LIGHT.times[DAY_LIGHT.times < 1.0], 1.0]
    for a, b in itertools.pairwise(kinks):
        solver = CVODE(fill, rtol=1e-10, atol=1e-12, max_num_steps=10**6)
        y = np.asarray(solver.solve(np.array([a, b]), y).y[-1])
    np.testing.assert_allclose(_pond(1e-10), y, rtol=2e-7, atol=1e-9)


def test_error_follows_the_tolerance() -> None:
    reference = _pond(1e-11)
    scale = np.abs(reference) + built(pond).kernel.table.typical
    errors = [float(np.max(np.abs(_pond(t) - reference) / scale)) for t in (1e-2, 1e-4, 1e-6)]
    assert errors[0] < 2e-2
    assert errors[1] < 2e-4
    assert errors[2] < 2e-6


@pytest.mark.parametrize("tolerance", [1e-3, 1e-5, 1e-7])
def test_records_inside_a_step_are_as_good_as_its_end(tolerance: float) -> None:
    kit = built(pond)
    series = {"light": DAY_LIGHT, "warmth": constant(0.5)}
    often = np.arange(1, 200) / 200.0

    def found(records: Array, accuracy: float) -> Trajectory:
        schedule = build_schedule(kit.kernel.table, 0.0, 1.0, series, [], records)
        return run_ensemble(
            kit.kernel, schedule, kit.states(START), kit.parameters(PARAMETERS),
            outputs=kit.kernel.table.states, tolerance=accuracy, max_steps=10**6,
        )  # fmt: skip

    run, exact = found(often, tolerance), found(often, 1e-10)
    assert run.steps[0, 0] < len(often) or tolerance < 1e-5, "most records lie inside steps"
    np.testing.assert_allclose(run.end, found(np.array([]), tolerance).end, rtol=1e-12)
    size = kit.kernel.table.typical[:, None] + np.abs(exact.values)
    assert np.max(np.abs(run.values - exact.values) / size) < 5.0 * tolerance


# -- positivity and conservation -------------------------------------------------


@pytest.mark.parametrize("tolerance", [1e-1, 1e-2, 1e-3])
def test_tiny_stores_eaten_fast_stay_positive_and_nothing_is_lost(tolerance: float) -> None:
    kit = built(pond)
    rng = np.random.default_rng(7)
    members = 64
    y = kit.states(START, members) * np.exp(rng.normal(0.0, 2.0, (members, 1)))
    y[:, kit.kernel.table.at("state", "ammonium")] *= 1e-6
    y[:, kit.kernel.table.at("state", "oxygen")] *= 1e-3
    p = kit.parameters(PARAMETERS, members) * np.exp(rng.normal(0.0, 1.5, (members, 1)))
    series = {"light": DAY_LIGHT, "warmth": constant(1.0)}
    schedule = build_schedule(kit.kernel.table, 0.0, 30.0, series, [], np.arange(0.0, 30.1, 1.0))
    run = run_ensemble(
        kit.kernel, schedule, y, p, outputs=kit.kernel.table.observed, tolerance=tolerance,
        extents=True,
    )  # fmt: skip
    assert run.good.all()
    assert (run.end >= 0.0).all()
    assert (run.values >= 0.0).all()
    if tolerance == 1e-1:
        assert run.steps[:, 2].sum() > 0, "the limiter was at work"
    _assert_nothing_is_lost(run, y)


def _assert_nothing_is_lost(run: Trajectory, y: Array) -> None:
    """Each conserved thing: what is there is what was there and what crossed a boundary."""
    table = built(pond).kernel.table
    assert run.extents is not None
    for thing in table.data["conserved"]:
        held = np.array([_number(s["holds"].get(thing, "0")) for s in table.data["states"]])
        changes = [*table.data["rows"], *table.data["moves"]]
        carried = np.array([_number(c["carried"].get(thing, "0")) for c in changes])
        lost = (run.end - y) @ held - carried @ run.extents[-1]
        moved = np.maximum(y, run.end) @ np.abs(held) + np.abs(carried) @ run.extents[-1]
        assert (np.abs(lost) <= 1e-13 * moved).all(), thing


def _number(text: str) -> float:
    top, _, bottom = text.partition("/")
    return float(top) / float(bottom or 1)
