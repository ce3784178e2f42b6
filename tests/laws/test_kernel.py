"""The compiled kernel, its NumPy twin and the plain functions agree; nothing is stale."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import pleuston.model as model_package
from pleuston.engine.ensemble import run_ensemble
from pleuston.engine.kernel import LANES, Kernel, tank_kernel
from pleuston.engine.numpy_stepper import run_ensemble_numpy
from pleuston.engine.schedule import Event, build_schedule, constant
from pleuston.model import kernel_numpy as twin
from pleuston.model.build import generate

from . import laws
from .evaluate import World, column, tank, world, worlds

CLOSE = 1e-10
COUNT = 32
GROUPS = [worlds(4, first=700 + 4 * g) for g in range(COUNT // 4)]
"""The forcings of a block are common to its members: each group shares those of its first.
None lies so near the point where lime settles, or in a shade so deep, that rounding shows."""


@pytest.fixture(scope="module")
def kernel() -> Kernel:
    return tank_kernel()


def members(group: tuple[World, ...]) -> list[World]:
    """The tanks of a group under one room and lamp, with the same jump arguments."""
    common = {n: group[0].given[n] for n in (*tank().forcings, *tank().arguments)}
    return [w.but(**common) for w in group]


def arrays(of: list[World]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """States, parameters (a row each), forcings and arguments as the kernel takes them."""
    model = tank()
    x, a = column(model.forcings, of[:1])[0], column(model.arguments, of[:1])[0]
    return column(model.states, of), column(model.parameters, of), x, a


def twin_call(name: str, of: list[World], size: int) -> np.ndarray:
    """(members, outputs) of a function of the NumPy twin."""
    y, p, x, a = arrays(of)
    out = np.zeros((size, len(of)))
    with np.errstate(all="ignore"):
        function = twin.JUMPS[name] if name in twin.JUMPS else getattr(twin, name)
        function(y.T, p.T, x, a, [np.full(len(of), 1e-7)], 30, out)
    return out.T


def same(found: np.ndarray, expected: np.ndarray, names: list[str]) -> None:
    """Equal to ten digits of the value or, near zero, of the largest of its kind."""
    scale = np.maximum(np.abs(expected), 1e-6 * np.abs(expected).max(axis=0))
    off = np.abs(found - expected) / np.where(scale > 0.0, scale, 1.0)
    worst = np.unravel_index(np.nanargmax(off), off.shape)
    assert np.isfinite(found).all()
    assert off.max() <= CLOSE, f"{names[worst[1]]} is off by {off.max():.2g}"


@pytest.mark.parametrize("group", range(len(GROUPS)))
def test_rates_agree(kernel: Kernel, group: int) -> None:
    of = members(GROUPS[group])
    names = [r.name for r in tank().rows]
    plain = np.array([[w.size(r) for r in tank().rows] for w in of])
    y, p, x, _ = arrays(of)
    compiled, changes = kernel.rates(y, p, x)
    same(compiled, plain, names)
    same(twin_call("rates", of, len(names) + len(tank().tracked))[:, : len(names)], plain, names)
    states = list(tank().states)
    for i, state in enumerate(states):
        terms = np.array(
            [float(r.coefficients.get(state, 0)) * plain[:, k] for k, r in enumerate(tank().rows)]
        )
        allowed = CLOSE * np.abs(terms).sum(axis=0)
        assert (np.abs(changes[:, i] - terms.sum(axis=0)) <= allowed).all(), state


@pytest.mark.parametrize("group", range(len(GROUPS)))
def test_observed_quantities_agree(kernel: Kernel, group: int) -> None:
    of = members(GROUPS[group])
    names = list(tank().observed)
    plain = column(names, of)
    y, p, x, _ = arrays(of)
    same(kernel.observe(y, p, x), plain, names)
    same(twin_call("observe", of, len(names)), plain, names)


@pytest.mark.parametrize("jump", tank().jumps)
def test_jumps_agree(kernel: Kernel, jump: str) -> None:
    moves = [m for m in tank().moves if m.jump == jump]
    for group in GROUPS[:3]:
        of = members(group)
        plain = np.array([[w.size(m) for m in moves] for w in of])
        same(twin_call(jump, of, len(moves)), plain, [m.name for m in moves])
        y, p, x, a = arrays(of)
        expected = y.copy()
        for k, move in enumerate(moves):
            for state, coefficient in move.coefficients.items():
                expected[:, list(tank().states).index(state)] += float(coefficient) * plain[:, k]
        after = kernel.jump(jump, y, p, x, a)
        scale = np.maximum(np.abs(y), np.abs(expected))
        assert (np.abs(after - expected) <= CLOSE * scale).all()


@pytest.mark.parametrize(
    "state", [s.name for s in tank().states.values() if s.floor == 0.0 and s.name != "water"]
)  # without water there are no concentrations; the plain law covers evaporation
def test_kernel_drains_no_empty_store(kernel: Kernel, state: str) -> None:
    """The compiled rows too stand still, and none is lost to a division by zero."""
    of = members(tuple(w.but(**{state: 0.0}) for w in worlds(8)))
    y, p, x, _ = arrays(of)
    rates, _ = kernel.rates(y, p, x)
    assert np.isfinite(rates).all()
    users = [i for i, r in enumerate(tank().rows) if r.coefficients.get(state, 0) < 0]
    assert (rates[:, users] == 0.0).all()


def slopes(of: list[World]) -> np.ndarray:
    """(members, entries) of the NumPy twin's Jacobian."""
    before = len(tank().rows) + len(tank().tracked)
    return twin_call("rates_jacobian", of, before + len(twin.JACOBIAN))[:, before:]


