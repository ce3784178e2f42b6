"""An entry from a few words, with the usual unit where none is typed."""

from __future__ import annotations

from typing import Any

from pleuston.base.errors import InputError
from pleuston.records.kinds import KINDS, LIMIT_KINDS, LIMITED, READINGS, SETTINGS
from pleuston.services.messy_cells import CellError, amount


def usual_row(tank: str, kind: str, what: str, typed: str, unit: str) -> dict[str, Any]:
    """The row of an entry; typed: 5, 10-20, <0.25, >80, or the word of a setting.

    >>> usual_row("Fern", "reading", "nitrate_ion", "10-20", "")["unit"]
    'mg/L'
    """
    row: dict[str, Any] = {"tank": tank, "kind": kind, "what": what, "unit": unit}
    setting = SETTINGS.get(what) if kind == "setting" else None
    if setting is not None and not setting.is_number:
        return {**row, "note": typed}
    if not typed:
        return row
    try:
        found = amount(typed, ".")
    except CellError as fault:
        raise InputError(fault.what, "amount", fault.remedy) from None
    given = unit or found.unit or _usual(kind, what)
    return {**row, "low": found.low, "high": found.high, "unit": given}


def _usual(kind: str, what: str) -> str:
    if kind == "reading" and what in READINGS:
        return READINGS[what].unit
    if kind in LIMIT_KINDS and what in LIMITED:
        return LIMITED[what].unit
    return KINDS[kind].unit if kind in KINDS else ""
