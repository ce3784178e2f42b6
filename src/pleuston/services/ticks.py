"""Acts of the round carried out or left out: a tick is an entry made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from pleuston.records.record import Entry

METHOD = "round"
"""What the method of an entry says that was made by a tick."""
AS_ENTRY = {
    "thin": ("harvest", "g"), "top_up": ("top_up", "L"), "water_change": ("water_change", "L"),
    "dose": ("dose", "mg"),
}  # fmt: skip
"""Acts whose tick is an entry of the amount itself -> its kind and unit."""
LEFT_OUT = "left out"


def asks_amount(act: str) -> bool:
    """Say whether a tick of this act needs an amount."""
    return act in AS_ENTRY


def tick_row(
    tank: str, act: str, what: str, amount: float | None, entry_id: str, now: datetime
) -> dict[str, Any]:
    """Give the entry that says an act was carried out.

    amount: in the unit of the act (g, L or mg), what was really done; acts without one
    become a setting or a note.
    """
    row: dict[str, Any] = {
        "id": entry_id, "at": now.isoformat(), "tank": tank, "kind": "note", "what": "",
        "low": None, "high": None, "unit": "", "by": "", "method": METHOD,
        "note": f"done: {act} {what}".strip(),
    }  # fmt: skip
    if act in AS_ENTRY:
        kind, unit = AS_ENTRY[act]
        row.update(kind=kind, what=what, low=amount, high=amount, unit=unit, note="")
    elif act == "change_top_up":
        row.update(kind="setting", what="top_up_water", note=what)
    return row


def skip_row(tank: str, act: str, what: str, entry_id: str, now: datetime) -> dict[str, Any]:
    """Give the entry that says an act was left out this week."""
    row = tick_row(tank, "note", "", None, entry_id, now)
    return {**row, "note": f"{LEFT_OUT}: {act} {what}".strip()}


def ticked(
    entries: Iterable[Entry], since: Mapping[str, datetime]
) -> dict[tuple[str, str, str], str]:
    """Give what was ticked since each tank's round: (tank, act, what) -> `done` or `left out`."""
    found: dict[tuple[str, str, str], str] = {}
    acts = {kind: act for act, (kind, _) in AS_ENTRY.items()}
    for entry in entries:
        if entry.method != METHOD or entry.tank not in since or entry.at < since[entry.tank]:
            continue
        if entry.kind in acts:
            found[entry.tank, acts[entry.kind], entry.what] = "done"
        elif entry.kind == "setting" and entry.what == "top_up_water":
            found[entry.tank, "change_top_up", entry.note] = "done"
        else:
            word, _, rest = entry.note.partition(": ")
            act, _, what = rest.partition(" ")
            found[entry.tank, act, what] = word
    return found


def mark(made: Mapping[str, Any], done: Mapping[tuple[str, str, str], str]) -> list[dict[str, Any]]:
    """Give the tanks of a round with each act's tick beside it."""
    return [
        {
            **tank,
            "acts": [
                {**act, "tick": done.get((tank["tank"], act["act"], act["what"]), "")}
                for act in tank["acts"]
            ],
        }
        for tank in made["tanks"]
    ]
