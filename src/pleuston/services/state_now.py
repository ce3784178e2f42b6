"""A tank as it stands: each quantity as ranges, what they rest on, and what would narrow them.

What a reading would tell is found from the members: a reading that goes along with a
quantity over the members narrows it, as far as the reader's error allows.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from pleuston.engine.kernel import Array
from pleuston.inference.readings import TRANSFORMS, observation_models
from pleuston.inference.tank import TankBelief
from pleuston.planning.hours import local_time
from pleuston.planning.outlook import SHARES, SHOWN, Ahead, Shown
from pleuston.records.readings import interval
from pleuston.records.record import Entry

RANGES: Mapping[str, tuple[str, str]] = {
    "50": ("p25", "p75"), "80": ("p10", "p90"), "95": ("p02.5", "p97.5"),
}  # fmt: skip
"""Percent of the members -> the shares that bound them."""
LEFT_OUT = ("ammonium_ion", "nitrite_ion", "nitrate_ion")
"""The same as the element in another way of counting: judged once."""
RESTS: Mapping[str, tuple[str, ...]] = {
    "ammonia_nh3": ("ammonium",), "dissolved_solids": ("ec25",),
    "oxygen_pct": ("oxygen_saturation", "oxygen"), "oxygen": ("oxygen", "oxygen_saturation"),
    "oxygen_dawn": ("oxygen", "oxygen_saturation"), "level_drop": ("level_drop",),
}  # fmt: skip
"""Shown quantity -> readings that it rests on first, where they are not its own alone."""
WRITTEN: Mapping[str, str] = {
    "ammonium": "ammonium", "nitrite": "nitrite", "nitrate": "nitrate_ion", "gh": "gh",
    "phosphate": "phosphate_ion", "potassium": "potassium", "iron": "iron", "copper": "copper",
    "ph": "ph", "kh": "kh", "ec25": "ec25", "temperature": "temperature", "oxygen": "oxygen",
    "cover": "cover",
}  # fmt: skip
"""Quantity of a reading -> the reading to ask a keeper for."""
WORTH = 0.1
"""A reading is proposed when it narrows a quantity by at least this share [1]: guess."""


def state_now(ahead: Ahead, days: Ahead) -> dict[str, Any]:
    """The state of a tank at the moment of its belief, as data.

    ahead: members by the hour from that moment; days: the same members by the day.
    """
    belief = ahead.belief
    last = last_readings(belief)
    values = {name: ahead.values(name)[0] for name in SHOWN if name != "oxygen_dawn"}
    values["oxygen_dawn"] = days.values("oxygen_dawn")[0]
    told = readable(belief, ahead)
    return {
        "tank": belief.case.tank.name, "at": local_time(belief, belief.at),
        "model": belief.model, "seed": belief.seed, "readings": belief.readings,
        "unused": list(belief.unused),
        "quantities": {
            name: {
                "unit": SHOWN[name].unit, **shares_of(values[name]),
                **rests_on(belief, name, last),
                **sharpen(name, values[name], told),
            }
            for name in SHOWN
        },
    }  # fmt: skip


def shares_of(values: Array) -> dict[str, float]:
    """The shares of an outlook, of one moment.

    >>> shares_of(np.linspace(0.0, 1.0, 101))["p25"]
    0.25
    """
    made = np.quantile(values, list(SHARES.values()))
    return {name: round(float(v), 6) for name, v in zip(SHARES, made, strict=True)}


def last_readings(belief: TankBelief) -> dict[str, list[Entry]]:
    """Quantity -> this tank's readings of it up to the moment of a belief, oldest first."""
    case, found = belief.case, dict[str, list[Entry]]()
    until = case.clock.moment(belief.at)
    for entry in case.record.entries_of(case.tank.name, until=until, kind="reading"):
        if entry.tank == case.tank.name:
            found.setdefault(interval(entry).quantity, []).append(entry)
    for entry in case.record.entries_of(case.tank.name, until=until, kind="top_up"):
        if entry.tank == case.tank.name and entry.amount is not None:
            found.setdefault("level_drop", []).append(entry)
    for entries in found.values():
        entries.sort(key=lambda e: e.at)
    return found


def rests_on(belief: TankBelief, name: str, last: Mapping[str, list[Entry]]) -> dict[str, Any]:
    """What a quantity rests on: its last reading and how many there are, or priors alone."""
    quantities = RESTS.get(name, (SHOWN[name].reading,))
    found: list[Entry] = next((last[q] for q in quantities if last.get(q)), [])
    if not found:
        other = belief.readings > 0
        told = (
            "never read in this tank: it follows from the other readings and from what is "
            "known of such tanks" if other else "from what is known of such tanks alone"
        )  # fmt: skip
        return {"rests_on": told, "basis": "model" if other else "prior", "last": None, "count": 0}
    newest = found[-1]
    age = (belief.case.clock.moment(belief.at) - newest.at).total_seconds() / 86400.0
    told = f"{written(newest)}, {ago(age)}" + (f"; {len(found)} in all" if found[1:] else "")
    return {
        "rests_on": told, "basis": "reading", "last": reading_data(belief, newest, age),
        "count": len(found),
    }  # fmt: skip


