"""What is wrong with a probe's readings: each finding told, and whether it was set aside."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
HOURS = 24.0
POSSIBLE = {
    "oxygen": (0.0, 25.0, "mg/L"), "percent": (0.0, 300.0, "%"), "celsius": (0.5, 39.5, "degC"),
    "hectopascal": (500.0, 1090.0, "hPa"), "ph": (0.0, 14.0, ""), "salinity": (0.0, 42.0, "g/kg"),
}  # fmt: skip
WORDS = {
    "oxygen": "oxygen", "percent": "oxygen saturation", "celsius": "temperature",
    "hectopascal": "air pressure", "ph": "pH", "salinity": "salinity",
}  # fmt: skip
FLAT_HOURS, FLAT_SET_ASIDE, FINE_STEP = 1.0, 2.0, 0.05
SPIKE_LEAST, JUMP_LEAST, MANY_DEVIATIONS = 0.3, 0.5, 8.0
GAP_STEPS, GAP_HOURS = 3.0, 0.5
SAME_PERCENT = 0.012
"""How far a saturation may be off that a probe has rounded."""


@dataclass(frozen=True)
class Finding:
    """Something odd in a file; first and last are days from the first reading."""

    kind: str
    words: str
    readings: int = 0
    first: float | None = None
    last: float | None = None
    set_aside: bool = False


def median_of(values: Array, width: int = 5) -> Array:
    """Running median; at the ends over what there is."""
    half = width // 2
    around = [values[max(0, n - half) : n + half + 1] for n in range(len(values))]
    return np.array([np.median(some) for some in around])


def impossible(name: str, days: Array, values: Array) -> tuple[Mask, list[Finding]]:
    """Values that water can't have; a missing one is no finding."""
    low, high, unit = POSSIBLE[name]
    bad = np.isfinite(values) & ((values < low) | (values > high))
    if not bad.any():
        return bad, []
    worst = values[bad][np.argmax(np.abs(values[bad] - (low + high) / 2.0))]
    shown = f"{worst:g} {unit}".strip()
    trust = "; the probe needs a look before its other values are believed" if name == "ph" else ""
    text = f"{WORDS[name]} can't be {shown}{trust}"
    return bad, [_over("impossible value", text, days, bad, True)]


def spikes(days: Array, values: Array) -> tuple[Mask, list[Finding]]:
    """Single readings far from their neighbours on both sides."""
    away = values - median_of(values)
    far = max(SPIKE_LEAST, MANY_DEVIATIONS * 1.4826 * float(np.median(np.abs(away))))
    bad = np.abs(away) > far
    bad[[0, -1]] = False
    if not bad.any():
        return bad, []
    text = f"up to {np.abs(away[bad]).max():.2g} mg/L from the readings around"
    return bad, [_over("spike", text, days, bad, True)]


def flat_lines(days: Array, values: Array) -> tuple[Mask, list[Finding]]:
    """Runs of the very same value: a stuck probe, unless its steps are coarse."""
    bad = np.zeros(len(values), dtype=bool)
    found: list[Finding] = []
    moves = np.abs(np.diff(values))
    fine = bool((moves > 0.0).any() and moves[moves > 0.0].min() <= FINE_STEP)
    edges = np.flatnonzero(np.concatenate([[True], moves > 0.0, [True]]))
    for start, stop in pairwise(edges):
        hours = float(days[stop - 1] - days[start]) * HOURS
        if hours < FLAT_HOURS or stop - start < 6:
            continue
        aside = fine and hours >= FLAT_SET_ASIDE
        bad[start:stop] |= aside
        text = f"{values[start]:g} mg/L without change for {hours:.1f} h"
        found.append(
            Finding("flat line", text, int(stop - start), days[start], days[stop - 1], aside)
        )
    return bad, found


def jumps(days: Array, values: Array) -> list[Finding]:
    """Steps that stay: someone moved the probe, changed water, or set it anew."""
    moves = np.diff(values)
    usual = 1.4826 * float(np.median(np.abs(moves - np.median(moves))))
    far = np.flatnonzero(np.abs(moves) > max(JUMP_LEAST, MANY_DEVIATIONS * usual))
    return [
        Finding("jump", f"{moves[n]:+.2g} mg/L from one reading to the next", 2, days[n],
                days[n + 1])
        for n in far
        if (days[n + 1] - days[n]) * HOURS < GAP_HOURS
    ]  # fmt: skip


