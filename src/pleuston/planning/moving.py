"""Moving plants from tank to tank: where they came from, what may ride along, what got where.

The record tells: plants out of one tank and into another on the same days, animals alike, and
notes. Deaths, medicines, copper and riders of the giving tank hold a move back.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.engine.case import tank_case
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.hours import local_time
from pleuston.planning.outlook import animals_of, limits_of, run_ahead, shown_bound
from pleuston.planning.planner import cell, span, step, table
from pleuston.records.library import library
from pleuston.records.record import Entry, Record

PAIR_DAYS = 2.0
"""Days within which what left one tank may have come into another: guess."""
LOOK_BACK = 60.0
"""Days over which deaths and medicines of the giving tank count: guess."""
QUARANTINE, LONG_QUARANTINE = 14, 28
"""Days in a tub of its own: common practice, and longer after deaths without a reason."""
RIDERS = ("hydra", "cyanobacteria", "planaria", "snails_up", "snails", "leeches", "algae",
          "duckweed")  # fmt: skip
MEDICINES = ("copper", "cuso4", "formalin", "malachite", "methylene", "levamisole", "medic",
             "wormer", "fenbendazole", "praziquantel")  # fmt: skip
EXPLAINED = ("jumped", "dried", "old age", "eaten", "fought", "stuck", "trapped")
"""What a note of a death may name that goes with no plant: common practice, no source."""
SMALL_RIDERS = ("Lemna minor", "Lemna minuta", "Wolffia arrhiza", "Physella acuta",
                "Melanoides tuberculata")  # fmt: skip
"""Kinds of the library that pass through nets with other plants."""
INTO, OUT = ("plant_in", "stock_in"), ("plant_out", "stock_out", "harvest")


@dataclass(frozen=True)
class Move:
    """Something that went from one tank to another, and how sure that is."""

    at: datetime
    giver: str
    taker: str
    what: str
    amount: float | None
    sure: bool
    """True where a note or a pair of entries of the same day and amount names it."""


# -- where things went ---------------------------------------------------------------


def moves_of(record: Record) -> list[Move]:
    """The directed log of moves: pairs of out and in of one kind, and notes that name a tank."""
    names = [t.name for t in record.tanks]
    gone = [e for e in record.entries if e.kind in OUT and e.tank]
    found = []
    for entry in (e for e in record.entries if e.kind in INTO and e.tank):
        named = _named(entry, names)
        if named:
            found.append(Move(entry.at, named, entry.tank, entry.what, entry.amount, True))
            continue
        near = [e for e in gone if _pairs(e, entry)]
        if near:
            best = min(near, key=lambda e: (abs((e.at - entry.at).total_seconds()), e.id))
            same = best.kind != "harvest" and best.amount == entry.amount
            found.append(Move(entry.at, best.tank, entry.tank, entry.what, entry.amount, same))
    return sorted(found, key=lambda m: (m.at, m.giver, m.taker, m.what))


def _named(entry: Entry, names: Sequence[str]) -> str:
    """The tank that a note says it came from; the longest name that fits."""
    text = f" {entry.note} {entry.method} ".casefold()
    fit = [
        n for n in names if n != entry.tank
        and re.search(rf"\bfrom {re.escape(n.casefold())}(?!\w)", text)
    ]  # fmt: skip
    return max(fit, key=len, default="")


def _pairs(out: Entry, into: Entry) -> bool:
    plants = into.kind == "plant_in"
    kinds = ("plant_out", "harvest") if plants else ("stock_out",)
    return (
        out.kind in kinds and out.tank != into.tank and _species(out.what) == _species(into.what)
        and timedelta(0) <= into.at - out.at <= timedelta(days=PAIR_DAYS)
    )  # fmt: skip


def _species(name: str) -> str:
    try:
        return library().find_species(name).name
    except UnknownNameError:
        return name


def reached(moves: Sequence[Move], tank: str, since: datetime) -> dict[str, tuple[Move, ...]]:
    """Tanks that got anything from a tank since a day, straight or through others: the way there.

    A tank passes on only what it did after it got something itself.
    """
    ways: dict[str, tuple[Move, ...]] = {}
    first = {tank: since}
    for move in sorted(moves, key=lambda m: m.at):
        begun = first.get(move.giver)
        if begun is None or move.at < begun or move.taker in first:
            continue
        first[move.taker] = move.at
        ways[move.taker] = (*ways.get(move.giver, ()), move)
    return ways


def trace(record: Record, tank: str, since: datetime) -> dict[str, Any]:
    """Which tanks got anything from a tank since a day, as an answer."""
    record.tank(tank)
    ways = reached(moves_of(record), tank, since)
    rows = [
        [taker, record.local(way[-1].at).date().isoformat(),
         " > ".join([tank, *(m.taker for m in way)]), way[-1].what,
         "noted" if all(m.sure for m in way) else "likely, by time and kind"]
        for taker, way in ways.items()
    ]  # fmt: skip
    day = record.local(since).date().isoformat()
    rest = [t.name for t in record.tanks if t.name not in ways and t.name != tank]
    return {
        "planner": "trace", "tank": tank, "since": day, "reached": list(ways),
        "moves": [[m.giver, m.taker, m.what, m.at.isoformat(), m.sure]
                  for way in ways.values() for m in way],
        "headline": f"{_who(list(ways))} got something from {tank} since {day}",
        "said": [
            "Only what was noted is seen: nets, hands, sponges and splashes carry as much. "
            "A note 'from TANK' with what comes in makes it sure.",
            *([f"Nothing noted: {', '.join(rest)}."] if rest else []),
        ],
        "steps": [
            step("Move nothing on from these tanks until the cause is known"),
            step("Look at these first, and give each its own net", ", ".join(ways)),
        ] if ways else [],
        "tables": [table("Where it went", ["Tank", "First on", "By way of", "What", "How sure"],
                         rows)],
        "cautions": [], "sources": ["common_practice"],
    }  # fmt: skip


def _who(names: Sequence[str]) -> str:
    """Who got something, in words.

    >>> _who([]), _who(["Oak"]), _who(["Oak", "Elm"])
    ('By the record no tank', 'Oak alone', '2 tanks')
    """
    if not names:
        return "By the record no tank"
    return f"{names[0]} alone" if len(names) == 1 else f"{len(names)} tanks"


# -- one move ------------------------------------------------------------------------


@dataclass(frozen=True)
class Flag:
    """Why a move is held back (`block`) or needs care."""

    block: bool
    text: str


def flags_of_record(record: Record, tank: str, now: datetime) -> list[Flag]:
    """What the record of the giving tank holds against moving anything out of it."""
    recent = [
        e for e in record.entries_of(tank, until=now)
        if e.tank == tank and e.at > now - timedelta(days=LOOK_BACK)
    ]  # fmt: skip
    made = []
    dead = [e for e in recent if e.kind == "death" and not _explained(e)]
    if dead:
        count = sum(e.amount or 1.0 for e in dead)
        made.append(Flag(True, f"{count:.0f} deaths without a reason noted in {LOOK_BACK:.0f} "
                               "days"))  # fmt: skip
    for entry in recent:
        text = f"{entry.what} {entry.note} {entry.method}".casefold()
        day = record.local(entry.at).date().isoformat()
        if entry.kind in ("dose", "note") and any(w in text for w in MEDICINES):
            word = entry.what or entry.note
            made.append(Flag(True, f"{day}: {word[:60]}: a medicine or copper may be in it"))
        if entry.kind == "seen" and any(w in entry.what.casefold() for w in RIDERS):
            made.append(Flag(False, f"{day}: {entry.what.replace('_', ' ')} seen"))
    here = {_species(e.what) for e in record.entries_of(tank, until=now) if e.kind in INTO}
    made += [Flag(False, f"{s} lives here and rides along") for s in SMALL_RIDERS if s in here]
    unique: dict[str, Flag] = {f.text: f for f in made}
    return list(unique.values())


def metals_in(belief: TankBelief, species: str, grams: float) -> dict[str, list[float]]:
    """Copper and zinc [mg] in some drained grams of a plant here: 10, 50, 90 % of members.

    Metal of its tissue by its carbon, times the carbon of the grams.
    """
    case = belief.case
    slot = case.plants.slots.get(species, "rooted")
    tissue = case.maker.tissue(slot, grams)
    table_, end = case.table, belief.end
    carbon = end[:, table_.at("state", f"{slot}_carbon")]
    found = {}
    for metal in ("copper", "zinc"):
        held = end[:, table_.at("state", f"{slot}_{metal}")]
        share = np.where(carbon > 1.0, held / np.maximum(carbon, 1.0),
                         tissue[f"plant_{metal}"] / tissue["plant_carbon"])  # fmt: skip
        mass = share * tissue["plant_carbon"]
        found[metal] = [float(v) for v in np.quantile(mass, [0.1, 0.5, 0.9])]
    return found


def _explained(entry: Entry) -> bool:
    """Whether the note of a death names what killed, and that goes with no plant."""
    words = f"{entry.note} {entry.method}".casefold()
    return any(cause in words for cause in EXPLAINED)


def copper_flag(
    belief: TankBelief, threads: int | None = None, to: str = ""
) -> Flag | None:
    """Whether the believed copper of the water may be above the animals' limit to act.

    to: the tank whose animals count beside the giving tank's own; one of which nothing is
    recorded counts as holding none.
    """
    ahead = run_ahead(belief, 1, threads=threads)
    case = belief.case
    present = dict(animals_of(case, belief.at))
    now = case.clock.moment(belief.at)
    if to and any(e.tank == to for e in case.record.entries_of(to, until=now)):
        other = tank_case(case.record, to, now)
        present |= animals_of(other, other.clock.day(now))
    limits = [x for x in limits_of(ahead, present)
              if (x.quantity, x.side) == ("copper", "high") and x.severity in ("act", "danger")]
    if not limits:
        return None
    most = min(shown_bound(x) for x in limits)
    chance = float((ahead.values("copper")[0] > most).mean())
    if chance < 0.05:
        return None
    return Flag(chance >= 0.5, f"copper of its water may be above {most:.3g} mg/L: {chance:.0%}")


def moving(
    belief: TankBelief, to: str, species: str, grams: float, threads: int | None = None
) -> dict[str, Any]:
    """Whether plants of a tank may move to another, and for how long they wait, as an answer.

    Raises InputError for the same tank, an unknown one, a kind that is no plant.
    """
    case = belief.case
    record, tank = case.record, case.tank.name
    record.tank(to)
    if to == tank:
        raise InputError("both tanks are the same", "plan move-plants", "choose another")
    kind = library().find_species(species)
    if not kind.is_plant:
        raise InputError(f"{kind.name} is no plant", "plan move-plants", "choose a plant")
    now = case.clock.moment(belief.at)
    flags = flags_of_record(record, tank, now)
    copper = copper_flag(belief, threads, to)
    flags += [copper] if copper is not None else []
    metals = metals_in(belief, kind.name, grams)
    blocked = any(f.block for f in flags)
    days = LONG_QUARANTINE if any("deaths" in f.text for f in flags) else QUARANTINE
    data: dict[str, Any] = {
        "planner": "move-plants", "tank": tank, "to": to, "species": kind.name, "grams": grams,
        "at": local_time(belief, belief.at), "model": belief.model, "seed": belief.seed,
        "allowed": not blocked, "quarantine_days": days, "metals_mg": metals,
        "flags": [{"block": f.block, "text": f.text} for f in flags],
    }  # fmt: skip
    return data | _words(belief, data)


def _words(belief: TankBelief, d: dict[str, Any]) -> dict[str, Any]:
    holds = [f["text"] for f in d["flags"] if f["block"]]
    head = (
        f"Do not move {d['species']} from {d['tank']} to {d['to']} now" if holds else
        f"{d['species']} may move to {d['to']} after {d['quarantine_days']} days in a tub"
    )
    steps = [
        step("Find the reason first", *holds),
        step("What must go is binned, not moved", "Dry or freeze it for two days."),
    ] if holds else [
        step("Rinse in water of the room's temperature, look at both sides of leaves and at roots"),
        step(f"{d['quarantine_days']} days in a tub of its own",
             "No animals, its own net, water changed twice; look for snails, eggs and hydra."),
        step("Note it with 'from " + d["tank"] + "' where it goes in",
             "Then it can be traced later."),
    ]  # fmt: skip
    low, middle, high = d["metals_mg"]["copper"]
    rows = [[m.capitalize(), span(v[0], v[2], "mg")] for m, v in d["metals_mg"].items()]
    others = [[f["text"], "holds it back" if f["block"] else "needs care"] for f in d["flags"]]
    return {
        "headline": head,
        "said": [
            f"{short(d['grams'])} g of it carry about {short(middle)} mg of copper ({short(low)} "
            f"to {short(high)}) into {d['to']}, where it is freed as they rot.",
            "What the record does not hold is not seen; quarantine is for that.", basis(belief),
        ],
        "steps": steps,
        "tables": [
            table("What speaks against it", ["", ""], others),
            table("Metal that the plants carry", ["", "Range"], rows),
            table("Weighed", ["", "Amount"], [["Drained plants", cell(d["grams"], "g")]]),
        ],
        "cautions": [
            CAUTIONS["thin"],
            "Bleach or acid dips are not planned here: they burn, and never go together.",
        ],
        "sources": ["common_practice"],
    }  # fmt: skip
