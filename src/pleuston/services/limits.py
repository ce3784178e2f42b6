"""The limits that hold in a tank: the library's and the keeper's own; own ones set and ended.

An own limit is an entry of the record (records/own_limits.py); which of the two holds, and what
is refused, is told in docs/decisions/019.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from pleuston.base.errors import InputError
from pleuston.planning.limits import Limit, OwnLimit, WaterState, limits_for, refusal
from pleuston.planning.limits.own import LENIENT, applied_text, judged_for, said
from pleuston.records.given import number_text
from pleuston.records.kinds import LIMITED
from pleuston.records.own_limits import SIDES, coming_limits, own_limits, sides_of, written_value
from pleuston.records.record import Entry, Record
from pleuston.services.plan_ground import Ground
from pleuston.services.planners import ground_in
from pleuston.services.racks import Source, open_rack, parse_moment
from pleuston.store import catalogue
from pleuston.store.exchange_cells import Findings, Row
from pleuston.store.exchange_entries import EntryReader
from pleuston.store.exchange_layout import ENTRIES
from pleuston.store.exchange_problems import ImportRefused
from pleuston.store.record_hash import record_about
from pleuston.store.session import Database

FILE = "entry"
KELVIN = 273.15
DH = 0.356652
"""Milliequivalents per litre of a German degree of hardness."""


# -- the limits of a tank ----------------------------------------------------------


def limits_answer(rack: Source, tank: str, at: str = "") -> dict[str, Any]:
    """The limits of a tank at a moment, and its keeper's own, from the record alone."""
    record = open_rack(rack)
    return limits_told(Ground(record, tank, parse_moment(at, record), {}))


def limits_in(db: Database, tank: str, now: datetime) -> dict[str, Any]:
    """The same from a database, in the water as it was last worked out."""
    ground = ground_in(db, tank, now)
    with db.read() as connection:
        whole = record_about(connection, tank)
    return limits_told(ground, coming_limits(whole, tank, now))


def limits_told(ground: Ground, coming: Sequence[OwnLimit] = ()) -> dict[str, Any]:
    """The limits that hold in a tank as data, and every own limit with what it does.

    Values and units are as keepers write them; coming: own limits dated later.
    """
    ground.record.tank(ground.tank)
    water = water_of(ground)
    held = limits_for(ground.animals, water, ground.own)
    library = {x.key: x for x in limits_for(ground.animals, water)}
    return {
        "tank": ground.tank,
        "at": ground.record.local(ground.moment).isoformat(timespec="minutes"),
        "animals": list(ground.animals),
        "water_known": water.ph is not None,
        "limits": [_limit_told(x, library.get(x.key)) for x in held],
        "own": [
            *(_own_told(x, _effect(x, held)) for x in ground.own),
            *(_own_told(x, f"holds from {x.since} on") for x in coming),
        ],
    }


def water_of(ground: Ground) -> WaterState:
    """A tank's water as far as it was worked out; chloride, which guards, counts as unknown."""
    known = {name: spread[1] for name, spread in ground.standing.items()}
    warm, hard = known.get("temperature"), known.get("gh")
    return WaterState(
        temperature=None if warm is None else warm + KELVIN, ph=known.get("ph"),
        gh=None if hard is None else hard * DH,
    )  # fmt: skip


def _limit_told(limit: Limit, library: Limit | None) -> dict[str, Any]:
    value, unit = written_value(limit.quantity, limit.value)
    there = None if library is None else written_value(library.quantity, library.value)[0]
    return {
        "quantity": limit.quantity, "side": limit.side, "value": _round(value), "unit": unit,
        "severity": limit.severity, "word": limit.word, "icon": limit.icon,
        "horizon": limit.horizon, "who": list(limit.who), "source": limit.source,
        "where": limit.where, "conditions": limit.conditions, "grade": limit.grade,
        "is_own": limit.is_own, "library": None if there is None else _round(there),
    }  # fmt: skip


def _own_told(own: OwnLimit, effect: str) -> dict[str, Any]:
    return {
        "id": own.id, "tank": own.tank, "what": own.what, "quantity": own.quantity,
        "side": own.side, "value": own.written, "unit": own.unit, "severity": own.severity,
        "species": own.species, "reason": own.reason, "since": own.since, "by": own.by,
        "at": own.at.isoformat(), "effect": effect,
    }  # fmt: skip


def _effect(own: OwnLimit, held: Sequence[Limit]) -> str:
    """What an own limit does now."""
    alike = [x for x in held if (x.quantity, x.side) == (own.quantity, own.side)]
    same = next((x for x in alike if x.severity == own.severity), None)
    if same is None:
        return "no effect now: the animals it is for are not here"
    if same.where != applied_text(own):
        return f"no effect now: {said(same)} is stricter"
    if abs(same.value - own.value) > 1e-9:
        return f"holds as {said(same)}: a graver limit stands there"
    return "holds"


def _round(value: float) -> float:
    return float(f"{value:.6g}")


