"""Answers put straight into the store, as workers would make them, so that pages have them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from pleuston.services.model_stamp import model_now
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.record_hash import record_hash
from pleuston.store.session import Database

from .racks import NOW

SHARES = ("p02.5", "p10", "p25", "p50", "p75", "p90", "p97.5")
ACTS = [
    {"act": "thin", "what": "Lemna minor", "amount": 12.4, "unit": "g", "reason": "Leave 40 %.",
     "confidence": "good", "if_skipped": "The mat closes.", "caution": "Bin surplus plants.",
     "minutes": 0.6, "safety": True, "binds": "'too little oxygen at dawn': 60% this week.",
     "would_change": "It would change with a reading at dawn.", "carried_over": 2,
     "since": "Advised 2 weeks ago and not done. Then 6 g, now 12 g."},
    {"act": "test", "what": "oxygen", "amount": None, "unit": "", "reason": "At dawn.",
     "confidence": "fair", "if_skipped": "It stays unknown.", "caution": "", "minutes": 3.0},
    {"act": "change_top_up", "what": "half rain", "amount": None, "unit": "", "reason": "Salts.",
     "confidence": "fair", "if_skipped": "Salts creep.", "caution": ""},
]  # fmt: skip
TESTS = [
    {"tank": "Alder", "what": "nitrite", "kit": "", "value": 4.2, "pays": True, "minutes": 3.0,
     "coins": 0.3, "per_minute": 1.4, "per_coin": 14.0, "last_days": None, "now": "as now",
     "turns": [{"shows": "above 0.15 mg/L", "chance": 0.2, "then": "50 % of the usual food"}]},
]  # fmt: skip


def quantity(unit: str, middle: float, times: list[str]) -> dict[str, Any]:
    bands = {s: [middle * (0.7 + 0.1 * i)] * len(times) for i, s in enumerate(SHARES)}
    return {"unit": unit, "times": times, **bands}


def outlook(days: int) -> dict[str, Any]:
    times = [(NOW + timedelta(days=d)).isoformat() for d in range(1, days + 1)]
    units = {"oxygen_dawn": "mg/L", "cover": "%", "ec25": "uS/cm", "nitrate": "mg/L",
             "nitrate_ion": "mg/L", "ammonia_nh3": "mg/L", "temperature": "C"}  # fmt: skip
    crossing = {
        "limit": "limit_oxygen_dawn_day", "quantity": "oxygen_dawn", "side": "low", "value": 4.0,
        "unit": "mg/L", "severity": "act", "word": "too little oxygen at dawn",
        "first_day_p5": 3, "first_day_p50": None, "chance": 0.31,
        "who": ["Neocaridina davidi"], "source": "francisfloyd2003",
    }  # fmt: skip
    made = {name: quantity(unit, 5.0, times) for name, unit in units.items()}
    return {"tank": "Alder", "at": NOW.isoformat(), "model": "m", "seed": 1,
            "quantities": made, "crossings": [crossing]}  # fmt: skip


def now_answer() -> dict[str, Any]:
    def one(unit: str, middle: float) -> dict[str, Any]:
        spread = {s: middle * (0.7 + 0.1 * i) for i, s in enumerate(SHARES)}
        return {"unit": unit, **spread, "rests_on": "nitrate ion 3 to 7.5 mg/L, 9 days ago",
                "basis": "reading", "last": None, "count": 1, "sharpen": "a reading would narrow "
                "this by about 30 %", "test": "nitrate_ion", "narrows_pct": 30}  # fmt: skip

    return {"quantities": {"nitrate": one("mg/L", 1.2), "nitrate_ion": one("mg/L", 5.0),
                           "temperature": one("C", 22.0)}}  # fmt: skip


def ledger() -> dict[str, Any]:
    flows = {"in": {"feed": 30.0, "top_up": 2.0}, "out": {"harvest": 22.0, "air": 3.0},
             "stored": {"water": 9.0, "soil": -2.0}}  # fmt: skip
    ranges = {side: {n: [0.8 * v, v, 1.2 * v] for n, v in part.items()}
              for side, part in flows.items()}  # fmt: skip
    return {"tank": "Alder", "element": "N", "unit": "mg", "from": "2026-04-06T10:00+01:00",
            "to": "2026-05-04T10:00+01:00", **flows, "unexplained": [-4.0, 4.0],
            "unexplained_from": ["no reading tells of it"], "ranges": ranges,
            "closes_to": 1e-15}  # fmt: skip


def give_answers(db: Database, tank: str = "Alder", state: str = "act") -> None:
    """Keep answers of every kind that pages show for a tank."""
    hours = outlook(2)
    clock = [(NOW + timedelta(hours=h)).isoformat() for h in range(49)]
    hours["quantities"]["oxygen"] = quantity("mg/L", 5.0, clock)
    hours["dark"] = [[NOW.isoformat(), (NOW + timedelta(hours=9)).isoformat()]]
    because = {"limit": "limit_oxygen_dawn_day", "word": "too little oxygen at dawn",
               "severity": "act", "chance": 0.6, "who": [],
               "source": "francisfloyd2003"}  # fmt: skip
    part = {"tank": tank, "state": state, "because": [because], "animals": {}, "minutes": 4.5,
            "acts": ACTS, "tests": TESTS}  # fmt: skip
    made = [("now", now_answer()), ("outlook", outlook(28)), ("months", outlook(60)),
            ("night", hours), ("round", part), ("ledger:N", ledger()),
            ("ledger:N:2026-04-01:2026-04-28", ledger()),
            ("ledger:N:2026-03-04:2026-03-31", ledger())]  # fmt: skip
    with db.write() as connection:
        origin = MadeFrom(NOW, model_now(), 1, record_hash(connection, tank), "{}", NOW)
        put_answers(connection, tank, origin, made)
