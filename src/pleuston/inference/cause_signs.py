"""The signs in a tank's record that speak for or against a cause, each with its words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from pleuston.base.errors import InputError
from pleuston.records.library import library
from pleuston.records.readings import interval
from pleuston.records.record import Entry, Record

RECENT, LONG = timedelta(days=42), timedelta(days=70)
"""What counts as lately: a pulse is over in days, and its cause is asked for weeks later."""
YOUNG = timedelta(days=180)
"""In a tank this young meals grow with its animals, so that more food tells nothing."""
SEEN = {
    "gasping": ("gasping",), "film": ("film",), "cloudy": ("cloudy",), "scale": ("scale",),
    "algae": ("algae",), "hiding": ("hiding",), "leftovers": ("leftovers", "not_eating"),
    "missing": ("missing_animal",), "melt": ("melt",), "pale": ("pale_leaves",),
    "pinholes": ("pinholes",), "shells": ("shells_pitted",), "eaten": ("eaten_leaves",),
}  # fmt: skip
OFTEN = {
    "algae": 3, "film": 3, "leftovers": 2, "scale": 2, "cloudy": 2, "pinholes": 2, "pale": 2,
    "hiding": 2,
}  # fmt: skip
"""How often a weak sign must be seen lately to count; others once."""
SURE = 0.995
"""How surely what is noted is so; no sign is surer."""
AGAIN, MOST = 0.25, 2.0
"""How much more each further sighting of a sign weighs, and what all weigh at most: a guess."""
MISSED: Mapping[int, float] = {1: 0.3, 2: 0.15}
"""Chance that a peak fell between so few readings in six weeks: a guess."""
CHANGED = 0.4
"""Share of the water changed at once that counts as a large change."""
STEP = 0.25
"""Change of the logarithm of conductivity between two readings that counts as a step."""
CLOSED, MORE = 0.65, 0.15
"""Cover from which a mat counts as closed where less is kept, and by how much more than is kept:
common practice, no source."""


@dataclass(frozen=True)
class Sign:
    """Whether a sign is there (0 to 1), in the keeper's words, and since when."""

    there: float
    words: str
    since: datetime | None = None
    weight: float = 1.0
    """Power of what it tells: more than 1 where it was seen again and again."""


@dataclass(frozen=True)
class Point:
    """A reading between its bounds; an open end is infinite."""

    at: datetime
    low: float
    high: float

    @property
    def middle(self) -> float:
        """The middle, or the bound that is known; half of it below the first step."""
        if not np.isfinite(self.low) and np.isfinite(self.high):
            return 0.5 * self.high
        known = [v for v in (self.low, self.high) if np.isfinite(v)]
        return float(np.mean(known)) if len(known) == 2 else known[0] if known else 0.0


def signs_of(record: Record, tank: str, at: datetime) -> dict[str, Sign]:
    """All signs that the record up to a moment can tell of; others are left out."""
    entries = [e for e in record.entries_of(tank, until=at) if e.tank == tank]
    points = _points(entries)
    signs = {
        **_seen(entries, at), **_salts(points.get("ec25", []), at),
        **_hardness(points, at), **_swapped(points, at), **_soda(points, at),
        **_levels(points, at, _closed(record, tank, at)), **_kept(entries, at),
        **_thinned(record, tank, entries, points, at), **_about(record, tank, at),
    }  # fmt: skip
    started = record.tank(tank).started
    if started is not None and at - started < YOUNG:
        signs.pop("feed_up", None)
    return signs


def change_point(values: Sequence[float]) -> int:
    """Give the place from which a level differs most from before, by least squares.

    >>> change_point([1.0, 1.1, 0.9, 3.0, 3.1])
    3
    """
    x = np.asarray(values, dtype=float)
    cost = [((x[:k] - x[:k].mean()) ** 2).sum() + ((x[k:] - x[k:].mean()) ** 2).sum()
            for k in range(1, len(x))]  # fmt: skip
    return int(np.argmin(cost)) + 1 if cost else 0


def _points(entries: Sequence[Entry]) -> dict[str, list[Point]]:
    found: dict[str, list[Point]] = {}
    for entry in entries:
        if entry.kind == "reading":
            try:
                read = interval(entry)
            except InputError:
                continue
            name = "ec25" if entry.what == "pen_ppm" else read.quantity
            found.setdefault(name, []).append(Point(entry.at, read.low, read.high))
    return found


