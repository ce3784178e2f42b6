"""Threads, start-up, what-ifs, learning, a round, memory, growth and conservation."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np

from benchmarks.tank import AT, TANK, demo_case, demo_record, problem, run_ours, spread
from pleuston.engine.ensemble import DEFAULT, INTERACTIVE, run_ensemble
from pleuston.engine.forcing import forcings
from pleuston.engine.kernel import Array, tank_kernel
from pleuston.engine.schedule import Event

SHARES = [0.1, 0.5, 0.9]


def _best(work: Callable[[], Any], repeats: int = 3) -> float:
    """Wall seconds of the fastest of some runs."""
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def threads(quick: bool) -> dict[str, Any]:
    """Wall time of one thread over that of two, runs taken in turn."""
    what = problem(128 if quick else 512, 30.0)
    one = two = np.inf
    for _ in range(3 if quick else 6):
        one = min(one, _best(lambda: run_ours(what, DEFAULT, threads=1), 1))
        two = min(two, _best(lambda: run_ours(what, DEFAULT, threads=2), 1))
    return {"ratio_two_threads": one / two, "two_threads_member_days_a_second":
            what.member_days / two}  # fmt: skip


def ensemble(members: int, days: float) -> Array:
    """Quantiles of an ensemble with daily records, on all cores."""
    case = demo_case()
    schedule = case.schedule(0.0, days, np.arange(1.0, days + 0.5))
    run = run_ensemble(
        tank_kernel(), schedule, case.start({}, members), spread(case, members),
        outputs=tank_kernel().table.observed, scale=case.scale, tolerance=INTERACTIVE,
    )  # fmt: skip
    return np.quantile(run.values, SHARES, axis=-1)


COLD = """
import sys, time
sys.path.insert(0, {root!r})
from benchmarks.latency import ensemble
ensemble(200, 60.0)
"""


def cold_start(quick: bool) -> dict[str, Any]:
    """A new process until it has the quantiles of 200 members x 60 days."""
    from benchmarks.run import HERE

    code = COLD.format(root=str(HERE.parent))
    line = [sys.executable, "-c", code]
    took = _best(lambda: subprocess.run(line, check=True), 2 if quick else 4)
    return {"cold_first_ensemble_s": took}


def what_if(quick: bool) -> dict[str, Any]:
    """Four plans x 200 members x 60 days with daily quantiles of everything observed."""
    ensemble(8, 2.0)
    took = _best(lambda: [ensemble(200, 60.0) for _ in range(4)], 2 if quick else 3)
    return {"warm_what_if_s": took}


def conservation(quick: bool) -> dict[str, Any]:
    """What a year with weekly events loses of any conserved thing, of what the tank held."""
    case, days, members = demo_case(), 91.0 if quick else 365.0, 8
    own = case.events(27.0)
    week = [e for e in own if 6.0 < e.time < 13.0]
    events = [*(e for e in own if e.time < 6.0), *_weekly(week, days)]
    drivers = forcings(case.record, case.tank, case.clock, days)
    schedule = case.schedule(0.0, days, [days], events=events, drivers=drivers)
    start = case.start({}, members)
    run = run_ensemble(
        tank_kernel(), schedule, start, spread(case, members), outputs=[], scale=case.scale,
        extents=True,
    )  # fmt: skip
    data, worst = case.table.data, {}
    for thing in data["conserved"]:
        holds = np.array([float(Fraction(s["holds"].get(thing, "0"))) for s in data["states"]])
        changes = [*data["rows"], *data["moves"]]
        carried = np.array([float(Fraction(c["carried"].get(thing, "0"))) for c in changes])
        assert run.extents is not None
        lost = (run.end - start) @ holds - carried @ run.extents[-1]
        most = np.maximum(np.abs(start) @ np.abs(holds), np.abs(run.end) @ np.abs(holds))
        worst[thing] = float(np.max(np.abs(lost) / most))
    return {
        "conservation_relative": max(worst.values()), "conservation_days": days,
        "conservation_each": worst, "lowest_amount": float(_lowest(run.end)),
    }  # fmt: skip


def _lowest(end: Array) -> float:
    floored = [s["floor"] is not None for s in demo_case().table.data["states"]]
    return float(end[:, floored].min())


def _weekly(week: list[Event], days: float) -> list[Event]:
    """The events of one week, over and over."""
    return [
        Event(e.time + 7.0 * n, e.jump, e.arguments)
        for n in range(int(days // 7) + 1) for e in week if e.time + 7.0 * n < days - 0.1
    ]  # fmt: skip


def growth(quick: bool) -> dict[str, Any]:
    """Wall seconds against members, days and tanks, on all cores."""
    sizes = (50, 200) if quick else (50, 100, 200, 400, 800)
    lengths = (30, 60) if quick else (15, 30, 60, 120)
    names = [t.name for t in demo_record().tanks]

    def tanks(count: int) -> None:
        for name in names[:count]:
            case = demo_case(name)
            schedule = case.schedule(0.0, 30.0, np.arange(1.0, 30.5))
            run_ensemble(
                tank_kernel(), schedule, case.start({}, 100), spread(case, 100), outputs=["ph"],
                scale=case.scale, tolerance=INTERACTIVE,
            )  # fmt: skip

    def grown(work: Callable[[int], object], numbers: tuple[int, ...]) -> dict[str, float]:
        return {str(n): _best(partial(work, n), 2) for n in numbers}

    tanks(9)
    return {
        "growth_members_x_30_d_s": grown(lambda n: ensemble(n, 30.0), sizes),
        "growth_days_x_100_members_s": grown(lambda n: ensemble(100, float(n)), lengths),
        "growth_tanks_x_100_members_x_30_d_s": grown(tanks, (1, 3) if quick else (1, 3, 9)),
    }


def learning(quick: bool) -> dict[str, Any]:
    """A tank's own rates learned from thirteen weeks of its record."""
    from pleuston.inference.tank import learn_tank

    at = datetime(2026, 6, 1, 8, 18, tzinfo=UTC)
    found: list[Any] = []
    took = _best(lambda: found.append(learn_tank(demo_record(), TANK, at)), 1 if quick else 2)
    return {
        "learn_13_weeks_s": took, "learn_readings": found[-1].readings,
        "learn_uncertain_things": len(found[-1].names),
    }  # fmt: skip


