"""Regenerate kernel.c, kernel_numpy.py and table.json from the table of processes.

`python -m pleuston.model.build` writes them; with --check it compares instead and
exits with 1 when a file is stale.
"""

from __future__ import annotations

import hashlib
import inspect
import json
import sys
from pathlib import Path
from typing import Any

from pleuston.model.assemble import Model
from pleuston.model.declare import Closed
from pleuston.model.emit_kernel import kernel_c
from pleuston.model.emit_numpy import kernel_numpy
from pleuston.model.jacobian import build_system


def _change(change: Closed) -> dict[str, Any]:
    return {
        "name": change.name,
        "unit": change.unit,
        "source": change.source,
        "where": change.where,
        "meaning": (change.function.__doc__ or "").strip().split("\n")[0],
        "function": change.function.__name__,
        "module": change.function.__module__,
        "coefficients": {s: str(c) for s, c in change.coefficients.items()},
        "inputs": list(change.arguments.values()),
        "crosses": change.crosses,
        "carried": {t: str(c) for t, c in change.carried.items()},
        "jump": change.jump,
    }


def table(model: Model, digest: str) -> dict[str, Any]:
    """The model as data: what the engine and the reference pages read at run time."""
    return {
        "name": model.name,
        "hash": digest,
        "states": [
            {
                "name": s.name, "unit": s.unit, "floor": s.floor, "typical": s.typical,
                "holds": {t: str(c) for t, c in s.holds.items()},
            }
            for s in model.states.values()
        ],
        "rows": [_change(c) for c in model.rows],
        "moves": [_change(c) for c in model.moves],
        "jumps": list(model.jumps),
        "quantities": {
            q.name: {
                "inputs": list(q.arguments.values()),
                "function": q.function.__name__,
                "module": q.function.__module__,
            }
            for q in model.quantities.values()
        },
        "implicits": dict(model.starts),
        "parameters": list(model.parameters),
        "forcings": list(model.forcings),
        "arguments": list(model.arguments),
        "fast": list(model.fast),
        "observed": list(model.observed),
        "tracked": list(model.tracked),
        "conserved": list(model.elements),
    }  # fmt: skip


def generate(model: Model) -> dict[str, str]:
    """File name -> text of everything generated from a model."""
    system = build_system(model)
    unhashed = kernel_c(system, "")
    sources = sorted({inspect.getsource(c.function) for c in (*model.rows, *model.moves)})
    digest = hashlib.sha256((unhashed + "".join(sources)).encode()).hexdigest()[:16]
    return {
        "kernel.c": kernel_c(system, digest),
        "kernel_numpy.py": kernel_numpy(system, digest),
        "table.json": json.dumps(table(model, digest), indent=1, ensure_ascii=False) + "\n",
    }


def main(arguments: list[str]) -> int:
    """Write the generated files, or compare them with --check."""
    from pleuston.model.tank import model

    here = Path(__file__).parent
    stale = []
    for name, text in generate(model()).items():
        path = here / name
        if "--check" in arguments:
            if not path.exists() or path.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        print(f"stale: {', '.join(stale)}. Run `make kernel` and commit the result.")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