FLOWS = ("still", "gentle", "strong")
UNITS = {"ammonium": "mg/L N", "nitrite": "mg/L N", "nitrate": "mg/L N", "phosphate": "mg/L P",
         "light_ppfd": "umol/m2/s"}  # fmt: skip
PEAKS = ("ammonia", "ammonia_high", "nitrite", "nitrite_high", "copper_read", "warm")
"""Levels that count when they were reached once lately: a peak is over when it is looked for."""


def _soft(value: float, middle: float, width: float) -> float:
    return float(1.0 / (1.0 + np.exp(-np.clip((value - middle) / width, -30.0, 30.0))))


def _seen(entries: Sequence[Entry], at: datetime) -> dict[str, Sign]:
    made = {}
    looks = [e for e in entries if e.kind == "seen"]
    for name, whats in SEEN.items():
        hits = [e for e in looks if e.what in whats]
        recent = [e for e in hits if e.at > at - RECENT]
        word = whats[0].replace("_", " ")
        needed = OFTEN.get(name, 1)
        there = len(recent) >= needed
        times = "once" if len(recent) == 1 else f"{len(recent)} times"
        words = f"{word} seen {times} in six weeks" if recent else f"no {word} seen"
        weight = min(1.0 + AGAIN * max(len(recent) - needed, 0), MOST)
        made[name] = Sign(SURE if there else 0.1, words, hits[0].at if hits and there else None,
                          weight)  # fmt: skip
    return made


def _salts(points: Sequence[Point], at: datetime) -> dict[str, Sign]:
    """Trend, level, step and outliers of conductivity, outliers set aside."""
    if len(points) < 4:
        return {}
    middle = np.array([p.middle for p in points])
    typical = np.array([np.median(middle[max(0, i - 3):i + 4]) for i in range(len(middle))])
    odd = np.abs(np.log(np.maximum(middle, 1.0) / typical)) > np.log(1.6)
    good = [p for p, o in zip(points, odd, strict=True) if not o]
    recent = [p for p in good if p.at > at - LONG]
    last_odd = [p for p, o in zip(points, odd, strict=True) if o and p.at > at - timedelta(days=7)]
    made = {"salts_outlier": Sign(SURE if last_odd else 1.0 - SURE,
            "the latest conductivity is far from all others" if last_odd
            else "conductivity readings agree with each other")}  # fmt: skip
    if len(recent) < 4:
        return made
    days = np.array([(p.at - recent[0].at).total_seconds() / 86400.0 for p in recent])
    slope = float(np.polyfit(days, np.log([p.middle for p in recent]), 1)[0]) * 56.0
    words = f"conductivity {recent[0].middle:.0f} to {recent[-1].middle:.0f} uS/cm in " \
            f"{days[-1]:.0f} days"  # fmt: skip
    now = recent[-1].middle
    lately = [p for p in good if p.at > at - RECENT]
    steps = np.abs(np.diff(np.log([p.middle for p in lately]))) if len(lately) > 1 else np.zeros(1)
    largest = float(steps.max())
    return made | {
        "salts_rise": Sign(_soft(slope, 0.1, 0.02), words, recent[0].at),
        "salts_fall": Sign(_soft(-slope, 0.15, 0.03), words, recent[0].at),
        "salts_high": Sign(_soft(now, 950.0, 60.0), f"conductivity is {now:.0f} uS/cm"),
        "salts_step": Sign(_soft(largest, STEP, 0.03),
                           f"largest step of conductivity {100 * largest:.0f} %",
                           lately[int(np.argmax(steps)) + 1].at if largest > STEP else None),
    }  # fmt: skip


def _hardness(points: Mapping[str, Sequence[Point]], at: datetime) -> dict[str, Sign]:
    rows = points.get("kh") or points.get("alkalinity") or []
    rows = [p for p in rows if p.at > at - timedelta(days=140)]
    if len(rows) < 2:
        return {}
    first, last = rows[0].middle, rows[-1].middle
    words = f"carbonate hardness {first:.1f} to {last:.1f} meq/L since {rows[0].at:%d %b}"
    rise = last - first
    half = next((p.at for p in rows if abs(p.middle - first) > 0.4 * abs(rise)), rows[0].at)
    return {
        "hardness_low": Sign(_soft(-last, -0.75, 0.1), f"carbonate hardness {last:.1f} meq/L",
                             next((p.at for p in rows if p.middle < 0.75), None)),
        "hardness_falls": Sign(_soft(-rise, 0.5, 0.1), words, half),
        "hardness_rises": Sign(_soft(rise, 0.8, 0.15), words, half),
    }  # fmt: skip


