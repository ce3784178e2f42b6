"""The package builds its kernel where the system has no C compiler."""

from __future__ import annotations

import ctypes
import shutil
from pathlib import Path

import pytest

from pleuston.engine import compile as kernel_build

from .source import SOURCE


@pytest.mark.slow
def test_the_kernel_builds_without_a_system_compiler(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CC", raising=False)
    monkeypatch.setattr(shutil, "which", lambda _: None)
    command = kernel_build.compiler()
    assert command is not None
    assert "ziglang" in command
    built = kernel_build.build_all(SOURCE, tmp_path)
    assert len(built) == len(kernel_build.variants())
    assert all(hasattr(ctypes.CDLL(str(path)), "pleuston_rates") for path in built[-1:])


def test_without_any_compiler_the_build_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kernel_build, "compiler", lambda: None)
    kernel, stepper = SOURCE / "model" / "kernel.c", SOURCE / "engine" / "native" / "stepper.c"
    with pytest.raises(RuntimeError, match="install gcc or clang"):
        kernel_build.build(kernel, stepper, tmp_path, next(iter(kernel_build.variants())))
    assert list(tmp_path.iterdir()) == []