def reading_data(belief: TankBelief, entry: Entry, age: float) -> dict[str, Any]:
    """A reading as it was written, with its age [d]."""
    return {
        "id": entry.id, "kind": entry.kind, "what": entry.what, "low": entry.low,
        "high": entry.high, "unit": entry.unit, "method": entry.method,
        "at": belief.case.record.local(entry.at).isoformat(timespec="minutes"),
        "age_days": round(age, 3),
    }  # fmt: skip


def written(entry: Entry) -> str:
    """A reading in words, its interval as it was written.

    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 1, tzinfo=UTC)
    >>> written(Entry("a", at, "Fern", "reading", "nitrate_ion", 5.0, 10.0, "mg/L"))
    'nitrate ion 5 to 10 mg/L'
    >>> written(Entry("a", at, "Fern", "reading", "ammonium", None, 0.05, "mg/L"))
    'ammonium below 0.05 mg/L'
    """
    what = f"top up {entry.what}" if entry.kind == "top_up" else entry.what.replace("_", " ")
    low = None if entry.low is None else f"{float(entry.low):g}"
    high = None if entry.high is None else f"{float(entry.high):g}"
    if low is None:
        amount = f"below {high}"
    elif high is None:
        amount = f"above {low}"
    else:
        amount = low if low == high else f"{low} to {high}"
    return f"{what} {amount} {entry.unit}".strip()


def ago(days: float) -> str:
    """An age in words.

    >>> ago(0.02), ago(0.4), ago(1.2), ago(24.0)
    ('just now', '10 hours ago', '1 day ago', '24 days ago')
    """
    if days < 1.0 / 24.0:
        return "just now"
    count, unit = (round(days * 24.0), "hour") if days < 1.0 else (round(days), "day")
    return f"{count} {unit}{'' if count == 1 else 's'} ago"


def readable(belief: TankBelief, ahead: Ahead) -> dict[str, tuple[Array, float]]:
    """Quantity -> what members would read now, and the reader's error, on the scale of readings.

    The reader's way is the one of the tank's last reading of it, else the usual one.
    """
    last = last_readings(belief)
    found = {}
    for name, shown in SHOWN.items():
        model = observation_models().get(shown.reading)
        if model is None or name in LEFT_OUT or shown.reading not in WRITTEN:
            continue
        if shown.reading in found or shown.output.startswith("lowest_"):
            continue
        entry = last.get(shown.reading, [None])[-1]
        exact = entry is not None and entry.low == entry.high
        method = model.method(entry.method if entry is not None else "", exact=exact)
        natural = (ahead.values(name)[0] - shown.shift) / shown.scale
        noise = math.hypot(method.noise, method.relative * float(np.median(np.abs(natural))))
        found[shown.reading] = (model.scaled(natural), noise)
    return found


def sharpen(
    name: str, values: Array, told: Mapping[str, tuple[Array, float]]
) -> dict[str, Any]:  # fmt: skip
    """The reading that would narrow a quantity most, and by how much; None if none is worth it."""
    of = scaled(SHOWN[name], values)
    gains = {q: 1.0 - math.sqrt(1.0 - explained(of, *held)) for q, held in told.items()}
    best = max(gains, key=lambda q: gains[q], default="")
    if not best or gains[best] < WORTH:
        return {"sharpen": None, "test": None, "narrows_pct": 0}
    what, percent = WRITTEN[best], round(100.0 * gains[best])
    word = {"ph": "pH", "kh": "KH", "gh": "GH", "ec25": "conductivity"}.get(
        what, what.replace("_ion", "").replace("_", " ")
    )
    return {
        "sharpen": f"a reading of {word} would narrow this by about {percent} %",
        "test": what, "narrows_pct": percent,
    }  # fmt: skip


def scaled(shown: Shown, values: Array) -> Array:
    """Values of a shown quantity on the scale on which errors of its readings are alike."""
    model = observation_models().get(shown.reading)
    natural = (values - shown.shift) / shown.scale
    if model is None or shown.output == "dissolved_solids":
        return np.asarray(TRANSFORMS["log"](natural, 1e-6))
    return model.scaled(natural)


def explained(of: Array, read: Array, noise: float) -> float:
    """Share of the variance of a quantity that a reading with some error would take away.

    >>> x = np.linspace(0.0, 1.0, 101)
    >>> explained(x, x, 0.0) > 0.999, explained(x, x, float(np.std(x)))
    (True, 0.5)
    """
    spread = float(np.std(read))
    if spread <= 1e-12 or float(np.std(of)) <= 1e-12:
        return 0.0
    along = float(np.corrcoef(of, read)[0, 1])
    return round(along**2 * spread**2 / (spread**2 + noise**2), 12)
