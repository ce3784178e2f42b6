"""Acts that were advised before and not done: since when, and what has happened meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.planning.acts import short
from pleuston.records.record import Entry, Record
from pleuston.services.ticks import AS_ENTRY, LEFT_OUT, METHOD
from pleuston.store import beliefs as rows
from pleuston.store.session import is_database, open_database

MEMORY = timedelta(weeks=8)
"""How far back an act that was left out is followed."""
WEEK = timedelta(days=7)


def carried_over(
    part: Mapping[str, Any], before: Mapping[str, Any] | None, record: Record, at: datetime
) -> dict[str, Any]:
    """A tank's part of the round, each act with how long it waits.

    before: the part of the round before, with `advised` in its acts; None where none is kept:
    then only acts that were noted as left out are followed. Adds to each act `advised` (when
    first), `advised_amount`, `advised_state`, `carried_over` (whole weeks; 0 for new) and `since`.
    """
    entries = record.entries_of(part["tank"], until=at)
    old = {_key(a): a for a in (before or {}).get("acts", ()) if "advised" in a}
    made = []
    for act in part["acts"]:
        first = {"advised": at.isoformat(), "advised_amount": act["amount"],
                 "advised_state": part["state"]}  # fmt: skip
        kept = old.get(_key(act))
        if kept is not None:
            first = {key: kept[key] for key in first}
        since = _noted(entries, act, at)
        if since is not None and since < datetime.fromisoformat(first["advised"]):
            first = {**first, "advised": since.isoformat(), "advised_amount": None,
                     "advised_state": ""}  # fmt: skip
        begun = datetime.fromisoformat(first["advised"])
        if any(_does(entry, act) for entry in entries if begun < entry.at):
            first = {"advised": at.isoformat(), "advised_amount": act["amount"],
                     "advised_state": part["state"]}  # fmt: skip
            begun = at
        weeks = max((at - begun) // WEEK, 0)
        said = _since(act, first, part["state"], weeks) if weeks else ""
        made.append({**act, **first, "carried_over": weeks, "since": said})
    return {**part, "acts": made}


def rounds_before(rack: Path | str, at: datetime) -> dict[str, dict[str, Any]]:
    """The parts of the round as a rack's database last kept them, none later than a moment."""
    if not is_database(rack):
        return {}
    db = open_database(rack)
    try:
        with db.read() as connection:
            found = rows.answers_of_kind(connection, "round")
    finally:
        db.close()
    return {tank: rows.unpack(row.answer) for tank, row in found.items() if row.at <= at}


def _key(act: Mapping[str, Any]) -> tuple[str, str]:
    return act["act"], str(act["what"]).removesuffix("_ion")


def _noted(entries: Iterable[Entry], act: Mapping[str, Any], at: datetime) -> datetime | None:
    """When the act was first noted as left out since it was done last."""
    first = None
    for entry in sorted(entries, key=lambda e: e.at):
        if entry.at < at - MEMORY:
            continue
        if _does(entry, act):
            first = None
        elif entry.note == f"{LEFT_OUT}: {act['act']} {act['what']}".strip():
            first = first or entry.at
    return first


def _does(entry: Entry, act: Mapping[str, Any]) -> bool:
    """Whether an entry is the act carried out, by a tick or noted as it is."""
    kind, what = _key(act)
    if kind in AS_ENTRY:
        return entry.kind == AS_ENTRY[kind][0] and (entry.what == what or kind != "thin")
    if kind == "test":
        return entry.kind == "reading" and entry.what.removesuffix("_ion") == what
    if kind == "change_top_up":
        return (entry.kind, entry.what, entry.note) == ("setting", "top_up_water", what)
    return entry.method == METHOD and entry.note == f"done: {kind} {act['what']}".strip()


def _since(
    act: Mapping[str, Any], first: Mapping[str, Any], state: str, weeks: int
) -> str:
    """What has happened since an act was advised first."""
    said = f"Advised {weeks} week{'' if weeks == 1 else 's'} ago and not done."
    then, now = first["advised_amount"], act["amount"]
    if then is not None and now is not None:
        said += f" Then {short(then)} {act['unit']}, now {short(now)} {act['unit']}."
    if first["advised_state"]:
        was = first["advised_state"]
        now_is = f"The tank was '{was}' then and is '{state}' now."
        said += f" The tank is still '{state}'." if was == state else f" {now_is}"
    return said
