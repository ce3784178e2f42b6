"""Following the round against the trade's rule of thumb: `python -m benchmarks.twin_rounds`.

The same tanks of the twin (tests/twin), with the same chances, are kept from week 8 on in two
ways. `round`: the acts of the app's weekly round are carried out as it says, nothing else (looks,
checks of a source, lamps, lids and plants to be added are not); rain stands beside the tap.
`thumb`: floating plants are thinned to a quarter of the surface, the tank is filled with tap
water, ammonium is tested every week, half of the water is changed whenever it was read, and
food goes on as before. Thermometer, conductivity pen and cover by eye are read in both ways;
else each keeper tests what their own way asks for, and every test takes its minutes.
What is counted is true, not read: days on which animals are at risk, how far conductivity,
hardness and potassium drift, and the keeper's minutes. Differences are paired by tank; their
intervals are bootstrapped over tanks.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import numpy as np
from tests.twin import START, Keeping, keeping_of, record_of
from tests.twin.stories import Start
from tests.twin.world import Pour

from benchmarks.twins import OUT
from pleuston.base.errors import PleustonError
from pleuston.inference.tank import learn_tank
from pleuston.planning.acts import MINUTES
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.records.record import Record, Water

FROM, WEEKS = 8, 8
RAIN = Pour("sky", "rain", 0.1, 0.2, 10.0, nitrate=0.3, phosphorus=0.01, potassium=0.3,
            iron=0.0, copper=0.001)  # fmt: skip
STORIES_KEPT = ("open", "lidded", "salty", "salt_creep", "hardness_draining", "copper_source",
                "overgrown_cover", "heat", "overfeeding", "potassium_short")  # fmt: skip
THINNED = 0.25
HALF = 0.5
COOLED = 2.0
"""What a fan takes off the room for the week in which the round asks for it [K]; invented."""
FED_WEEK = 7.0


@dataclass
class Kept:
    """What one way of keeping cost."""

    risk: float = 0.0
    minutes: float = 0.0
    drift: dict[str, float] = field(default_factory=dict)
    acts: list[str] = field(default_factory=list)


def record_with_rain(keeping: Keeping, start: Start) -> Record:
    """The record so far; rain stands beside the tap on the rack."""
    record = record_of([(keeping, start)])
    sky = Water("sky", "rain", kh_dh=0.1, gh_dh=0.2, ec25_us_cm=15.0)
    return replace(record, waters=(*record.waters, sky))


def by_round(keeping: Keeping, start: Start, kept: Kept) -> Callable[[Keeping], None]:
    """Do what the round says."""
    last = [keeping.habit.pinch]
    cooled = [0.0]

    def acts(now: Keeping) -> None:
        now.world.room += cooled[0]
        cooled[0] = 0.0
        at = START + timedelta(days=now.day, hours=10.3)
        try:
            belief = learn_tank(record_with_rain(now, start), now.name, at, threads=1)
            told = tank_round(view_of(belief, 1))
        except PleustonError as fault:
            kept.acts.append(f"not learned: {fault}")
            now.usual_acts()
            return
        kept.minutes += told["minutes"]
        if now.habit.pinch > 0.0:
            last[0] = now.habit.pinch
        now.habit.pinch = last[0]
        for act in told["acts"]:
            kept.acts.append(f"{act['act']} {act['what']} {act['amount']}")
            if act["act"] == "cool":
                cooled[0] = COOLED
                now.world.room -= COOLED
            _do(now, act, {now.world.pour.name: now.world.pour, "sky": RAIN})

    return acts


def _do(now: Keeping, act: Mapping[str, Any], pours: Mapping[str, Pour]) -> None:
    """Carry out one act of the round."""
    amount, what, world = act["amount"], act["what"], now.world
    water = pours.get(what, world.pour)
    if act["act"] == "thin" and amount:
        taken = world.harvest(what, amount)
        now.exact(10.2, "harvest", what, max(taken, 0.1), "g")
        now.read_cover(10.3)
    elif act["act"] == "open_surface":
        now.thin(0.25)
    elif act["act"] == "stir_surface":
        world.film = 0.05
        world.oxygen += 0.5 * (8.0 - world.oxygen)
    elif act["act"] in ("feed_less", "feed_more", "stop_feeding"):
        now.habit.pinch = (amount or 0.0) * FED_WEEK / max(len(now.habit.feed_days), 1)
    elif act["act"] == "top_up" and amount:
        now.top_up(water, min(amount, max(world.build.litres * 1.05 - world.level, 0.0)))
    elif act["act"] == "change_top_up" and what in pours:
        now.note(10.7, "setting", "top_up_water")
        now.entries.append(replace(now.entries.pop(), note=what))
    elif act["act"] == "water_change" and amount:
        now.change(min(amount, 0.8 * world.level), water)
    elif act["act"] == "dose" and amount:
        world.dose(what, amount)
        now.exact(10.6, "dose", what, amount, "mg")
    elif act["act"] == "test":
        now.tests.append(what if what in ("ph", "kh", "gh", "oxygen", "potassium", "iron", "copper")
                         else f"{what.removesuffix('_ion')}_ion")
    elif act["act"] == "remove_dead":
        world.debris *= 0.9


def by_thumb(_start: Start, kept: Kept) -> Callable[[Keeping], None]:
    """Do what is usually said."""

    def acts(now: Keeping) -> None:
        lately = [e for e in now.entries if e.what == "ammonium_ion"
                  and e.at > START + timedelta(days=now.day - 1)]  # fmt: skip
        before = now.world.cover
        now.thin(THINNED)
        kept.minutes += MINUTES["top_up"] + MINUTES["look"] + len(lately) * MINUTES["test"]
        kept.minutes += MINUTES["thin"] if now.world.cover < before else 0.0
        now.top_up()
        if any(e.low is not None and e.low > 0.0 for e in lately):
            now.change(HALF * now.world.level)
            kept.minutes += MINUTES["water_change"]

    return acts


def run(case: tuple[str, int, str]) -> tuple[str, int, str, Kept]:
    """Keep one tank one way."""
    story, seed, way = case
    keeping, start = keeping_of(story, seed)
    for _ in range(FROM):
        keeping.week()
    kept = Kept()
    keeping.rotation = () if way == "round" else (("ammonium_ion",),)
    acts = by_round(keeping, start, kept) if way == "round" else by_thumb(start, kept)
    first = len(keeping.truth["ec25"])
    held = dict(keeping.world.animals)
    for _ in range(WEEKS):
        keeping.week(acts)
    truth = {n: np.array(v) for n, v in keeping.truth.items()}
    kept.risk = float(at_risk(truth, held)[first:].sum())
    for name in ("ec25", "kh", "potassium"):
        series = np.maximum(truth[name], 0.2)
        kept.drift[name] = float(abs(np.log(series[-1] / series[first - 1])))
    return story, seed, way, kept


def at_risk(truth: Mapping[str, np.ndarray], held: Mapping[str, float]) -> np.ndarray:
    """Days on which an animal of the tank is at risk by what is true."""
    shelled = any(n >= 1 for s, n in held.items() if "davidi" in s or "duryi" in s)
    gilled = any(n >= 1 for s, n in held.items() if s not in
                 ("Betta splendens", "Physella acuta", "Trichopsis pumila"))  # fmt: skip
    step = np.abs(np.diff(np.log(truth["ec25"]), prepend=np.log(truth["ec25"][0]))) > 0.14
    risk = (truth["ammonia_nh3"] > 0.05) | (truth["nitrite"] > 0.5) | (truth["temperature"] > 30.0)
    risk |= step
    if gilled:
        risk |= truth["oxygen_dawn"] < 2.0
    if shelled:
        risk |= (truth["copper"] > 0.02) | (truth["kh"] < 0.5)
    return np.asarray(risk)


def table(rows: Sequence[tuple[str, int, str, Kept]]) -> list[dict[str, Any]]:
    """Mean of each way, and the paired difference with its interval."""
    tanks = sorted({(story, seed) for story, seed, _, _ in rows})
    by = {(story, seed, way): kept for story, seed, way, kept in rows}
    found = []
    for name in ("risk", "minutes", "ec25", "kh", "potassium"):
        pairs = np.array([
            [_value(by[s, n, way], name) for way in ("round", "thumb")] for s, n in tanks
        ])  # fmt: skip
        rng = np.random.default_rng(1)
        drawn = rng.integers(0, len(pairs), (2000, len(pairs)))
        means = (pairs[:, 0] - pairs[:, 1])[drawn].mean(axis=1)
        low, high = np.quantile(means, [0.05, 0.95])
        found.append({
            "what": name, "n": len(pairs), "round": round(float(pairs[:, 0].mean()), 3),
            "thumb": round(float(pairs[:, 1].mean()), 3),
            "difference": round(float((pairs[:, 0] - pairs[:, 1]).mean()), 3),
            "low": round(float(low), 3), "high": round(float(high), 3),
        })  # fmt: skip
    for story in dict.fromkeys(s for s, _ in tanks):
        own = [n for s, n in tanks if s == story]
        ways = {w: float(np.mean([by[story, n, w].risk for n in own])) for w in ("round", "thumb")}
        found.append({"what": f"risk in {story}", "n": len(own), **ways})
    return found


def _value(kept: Kept, name: str) -> float:
    return kept.risk if name == "risk" else kept.minutes if name == "minutes" else kept.drift[name]


def measure(stories: Sequence[str], seeds: int) -> list[dict[str, Any]]:
    """Keep the tanks both ways and put the table together."""
    return table(kept_both_ways(stories, seeds))


def kept_both_ways(stories: Sequence[str], seeds: int) -> list[tuple[str, int, str, Kept]]:
    """Every story of every seed, kept by the round and by the rule of thumb."""
    cases = [(s, n, w) for w in ("round", "thumb") for s in stories for n in range(1, seeds + 1)]
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(run, cases))


def main() -> int:
    """Measure and print; with --keep the table joins those of benchmarks/twins.json."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--stories", default=",".join(STORIES_KEPT))
    parser.add_argument("--acts", action="store_true", help="print what was done")
    parser.add_argument("--keep", action="store_true")
    asked = parser.parse_args()
    begun = time.perf_counter()
    rows = kept_both_ways(asked.stories.split(","), asked.seeds)
    made = table(rows)
    for line in made:
        print(", ".join(f"{k} {v}" for k, v in line.items()))
    if asked.acts:
        for story, seed, way, kept in rows:
            print(story, seed, way, kept.risk, kept.drift, kept.acts)
    print(f"{time.perf_counter() - begun:.0f} s")
    if asked.keep:
        before = json.loads(OUT.read_text(encoding="utf-8")) if OUT.exists() else {}
        OUT.write_text(json.dumps({**before, "rounds": made}, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
