"""Compiles small models for tests, once a process."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from pleuston.engine import compile as compiling
from pleuston.engine.kernel import Array, Kernel, compile_kernel
from pleuston.model.assemble import Model
from pleuston.model.build import generate
from pleuston.model.declare import Change


@dataclass(frozen=True)
class Built:
    """A small model as both printers make it."""

    kernel: Kernel
    module: ModuleType
    text: Mapping[str, str]

    def states(self, values: Mapping[str, float], members: int = 1) -> Array:
        """Start states of some members: zero where not given."""
        return _filled(self.kernel.table.states, members, values)

    def parameters(self, values: Mapping[str, float], members: int = 1) -> Array:
        """Parameters of some members; each must be given."""
        assert set(values) == set(self.kernel.table.parameters)
        return _filled(self.kernel.table.parameters, members, values)


def _filled(names: tuple[str, ...], members: int, values: Mapping[str, float]) -> Array:
    row = np.zeros(len(names))
    for name, value in values.items():
        row[names.index(name)] = value
    return np.repeat(row[None, :], members, axis=0)


@cache
def folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="pleuston-tests-")


@cache
def built(model: Callable[[], Model]) -> Built:
    """Generate and compile a model; the test is left out where there is no compiler."""
    if compiling.compiler() is None:
        pytest.skip("there is no C compiler on this machine")
    text = generate(model())
    kernel = compile_kernel(text["kernel.c"], json.loads(text["table.json"]), Path(folder().name))
    return Built(kernel, module_of(text), text)


def changes(functions: Iterable[Callable[..., Any]]) -> list[Change]:
    """The rows or moves that functions were declared as."""
    return [vars(function)["change"] for function in functions]


def module_of(text: Mapping[str, str]) -> ModuleType:
    """The generated NumPy module, loaded."""
    module = ModuleType("small_kernel_numpy")
    exec(text["kernel_numpy.py"], module.__dict__)
    return module
