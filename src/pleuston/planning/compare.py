"""Which floater grows better, told fairly: paired by place and week, or nothing is shown.

Growth of one interval is what was taken out at its end and what the standing plants gained,
in drained g per m2 of lit surface and week. Where a weighing says what was held and put
back, that counts; else the standing change is told by covers, or taken as none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pleuston.records.library import library
from pleuston.records.record import Entry, Record, Tank

WEEK = timedelta(days=7)
SAME_DAY = timedelta(hours=36)
COUNTS_FOR, LONGEST = timedelta(days=16), timedelta(days=21)
SHORTEST = timedelta(days=3)
FEWEST = 4
"""Pairs without which nothing is told."""
NITRATE_SHORT, AMMONIUM_SHORT, PHOSPHATE_SHORT = 2.5, 0.1, 0.1
"""Readings wholly at or below these may be too little to grow on [mg/L, as ions]: the first
steps of charts (common practice)."""
WARMTH_APART, LIGHT_APART, COVER_APART = 1.0, 0.1, 15.0
_HELD = re.compile(r"held\s+([\d.,]+)\s*g\b.*?([\d.,]+)\s*g\s+(?:was |were )?put back", re.I)


@dataclass(frozen=True)
class Growth:
    """Growth of a floater in one tank over one interval."""

    tank: str
    species: str
    start: datetime
    end: datetime
    grams: float
    area_m2: float
    by: str
    doubt: str = ""
    relative: float | None = None
    """ln of what was held over what was put back before, a day."""

    @property
    def days(self) -> float:
        """Length [d]."""
        return (self.end - self.start).total_seconds() / 86400.0

    @property
    def rate(self) -> float:
        """Drained g per m2 of lit surface and week."""
        return self.grams / self.area_m2 / self.days * 7.0


@dataclass(frozen=True)
class Pair:
    """Two floaters over the same days, in one tank or under like lamps."""

    a: Growth
    b: Growth
    fed: bool
    """Whether no reading speaks for a shortage of nutrients in it."""

    @property
    def difference(self) -> float:
        """Growth of the first over that of the second [g/m2/week]."""
        return self.a.rate - self.b.rate


def held_and_back(note: str) -> tuple[float, float] | None:
    """Grams that a weighing held and that were put back, from a note.

    >>> held_and_back("ring held 11.8 g, 6 g put back")
    (11.8, 6.0)
    """
    match = _HELD.search(note)
    if match is None:
        return None
    held, back = (float(text.replace(",", ".").rstrip(".")) for text in match.groups())
    return held, back


def floaters_in(record: Record, tank: str, start: datetime, end: datetime) -> list[str]:
    """Floating plants harvested in a tank between two times."""
    names = {e.what for e in _harvests(record, tank, start, end)}
    species = library().species
    return sorted(n for n in names if n in species and species[n].group == "floating")


def _harvests(
    record: Record, tank: str, start: datetime, end: datetime, species: str = ""
) -> list[Entry]:
    return [
        e for e in record.entries_of(tank, until=end, kind="harvest")
        if e.tank == tank and e.at >= start and species in ("", e.what) and e.amount is not None
        and e.unit == "g"
    ]  # fmt: skip


def growths(
    record: Record, tank: Tank, species: str, start: datetime, end: datetime
) -> list[Growth]:
    """Growth of a floater in a tank, harvest by harvest; the first only opens an interval."""
    others = floaters_in(record, tank.name, start, end)
    area = tank.surface_m2 / max(len(others), 1)
    days = _by_day(_harvests(record, tank.name, start, end, species))
    found: list[Growth] = []
    for before, after in pairwise(days):
        span = after[-1].at - before[-1].at
        if SHORTEST <= span <= LONGEST:
            found.append(_growth(record, tank, species, before, after, area, len(others)))
    return found


def _by_day(entries: Iterable[Entry]) -> list[list[Entry]]:
    days: list[list[Entry]] = []
    for entry in entries:
        if days and entry.at - days[-1][0].at <= timedelta(hours=18):
            days[-1].append(entry)
        else:
            days.append([entry])
    return days


def _weighing(entries: Sequence[Entry]) -> tuple[float, float] | None:
    return next((w for e in entries if (w := held_and_back(e.note)) is not None), None)


def _growth(
    record: Record, tank: Tank, species: str, before: Sequence[Entry], after: Sequence[Entry],
    area: float, sharing: int,
) -> Growth:  # fmt: skip
    first, last = before[-1].at, after[-1].at
    taken = sum(e.amount or 0.0 for e in after)
    doubt = ""
    if len(after) > 1:
        doubt = "harvested twice that day: one may be of another tank"
    elif last - first > COUNTS_FOR:
        doubt = "more than 16 days between the harvests"
    was, now = _weighing(before), _weighing(after)
    if was and now:
        loose = sum(e.amount or 0.0 for e in after if held_and_back(e.note) is None)
        grown = now[0] - was[1] + loose
        relative = float(np.log(now[0] / was[1])) / ((last - first).total_seconds() / 86400.0) \
            if now[0] > 0.0 and was[1] > 0.0 else None  # fmt: skip
        return Growth(tank.name, species, first, last, grown, area, "weighed", doubt, relative)
    change = _standing_change(record, tank, species, first, last) if sharing == 1 else None
    by = "harvest and covers" if change is not None else "harvest alone"
    return Growth(tank.name, species, first, last, taken + (change or 0.0), area, by, doubt)


def _standing_change(
    record: Record, tank: Tank, species: str, start: datetime, end: datetime
) -> float | None:
    """Grams that the standing plants gained, by the covers after both harvests."""
    full = library().species[species].full_cover_g_m2
    known = [v for v in (full.low, full.high) if v is not None] if full is not None else []
    before, after = _cover_after(record, tank.name, start), _cover_after(record, tank.name, end)
    if not known or before is None or after is None:
        return None
    return (after - before) / 100.0 * tank.surface_m2 * sum(known) / len(known)


def _cover_after(record: Record, tank: str, moment: datetime) -> float | None:
    """The last cover read within a day after a harvest [%]."""
    found = [
        e.amount for e in record.entries_of(tank, until=moment + SAME_DAY, kind="reading")
        if e.what == "cover" and e.at > moment and e.amount is not None
    ]  # fmt: skip
    return found[-1] if found else None


def short_of(record: Record, tank: str, start: datetime, end: datetime) -> str:
    """The nutrient whose last reading was too low to rule out a shortage; empty for none."""
    last: dict[str, Entry] = {}
    for entry in record.entries_of(tank, until=end, kind="reading"):
        if entry.at >= start - COUNTS_FOR and entry.high is not None:
            last[entry.what] = entry
    nitrate, ammonium = last.get("nitrate_ion"), last.get("ammonium_ion")
    fed_by_ammonium = ammonium is not None and (ammonium.low or 0.0) >= AMMONIUM_SHORT
    if nitrate is None:
        return "" if fed_by_ammonium else "nitrogen (not read)"
    if (nitrate.high or 0.0) <= NITRATE_SHORT and not fed_by_ammonium:
        return "nitrogen"
    phosphate = last.get("phosphate_ion")
    if phosphate is not None and (phosphate.high or 0.0) <= PHOSPHATE_SHORT:
        return "phosphorus"
    return ""


def alike(one: Tank, other: Tank) -> bool:
    """Whether two tanks have like lamps: hours within a half, light within a tenth."""
    hours = (one.light_hours, other.light_hours)
    light = (one.light_ppfd, other.light_ppfd)
    if None in hours or None in light:
        return False
    return bool(
        abs((hours[0] or 0.0) - (hours[1] or 0.0)) <= 0.5
        and abs(np.log(max(light[0] or 0.0, 1e-9) / max(light[1] or 0.0, 1e-9))) <= LIGHT_APART
    )


def pairs_of(
    record: Record, a: str, b: str, tanks: Sequence[str], start: datetime, end: datetime
) -> tuple[list[Pair], list[str]]:
    """Pairs over the same days and why growths were left out; each growth is used once."""
    kept: dict[str, list[Growth]] = {a: [], b: []}
    left: list[str] = []
    for name in tanks:
        tank = record.tank_at(name, end)
        for species in (a, b):
            for growth in growths(record, tank, species, start, end):
                if growth.doubt:
                    left.append(f"{name}, {species}, {growth.end:%Y-%m-%d}: {growth.doubt}")
                else:
                    kept[species].append(growth)
    pairs: list[Pair] = []
    free = list(kept[b])
    for growth in kept[a]:
        other = _partner(record, growth, free, end)
        if other is not None:
            free.remove(other)
            fed = all(not short_of(record, g.tank, g.start, g.end) for g in (growth, other))
            pairs.append(Pair(growth, other, fed))
    alone = len(kept[a]) + len(kept[b]) - 2 * len(pairs)
    if alone:
        left.append(f"{alone} without a partner over the same days under a like lamp")
    return pairs, left


def _partner(
    record: Record, growth: Growth, free: Iterable[Growth], end: datetime
) -> Growth | None:
    """The growth over the same days: in the same tank before another under a like lamp."""
    same = [
        other for other in free
        if abs(other.end - growth.end) <= SAME_DAY and abs(other.start - growth.start) <= SAME_DAY
    ]  # fmt: skip
    here = [other for other in same if other.tank == growth.tank]
    tank = record.tank_at(growth.tank, end)
    near = [o for o in same if alike(tank, record.tank_at(o.tank, end))]
    return next(iter([*here, *near]), None)


def t_quantile(share: float, free: float) -> float:
    """Quantile of Student's distribution, by its density.

    >>> round(t_quantile(0.975, 4), 2), round(t_quantile(0.975, 30), 2)
    (2.78, 2.04)
    """
    angle = np.linspace(0.0, np.pi / 2.0, 200_001)[:-1]
    density = np.cos(angle) ** (free - 1.0)
    grown = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)])
    place = np.interp((share - 0.5) * 2.0, grown / grown[-1], angle)
    return float(np.sqrt(free) * np.tan(place))


def interval(differences: NDArray[np.float64]) -> dict[str, float] | None:
    """Mean and 95 % of paired differences; neighbouring weeks alike count for less."""
    n = len(differences)
    if n < FEWEST:
        return None
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    away = differences - mean
    lag = float(away[1:] @ away[:-1] / (away @ away)) if n >= 6 and sd > 0.0 else 0.0
    lag = min(max(lag, 0.0), 0.8)
    count = max(2.0, n * (1.0 - lag) / (1.0 + lag))
    half = t_quantile(0.975, count - 1.0) * sd / float(np.sqrt(count))
    return {"mean": mean, "low": mean - half, "high": mean + half, "counted": count}


def differences(pairs: Sequence[Pair]) -> NDArray[np.float64]:
    """What counts as one comparison: a week in one tank, or the mean of two tanks' weeks.

    Between two tanks the floater and the tank differ together, however many weeks are paired.
    """
    if all(p.a.tank == p.b.tank for p in pairs):
        return np.array([p.difference for p in pairs])
    places: dict[frozenset[str], list[float]] = {}
    for pair in pairs:
        places.setdefault(frozenset((pair.a.tank, pair.b.tank)), []).append(pair.difference)
    return np.array([sum(found) / len(found) for found in places.values()])


def comparison(
    record: Record, a: str, b: str, tanks: Sequence[str], start: datetime, end: datetime
) -> dict[str, Any]:
    """The answer as data: pairs, interval, what else differed, and what may be said."""
    pairs, left = pairs_of(record, a, b, tanks, start, end)
    together = [p for p in pairs if p.a.tank == p.b.tank]
    if len(together) >= FEWEST and len(together) < len(pairs):
        left.append(
            f"{len(pairs) - len(together)} pairs of different tanks: pairs in one tank tell more"
        )
        pairs = together
    fed = [p for p in pairs if p.fed]
    of_all, of_fed = interval(differences(pairs)), interval(differences(fed))
    shown = of_fed is not None and (of_fed["low"] > 0.0 or of_fed["high"] < 0.0)
    ratio = _relative(fed or pairs)
    return {
        "a": a, "b": b, "unit": "g/m^2/week", "from": start.isoformat(), "to": end.isoformat(),
        "tanks": sorted({g.tank for p in pairs for g in (p.a, p.b)}),
        "pairs": len(pairs), "fed_pairs": len(fed), "needed": FEWEST,
        "difference": of_fed, "difference_all": of_all,
        "mean_a": _mean(p.a.rate for p in pairs), "mean_b": _mean(p.b.rate for p in pairs),
        "relative_growth": ratio, "shown": shown,
        "verdict": _verdict(a, b, of_fed, of_all, pairs, len(fed)),
        "confounders": confounders(record, pairs, end), "left_out": left,
        "weeks": [
            {
                "tank_a": p.a.tank, "tank_b": p.b.tank, "to": record.local(p.a.end).isoformat(),
                "days": p.a.days, "a": p.a.rate, "b": p.b.rate, "difference": p.difference,
                "fed": p.fed, "by": " / ".join(dict.fromkeys((p.a.by, p.b.by))),
            }
            for p in pairs
        ],
    }  # fmt: skip


def _mean(values: Iterable[float]) -> float | None:
    known = list(values)
    return sum(known) / len(known) if known else None


def _relative(pairs: Sequence[Pair]) -> dict[str, Any] | None:
    """The same by growth of each gram, where all was weighed [1/d]."""
    both = [(p.a.relative, p.b.relative) for p in pairs]
    known = [(x, y) for x, y in both if x is not None and y is not None]
    if not known:
        return None
    apart = np.array([x - y for x, y in known])
    return {
        "a": _mean(x for x, _ in known), "b": _mean(y for _, y in known),
        "difference": interval(apart), "unit": "1/d",
    }  # fmt: skip


def _verdict(
    a: str, b: str, fed: dict[str, float] | None, every: dict[str, float] | None,
    paired: Sequence[Pair], fed_pairs: int,
) -> str:  # fmt: skip
    pairs, places = len(paired), len(differences(paired))
    if every is None and places < pairs:
        return (
            f"No difference shown: the floaters stand in {places} pairs of different tanks, so "
            f"that floater and tank can't be told apart; {FEWEST} are needed, or one tank for both."
        )
    if every is None:
        return f"No difference shown: {pairs} weeks can be paired, {FEWEST} are needed."
    if fed is None:
        return (
            f"No difference shown: nutrients may have been short in {pairs - fed_pairs} of {pairs} "
            "paired weeks, and a starved floater shows the tank, not itself."
        )
    words = f"{fed['mean']:+.0f} ({fed['low']:.0f} to {fed['high']:.0f}) g/m2 a week"
    if fed["low"] <= 0.0 <= fed["high"]:
        return f"No difference shown: {a} less {b} is {words}, which holds 0."
    better, worse = (a, b) if fed["mean"] > 0.0 else (b, a)
    return (
        f"{better} grew more than {worse} here: {a} less {b} is {words} in {fed_pairs} weeks that "
        "were not short of nutrients."
    )


def confounders(record: Record, pairs: Sequence[Pair], end: datetime) -> list[str]:
    """What else differed between the two, or bears on what can be said."""
    found: list[str] = []
    short = sum(not p.fed for p in pairs)
    if short:
        wants = {short_of(record, g.tank, g.start, g.end) for p in pairs for g in (p.a, p.b)}
        named = " or ".join(sorted(w for w in wants if w))
        found.append(f"nutrients may have been short in {short} of {len(pairs)} weeks: {named}")
    apart = [p for p in pairs if p.a.tank != p.b.tank]
    for one, other in sorted({(p.a.tank, p.b.tank) for p in apart}):
        found += _between_tanks(record, one, other, apart, end)
    if any(p.a.tank == p.b.tank for p in pairs):
        found.append(
            "in one tank each is taken to have an equal share of the surface; places under the "
            "lamp may differ: let them change places"
        )
    backs = {p.a.by for p in pairs} | {p.b.by for p in pairs}
    if "harvest alone" in backs:
        found.append("what was left standing is not noted for all weeks: taken as unchanged")
    if pairs:
        found.append(
            "grams are drained, not dry: floaters hold different shares of water; they also began "
            "each week with different mass where the notes say so"
        )
    return found


def _between_tanks(
    record: Record, one: str, other: str, pairs: Sequence[Pair], end: datetime
) -> list[str]:
    a, b = record.tank_at(one, end), record.tank_at(other, end)
    found = [f"{one} and {other} are different tanks, each under its own lamp"]
    for word, left, right in (("flow", a.flow, b.flow), ("lid", a.lid, b.lid)):
        if left != right:
            found.append(f"{word} differs: {one} {left}, {other} {right}")
    start = min(p.a.start for p in pairs)
    for what, word, most, unit in (
        ("temperature", "temperature", WARMTH_APART, "C"), ("cover", "cover", COVER_APART, "%"),
        ("light_ppfd", "light", 15.0, "umol/m2/s"),
    ):  # fmt: skip
        ends = [_mean_reading(record, name, what, start, end) for name in (one, other)]
        if ends[0] is not None and ends[1] is not None and abs(ends[0] - ends[1]) > most:
            found.append(
                f"{word} differs: {one} {ends[0]:.1f} {unit}, {other} {ends[1]:.1f} {unit}"
            )
    return found


def _mean_reading(
    record: Record, tank: str, what: str, start: datetime, end: datetime
) -> float | None:
    return _mean(
        e.amount for e in record.entries_of(tank, until=end, kind="reading")
        if e.what == what and e.at >= start and e.amount is not None
    )  # fmt: skip
