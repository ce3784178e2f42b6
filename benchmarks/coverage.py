"""Whether the belief of the demo's tanks is honest: `python -m benchmarks.coverage`.

The demo rack comes from an independent world of its own (demo/world.py), whose hidden
state is known. At some Sundays each tank is learned from what its keeper had noted by
then, and its bands of today are held against the hidden state: how often the 90 % band
holds it, how sharp it is beside "as last read" (CRPS skill; 0 is no better than the last
reading), and which way the median errs. Nothing in the model may be tuned to this world.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from pleuston.engine.ensemble import INTERACTIVE, Trajectory
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.score import crps
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.outlook import SHOWN, with_model_error
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.records.readings import interval
from pleuston.records.record import Record
from pleuston.store.exchange import read_rack_report

ROOT = Path(__file__).resolve().parents[1]
START = datetime(2026, 3, 1, 23, tzinfo=UTC)
"""Monday 2 March 2026, midnight on the rack's clock."""
COLUMNS = {
    "ec25": "ec25_us_cm", "kh": "kh_dh", "gh": "gh_dh", "ph": "ph", "ammonium": "ammonium_mg_l_n",
    "nitrite": "nitrite_mg_l_n", "nitrate": "nitrate_mg_l_n",
    "phosphate_ion": "phosphate_mg_l_p", "potassium": "potassium_mg_l", "copper": "copper_mg_l",
    "oxygen_dawn": "oxygen_dawn_mg_l", "temperature": "temperature_c", "cover": "cover_share",
}  # fmt: skip
FACTOR = {"phosphate_ion": 94.97 / 30.974, "cover": 100.0}
"""What turns a column of the truth into the unit shown."""
WEEKS = (8, 12, 16, 20)


def truth(tank: str, week: int) -> dict[str, float]:
    """The hidden state at the end of a week's Sunday, in the units shown."""
    day = (START + timedelta(days=7 * week)).date().isoformat()
    with (ROOT / "demo" / "truth.csv").open(encoding="utf-8", newline="") as file:
        row = next(r for r in csv.DictReader(file) if (r["tank"], r["day"]) == (tank, day))
    return {name: float(row[c]) * FACTOR.get(name, 1.0) for name, c in COLUMNS.items()}


def last_read(record: Record, tank: str, name: str, until: datetime) -> float | None:
    """The last reading of a quantity as it stands: the middle of its range, in the unit shown."""
    shown = SHOWN[name]
    for entry in reversed(record.until(until).entries_of(tank, kind="reading")):
        if entry.tank != tank:
            continue
        read = interval(entry)
        if read.quantity == (shown.reading or name) and name != "oxygen_dawn":
            low = read.low if np.isfinite(read.low) else 0.0
            high = read.high if np.isfinite(read.high) else low
            return 0.5 * (low + high) * shown.scale + shown.shift
    return None


def today(belief: TankBelief) -> Trajectory:
    """The members through the last day, in the forenoon and at its end."""
    case, until = belief.case, belief.at
    moments = [until - 1.0, until - 14.0 / 24.0, until]
    outputs = sorted({SHOWN[n].output for n in COLUMNS} - {"lowest_oxygen_concentration"})
    return run_tank(
        case.schedule(0.0, until, moments), belief.start, belief.parameters,
        outputs=outputs, scale=case.scale, tolerance=INTERACTIVE,
    )  # fmt: skip


def band(belief: TankBelief, run: Trajectory, name: str) -> Array:
    """(members,) of a quantity today as an outlook would show it."""
    shown = SHOWN[name]
    at = 1 if name in ("ph", "oxygen_dawn") else 2
    raw = run.of(shown.output)[at : at + 1] * shown.scale + shown.shift
    return np.asarray(with_model_error(raw, shown, belief, np.zeros(1))[0])


def scores(
    record: Record, tanks: Sequence[str], weeks: Sequence[int], state: bool
) -> Iterator[tuple[str, int, str, float, Array, float | None]]:
    """(tank, week, quantity, truth, members, last reading) for every tank and week."""
    for tank in tanks:
        for week in weeks:
            at = START + timedelta(days=7 * week) - timedelta(minutes=1)
            begun = time.perf_counter()
            belief = learn_tank(record, tank, at)
            took = time.perf_counter() - begun
            run, true = today(belief), truth(tank, week)
            d = belief.diagnostics
            line = f"{tank:8s} week {week:2d} {took:4.1f} s, {d.effective_members:4.0f} of "
            line += f"{d.runs} count, weights to the power {d.tempered:.2f}"
            if state:
                told = tank_round(view_of(belief))
                because = [f"{b['limit']} {b['chance']:.2f}" for b in told["because"]]
                line += f" {told['state']}: " + ", ".join(because)
            print(line, flush=True)
            for name in COLUMNS:
                told_last = last_read(record, tank, name, at)
                yield tank, week, name, true[name], band(belief, run, name), told_last


def table(rows: Sequence[tuple[str, int, str, float, Array, float | None]]) -> None:
    """Print coverage, skill and bias by quantity."""
    print(f"\n{'quantity':14s} {'n':>4s} {'in 90 %':>8s} {'in 50 %':>8s} {'CRPS':>8s} "
          f"{'skill':>6s} {'median - truth':>14s} {'width':>8s}")  # fmt: skip
    everything: list[bool] = []
    for name in COLUMNS:
        own = [r for r in rows if r[2] == name]
        place = np.array([(r[4] < r[3]).mean() + 0.5 * (r[4] == r[3]).mean() for r in own])
        wide = (place >= 0.05) & (place <= 0.95)
        half = (place >= 0.25) & (place <= 0.75)
        score = np.array([float(crps(r[4], r[3])) for r in own])
        read = [(s, abs(r[5] - r[3])) for s, r in zip(score, own, strict=True) if r[5] is not None]
        ours, last = np.mean(np.reshape(read, (-1, 2)), axis=0) if read else (np.nan, np.nan)
        skill = 1.0 - ours / last
        bias = np.mean([np.median(r[4]) - r[3] for r in own])
        width = np.mean([np.ptp(np.quantile(r[4], [0.05, 0.95])) for r in own])
        everything.extend(wide)
        print(f"{name:14s} {len(own):4d} {wide.mean():8.2f} {half.mean():8.2f} "
              f"{score.mean():8.3f} {skill:6.2f} {bias:14.3f} {width:8.3f}")  # fmt: skip
    print(f"{'all':14s} {len(everything):4d} {np.mean(everything):8.2f}")


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tanks", default="", help="names, by comma; all when left out")
    parser.add_argument("--weeks", default=",".join(map(str, WEEKS)))
    parser.add_argument("--no-state", action="store_true", help="leave the judgement out")
    parser.add_argument("--detail", action="store_true", help="every band as well")
    asked = parser.parse_args()
    record = read_rack_report(ROOT / "src" / "pleuston" / "demo_rack").record
    tanks = asked.tanks.split(",") if asked.tanks else [t.name for t in record.tanks]
    weeks = [int(w) for w in asked.weeks.split(",")]
    rows = list(scores(record, tanks, weeks, not asked.no_state))
    if asked.detail:
        for tank, week, name, true, members, last in rows:
            low, middle, high = np.quantile(members, [0.05, 0.5, 0.95])
            out = " " if low <= true <= high else "*"
            print(f"{out} {tank:8s} {week:2d} {name:14s} true {true:8.3f}  {low:8.3f} "
                  f"{middle:8.3f} {high:8.3f}  last {last if last is not None else np.nan:.3f}")
    table(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