LEVELS = {
    "ammonia": ("ammonium", 0.1, "high"), "ammonia_high": ("ammonium", 0.3, "high"),
    "nitrite": ("nitrite", 0.06, "high"), "nitrite_high": ("nitrite", 0.15, "high"),
    "phosphate_high": ("phosphate", 0.45, "high"), "phosphate_none": ("phosphate", 0.05, "low"),
    "nitrate_none": ("nitrate", 0.7, "low"), "potassium_low": ("potassium", 1.5, "low"),
    "iron_low": ("iron", 0.02, "low"), "copper_read": ("copper", 0.04, "high"),
    "oxygen_low": ("oxygen", 3.5, "low"), "cover_closed": ("cover", CLOSED, "high"),
    "warm": ("temperature", 273.15 + 28.5, "high"), "dim": ("light_ppfd", 35.0, "low"),
}  # fmt: skip


def _swapped(points: Mapping[str, Sequence[Point]], at: datetime) -> dict[str, Sign]:
    """Whether hardness went while conductivity stayed: sodium in its place."""
    hard = [p for p in points.get("gh", ()) if p.at > at - timedelta(days=140)]
    salts = [p.middle for p in points.get("ec25", ()) if p.at > at - timedelta(days=140)]
    if len(hard) < 3 or len(salts) < 4:
        return {}
    end = hard[-2:] if len(hard) > 3 else hard[-1:]
    first, last = (float(np.mean([p.middle for p in some])) for some in (hard[:2], end))
    begin, now = float(np.median(salts[:4])), float(np.median(salts[-4:]))
    fall = np.log(max(first, 0.1) / max(last, 0.1))
    there = _soft(float(fall), 0.3, 0.03) * _soft(float(np.log(now / begin)) + fall, 0.25, 0.03)
    turn = hard[change_point([p.middle for p in hard])].at
    words = f"general hardness {first:.1f} to {last:.1f} meq/L, conductivity {begin:.0f} to " \
            f"{now:.0f} uS/cm"  # fmt: skip
    return {"hardness_swapped": Sign(float(np.clip(there, 0.01, SURE)), words, turn)}


def _soda(points: Mapping[str, Sequence[Point]], at: datetime) -> dict[str, Sign]:
    """Whether there is more carbonate than total hardness: sodium in the place of calcium."""
    carbonate, total = (
        [p for p in points.get(name, ()) if p.at > at - LONG][-2:] for name in ("kh", "gh")
    )
    if not carbonate or not total:
        return {}
    more = float(np.mean([p.middle for p in carbonate])) - total[-1].middle
    words = f"carbonate hardness {np.mean([p.middle for p in carbonate]):.1f} meq/L, total " \
            f"hardness {total[-1].middle:.1f}"  # fmt: skip
    return {"carbonate_above_total": Sign(
        float(np.clip(_soft(more, 0.25, 0.06), 0.01, SURE)), words,
        total[-1].at if more > 0.0 else None)}  # fmt: skip


def _shown(quantity: str, value: float) -> str:
    """A level in the unit that keepers read it in."""
    if quantity == "temperature":
        return f"{value - 273.15:.1f} C"
    if quantity == "cover":
        return f"{100.0 * value:.0f} %"
    return f"{value:.2g} {UNITS.get(quantity, 'mg/L')}"


def _closed(record: Record, tank: str, at: datetime) -> float:
    """The cover from which this tank's mat counts as closed: more than its keeper leaves."""
    return max(CLOSED, (record.tank_at(tank, at).cover_target or 0.4) + MORE)


