"""Laws of the rows of plants, microbes, animals and soil, in the model as it runs."""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.engine.kernel import tank_kernel
from pleuston.model.assemble import changes_in
from pleuston.model.rows import animals, floating, metals, nitrogen, rooted, soil
from pleuston.model.tank import model

from .vessel import parameter_values

FORCED = {
    "room_temperature": 294.0, "room_humidity": 0.5, "air_pressure": 1.0, "air_co2": 5e-4,
    "light": 80.0, "heater_setpoint": 297.0, "heater_power": 50.0, "lid_openness": 0.5,
    "flow_level": 1.0, "air_stone": 0.0,
}  # fmt: skip
OWN = {c.function for c in changes_in((animals, floating, metals, nitrogen, rooted, soil))}
ROWS = [row for row in model().rows if row.function in OWN]
GROUPS = ("lemna", "pistia", "azolla")
LIVING = ("floater", "rooted", "algae", "heterotrophs", "oxidisers", "body", "gut")


def _rates(states: np.ndarray, group: str = "lemna", **forced: float) -> dict[str, float]:
    kernel = tank_kernel()
    x = np.array([{**FORCED, **forced}[n] for n in kernel.table.forcings])
    rates, _ = kernel.rates(states[None], parameter_values(kernel, group, {}), x)
    return dict(zip(kernel.table.rows, rates[0], strict=True))


def _usual() -> np.ndarray:
    table = tank_kernel().table
    states = np.array(table.typical)
    states[table.at("state", "heat")] = 4.186 * 32.0 * 24.0
    return states


def _unruly(seed: int) -> np.ndarray:
    """Amounts spread over five orders of magnitude, a third of the stores empty."""
    table, chance = tank_kernel().table, np.random.default_rng(seed)
    states = table.typical * np.exp(chance.normal(0.0, 3.0, len(table.states)))
    states[chance.random(len(states)) < 0.33] = 0.0
    states[table.at("state", "water")] = 30.0
    states[table.at("state", "heat")] = 4.186 * 32.0 * chance.uniform(4.0, 36.0)
    states[table.at("state", "alkalinity")] = chance.normal(30.0, 60.0)
    return states


def test_there_are_many_rows() -> None:
    assert len(ROWS) > 140
    assert len({row.function for row in ROWS}) <= 105


def test_every_row_can_run() -> None:
    rates = _rates(_usual())
    still = {row.name for row in ROWS if not rates[row.name] > 0.0}
    assert still == {f"graze_detritus_{e}_fish" for e in ("carbon", "nitrogen", "phosphorus")}


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("light", [0.0, 200.0])
def test_rates_are_never_negative_and_no_empty_store_is_drained(seed: int, light: float) -> None:
    table, states = tank_kernel().table, _unruly(seed)
    rates = _rates(states, GROUPS[seed % 3], light=light)
    known = model().states
    wrong = {}
    for row in ROWS:
        rate = rates[row.name]
        empty = [
            s for s, c in row.coefficients.items()
            if c < 0 and known[s].floor is not None and states[table.at("state", s)] == 0.0
        ]  # fmt: skip
        if not np.isfinite(rate) or rate < 0.0 or (empty and rate != 0.0):
            wrong[row.name] = (rate, empty)
    assert not wrong


STORES = [n for n, s in model().states.items() if s.floor == 0.0 and n != "water"]


@pytest.mark.parametrize("state", STORES)
def test_an_empty_store_alone_stops_what_consumes_it(state: str) -> None:
    states = _usual()
    states[tank_kernel().table.at("state", state)] = 0.0
    rates = _rates(states)
    drained = {r.name for r in ROWS if r.coefficients.get(state, 0) < 0 and rates[r.name] != 0.0}
    assert not drained


def test_without_life_nothing_lives() -> None:
    table, states = tank_kernel().table, _usual()
    for i, name in enumerate(table.states):
        if any(word in name.split("_") for word in (*LIVING, "floater1", "floater2", "floater3")):
            states[i] = 0.0
    rates = _rates(states)
    alive = {
        row.name for row in ROWS
        if rates[row.name] != 0.0 and row.function.__module__.endswith(("floating", "animals"))
    }  # fmt: skip
    grown = {
        row.name for row in ROWS
        if rates[row.name] != 0.0
        and any(c > 0 and set(s.split("_")) & set(LIVING) for s, c in row.coefficients.items())
    }  # fmt: skip
    assert not alive | grown


def test_an_empty_tank_rests() -> None:
    table, states = tank_kernel().table, np.zeros_like(_usual())
    states[table.at("state", "water")] = 30.0
    states[table.at("state", "heat")] = 4.186 * 32.0 * 24.0
    rates = _rates(states)
    assert {row.name for row in ROWS if rates[row.name] != 0.0} == set()
