"""How far the belief is right on tanks of another make: `python -m benchmarks.twins`.

Keepers of the twin (tests/twin) keep tanks whose hidden state is known and comes from a model
unlike the program's. Each story of each seed is learned at one moment from what its keeper had
noted by then. Asked are, each with its number of cases:

  forecasts  the bands one day, two and four weeks ahead against the hidden state: the share
             that bands of 50, 80, 90 and 95 % hold, and the continuous ranked probability score
             against three references made of the same readings: `point` (the last reading's
             middle as it is: persistence), `last` (the same, spread by past changes over the
             same time) and `line` (a straight line through the readings so far, spread by its
             residuals)
  causes     whether the true cause is the likeliest, and among the first three, four weeks after
             it could first be seen (a wrong reading: the same day)
  alarms     of healthy tanks, the share of weekly looks with a state of act or danger, and with
             another cause than nothing wrong above one half

Nothing of the program may be tuned to the twin; what was learned of it is said in the page
that shows these tables (docs/explanation/trust.md).
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from tests.twin import START, STORIES, Kept, kept

from pleuston.base.errors import PleustonError
from pleuston.inference.score import crps
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.planning.outlook import SHOWN, run_ahead
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.records.readings import interval
from pleuston.records.record import Record
from pleuston.services.tank_answers import causes_by_balance

OUT = Path(__file__).resolve().parent / "twins.json"
LEADS = (1, 14, 28)
BANDS = (0.5, 0.8, 0.9, 0.95)
SCORED = ("ec25", "kh", "gh", "nitrate", "cover", "ammonium", "nitrite", "phosphate_ion", "ph",
          "temperature", "oxygen_dawn", "potassium")  # fmt: skip
LOOKED = {"oxygen_dawn": "oxygen"}
REFERENCES = ("point", "last", "line")
LEAST = 3
"""Readings of a quantity from which its forecast is scored."""
HEALTHY_DAYS = (62, 90, 118)
"""Days on which a healthy tank is looked at, at the end of a round's day."""
HOUR = 23.9
"""Hour of the day that is asked for: the twin's truth is of the day's end."""


def day_of(story: str) -> int:
    """The day on which a story is asked for its cause."""
    told = STORIES[story]
    return told.onset + told.seen_after + (0 if told.cause == "reading_fault" else 28)


def readings_of(record: Record, tank: str, name: str, day: float) -> list[tuple[float, float]]:
    """(day, middle) of the readings of a quantity so far, in the unit shown."""
    shown = SHOWN[name]
    found = []
    for entry in record.entries_of(tank, kind="reading"):
        at = (entry.at - START) / timedelta(days=1)
        if entry.tank != tank or at > day:
            continue
        read = interval(entry)
        if read.quantity == (LOOKED.get(name) or shown.reading):
            low = read.low if np.isfinite(read.low) else 0.0
            high = read.high if np.isfinite(read.high) else max(low, 2.0 * low)
            found.append((at, 0.5 * (low + high) * shown.scale + shown.shift))
    return found


def as_last_read(readings: Sequence[tuple[float, float]], lead: float) -> np.ndarray:
    """An ensemble: the last reading, moved by every past change over about the same time."""
    last = readings[-1][1]
    moves = [
        b[1] - a[1] for i, a in enumerate(readings) for b in readings[i + 1 :]
        if abs(b[0] - a[0] - lead) <= 4.0
    ]  # fmt: skip
    return last + np.array(moves if len(moves) >= LEAST else [0.0])


def straight_line(readings: Sequence[tuple[float, float]], day: float) -> np.ndarray:
    """An ensemble: a line through the readings, moved by its residuals."""
    days, values = np.array(readings).T
    slope, start = np.polyfit(days - days[-1], values, 1)
    return np.asarray(start + slope * (day - days[-1])
                      + values - (start + slope * (days - days[-1])))  # fmt: skip