# -- setting and ending ------------------------------------------------------------


def limit_row(
    tank: str, what: str, severity: str, reason: str, *, at_least: str | float | None = None,
    at_most: str | float | None = None, unit: str = "", species: str = "", since: str = "",
    by: str = "", end: bool = False,
) -> dict[str, str | float | None]:  # fmt: skip
    """The cells of an entry that sets an own limit, or ends one.

    tank: empty for the whole rack; unit: the usual one where it is empty.
    """
    usual = LIMITED[what].unit if what in LIMITED else ""
    return {
        "at": since, "tank": tank, "kind": "limit_end" if end else "limit", "what": what,
        "low": at_least, "high": at_most, "unit": unit or usual,
        "method": f"{severity}, {species}" if species else severity, "by": by, "note": reason,
    }  # fmt: skip


def end_row(
    own: Mapping[str, Any], reason: str, now: datetime
) -> dict[str, str | float | None]:
    """The cells of an entry that ends an own limit, as `limits_told` gives it.

    One that does not hold yet ends as it would begin.
    """
    when = max(now, datetime.fromisoformat(own["at"]))
    side = "at_least" if own["side"] == "low" else "at_most"
    bound: dict[str, Any] = {side: own["value"]}
    return limit_row(
        own["tank"], own["what"], own["severity"], reason, unit=own["unit"],
        species=own["species"], since=when.isoformat(), end=True, **bound,
    )  # fmt: skip


def with_limit(
    record: Record, row: Mapping[str, str | float | None], now: datetime
) -> Record:
    """A record with one more entry that sets or ends an own limit; raises what is refused."""
    findings = Findings()
    names = {tank.name for tank in record.tanks}
    reader = EntryReader(record.rack.zone, {t.name: t for t in record.tanks}, names, set(), set())
    cells = {name: _text(row.get(name)) for name in ENTRIES.names}
    cells["at"] = cells["at"] or now.isoformat()
    entry = reader.entry(Row(FILE, 1, cells, findings))
    if entry is not None:
        for tank in [entry.tank] if entry.tank else sorted(names):
            _refuse(record, tank, 1, entry, findings, now)
    if entry is None or findings.problems:
        raise ImportRefused("limits", findings.problems, failed="not set")
    return replace(record, entries=(*record.entries, entry))


def _text(value: str | float | None) -> str:
    return value if isinstance(value, str) else number_text(value)


def refuse_limits(
    connection: Connection, asked: Iterable[tuple[int, Entry]], findings: Findings, now: datetime
) -> None:
    """Refuse own limits that are looser than may be, and ends of what does not hold.

    asked: entries with the line they stand on, in their order; each knows of those before it.
    """
    names = catalogue.names_of(connection, "tank")
    before: list[Entry] = []
    for line, entry in asked:
        for tank in [entry.tank] if entry.tank else names:
            known = record_about(connection, tank)
            record = replace(known, entries=(*known.entries, *before))
            if not _refuse(record, tank, line, entry, findings, now):
                break
        before.append(entry)


def _refuse(
    record: Record, tank: str, line: int, entry: Entry, findings: Findings, now: datetime
) -> bool:
    """Note what is wrong with an own limit in one tank; whether the others are to be asked."""
    if entry.kind == "limit_end":
        return _refuse_end(record, tank, line, entry, findings)
    animals = Ground(record, tank, max(now, entry.at), {}).animals
    for own in sides_of(record, entry):
        libraries = [limits_for(judged_for(own, animals), water) for water in LENIENT]
        found = refusal(own, libraries)
        if found is not None:
            place = "" if entry.tank else f" in {tank}"
            remedy = found.remedy if entry.tank else f"{found.remedy}, or set it tank by tank"
            findings.refuse(FILE, line, own.side, f"{found.what}{place}", remedy)
            return False
    return True


def _refuse_end(
    record: Record, tank: str, line: int, entry: Entry, findings: Findings
) -> bool:
    ended = replace(entry, kind="limit")
    if entry.low is None and entry.high is None:
        ended = replace(ended, low=0.0, high=0.0)
    held = own_limits(record, tank, entry.at)
    keys = {own.key for own in sides_of(record, ended)}
    if not keys & {own.key for own in held}:
        there = [
            f"{own.what} {SIDES[own.side]} {own.written:g} {own.unit} ({own.severity})"
            for own in held if own.tank == entry.tank
        ]  # fmt: skip
        findings.refuse(
            FILE, line, "what", f"no such own limit of {entry.what} holds then",
            f"those that hold: {'; '.join(there)}" if there else "none holds then",
        )  # fmt: skip
    return False


def own_by(own: Sequence[Mapping[str, Any]], asked: Mapping[str, str]) -> Mapping[str, Any]:
    """The own limit that a form names by entry and side."""
    for one in own:
        if (one["id"], one["side"]) == (asked.get("id"), asked.get("side")):
            return one
    raise InputError(
        "this own limit does not hold any more", "limits", "look at the list again"
    )
