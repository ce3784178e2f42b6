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

RECENT, LONG = timedelta(days=28), timedelta(days=70)
YOUNG = timedelta(days=180)
"""In a tank this young meals grow with its animals, so that more food tells nothing."""
SEEN = {
    "gasping": ("gasping",), "film": ("film",), "cloudy": ("cloudy",), "scale": ("scale",),
    "algae": ("algae",), "hiding": ("hiding",), "leftovers": ("not_eating", "leftovers"),
    "missing": ("missing_animal",), "melt": ("melt",), "pale": ("pale_leaves",),
    "pinholes": ("pinholes",), "shells": ("shells_pitted",), "eaten": ("eaten_leaves",),
}  # fmt: skip
OFTEN = {"algae": 2, "film": 2, "scale": 2, "cloudy": 2, "pinholes": 1}
"""How often a weak sign must be seen in four weeks to count; others once."""


@dataclass(frozen=True)
class Sign:
    """Whether a sign is there (0 to 1), in the keeper's words, and since when."""

    there: float
    words: str
    since: datetime | None = None


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
        **_hardness(points, at), **_levels(points, at), **_kept(entries, at),
        **_about(record, tank, at),
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


def _soft(value: float, middle: float, width: float) -> float:
    return float(1.0 / (1.0 + np.exp(-np.clip((value - middle) / width, -30.0, 30.0))))


def _seen(entries: Sequence[Entry], at: datetime) -> dict[str, Sign]:
    made = {}
    looks = [e for e in entries if e.kind == "seen"]
    for name, whats in SEEN.items():
        hits = [e for e in looks if e.what in whats]
        recent = [e for e in hits if e.at > at - RECENT]
        word = whats[0].replace("_", " ")
        there = len(recent) >= OFTEN.get(name, 1)
        words = f"{word} seen {len(recent)} times in four weeks" if recent else f"no {word} seen"
        made[name] = Sign(0.97 if there else 0.1, words, hits[0].at if hits and there else None)
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
    made = {"salts_outlier": Sign(0.95 if last_odd else 0.02,
            "the latest conductivity is far from all others" if last_odd
            else "conductivity readings agree with each other")}  # fmt: skip
    if len(recent) < 4:
        return made
    days = np.array([(p.at - recent[0].at).total_seconds() / 86400.0 for p in recent])
    slope = float(np.polyfit(days, np.log([p.middle for p in recent]), 1)[0]) * 56.0
    words = f"conductivity {recent[0].middle:.0f} to {recent[-1].middle:.0f} uS/cm in " \
            f"{days[-1]:.0f} days"  # fmt: skip
    now = recent[-1].middle
    steps = np.abs(np.diff(np.log([p.middle for p in recent[-4:]])))
    return made | {
        "salts_rise": Sign(_soft(slope, 0.1, 0.02), words, recent[0].at),
        "salts_fall": Sign(_soft(-slope, 0.15, 0.03), words, recent[0].at),
        "salts_high": Sign(_soft(now, 950.0, 60.0), f"conductivity is {now:.0f} uS/cm"),
        "salts_step": Sign(_soft(float(steps.max()), 0.25, 0.03),
                           f"largest step between readings {100 * steps.max():.0f} %"),
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
    "ammonia": ("ammonium", 0.1, "high"), "nitrite": ("nitrite", 0.04, "high"),
    "phosphate_high": ("phosphate", 0.45, "high"), "phosphate_none": ("phosphate", 0.05, "low"),
    "nitrate_none": ("nitrate", 0.7, "low"), "potassium_low": ("potassium", 1.5, "low"),
    "iron_low": ("iron", 0.02, "low"), "copper_read": ("copper", 0.04, "high"),
    "oxygen_low": ("oxygen", 3.5, "low"), "cover_closed": ("cover", 0.85, "high"),
    "warm": ("temperature", 273.15 + 28.5, "high"), "dim": ("light_ppfd", 35.0, "low"),
}  # fmt: skip


