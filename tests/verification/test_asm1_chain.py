"""Five tanks of activated sludge in a row: the table language on a model of others.

Tank k's published state flows into tank k + 1, whose steady state must come out.
"""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from tests.engine.built import built
from tests.verification.asm1 import I_XB, I_XP, MOLE, PROCESSES, STATES, Y_A, Y_H, tank

from pleuston.engine.ensemble import run_ensemble
from pleuston.engine.kernel import Array
from pleuston.engine.schedule import build_schedule

DATA = Path(__file__).parent / "data"
FLOW = 92230.0
VOLUMES = (1000.0, 1000.0, 1333.0, 1333.0, 1333.0)
OPEN_AIR = (0.0, 0.0, 240.0, 240.0, 84.0)
HELD_AIR = 1e9
"""So strong an exchange with water at 2 g/m3 that oxygen stays there."""


def read(name: str) -> list[dict[str, str]]:
    lines = (x for x in (DATA / name).read_text("utf-8").splitlines() if not x.startswith("#"))
    return list(csv.DictReader(lines))


KINETICS = {r["parameter"]: float(r["value"]) for r in read("asm1_kinetics.csv")}
OPEN, CLOSED = read("asm1_open_loop.csv"), read("asm1_closed_loop.csv")


def steady(feed: dict[str, str], number: int, exchange: float, saturation: float) -> Array:
    """Steady state of tank `number` (from 1) that is fed with the state of the tank before."""
    kit = built(tank)
    values = {n: float(feed[n]) for n in STATES}
    parameters = {
        **KINETICS, **{f"{n}_feed": v for n, v in values.items()}, "flow": FLOW,
        "volume": VOLUMES[number - 1], "kLa": exchange, "S_O_saturated": saturation,
    }  # fmt: skip
    start = {**values, "S_O": saturation if exchange > 1e6 else values["S_O"]}
    schedule = build_schedule(kit.kernel.table, 0.0, 3.0, {}, [], [2.9, 3.0])
    run = run_ensemble(
        kit.kernel, schedule, kit.states(start), kit.parameters(parameters), outputs=STATES,
        tolerance=1e-8, max_steps=10**6,
    )  # fmt: skip
    assert run.good.all()
    np.testing.assert_allclose(run.values[0], run.values[1], rtol=1e-7)
    return run.values[1, :, 0]


@pytest.mark.parametrize("number", [2, 3, 4, 5])
def test_open_loop(number: int) -> None:
    found = steady(OPEN[number - 2], number, OPEN_AIR[number - 1], 8.0)
    expected = np.array([float(OPEN[number - 1][n]) for n in STATES])
    np.testing.assert_allclose(found, expected, rtol=1e-3)


@pytest.mark.parametrize("number", [2, 3, 4, 5])
def test_closed_loop(number: int) -> None:
    held = number > 2
    found = steady(CLOSED[number - 2], number, HELD_AIR if held else 0.0, 2.0)
    expected = np.array([float(CLOSED[number - 1][n]) for n in STATES])
    np.testing.assert_allclose(found, expected, rtol=5e-6)


def test_closed_coefficients_are_those_of_the_report() -> None:
    rows = {r.name: r.coefficients for r in tank().rows}
    spared = (1 - Y_H) / (Fraction(286, 100) * Y_H)
    assert len(PROCESSES) == 8
    aerobic = rows["grow_heterotrophs_aerobic"]
    assert aerobic["S_O"] == pytest.approx(-(1 - Y_H) / Y_H)
    assert aerobic["S_NH"] == -I_XB
    assert aerobic["S_ALK"] == -I_XB * MOLE
    anoxic = rows["grow_heterotrophs_anoxic"]
    assert float(anoxic["S_NO"]) == pytest.approx(float(-spared), rel=1e-11)
    assert float(anoxic["S_ALK"]) == pytest.approx(float((spared - I_XB) * MOLE), rel=1e-10)
    autotrophs = rows["grow_autotrophs"]
    assert float(autotrophs["S_O"]) == pytest.approx(float(-(Fraction(457, 100) - Y_A) / Y_A))
    assert float(autotrophs["S_NH"]) == pytest.approx(float(-I_XB - 1 / Y_A))
    assert float(autotrophs["S_ALK"]) == pytest.approx(float(-(I_XB + 2 / Y_A) * MOLE))
    for name in ("decay_heterotrophs", "decay_autotrophs"):
        assert rows[name]["X_S"] == Fraction(92, 100)
        assert rows[name]["X_ND"] == I_XB - Fraction(8, 100) * I_XP
    assert rows["ammonify"] == {"S_ND": -1, "S_NH": 1, "S_ALK": MOLE}
    assert rows["hydrolyse_carbon"] == {"X_S": -1, "S_S": 1}
    assert rows["hydrolyse_nitrogen"] == {"X_ND": -1, "S_ND": 1}
