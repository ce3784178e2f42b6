"""What each part of the learning is worth: `python -m benchmarks.ablation [--quick]`.

Two worlds of another make, whose hidden state is known, are learned from what their keepers
noted: racks of the twin (tests/twin), with tanks kept for twelve weeks and new ones of one
week beside them, and the demo rack after four and twelve weeks. They are learned by the whole
method and with one part left out:

  pooling    each tank by itself, nothing borrowed from the rack's others
  mixture    no reading can be simply wrong (lapse 0): slips of the pen pull as they stand
  intervals  the middle of a colour step, a drop or "below the first step" as if read exactly

Scores are of the bands one and two weeks ahead against the hidden state, on the scale where a
quantity is compared: the share that 90 % bands hold; the continuous ranked probability score
in units of the whole method's mean for that quantity in the group (0 is perfect); and the log
score of the normal law with the members' mean and sd (Dawid & Sebastiani 1999, Annals of
Statistics 27:65-81), which minds most a band that is too narrow. Each line states its n. How
much worse it is without a part is told with the standard error over tanks, as quantities of
one tank err together. The mixture is for records with slips: one reading in twenty of the
twin's records, written down ten times too large.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from tests.twin.keeping import START, Keeping, Kits
from tests.twin.making import keeping_of, record_of
from tests.twin.stories import STORIES

from benchmarks.coverage import COLUMNS, ROOT
from benchmarks.coverage import START as DEMO_START
from benchmarks.coverage import truth as true_of_demo
from pleuston.base.errors import PleustonError
from pleuston.inference.readings import IntervalData, observation_model
from pleuston.inference.score import crps
from pleuston.inference.tank import Learned, TankBelief, believed, learn_rates
from pleuston.inference.without import as_midpoints, without_lapses
from pleuston.planning.outlook import SHOWN, run_ahead
from pleuston.records.record import Entry, Record
from pleuston.store.exchange import read_rack_report

AHEAD = (7, 14)
RACKS, WEEKS, NEW_WEEKS = 2, 12, 1
DEMO_WEEKS = (4, 12)
HEALTHY = [name for name, story in STORIES.items() if story.healthy and "new" not in name]
SLIPS = 0.05
Taken = Callable[[IntervalData], IntervalData]
WAYS: Mapping[str, Taken | None] = {
    "whole": None, "without pooling": None, "without mixture": without_lapses,
    "without intervals": as_midpoints,
}  # fmt: skip
CLASSED = ("ammonium", "nitrite", "nitrate", "phosphate_ion", "kh", "gh")
"""Quantities that keepers read in steps or drops."""


@dataclass(frozen=True)
class Made:
    """A rack of the twin at one moment: its record, and what is true on days from then on."""

    record: Record
    at: datetime
    new: frozenset[str]
    truth: Mapping[str, Mapping[str, Mapping[int, float]]]
    """By tank, quantity, and days after the moment."""
    world: str


@dataclass(frozen=True)
class Scored:
    """One quantity of one tank on one day: where the truth lay, and the score."""

    way: str
    world: str
    tank: str
    slips: bool
    new: bool
    quantity: str
    day: int
    inside: bool
    score: float
    log: float


def rack(seed: int, old: int, new: int, weeks: int) -> Made:
    """A keeper's rack: one set of kits, tanks kept for some weeks, and new ones."""
    kits = Kits(np.random.default_rng([seed, 3]))
    pairs, truth, moved = [], {}, {}
    for place in range(old + new):
        own_weeks = weeks if place < old else NEW_WEEKS
        story = HEALTHY[place % len(HEALTHY)]
        keeping, start = keeping_of(story, seed + 101 * place, f"Rack {seed} tank {place + 1}")
        keeping.kits = kits
        own = replace(start.pour, name=f"{start.pour.name} {place + 1}")
        keeping.world.pour = start.pour = own
        for _ in range(own_weeks + max(AHEAD) // 7):
            keeping.week()
        pairs.append((keeping, start))
        last = 7 * own_weeks - 1
        truth[keeping.name] = {
            n: {d: v[last + d] for d in AHEAD} for n, v in keeping.truth.items()
        }
        moved[keeping.name] = timedelta(weeks=weeks - own_weeks)
    record = record_of(pairs)
    entries = sorted(_later(pairs, moved), key=lambda e: (e.at, e.id))
    at = START + timedelta(weeks=weeks) - timedelta(minutes=1)
    young = frozenset(name for name, by in moved.items() if by)
    return Made(replace(record, entries=tuple(entries)), at, young, truth, "twin")


def demo(week: int) -> Made:
    """The demo rack at the end of a week."""
    record = read_rack_report(ROOT / "src" / "pleuston" / "demo_rack").record
    truth: dict[str, dict[str, dict[int, float]]] = {}
    for tank in record.tanks:
        later = {d: true_of_demo(tank.name, week + d // 7) for d in AHEAD}
        truth[tank.name] = {n: {d: later[d][n] for d in AHEAD} for n in COLUMNS}
    at = DEMO_START + timedelta(weeks=week) - timedelta(minutes=1)
    return Made(record, at, frozenset(), truth, "demo")


def _later(
    pairs: Sequence[tuple[Keeping, object]], moved: Mapping[str, timedelta]
) -> Iterator[Entry]:
    for keeping, _ in pairs:
        for entry in keeping.entries:
            yield replace(entry, at=entry.at + moved[keeping.name])


def with_slips(made: Made, seed: int) -> Made:
    """The same rack, one reading in twenty of it written down ten times too large."""
    rng = np.random.default_rng([seed, 5])

    def told(entry: Entry) -> Entry:
        slips = entry.kind == "reading" and entry.what not in ("ph", "cover", "temperature")
        if not slips or rng.random() >= SLIPS:
            return entry
        low, high = (None if v is None else 10.0 * v for v in (entry.low, entry.high))
        return replace(entry, low=low, high=high)

    return replace(made, record=replace(
        made.record, entries=tuple(told(e) for e in made.record.entries)
    ))  # fmt: skip


def scored(way: str, belief: TankBelief, made: Made, slips: bool) -> Iterator[Scored]:
    """Hold a belief's bands against the hidden state."""
    tank = belief.case.tank.name
    ahead = run_ahead(belief, max(AHEAD), threads=1)
    for day in AHEAD:
        for name, true in made.truth[tank].items():
            reading = "oxygen" if name == "oxygen_dawn" else SHOWN[name].reading
            if not reading:
                continue
            model, scale, shift = observation_model(reading), SHOWN[name].scale, SHOWN[name].shift
            members = model.scaled((ahead.values(name)[day - 1] - shift) / scale)
            real = float(model.scaled((true[day] - shift) / scale))
            place = (members < real).mean() + 0.5 * (members == real).mean()
            sd = max(float(members.std()), 1e-6)
            log = np.log(sd) + 0.5 * ((real - members.mean()) / sd) ** 2
            place_of = f"{tank} {made.at:%Y-%m-%d}"
            yield Scored(way, made.world, place_of, slips, tank in made.new, name, day,
                         bool(0.05 <= place <= 0.95), float(crps(members, real)), float(log))


def learned(made: Made, way: str) -> dict[str, Learned]:
    """Every tank that can be learned, from its own record alone."""
    names = [t.name for t in made.record.tanks]

    def one(name: str) -> Learned | None:
        with suppress(PleustonError):
            return learn_rates(made.record, name, made.at, threads=1, taken=WAYS[way])
        return None

    with ThreadPoolExecutor(2) as pool:
        found = dict(zip(names, pool.map(one, names), strict=True))
    return {name: one for name, one in found.items() if one is not None}


def measured(made: Made, slips: bool) -> list[Scored]:
    """Scores of every way on the tanks of a rack; with slips, of what they matter for."""
    rows: list[Scored] = []
    whole: dict[str, Learned] = {}
    for way in ("whole", "without mixture") if slips else WAYS:
        begun = time.perf_counter()
        tanks = whole if way == "without pooling" else learned(made, way)
        whole = tanks if way == "whole" else whole
        told = [] if way == "without pooling" else [one.own for one in tanks.values()]
        for one in tanks.values():
            rows.extend(scored(way, believed(one, told), made, slips))
        kind = "with slips" if slips else "as noted"
        took = time.perf_counter() - begun
        print(f"{kind:10s} {way:18s} {len(tanks)} tanks, {took:4.1f} s", flush=True)
    return rows


Pick = Callable[[Scored], bool]
GROUPS: Mapping[str, Pick] = {
    "twin": lambda r: r.world == "twin" and not r.slips,
    "twin, new tanks": lambda r: r.world == "twin" and r.new and not r.slips,
    "twin, kept tanks": lambda r: r.world == "twin" and not r.new and not r.slips,
    "twin, with slips": lambda r: not r.new and r.slips,
    "demo": lambda r: r.world == "demo",
    "demo, in steps": lambda r: r.world == "demo" and r.quantity in CLASSED,
}
"""Named groups of bands that scores are told of."""


def table(rows: Sequence[Scored]) -> list[dict[str, float | str | int]]:
    """One line for each group and way: coverage, relative score, what leaving it out costs."""
    made: list[dict[str, float | str | int]] = []
    for name, pick in GROUPS.items():
        chosen = [r for r in rows if pick(r)]
        usual = _usual([r for r in chosen if r.way == "whole"])
        whole = [r for r in chosen if r.way == "whole"]
        base, base_log = _by_tank(whole, usual), _logs(whole)
        for way in WAYS:
            own = [r for r in chosen if r.way == way]
            by_tank = _by_tank(own, usual)
            both = sorted(by_tank.keys() & base.keys())
            if not both:
                continue
            logs = _logs(own)
            worse, error = _gap([by_tank[k] - base[k] for k in both])
            log_worse, log_error = _gap([logs[k] - base_log[k] for k in both])
            made.append({
                "group": name, "way": way, "n": len(own), "tanks": len(both),
                "covered_90": float(np.mean([r.inside for r in own])),
                "crps": float(np.mean(list(by_tank.values()))),
                "worse_by": worse, "standard_error": error,
                "log_worse_by": log_worse, "log_standard_error": log_error,
            })  # fmt: skip
    return made


def _gap(gaps: Sequence[float]) -> tuple[float, float]:
    """The mean of differences by tank, and its standard error."""
    spread = float(np.std(gaps, ddof=1)) if len(gaps) > 1 else np.nan
    return float(np.mean(gaps)), spread / float(np.sqrt(len(gaps)))


def _logs(rows: Sequence[Scored]) -> dict[str, float]:
    """By tank, the mean log score."""
    found: dict[str, list[float]] = {}
    for row in rows:
        found.setdefault(row.tank, []).append(row.log)
    return {key: float(np.mean(scores)) for key, scores in found.items()}


def _usual(rows: Sequence[Scored]) -> dict[tuple[str, int], float]:
    """By quantity and day, the mean score."""
    found: dict[tuple[str, int], list[float]] = {}
    for row in rows:
        found.setdefault((row.quantity, row.day), []).append(row.score)
    return {key: max(float(np.mean(scores)), 1e-9) for key, scores in found.items()}


def _by_tank(
    rows: Sequence[Scored], usual: Mapping[tuple[str, int], float]
) -> dict[str, float]:
    """By tank, the mean score of its quantities, each in units of what is usual of it."""
    found: dict[str, list[float]] = {}
    for row in rows:
        found.setdefault(row.tank, []).append(row.score / usual[row.quantity, row.day])
    return {key: float(np.mean(scores)) for key, scores in found.items()}


def show(made: Sequence[Mapping[str, float | str | int]]) -> None:
    """Print the table."""
    print(f"\n{'bands':16s} {'way':18s} {'n':>5s} {'in 90 %':>8s} {'CRPS':>6s} "
          f"{'worse by':>9s} {'+-':>6s} {'log score':>10s} {'+-':>6s} {'tanks':>6s}")  # fmt: skip
    for row in made:
        print(f"{row['group']:16s} {row['way']:18s} {row['n']:5d} {row['covered_90']:8.2f} "
              f"{row['crps']:6.3f} {row['worse_by']:9.3f} {row['standard_error']:6.3f} "
              f"{row['log_worse_by']:10.3f} {row['log_standard_error']:6.3f} "
              f"{row['tanks']:6d}")  # fmt: skip


def ablated(racks: int = RACKS, *, quick: bool = False) -> list[dict[str, float | str | int]]:
    """The table, as data."""
    rows: list[Scored] = []
    for seed in range(1, 2 if quick else racks + 1):
        made = rack(seed, 2, 2, 5) if quick else rack(seed, 5, 8, WEEKS)
        rows += measured(made, slips=False)
        rows += measured(with_slips(made, seed), slips=True)
    for week in () if quick else DEMO_WEEKS:
        rows += measured(demo(week), slips=False)
    return table(rows)


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--quick", action="store_true", help="one small rack")
    parser.add_argument("--racks", type=int, default=RACKS)
    asked = parser.parse_args()
    show(ablated(asked.racks, quick=asked.quick))
    return 0


if __name__ == "__main__":
    sys.exit(main())