@pytest.mark.parametrize("group", range(3))
def test_jacobian_is_that_of_differences(group: int) -> None:
    of = members(GROUPS[group])
    rows = len(tank().rows)
    size = rows + len(tank().tracked)
    exact = slopes(of)
    for j, state in enumerate(tank().fast):
        step = np.array([1e-5 * w[state] for w in of])
        high = [w.but(**{state: w[state] + h}) for w, h in zip(of, step, strict=True)]
        low = [w.but(**{state: w[state] - h}) for w, h in zip(of, step, strict=True)]
        rise = twin_call("rates", high, size)[:, :rows] - twin_call("rates", low, size)[:, :rows]
        differences = rise / (2.0 * step[:, None])
        listed = {row: k for k, (row, col) in enumerate(twin.JACOBIAN) if col == j}
        now = np.abs(twin_call("rates", of, size)[:, :rows])
        for row in range(rows):
            if state in tank().damped and state not in tank().rows[row].coefficients:
                assert row not in listed  # implicit only where the state changes
                continue
            found = exact[:, listed[row]] if row in listed else np.zeros(len(of))
            allowed = 1e-6 * np.abs(found) + 1e-7 * now[:, row] / step * 1e-5
            off = np.abs(found - differences[:, row])
            assert (off <= allowed + 1e-300).all(), (tank().rows[row].name, state, off, found)


def test_compiled_jacobian_is_that_of_the_twin(kernel: Kernel) -> None:
    for group in GROUPS[:3]:
        of = members(group)
        y, p, x, _ = arrays(of)
        found = np.zeros((len(twin.JACOBIAN), LANES))
        rates = np.zeros((len(tank().rows), LANES))
        kernel._call(
            "pleuston_jacobian", kernel._block(y), kernel._block(p), x, kernel._starts(), 30,
            rates, found,
        )  # fmt: skip
        same(found.T[: len(of)], slopes(of), [str(e) for e in twin.JACOBIAN])


def test_generated_files_are_fresh() -> None:
    folder = Path(model_package.__path__[0])
    made = generate(tank())
    assert set(made) == {"kernel.c", "kernel_numpy.py", "table.json"}
    stale = [n for n, text in made.items() if (folder / n).read_text("utf-8") != text]
    assert not stale, f"run `make kernel` and commit {stale}"