def _levels(points: Mapping[str, Sequence[Point]], at: datetime) -> dict[str, Sign]:
    """Readings of the last six weeks beyond a level; the last three decide."""
    made = {}
    for name, (quantity, level, side) in LEVELS.items():
        rows = [p for p in points.get(quantity, ()) if p.at > at - timedelta(days=42)]
        if not rows:
            continue
        beyond = [p for p in rows[-3:] if (p.middle > level) == (side == "high")]
        share = len(beyond) / len(rows[-3:])
        last = rows[-1]
        warmth = quantity == "temperature"
        value = f"{last.middle - 273.15:.1f} C" if warmth else f"{last.middle:.2g}"
        every = list(points[quantity])
        well = [p.at for p in every if (p.middle > level) != (side == "high")]
        since = well[-1] if well else None
        start = next((p.at for p in every if since is None or p.at > since), last.at)
        made[name] = Sign(0.03 + 0.94 * _soft(share, 0.5, 0.06),
                          f"{quantity.replace('_', ' ')} last read as {value}", start)  # fmt: skip
    nitrate = points.get("nitrate", ())
    late = [p.middle for p in nitrate if p.at > at - RECENT]
    early = [p.middle for p in nitrate if p.at <= at - RECENT]
    if late and early:
        rise = float(np.mean(late) / max(np.median(early), 0.5))
        made["nitrate_rises"] = Sign(_soft(rise, 1.8, 0.2),
            f"nitrate {np.median(early):.1f} before, {np.mean(late):.1f} mg/L N in four weeks",
            next(p.at for p in nitrate if p.at > at - RECENT))  # fmt: skip
    return made


def _per_day(entries: Sequence[Entry], kind: str, start: datetime, end: datetime) -> list[Entry]:
    return [e for e in entries if e.kind == kind and e.amount and start < e.at <= end]


def _kept(entries: Sequence[Entry], at: datetime) -> dict[str, Sign]:
    """Feeding, harvests, deaths and work on the soil: four weeks against the time before."""
    made = {}
    for kind, name in (("feed", "feed_up"), ("harvest", "harvest_falls")):
        rows = _per_day(entries, kind, at - timedelta(days=140), at)
        late = [e.amount or 0.0 for e in rows if e.at > at - RECENT]
        early = [e.amount or 0.0 for e in rows if e.at <= at - RECENT]
        if len(late) >= 2 and len(early) >= 3:
            begin = np.median([e.amount or 0.0 for e in rows][: max(3, len(rows) // 3)])
            ratio = float(np.median(late) / max(begin, 1e-9))
            there = _soft(ratio, 1.6, 0.12) if kind == "feed" else _soft(-ratio, -0.6, 0.07)
            turn = rows[change_point([e.amount or 0.0 for e in rows])].at
            made[name] = Sign(there, f"{kind} {np.median(late):.2g} g each time, "
                              f"{begin:.2g} g at first", turn)  # fmt: skip
    dead = [e for e in entries if e.kind == "death" and e.at > at - LONG]
    recent = [e for e in dead if e.at > at - timedelta(days=42)]
    number = sum(e.amount or 1.0 for e in recent)
    made["deaths"] = Sign(_soft(number, 2.5, 0.4), f"{number:.0f} deaths in six weeks",
                          dead[0].at if dead else None)  # fmt: skip
    shrimp = [e for e in recent if library().find_species(e.what).group == "shrimp"]
    made["shrimp_deaths"] = Sign(_soft(len(shrimp), 2.5, 0.4),
        f"{len(shrimp)} shrimp died in six weeks", shrimp[0].at if shrimp else None)  # fmt: skip
    moved = [e for e in entries if e.kind == "soil_disturbed" and e.at > at - RECENT]
    words = "the soil was disturbed" if moved else "the soil was left alone"
    made["soil_moved"] = Sign(0.97 if moved else 0.02, words, moved[0].at if moved else None)
    return made


def _about(record: Record, name: str, at: datetime) -> dict[str, Sign]:
    tank = record.tank_at(name, at)
    made = {"strong_flow": Sign(0.98 if tank.flow == "strong" else 0.02, f"flow is {tank.flow}")}
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
