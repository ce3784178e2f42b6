"""What a vet wants to know: readings as intervals, animals, what happened. No diagnosis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pleuston.records.kinds import READINGS as KNOWN
from pleuston.records.kinds import SIGNS
from pleuston.records.record import Entry
from pleuston.reports.paper.facts import Facts, animals_said, both_names
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import (
    READINGS,
    day_of,
    number,
    pretty,
    rounded,
    short_day,
    short_name,
    span,
    with_unit,
)

DAYS = 28
SHOWN_EVENTS = 40
WORDS: Mapping[str, str] = {
    "harvest": "plants taken out", "top_up": "topped up", "water_change": "water changed",
    "dose": "dosed", "stock_in": "came in", "stock_out": "went out", "death": "died",
    "birth": "born", "plant_in": "planted", "plant_out": "plants out", "seen": "seen",
    "setting": "set", "soil_disturbed": "soil disturbed", "power_off": "power off",
    "power_on": "power on", "holiday": "holiday", "note": "note", "photo": "photo",
    "limit": "own limit", "limit_end": "own limit ended",
}  # fmt: skip
QUIET = ("feed", "reading", "photo")
RACK_WIDE = ("power_off", "power_on", "holiday", "note", "limit", "limit_end")
ASKED = (
    "Which animals, how many, since when?",
    "What exactly is seen (breathing, posture, skin, appetite, behaviour by day and night)?",
    "What was tried already, and when? Medicines, salt, conditioners with their amounts:",
)


def vet_sheet(facts: Facts) -> Sheet:
    """The hand-over of a tank: its last four weeks."""
    own = facts.entries(DAYS)
    events = [e for e in _with_rack(facts, own) if e.kind not in QUIET]
    data = {
        "name": facts.name,
        "rack": short_name(facts.record.rack.name or "Rack"),
        "span": f"Four weeks to {day_of(facts.local)}",
        "facts": [{"what": what, "value": value} for what, value in _facts(facts)],
        "animals": animals_said(facts),
        "plants": ", ".join(both_names(n)["name"] for n in (*facts.floating, *facts.rooted)),
        "readings": _readings(facts, [e for e in own if e.kind == "reading"]),
        "events": [_event(facts, e) for e in events[-SHOWN_EVENTS:]],
        "left_out": str(max(0, len(events) - SHOWN_EVENTS)),
        "asked": list(ASKED),
    }
    return sheet_of("vet", f"Hand-over to the vet: {facts.name}", facts.local, data)


def _with_rack(facts: Facts, own: Sequence[Entry]) -> list[Entry]:
    since = own[0].at if own else facts.moment
    found = facts.record.entries_of(facts.tank.name, until=facts.moment, kind=RACK_WIDE)
    wide = [e for e in found if not e.tank and e.at >= since]
    return sorted((*own, *wide), key=lambda e: e.at)


def _facts(facts: Facts) -> list[tuple[str, str]]:
    tank, grams = facts.tank, facts.feed_per_day
    started = "" if tank.started is None else day_of(facts.record.local(tank.started))[4:]
    fed = f"{rounded(grams)} g a day ({', '.join(facts.feeds[:3])})" if grams else "none noted"
    return [
        ("Water", f"{number(float(tank.net_l))} L net, no filter, soil bottom"),
        ("Running since", started or "not noted"),
        ("Heater", "none" if tank.heater_c is None else f"{number(float(tank.heater_c))} °C"),
        ("Topped up with", short_name(tank.top_up_water) if tank.top_up_water else "not noted"),
        ("Fed", fed),
        ("Lid, water", f"{tank.lid}, {tank.flow}"),
    ]


def _readings(facts: Facts, readings: Sequence[Entry]) -> list[dict[str, Any]]:
    """Readings by quantity, each as the interval it stands for, oldest first."""
    order = [w for w in KNOWN if any(r.what == w for r in readings)]
    order += sorted({r.what for r in readings} - set(order))
    rows = []
    for what in order:
        own = [r for r in readings if r.what == what]
        unit = own[-1].unit or (KNOWN[what].unit if what in KNOWN else "")
        said = [
            {"day": _moment(facts, r), "value": span(r.low, r.high, r.unit or unit)}
            for r in own[-6:]
        ]
        methods = dict.fromkeys(r.method for r in own if r.method)
        rows.append({
            "what": READINGS.get(what, what.replace("_", " ")), "values": said,
            "method": pretty("; ".join(list(methods)[:2])), "more": str(max(0, len(own) - 6)),
        })  # fmt: skip
    return rows


def _moment(facts: Facts, entry: Entry) -> str:
    local = facts.record.local(entry.at)
    return f"{short_day(local)} {local:%H:%M}"


def _event(facts: Facts, entry: Entry) -> dict[str, str]:
    count = entry.amount if entry.kind in ("death", "birth", "stock_in", "stock_out") else None
    amount = number(count) if count is not None else with_unit(entry.amount, entry.unit)
    if entry.kind == "seen" and not entry.unit:
        amount = ""
    what = SIGNS.get(entry.what, entry.what.replace("_", " "))
    if entry.kind == "setting":
        amount = amount or entry.note
    note = "" if entry.kind == "setting" and amount == entry.note else entry.note
    return {
        "day": _moment(facts, entry),
        "kind": WORDS.get(entry.kind, entry.kind),
        "what": " ".join(w for w in (amount, what) if w),
        "note": pretty(note),
    }
