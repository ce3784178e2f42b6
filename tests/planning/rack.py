"""A small rack in memory, and beliefs of it that take no learning."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache

from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.records.record import Blend, Entry, Rack, Record, Tank, Water

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
"""A Monday."""
MEMBERS = 24


def entry(
    day: float, kind: str, what: str = "", amount: float | None = None, *,
    high: float | None = None, method: str = "", unit: str = "",
) -> Entry:  # fmt: skip
    """A thing that happened in the tank, days after the start."""
    at = START + timedelta(days=day)
    return Entry(
        f"{day}-{kind}-{what}", at, "Fern", kind, what, amount,
        amount if high is None else high, unit, method=method,
    )  # fmt: skip


def record(entries: Sequence[Entry] = (), **tank: object) -> Record:
    """A rack of one tank with soft and hard water and their blend."""
    settings: dict[str, object] = {
        "lid": "partial", "heater_c": 24.0, "light_hours": 9.0, "light_ppfd": 80.0,
        "soil_mm": 25.0, "cap_mm": 25.0, "top_up_water": "soft", "cover_target_pct": 40.0,
        "started": datetime(2024, 3, 2, tzinfo=UTC),
    } | tank  # fmt: skip
    waters = (
        Water("soft", "rain", ph=6.5, kh_dh=1.0, gh_dh=2.0, chloride_mg_l=5.0, sodium_mg_l=4.0),
        Water("hard", "tap", ph=7.6, kh_dh=12.0, gh_dh=16.0, chloride_mg_l=40.0, copper_ug_l=9.0),
    )
    return Record(
        Rack("Test", "Etc/UTC", room_c=22.0, room_humidity_pct=50.0), waters,
        (Blend("half", (("soft", 0.5), ("hard", 0.5))),),
        tanks=(Tank("Fern", 30.0, 0.1, **settings),),  # type: ignore[arg-type]
        entries=tuple(entries),
    )  # fmt: skip


def usual(weeks: int = 5, grams: float = 0.05) -> list[Entry]:
    """Fish and floating plants, fed five days a week, thinned and filled up on Mondays."""
    made = [
        entry(0.0, "plant_in", "Lemna minor", 8.0),
        entry(0.0, "stock_in", "Poecilia wingei", 6, method="0.3 g"),
        entry(0.0, "stock_in", "Neocaridina davidi", 10, method="0.2 g"),
    ]
    for week in range(weeks):
        made += [entry(7 * week + d + 0.4, "feed", "flake", grams) for d in range(5)]
        if week:
            made.append(entry(7.0 * week + 0.05, "harvest", "Lemna minor", 4.0))
            made.append(entry(7.0 * week + 0.06, "top_up", "soft", 1.2))
    return made


@cache
def belief(days: float = 34.0, extra: tuple[Entry, ...] = (), **tank: object) -> TankBelief:
    """Members drawn from the priors of that rack."""
    at = START + timedelta(days=days)
    made = record([*usual(), *extra], **tank)
    return learn_tank(made, "Fern", at, members=MEMBERS, threads=1, from_prior=True)