def forecasts(belief: TankBelief, made: Kept, day: int) -> list[dict[str, Any]]:
    """Scores of one tank's bands against the hidden state."""
    ahead = run_ahead(belief, max(LEADS), threads=1)
    rows = []
    for name in SCORED:
        read = readings_of(made.record, made.tank, name, day + 1.0)
        if len(read) < LEAST:
            continue
        for lead in LEADS:
            if day + lead >= len(made.truth[name]):
                continue
            members, true = ahead.values(name)[lead - 1], float(made.truth[name][day + lead])
            place = float((members < true).mean() + 0.5 * (members == true).mean())
            rows.append({
                "quantity": name, "lead": lead, "place": place,
                "crps": float(crps(members, true)),
                "last": float(crps(as_last_read(read, lead), true)),
                "point": abs(read[-1][1] - true),
                "line": float(crps(straight_line(read, day + lead), true)),
                "error": float(np.median(members) - true),
            })  # fmt: skip
    return rows


def one(case: tuple[str, int, int]) -> dict[str, Any]:
    """Learn one tank on one day, and ask it everything."""
    story, seed, day = case
    made = kept(story, seed, (day + max(LEADS)) // 7 + 2)
    at = START + timedelta(days=day, hours=HOUR)
    found: dict[str, Any] = {"story": story, "seed": seed, "day": day, "error": ""}
    begun = time.process_time()
    try:
        belief = learn_tank(made.record, made.tank, at, threads=1)
        found["learned_s"] = time.process_time() - begun
        found["forecasts"] = forecasts(belief, made, day)
        told = causes_by_balance(belief, 1)
        state = tank_round(view_of(belief, 1))
    except PleustonError as fault:
        return {**found, "error": str(fault)}
    found["causes"] = [row["cause"] for row in told["causes"]]
    found["chances"] = {row["cause"]: row["probability"] for row in told["causes"]}
    found["first"] = told["causes"][0]["probability"]
    found["state"] = state["state"]
    found["because"] = [b["limit"] for b in state["because"]]
    found["effective"] = belief.diagnostics.effective_members
    return found


def cases(seeds: Sequence[int], stories: Sequence[str]) -> list[tuple[str, int, int]]:
    """What is asked: sick tanks once, healthy ones on some days."""
    asked = []
    for story in stories:
        days = HEALTHY_DAYS if STORIES[story].healthy else (day_of(story),)
        asked += [(story, seed, day) for seed in seeds for day in days]
    return asked


def tables(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The three tables of the answers."""
    good = [r for r in rows if not r["error"]]
    return {"forecasts": _forecast_table(good), "causes": _cause_table(good),
            "alarms": _alarm_table(good), "failed": len(rows) - len(good)}  # fmt: skip


def _forecast_table(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    found = []
    for name in (*SCORED, "all"):
        for lead in LEADS:
            own = [f for r in rows for f in r["forecasts"]
                   if f["lead"] == lead and name in (f["quantity"], "all")]  # fmt: skip
            if not own:
                continue
            place = np.array([f["place"] for f in own])
            line: dict[str, Any] = {"quantity": name, "lead": lead, "n": len(own)}
            for band in BANDS:
                inside = (place >= 0.5 - 0.5 * band) & (place <= 0.5 + 0.5 * band)
                line[f"in_{band:g}"] = round(float(inside.mean()), 3)
            if name != "all":
                score = np.mean([f["crps"] for f in own])
                for other in REFERENCES:
                    line[f"skill_{other}"] = round(
                        float(1.0 - score / np.mean([f[other] for f in own])), 3)
                line["median_error"] = round(float(np.median([f["error"] for f in own])), 4)
            found.append(line)
    return found


def _cause_table(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    found = []
    for story, told in STORIES.items():
        own = [r for r in rows if r["story"] == story]
        if told.healthy or not own:
            continue
        others = Counter(r["causes"][0] for r in own if r["causes"][0] != told.cause)
        found.append({
            "cause": told.cause, "n": len(own),
            "first": sum(r["causes"][0] == told.cause for r in own),
            "among_three": sum(told.cause in r["causes"][:3] for r in own),
            "taken_for": dict(others),
        })  # fmt: skip
    return found


def _alarm_table(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    found = []
    for story, told in STORIES.items():
        own = [r for r in rows if r["story"] == story]
        if not told.healthy or not own:
            continue
        states = [r for r in own if r["state"] in ("act", "danger")]
        causes = [r for r in own if r["causes"][0] != "nothing_wrong" and r["first"] > 0.5]
        found.append({
            "story": story, "n": len(own), "states": len(states), "causes": len(causes),
            "because": dict(Counter(b for r in states for b in r["because"][:1])),
            "named": dict(Counter(r["causes"][0] for r in causes)),
        })  # fmt: skip
    return found


def show(made: Mapping[str, Any]) -> None:
    """Print the tables."""
    print(f"{'quantity':14s} {'lead':>4s} {'n':>4s} {'50':>5s} {'80':>5s} {'90':>5s} {'95':>5s} "
          f"{'point':>6s} {'last':>6s} {'line':>6s}  median error")  # fmt: skip
    for line in made["forecasts"]:
        bands = " ".join(f"{line[f'in_{b:g}']:5.2f}" for b in BANDS)
        rest = ""
        if "skill_last" in line:
            skills = " ".join(f"{line[f'skill_{r}']:6.2f}" for r in REFERENCES)
            rest = f"{skills}  {line['median_error']:g}"
        print(f"{line['quantity']:14s} {line['lead']:4d} {line['n']:4d} {bands} {rest}")
    rows = made["causes"]
    for row in rows:
        print(f"{row['cause']:18s} first {row['first']}/{row['n']}, among three "
              f"{row['among_three']}/{row['n']} {row['taken_for'] or ''}")  # fmt: skip
    total = sum(row["n"] for row in rows)
    if total:
        first = sum(row["first"] for row in rows) / total
        three = sum(row["among_three"] for row in rows) / total
        print(f"causes: {first:.0%} first, {three:.0%} among three, n {total}")
    for row in made["alarms"]:
        print(f"{row['story']:18s} n {row['n']}: states {row['states']} {row['because'] or ''}, "
              f"causes {row['causes']} {row['named'] or ''}")  # fmt: skip
    number = sum(row["n"] for row in made["alarms"])
    if number:
        states = sum(row["states"] for row in made["alarms"])
        causes = sum(row["causes"] for row in made["alarms"])
        print(f"healthy tank-weeks {number}: act or danger {states}, a cause named {causes}")
    if made["failed"]:
        print(f"{made['failed']} could not be learned")


def measure(seeds: Sequence[int], stories: Sequence[str], processes: int = 2) -> dict[str, Any]:
    """Ask all cases and put the tables together."""
    asked = cases(seeds, stories)
    with ProcessPoolExecutor(processes) as pool:
        rows = list(pool.map(one, asked))
    about = {"seeds": len(seeds), "first": seeds[0], "cases": len(asked)}
    return {**about, **tables(rows), "rows": rows}


def main() -> int:
    """Measure and print; with --out the tables are kept for the page that shows them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--stories", default="", help="names, by comma; all when left out")
    parser.add_argument("--quick", action="store_true", help="one seed of four stories")
    parser.add_argument("--rows", default="", help="also write every case to this file")
    parser.add_argument("--keep", action="store_true", help=f"write the tables to {OUT.name}")
    asked = parser.parse_args()
    stories = asked.stories.split(",") if asked.stories else list(STORIES)
    if asked.quick:
        stories = ["open", "salt_creep", "heat", "potassium_short"]
    begun = time.perf_counter()
    made = measure(range(asked.first, asked.first + (1 if asked.quick else asked.seeds)), stories)
    rows = made.pop("rows")
    show(made)
    print(f"{time.perf_counter() - begun:.0f} s")
    if asked.rows:
        Path(asked.rows).write_text(json.dumps(rows) + "\n", encoding="utf-8")
    if asked.keep:
        before = json.loads(OUT.read_text(encoding="utf-8")) if OUT.exists() else {}
        OUT.write_text(json.dumps({**before, **made}, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