def nine_tanks(quick: bool) -> dict[str, Any]:
    """The round of the nine demo tanks, nothing learned before."""
    if quick:
        return {"nine_tank_round_s": None, "nine_tank_round_reason": "left out of --quick"}
    from pleuston.inference.tank import learn_tank
    from pleuston.planning.round import round_of

    record = demo_record()
    names = [t.name for t in record.tanks]
    took = _best(lambda: round_of([learn_tank(record, n, AT) for n in names], AT), 1)
    return {"nine_tank_round_s": took}


BIG = """
import sys
sys.path.insert(0, {root!r})
from benchmarks.latency import big_run
big_run({members}, {days})
"""


def big_run(members: int, days: float) -> None:
    """A long run of many members in this process; prints its largest memory [MB]."""
    case = demo_case()
    own = case.events(27.0)
    events = [*(e for e in own if e.time < 6.0),
              *_weekly([e for e in own if 6.0 < e.time < 13.0], days)]  # fmt: skip
    drivers = forcings(case.record, case.tank, case.clock, days)
    schedule = case.schedule(0.0, days, np.arange(1.0, days), events=events, drivers=drivers)
    begun = time.perf_counter()
    run_ensemble(
        tank_kernel(), schedule, case.start({}, members), spread(case, members),
        outputs=["ph", "oxygen_concentration", "nitrate_concentration", "canopy_cover"],
        scale=case.scale, tolerance=INTERACTIVE,
    )  # fmt: skip
    took = time.perf_counter() - begun
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0, took)


def memory(quick: bool) -> dict[str, Any]:
    """Memory of 1000 members over a year with four outputs a day."""
    from benchmarks.run import HERE

    members, days = (1000, 30.0) if quick else (1000, 365.0)
    code = BIG.format(root=str(HERE.parent), members=members, days=days)
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    most, took = (float(x) for x in done.stdout.split())
    if quick:
        return {"memory_1000x30_mb": most, "memory_1000x365_mb": None,
                "memory_reason": "only 30 days in --quick"}  # fmt: skip
    return {"memory_1000x365_mb": most, "run_1000x365_s": took}
