"""The parts of the benchmark in order, and the table that is printed."""

from __future__ import annotations

import os
import platform
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from benchmarks import app, latency, store
from benchmarks.compare import EQUAL, Comparison, Line, cheapest, compare
from pleuston.base.errors import PleustonError
from pleuston.engine import compile as compiling
from pleuston.engine.kernel import tank_kernel

Part = Callable[[bool], dict[str, Any]]


def machine() -> dict[str, Any]:
    """What this ran on, and how busy it was."""
    from importlib.metadata import version

    names = [
        line.split(":", 1)[1].strip()
        for line in _lines(Path("/proc/cpuinfo")) if line.startswith("model name")
    ]  # fmt: skip
    command = compiling.compiler()
    return {
        "processor": names[0] if names else platform.processor(),
        "cores": os.cpu_count(),
        "load": [round(x, 2) for x in os.getloadavg()],
        "python": platform.python_version(),
        **{name: version(name) for name in ("numpy", "scipy", "scikit-sundae")},
        "compiler": Path(command[0]).name if command else None,
        "kernel": tank_kernel().path.name,
    }


def _lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def solvers(quick: bool) -> dict[str, Any]:
    """Our engine beside LSODA and CVODE."""
    found = compare(8, 7.0 if quick else 30.0, 1.0 if quick else 2.0)
    mine, lsoda, cvode = (cheapest(found.lines, n) for n in ("ours", "LSODA", "CVODE"))
    return {
        "ratio_lsoda_compiled": found.ratio("LSODA"),
        "ratio_cvode": found.ratio("CVODE"),
        "ratio_lsoda_python": found.ratio(found.plain.engine),
        "worst_error": mine.worst_error if mine else None,
        "our_us_per_member_day": mine.microseconds if mine else None,
        "lsoda_us_per_member_day": lsoda.microseconds if lsoda else None,
        "cvode_us_per_member_day": cvode.microseconds if cvode else None,
        "lsoda_python_us_per_member_day": found.plain.microseconds,
        "our_us_per_member_day_by_variant": found.variants,
        "member_days_a_second": {x.engine: 1e6 / x.microseconds for x in _picked(found)},
        "solvers": {
            "members": found.members, "days": found.days, "equal_accuracy": EQUAL,
            "reference": "CVODE at 1e-10",
            "reference_beside_ours_at_1e-8": found.tight_agreement,
            "plain_rates_beside_compiled": found.plain_difference,
            "lines": [line.data for line in [*found.lines, found.plain]],
        },
    }  # fmt: skip


def _picked(found: Comparison) -> list[Line]:
    lines = [cheapest(found.lines, n) for n in ("ours", "LSODA", "CVODE")]
    return [*(x for x in lines if x is not None), found.plain]


def trust(quick: bool) -> dict[str, Any]:
    """The belief on tanks of another make, and the round beside the rule of thumb."""
    from tests.twin import STORIES

    from benchmarks import ablation, twin_rounds, twins

    stories = ["heat", "replanted"] if quick else list(STORIES)
    made = twins.measure(range(11, 12 if quick else 13), stories)
    made.pop("rows")
    twins.show(made)
    parts = ablation.ablated(1 if quick else ablation.RACKS, quick=quick)
    ablation.show(parts)
    kept = twin_rounds.measure(["heat"] if quick else twin_rounds.STORIES_KEPT, 1 if quick else 2)
    return {"trust": {**made, "ablation": parts, "rounds": kept}}


PARTS: dict[str, Part] = {
    "solvers": solvers,
    "threads": latency.threads,
    "cold": latency.cold_start,
    "what_if": latency.what_if,
    "conservation": latency.conservation,
    "growth": latency.growth,
    "learning": latency.learning,
    "round": latency.nine_tanks,
    "memory": latency.memory,
    "store": store.store,
    "app": app.app,
    "trust": trust,
}


def run_parts(quick: bool, only: list[str]) -> Iterator[tuple[str, Any]]:
    """Each part's results; a part that can't run here gives its reason."""
    for name, part in PARTS.items():
        if only and name not in only:
            continue
        print(f"{name} ...", end=" ", file=sys.stderr, flush=True)
        begun = time.perf_counter()
        try:
            yield from part(quick).items()
        except (PleustonError, ImportError, RuntimeError) as error:
            yield f"{name}_not_run", str(error)
        print(f"{time.perf_counter() - begun:.1f} s", file=sys.stderr, flush=True)


def report(found: dict[str, Any]) -> None:
    """Print what was found."""
    print("\nmachine: " + ", ".join(f"{k} {v}" for k, v in found["machine"].items()))
    solved = found.get("solvers")
    if solved:
        print(f"\n{solved['members']} members, {solved['days']:g} days, one thread, processor time")
        print(f"{'engine':30} {'tol':>8} {'us/member-day':>14} {'median err':>11} "
              f"{'worst err':>10}  worst state")  # fmt: skip
        for x in solved["lines"]:
            print(
                f"{x['engine']:30} {x['tolerance']:8.0e} {x['microseconds']:14.1f} "
                f"{x['median_error']:11.1e} {x['worst_error']:10.1e}"
                f"  {x['worst_state']}"
            )
    print()
    for key, value in found.items():
        if key in ("solvers", "machine", "trust"):
            continue
        if isinstance(value, float):
            print(f"{key:36} {value:.4g}")
        elif isinstance(value, dict):
            print(f"{key}:")
            for name, one in value.items():
                print(f"  {name:34} {one:.4g}" if isinstance(one, float) else f"  {name}: {one}")
        else:
            print(f"{key:36} {value}")
