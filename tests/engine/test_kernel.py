"""Loading and calling a compiled kernel, and what is said when that can't be done."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from pleuston.base.errors import EngineError
from pleuston.engine import compile as compiling
from pleuston.engine import kernel as kernels
from pleuston.engine import run as running
from pleuston.engine.kernel import (
    Kernel,
    best_variant,
    compile_kernel,
    read_table,
    tank_kernel,
    tank_table,
)
from pleuston.engine.schedule import build_schedule, constant
from pleuston.model.build import generate

from .built import Built, built, module_of
from .small_pond import PARAMETERS, START, pond


@pytest.fixture(scope="module")
def kit() -> Built:
    return built(pond)


def test_a_binary_of_another_model_is_refused(kit: Built) -> None:
    data = json.loads(kit.text["table.json"]) | {"hash": "0123456789abcdef"}
    with pytest.raises(EngineError) as caught:
        Kernel(read_table(data), kit.kernel.path)
    assert f"made of model {kit.kernel.table.hash}, the table is 0123456789abcdef" in str(
        caught.value
    )
    assert "make kernel" in str(caught.value)


def test_a_binary_is_made_once(kit: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = json.loads(kit.text["table.json"])
    first = compile_kernel(kit.text["kernel.c"], data, tmp_path)
    monkeypatch.setattr(compiling, "compiler", lambda: None)
    assert compile_kernel(kit.text["kernel.c"], data, tmp_path).path == first.path
    assert first.path.name.startswith("kernel-")


def test_without_a_compiler(
    kit: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:  # fmt: skip
    monkeypatch.setattr(compiling, "compiler", lambda: None)
    with pytest.raises(EngineError) as caught:
        compile_kernel(kit.text["kernel.c"], json.loads(kit.text["table.json"]), tmp_path)
    assert "no C compiler found" in str(caught.value)
    assert "Install gcc, clang or ziglang" in str(caught.value)


def test_a_kernel_that_does_not_compile(kit: Built, tmp_path: Path) -> None:
    with pytest.raises(EngineError, match=r"failed: (?s:.*)error"):
        compile_kernel("no C at all", json.loads(kit.text["table.json"]), tmp_path)


def test_the_same_model_makes_the_same_text(kit: Built) -> None:
    assert generate(pond()) == kit.text


@pytest.mark.parametrize(
    ("flags", "found"),
    [
        ([], ["v2"]),
        (["avx2", "fma"], ["v2"]),
        (["avx2", "fma", "bmi2"], ["v3", "v2"]),
        (["avx512f", "avx512dq"], ["v2"]),
        (sorted(kernels.NEEDS["v4"]), ["v4", "v3", "v2"]),
    ],
)
def test_variant_by_flags(
    flags: list[str], found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compiling, "variants", lambda: {"v4": [], "v3": [], "v2": []})
    assert best_variant(flags) == found


def test_the_only_variant_of_another_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiling, "variants", lambda: {"base": []})
    assert best_variant([]) == ["base"]


@pytest.mark.parametrize(
    ("kind", "name", "said"),
    [
        ("state", "amonium", "no state called amonium. Did you mean ammonium?"),
        ("parameter", "half_life", "no parameter called half_life. Did you mean half?"),
        ("observed", "zzz", "`pleuston table` (observeds)"),
        ("colour", "red", "no colour called red"),
    ],
)
def test_an_unknown_name(kit: Built, kind: str, name: str, said: str) -> None:
    with pytest.raises(EngineError) as caught:
        kit.kernel.table.at(kind, name)
    assert said in str(caught.value)


def test_single_evaluations(kit: Built) -> None:
    kernel, table = kit.kernel, kit.kernel.table
    y, p = kit.states(START, 3), kit.parameters(PARAMETERS, 3)
    y[1] *= 2.0
    x = np.array([1.0, 0.5])
    rates, change = kernel.rates(y, p, x)
    out = np.zeros((len(table.rows) + len(table.tracked), 3))
    kit.module.rates(y.T, p.T, x, np.zeros(2), np.ones((1, 3)), 30, out)
    np.testing.assert_allclose(rates.T, out[: len(table.rows)], rtol=1e-14)
    oxygen = table.at("state", "oxygen")
    assert change[0, oxygen] == pytest.approx(
        rates[0] @ [dict(row).get(oxygen, 0.0) for row in kit.module.ROWS]
    )
    seen = kernel.observe(y, p, x)
    acid = seen[:, table.at("observed", "acid")]
    np.testing.assert_allclose(acid**3 + acid, 1.0 + y[:, table.at("state", "plant")], rtol=1e-13)
    share = np.zeros(2)
    share[table.at("argument", "harvest_share")] = 0.5
    after = kernel.jump("harvest", y, p, x, share)
    np.testing.assert_allclose(after[:, 2], 0.45 * y[:, 2], rtol=1e-14)
    np.testing.assert_array_equal(y, kit.states(START, 3) * [[1.0], [2.0], [1.0]])


def test_single_evaluations_want_doubles(kit: Built) -> None:
    with pytest.raises(EngineError, match="not float64"):
        kit.kernel.rates(
            kit.states(START), kit.parameters(PARAMETERS), np.array([1.0, 0.0], dtype=np.float32)
        )


def test_the_numpy_kernel_of_another_model_is_refused(kit: Built) -> None:
    from pleuston.engine.numpy_stepper import Equations

    module = module_of(kit.text)
    module.__dict__["HASH"] = "0"
    with pytest.raises(EngineError, match="made of model 0"):
        Equations(module, kit.kernel.table)


# -- the tank without a compiler ----------------------------------------------------


@pytest.fixture
def forgotten(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """No binary, no compiler, and nothing remembered of either."""
    monkeypatch.setattr(compiling, "compiler", lambda: None)
    monkeypatch.setattr(kernels, "binary_of", lambda *_: None)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    monkeypatch.setattr(running, "tank_kernel", tank_kernel.__wrapped__)
    running.compiled.cache_clear()
    yield
    running.compiled.cache_clear()


@pytest.mark.usefixtures("forgotten")
def test_the_tank_runs_on_numpy(capsys: pytest.CaptureFixture[str]) -> None:
    from pleuston.model import kernel_numpy

    table = tank_table()
    y = np.repeat(table.typical[None, :], 2, axis=0)
    y[:, table.at("state", "water")] = 30.0
    y[:, table.at("state", "heat")] = 30.0 * 4.18 * 22.0
    p = np.ones((2, len(table.parameters)))
    p[:, table.at("parameter", "calcium_partition")] = 30.0  # one would overfill the soil
    still = {name: constant(1.0) for name in table.forcings}
    still["room_temperature"] = still["heater_setpoint"] = constant(295.0)
    schedule = build_schedule(table, 0.0, 0.01, still, [], [0.01])
    first = running.run_tank(schedule, y, p, outputs=["temperature"])
    again = running.run_tank(schedule, y, p, outputs=["temperature"])
    assert first.good.all()
    assert table.hash == kernel_numpy.HASH
    np.testing.assert_array_equal(first.values, again.values)
    said = capsys.readouterr().err
    assert said.count("\n") == 1, "it is said once"
    assert "no C compiler found" in said
    assert "runs on NumPy" in said


def test_the_tank_runs_compiled_where_it_can(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(running, "run_ensemble", lambda *a, **k: asked.append((a, k)))
    monkeypatch.setattr(running, "tank_kernel", lambda: "the kernel")
    running.compiled.cache_clear()
    running.run_tank("a schedule", "starts", "parameters", outputs=["ph"], threads=2)  # type: ignore[arg-type]
    running.compiled.cache_clear()
    assert asked[0][0] == ("the kernel", "a schedule", "starts", "parameters")
    assert asked[0][1]["threads"] == 2
