"""A rack on paper: two tanks with all that a sheet may tell, and a round answered by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.records.record import Entry, Rack, Record, Tank, Water
from pleuston.store.exchange import write_rack

NOW = datetime(2026, 4, 6, 9, tzinfo=UTC)
"""A Monday, 11 o'clock on the rack's own clock."""
START = NOW - timedelta(days=120)
ID = "00000000-0000-4000-8000-{:012d}"


def entry(
    number: int, days_ago: float, kind: str, what: str = "", low: float | None = None,
    high: float | None = None, unit: str = "", *, tank: str = "Fern", note: str = "",
    method: str = "",
) -> Entry:  # fmt: skip
    """A thing that happened some days before the sheet; the tank is Fern's unless named."""
    return Entry(
        ID.format(number), NOW - timedelta(days=days_ago), tank, kind, what, low,
        low if high is None and kind != "reading" else high, unit, "kim", method, note,
    )  # fmt: skip


def entries(fern: str = "Fern") -> list[Entry]:
    """What happened in the tank that comes first, and in Moss."""
    made = [
        entry(1, 119, "stock_in", "Neocaridina davidi", 12, tank=fern),
        entry(2, 119, "stock_in", "Poecilia wingei", 6, tank=fern),
        entry(3, 119, "plant_in", "Lemna minor", 9, unit="g", tank=fern),
        entry(4, 119, "plant_in", "Pistia stratiotes", 20, unit="g", tank=fern),
        entry(5, 60, "reading", "nitrite_ion", None, 0.05, "mg/L", tank=fern, method="chart"),
        entry(6, 20, "reading", "nitrate_ion", 10, 20, "mg/L", tank=fern, method="chart"),
        entry(7, 6, "reading", "nitrate_ion", 20, 40, "mg/L", tank=fern, method="chart"),
        entry(8, 6, "reading", "kh", 4, 5, "dH", tank=fern, method="titration"),
        entry(9, 5, "death", "Neocaridina davidi", 2, tank=fern),
        entry(10, 2, "seen", "gasping", 1, tank=fern, note="all of them"),
        entry(11, 3, "power_off", tank=""),
        entry(12, 1, "top_up", "kitchen", 1.5, unit="L", tank=fern),
    ]
    made += [entry(20 + n, n + 0.5, "feed", "flake", 0.06, unit="g", tank=fern) for n in range(28)]
    return made


def record(fern: str = "Fern", extra: tuple[Entry, ...] = (), copper: float = 2.0) -> Record:
    """The rack; fern: another name for its first tank."""
    tanks = (
        Tank(fern, 30.0, 0.1, "partial", 24.0, 9.0, 80.0, "garden soil", 25.0, 30.0,
             START, START, "still", "kitchen", 40.0),
        Tank("Moss", 12.0, 0.06, started=START, top_up_water="rain"),
    )  # fmt: skip
    waters = (
        Water("kitchen", "tap", calcium_mg_l=48.0, copper_ug_l=copper, ph=7.7, kh_dh=6.9,
              valid_from=START - timedelta(days=9), note="after a minute"),
        Water("kitchen", "tap", calcium_mg_l=52.0, copper_ug_l=copper, ph=7.6, kh_dh=7.3,
              valid_from=START),
        Water("rain", "rain", ph=6.0),
    )  # fmt: skip
    rack = Rack("Window shelf", "Etc/GMT-2", 50.0, 100.0, 21.0, 50.0)
    made = tuple(sorted((*entries(fern), *extra), key=lambda e: e.at))
    return Record(rack, waters, tanks=tanks, entries=made)


def folder(path: Path, **changed: Any) -> Path:
    """The rack as a folder."""
    write_rack(record(**changed), path)
    return path


def act(name: str, what: str, amount: float | None = None, unit: str = "", caution: str = "",
        reason: str = "Since it is so.") -> dict[str, Any]:  # fmt: skip
    """One act of a round."""
    return {
        "act": name, "what": what, "amount": amount, "unit": unit, "reason": reason,
        "confidence": "fair", "if_skipped": "It stays so.", "minutes": 1.0, "caution": caution,
    }  # fmt: skip


def answer(fern: str = "Fern") -> dict[str, Any]:
    """A round, worst tank first as the answer gives it: Moss before the first tank."""
    because = {"limit": "limit_oxygen_dawn_day", "word": "too little oxygen at dawn",
               "severity": "danger", "chance": 0.62, "who": [], "source": "epa1986"}  # fmt: skip
    caution = "Wear gloves."
    moss = [
        act("stir_surface", "surface"), act("test", "nitrite_ion"),
        act("thin", "Lemna minor", 24.141, "g", caution, "KH is 4 dH, 450 uS/cm."),
        act("test", "ph"), act("no_new_animals", "animals"),
    ]  # fmt: skip
    return {
        "at": "2026-04-06T11:00+02:00", "minutes": 9.4,
        "tanks": [
            {"tank": "Moss", "state": "danger", "because": [because], "minutes": 8.9, "acts": moss},
            {"tank": fern, "state": "well", "because": [], "minutes": 0.5,
             "acts": [act("water_change", "rain", 4.218, "L", caution)]},
        ],
    }  # fmt: skip


def left_answer() -> dict[str, Any]:
    """The round of a keeper short of time: Fern's act waits, Moss's is done, Reed is well."""
    made = answer()
    fern = made["tanks"][1]
    waits = {**fern["acts"][0], "tank": "Fern", "carried_over": 2,
             "since": "Advised 2 weeks ago and not done. Then 3.1 L, now 4.2 L.",
             "if_skipped": "Salts grow by 40 uS/cm."}  # fmt: skip
    moss = made["tanks"][0]
    moss["acts"][2]["since"] = "Advised 1 week ago and not done."
    reed = {"tank": "Reed", "state": "well", "because": [], "minutes": 0.2, "acts": []}
    return {**made, "tanks": [moss, {**fern, "acts": []}, reed], "left": [waits]}
