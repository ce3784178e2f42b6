"""Compile a generated kernel with the system's C compiler or the ziglang wheel.

Stands alone (imports nothing of the package), so that the package build can use it.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

FLAGS = [
    "-std=gnu11", "-O2", "-ftree-vectorize", "-fopenmp-simd", "-fno-math-errno",
    "-fno-trapping-math", "-ffp-contract=fast", "-fPIC", "-shared",
]  # fmt: skip


def variants() -> dict[str, list[str]]:
    """Instruction sets to build for on this kind of machine, best first."""
    if platform.machine().lower() in ("x86_64", "amd64"):
        return {
            "v4": ["-march=x86-64-v4", "-mprefer-vector-width=512"],
            "v3": ["-march=x86-64-v3"],
            "v2": ["-march=x86-64-v2"],
        }
    return {"base": []}


def compiler() -> list[str] | None:
    """The command of a C compiler: $CC, cc, gcc, clang, or the ziglang wheel; None if none."""
    named = os.environ.get("CC")
    for name in ([named] if named else []) + ["cc", "gcc", "clang"]:
        found = shutil.which(name)
        if found:
            return [found]
    if importlib.util.find_spec("ziglang") is not None:
        return [sys.executable, "-m", "ziglang", "cc"]
    return None


def digest(kernel: Path, stepper: Path) -> str:
    """Hash of the sources and the flags: names the binary made of them."""
    lanes = stepper.with_name("lanes.h").read_bytes()
    text = kernel.read_bytes() + stepper.read_bytes() + lanes + " ".join(FLAGS).encode()
    return hashlib.sha256(text).hexdigest()[:16]


def binary_name(kernel: Path, stepper: Path, variant: str) -> str:
    """File name of the binary of one variant."""
    return f"kernel-{digest(kernel, stepper)}-{variant}.so"


def build(kernel: Path, stepper: Path, out_dir: Path, variant: str) -> Path:
    """Compile one variant into out_dir and return the binary's path.

    Raises RuntimeError with the compiler's first lines when it fails or is missing.
    """
    command = compiler()
    if command is None:
        raise RuntimeError("no C compiler found: install gcc or clang, or `pip install ziglang`")
    out_dir.mkdir(parents=True, exist_ok=True)
    target = out_dir / binary_name(kernel, stepper, variant)
    flags = variants()[variant]
    if "ziglang" in command:  # zig writes the names of instruction sets its own way
        flags = [flag.replace("x86-64-v", "x86_64_v") for flag in flags]
    with tempfile.TemporaryDirectory(dir=out_dir) as scratch:
        made = Path(scratch) / target.name
        line = [
            *command, *FLAGS, *flags, f'-DKERNEL="{kernel.resolve()}"', str(stepper),
            "-o", str(made), "-lm",
        ]  # fmt: skip
        done = subprocess.run(line, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise RuntimeError(f"{' '.join(line[:2])} failed: {done.stderr[:500]}")
        made.replace(target)
    return target


def build_all(source_dir: Path, out_dir: Path) -> list[Path]:
    """Compile every variant of the package's kernel; source_dir is src/pleuston."""
    kernel = source_dir / "model" / "kernel.c"
    stepper = source_dir / "engine" / "native" / "stepper.c"
    with ThreadPoolExecutor() as pool:
        return list(pool.map(lambda v: build(kernel, stepper, out_dir, v), variants()))