def _levels(
    points: Mapping[str, Sequence[Point]], at: datetime, closed: float = CLOSED
) -> dict[str, Sign]:
    """Readings of the last six weeks beyond a level; the last two decide."""
    made = {}
    for name, (quantity, usual, side) in LEVELS.items():
        level = closed if quantity == "cover" else usual
        rows = [p for p in points.get(quantity, ()) if p.at > at - RECENT]
        if not rows and name not in PEAKS:  # a store that is low stays so: an older one tells too
            rows = [p for p in points.get(quantity, ())[-1:] if p.at > at - LONG]
        if not rows:
            continue
        counted = rows if name in PEAKS else rows[-2:]
        beyond = [p for p in counted if (p.middle > level) == (side == "high")]
        share = float(bool(beyond)) if name in PEAKS else len(beyond) / len(counted)
        least = MISSED.get(len(rows), 1.0 - SURE) if name in PEAKS else 1.0 - SURE
        last = max(rows, key=lambda p: p.middle) if name in PEAKS else rows[-1]
        value = _shown(quantity, last.middle)
        every = list(points[quantity])
        well = [p.at for p in every if (p.middle > level) != (side == "high")]
        since = well[-1] if well else None
        start = next((p.at for p in every if since is None or p.at > since), last.at)
        made[name] = Sign(least + (SURE - least) * _soft(share, 0.5, 0.06),
                          f"{quantity.replace('_', ' ')} {'at most' if name in PEAKS else 'last'} "
                          f"read as {value}", start)  # fmt: skip
    nitrate = points.get("nitrate", ())
    late = [p.middle for p in nitrate if p.at > at - RECENT]
    early = [p.middle for p in nitrate if p.at <= at - RECENT]
    if late and early:
        rise = float(np.mean(late) / max(np.median(early), 0.5))
        made["nitrate_rises"] = Sign(_soft(rise, 1.8, 0.2),
            f"nitrate {np.median(early):.1f} before, {np.mean(late):.1f} mg/L N in six weeks",
            next(p.at for p in nitrate if p.at > at - RECENT))  # fmt: skip
    return made


def _weekly(entries: Sequence[Entry], kind: str, start: datetime, end: datetime) -> float:
    """Grams a week of what was fed or taken out between two moments."""
    weeks = max((end - start) / timedelta(days=7), 1.0)
    return sum(e.amount or 0.0 for e in entries if e.kind == kind and start < e.at <= end) / weeks


def _kept(entries: Sequence[Entry], at: datetime) -> dict[str, Sign]:
    """Feeding, deaths and work on the soil: the last weeks against the time before."""
    made = {}
    meals = [e for e in entries if e.kind == "feed" and e.amount and e.at > at - 2 * LONG]
    if len(meals) >= 8 and at - meals[0].at >= timedelta(days=49):
        turn = at - timedelta(days=28)
        late = _weekly(meals, "feed", turn, at)
        early = _weekly(meals, "feed", meals[0].at, min(meals[0].at + timedelta(days=42), turn))
        words = f"fed {late:.2g} g a week, {early:.2g} g at first"
        since = meals[change_point([e.amount or 0.0 for e in meals])].at
        ratio = late / max(early, 1e-9)
        made["feed_up"] = Sign(_soft(ratio, 1.6, 0.12), words, since)
        made["feed_down"] = Sign(_soft(-ratio, -0.55, 0.06), words, since)
    dead = [e for e in entries if e.kind == "death" and e.at > at - LONG]
    recent = [e for e in dead if e.at > at - RECENT]
    number = sum(e.amount or 1.0 for e in recent)
    made["deaths"] = Sign(_soft(number, 2.5, 0.4), f"{number:.0f} deaths in six weeks",
                          dead[0].at if dead else None)  # fmt: skip
    shelled = [e for e in recent
               if library().find_species(e.what).group in ("shrimp", "snails")]  # fmt: skip
    lost = sum(e.amount or 1.0 for e in shelled)
    made["shrimp_deaths"] = Sign(
        _soft(lost, 2.5, 0.4) * _soft(lost / max(number, 1.0), 0.6, 0.1),
        f"{lost:.0f} shrimp or snails died in six weeks", shelled[0].at if shelled else None)
    moved = [e for e in entries if e.kind == "soil_disturbed" and e.at > at - RECENT]
    words = "the soil was disturbed" if moved else "the soil was left alone"
    made["soil_moved"] = Sign(SURE if moved else 0.02, words, moved[0].at if moved else None)
    return made