def test_kernel_is_that_of_the_table(kernel: Kernel) -> None:
    assert kernel.table.hash == twin.HASH
    assert kernel.table.rows == tuple(r.name for r in tank().rows)
    assert kernel.table.moves == tuple(m.name for m in tank().moves)
    coefficients = {r["name"]: r["coefficients"] for r in kernel.table.data["rows"]}
    for name in kernel.table.rows:
        own = {s: str(c) for s, c in laws.named(name).coefficients.items()}
        assert coefficients[name] == own


def test_twins_agree_where_water_has_no_buffer(kernel: Kernel) -> None:
    """Newton's pass finds the pH of very soft and of sour water too."""
    of = []
    for seed, alkalinity in enumerate((0.02, 0.001, -0.05, -0.5)):
        one = world(300 + seed)
        of.append(one.but(alkalinity=alkalinity * one["water"], carbon_inorganic=one["water"]))
    shared = members(tuple(of))
    y, p, x, _ = arrays(shared)
    ph = kernel.observe(y, p, x)[:, tank().observed.index("ph")]
    assert ph == pytest.approx([w["ph"] for w in shared], abs=1e-9)


@pytest.mark.parametrize("owner", tank().owners)
def test_who_is_absent_can_be_left_out(owner: str) -> None:
    """Rows of an owner without states, and their slopes by the states of others, are zero."""
    none = dict.fromkeys(tank().states_of(owner), 0.0)
    of = members(tuple(w.but(**none) for w in worlds(8)))
    rows = [i for i, r in enumerate(tank().rows) if owner in r.name.split("_")]
    assert len(rows) > 5
    rates = twin_call("rates", of, len(tank().rows) + len(tank().tracked))
    assert (rates[:, rows] == 0.0).all()
    others = [i for i, n in enumerate(tank().fast) if n not in none]
    entries = [k for k, (row, j) in enumerate(twin.JACOBIAN) if row in rows and j in others]
    assert entries
    assert (slopes(of)[:, entries] == 0.0).all()


def test_who_comes_later_is_not_left_out(kernel: Kernel) -> None:
    """A tank into which every kind of plant and animal is put, on both kernels."""
    of = members(worlds(8))
    y, p, x, _ = arrays(of)
    for owner in tank().owners:
        for state in tank().states_of(owner):
            y[:, kernel.table.at("state", state)] = 0.0
    plant = {f"plant_{n}": 20.0 for n in ("nitrogen", "phosphorus", "potassium")}
    plant |= {"plant_carbon": 200.0, "plant_iron": 0.2, "plant_copper": 0.01, "plant_zinc": 0.03}
    events = [
        *(Event(0.1 * i, f"add_floater{i}", plant) for i in (1, 2, 3)),
        Event(0.4, "add_fish", {"body_carbon": 40.0}),
        Event(0.5, "die_fish", {"body_carbon": 40.0}),
        Event(0.5, "add_shrimp", {"body_carbon": 40.0}),
    ]  # fmt: skip
    series = {n: constant(v) for n, v in zip(tank().forcings, x, strict=True)}
    schedule = build_schedule(kernel.table, 0.0, 0.6, series, events, [0.6])
    fast = run_ensemble(kernel, schedule, y, p, outputs=[], extents=True)
    slow = run_ensemble_numpy(twin, kernel.table, schedule, y, p, outputs=[], extents=True)
    assert fast.good.all()
    np.testing.assert_array_equal(fast.steps, slow.steps)
    size = kernel.table.typical + np.abs(slow.end)
    assert (np.abs(fast.end - slow.end) <= 1e-8 * size).all()
    for owner in tank().owners:
        rows = [i for i, r in enumerate(tank().rows) if owner in r.name.split("_")]
        assert fast.extents is not None
        assert fast.extents[-1, rows].max() > 0.0, owner