def gaps(days: Array) -> list[Finding]:
    """Times without readings; one of a whole hour may be a clock that was set."""
    steps = np.diff(days)
    usual = float(np.median(steps))
    found = []
    for n in np.flatnonzero((steps > GAP_STEPS * usual) & (steps * HOURS > GAP_HOURS)):
        hours = steps[n] * HOURS
        text = f"no readings for {hours:.1f} h"
        if abs((steps[n] - usual) * HOURS - 1.0) < 0.02:
            text += ", an hour too long: was the clock set forward?"
        found.append(Finding("gap", text, 0, days[n], days[n + 1]))
    return found


def clock_steps(days: Array) -> list[Finding]:
    """Places where time stands or runs backward in the file."""
    steps = np.diff(days)
    found = []
    for n in np.flatnonzero(steps < 0.0):
        back = -steps[n] * HOURS
        word = ": was the clock set back, as in autumn?" if abs(back - 1.0) < 0.26 else ""
        found.append(
            Finding("clock shift", f"time runs back by {back:.1f} h{word}", 2, days[n + 1], days[n])
        )
    same = steps == 0.0
    if same.any():
        found.append(
            Finding("clock shift", "several readings at one time; the first counts",
                    int(same.sum()), set_aside=True)
        )  # fmt: skip
    return found


def percent_basis(
    oxygen: Array, percent: Array, at_sea: Array, here: Array
) -> tuple[str, list[Finding]]:
    """Which pressure a probe's per cent are of, told by its mg/L: `sea`, `local`, or unclear."""
    known = np.isfinite(oxygen) & np.isfinite(percent) & (percent > 5.0)
    if known.sum() < 3:
        return "", []
    full = oxygen[known] / percent[known] * 100.0
    to_sea = float(np.median(full / at_sea[known])) - 1.0
    to_here = float(np.median(full / here[known])) - 1.0
    apart = float(np.median(here[known] / at_sea[known])) - 1.0
    count = int(known.sum())
    if abs(apart) < SAME_PERCENT:
        basis = "local" if abs(to_here) < 2.0 * SAME_PERCENT else ""
    else:
        basis = "sea" if abs(to_sea) < abs(to_here) else "local"
    if min(abs(to_sea), abs(to_here)) > 2.0 * SAME_PERCENT:
        text = f"mg/L and % disagree by {100.0 * min(to_sea, to_here, key=abs):+.1f} %; mg/L count"
        return "", [Finding("mg/L against %", text, count)]
    if basis == "sea":
        text = f"% are of air at sea level; of the air here they are {-100.0 * apart:.1f} % more"
        return basis, [Finding("% of which pressure", text, count)]
    return basis, []


def not_on_this_clock(off: float, falls: float) -> list[Finding]:
    """Oxygen that begins to fall at another hour than the lamp goes off: UTC, or summer time."""
    apart = (falls - off) * HOURS
    if abs(apart) < 0.75:
        return []
    text = (
        f"oxygen begins to fall {abs(apart):.1f} h {'after' if apart > 0.0 else 'before'} the lamp "
        "goes off by the record: does the logger keep UTC or another time?"
    )
    return [Finding("UTC or local time", text, 0, falls, falls)]


def cleaned(days: Array, columns: Mapping[str, Array]) -> tuple[dict[str, Array], list[Finding]]:
    """Columns with what is impossible taken out, and oxygen without spikes and flat lines."""
    found: list[Finding] = []
    kept = {name: np.array(values, dtype=np.float64) for name, values in columns.items()}
    for name in [name for name in kept if name in POSSIBLE]:
        bad, told = impossible(name, days, kept[name])
        kept[name][bad] = np.nan
        found += told
    if "oxygen" in kept:
        for rule in (spikes, flat_lines):
            _apply(rule, days, kept["oxygen"], found)
    return kept, found


def _apply(
    rule: Callable[[Array, Array], tuple[Mask, list[Finding]]],
    days: Array, values: Array, found: list[Finding],
) -> None:  # fmt: skip
    known = np.flatnonzero(np.isfinite(values))
    if len(known) < 7:
        return
    bad, told = rule(days[known], values[known])
    values[known[bad]] = np.nan
    found += told


def _over(kind: str, text: str, days: Array, bad: Mask, aside: bool) -> Finding:
    where = days[bad]
    return Finding(kind, text, int(bad.sum()), float(where[0]), float(where[-1]), aside)
