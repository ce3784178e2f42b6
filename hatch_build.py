"""Build hook: compiles the generated kernel with whatever C compiler there is.

Without a compiler the package still works, on the NumPy twin of the kernel.
"""

from __future__ import annotations

import importlib.util
import sysconfig
from pathlib import Path
from types import ModuleType
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class KernelHook(BuildHookInterface[Any]):
    """Compiles the C sources beside the package's own code, before files are collected."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the kernel and mark the wheel as made for this kind of machine."""
        if self.target_name != "wheel":
            return
        package = Path(self.root) / "src" / "pleuston"
        native = package / "engine" / "native"
        tool = _load(package / "engine" / "compile.py")
        if tool.compiler() is None:
            self.app.display_warning(
                "pleuston: no C compiler was found, so no kernel was built. The program will run "
                "on NumPy, many times slower. Install a C compiler and install pleuston again."
            )
            return
        built = tool.build_all(package, native)
        for old in set(native.glob("kernel-*.so")) - set(built):
            old.unlink()
        build_data["pure_python"] = False
        system = sysconfig.get_platform().replace("-", "_").replace(".", "_")
        build_data["tag"] = f"py3-none-{system}"  # ctypes loads it from any Python
        if version != "editable":
            build_data["artifacts"] += [
                f"/{Path(path).relative_to(self.root).as_posix()}" for path in built
            ]


def _load(path: Path) -> ModuleType:
    """Import one file by its path: the package itself is not installed yet."""
    spec = importlib.util.spec_from_file_location("pleuston_compile", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path} can't be loaded")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