def _thinned(
    record: Record, tank: str, entries: Sequence[Entry], points: Mapping[str, Sequence[Point]],
    at: datetime,
) -> dict[str, Sign]:  # fmt: skip
    """How much is taken out a week now against before, told from a mat that is left alone."""
    turn = at - timedelta(days=28)
    rows = [e for e in entries if e.kind == "harvest" and e.amount]
    begun = [e.at for e in entries if e.kind in ("harvest", "plant_in")]
    if not begun or turn - min(begun) < timedelta(days=28) or len(rows) < 3:
        return {}
    read = [p for p in points.get("cover", ()) if p.at > at - RECENT]
    cover = [p.middle for p in read if p.at > turn] or [p.middle for p in read[-1:]]
    middle = float(np.median(cover)) if cover else 0.5
    kept = record.tank_at(tank, at).cover_target or 0.4
    late = _weekly(rows, "harvest", turn, at)
    early = _weekly(rows, "harvest", min(begun), min(min(begun) + LONG, turn))
    before = [e for e in rows if e.at <= turn]
    words = f"{late:.2g} g a week taken out, {early:.2g} g before; cover {100 * middle:.0f} %"
    alone = _soft(-late / max(early, 1e-9), -0.3, 0.06) if before else 0.0
    dense = _soft(middle, _closed(record, tank, at), 0.04)
    falls = _soft(-late / max(early, 1e-9), -0.62, 0.06) * _soft(-middle, -kept - 0.25, 0.05)
    last = rows[-1].at
    fell = rows[change_point([e.amount or 0.0 for e in rows])].at
    return {"not_thinned": Sign(float(np.clip(alone * dense, 0.02, SURE)), words, last),
            "harvest_falls": Sign(float(np.clip(falls, 0.02, 0.98)), words, fell)}  # fmt: skip


def _about(record: Record, name: str, at: datetime) -> dict[str, Sign]:
    tank = record.tank_at(name, at)
    made = {"strong_flow": Sign(SURE if tank.flow == "strong" else 0.02, f"flow is {tank.flow}")}
    before = record.tank_at(name, at - LONG).flow
    raised = FLOWS.index(tank.flow) > FLOWS.index(before)
    made["flow_raised"] = Sign(SURE if raised else 0.01, f"flow went from {before} to {tank.flow}"
                               if raised else f"flow stays {tank.flow}")  # fmt: skip
    changes = [e for e in record.entries_of(name, kind="water_change")
               if at - RECENT < e.at <= at and (e.amount or 0.0) > CHANGED * tank.net_l]
    most = max((e.amount or 0.0 for e in changes), default=0.0)
    made["large_change"] = Sign(
        SURE if changes else 0.03, f"{most:.1f} L changed at once" if changes
        else "no large part of the water was changed", changes[0].at if changes else None)
    if tank.started is not None:
        age = (at - tank.started).days
        young = _soft(-age, -75.0, 8.0)
        made["new_tank"] = Sign(young, f"the tank is {age} days old", tank.started)
    parts = [p for b in record.blends if b.name == tank.top_up_water for p, _ in b.parts]
    waters = [w for n in (parts or [tank.top_up_water]) for w in record.water_rows(n)[-1:]
              if w.valid_from is None or w.valid_from <= at]  # fmt: skip
    if not waters:
        return made
    hard = float(np.mean([w.bicarbonate_mg_l or (w.kh_dh or 0.0) * 21.8 for w in waters]))
    words = f"topped up with {tank.top_up_water}, {hard:.0f} mg/L bicarbonate"
    unknown = [w for w in waters if w.kind == "tap" and w.copper_ug_l is None]
    sodium = [w for w in waters if (w.sodium_mg_l or 0.0) > 60.0
              and (w.sodium_mg_l or 0.0) > 3.0 * ((w.calcium_mg_l or 0.0) + 1.0)]  # fmt: skip
    return made | {
        "hard_top_up": Sign(_soft(hard, 180.0, 15.0), words),
        "soft_top_up": Sign(_soft(-hard, -20.0, 4.0), words),
        "metal_unknown": Sign(0.97 if unknown else 0.05, "metals of the tap water are not known"
                              if unknown else "no tap water of unknown metals is used"),
        "sodium_water": Sign(0.97 if sodium else 0.01, "top-up is rich in sodium and poor in "
                             "calcium" if sodium else "top-up is not softened"),
    }  # fmt: skip
