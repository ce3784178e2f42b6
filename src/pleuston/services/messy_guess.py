"""Guess what the columns of a kept table are: a mapping to look at and put right."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pleuston.base.errors import UnitError
from pleuston.base.units import normalise
from pleuston.records.kinds import KINDS, READINGS
from pleuston.services import messy_words as words
from pleuston.services.messy_cells import CellError, amount, date_order, day_and_clock, is_none
from pleuston.store.sheets import Sheet, SheetLine

SEARCHED = 15
"""Lines in which the row of names is looked for."""
LOOKED_AT = 200
_FORM = re.compile(r"\((?:[dmyhs]{1,4}[\s:/.\-]*)+\)", re.IGNORECASE)
"""The form of a day or time, as in `Date (MM/DD/YYYY)`."""


def guess(sheet: Sheet, tanks: Sequence[str], waters: Mapping[str, str]) -> dict[str, Any]:
    """A mapping for a table; tanks: names in the rack; waters: top-up water by tank."""
    place = header_place(sheet)
    header = sheet.lines[place] if place >= 0 else SheetLine(0, ())
    body = sheet.lines[place + 1 :][:LOOKED_AT]
    names = [
        header.cells[i] if i < len(header.cells) and header.cells[i] else f"column {i + 1}"
        for i in range(sheet.width)
    ]
    cells = [[line.cells[i] if i < len(line.cells) else "" for line in body]
             for i in range(sheet.width)]  # fmt: skip
    tank = _the_tank(sheet.name, tanks)
    columns = [
        _column(name, found, sheet.decimal) for name, found in zip(names, cells, strict=True)
    ]
    _only_once(columns)
    if any(column["as"] == "what" for column in columns):
        for column in columns:
            if column["as"] == "amount" and column.get("kind") != "reading":
                column.update({"as": "ignore", "sure": False})
    _days(columns, cells)
    days = next((i for i, column in enumerate(columns) if column["as"] == "at"), None)
    told = [] if days is None else [c for c in cells[days] if c]
    order, sure = date_order(told)
    if not sure and days is not None and "mm/dd" in names[days].casefold():
        order, sure = "mdy", True
    for column in columns:
        if column["as"] == "amount" and column.get("what") == "":
            column["what"] = waters.get(tank, "")
    mapping = {
        "header": header.number, "delimiter": sheet.delimiter, "decimal": sheet.decimal,
        "sheet": "", "date_order": order, "date_order_sure": sure, "tank": tank, "time": "",
        "kind": "" if any(c["as"] == "kind" for c in columns) else "reading",
        "columns": columns, "words": {},
    }  # fmt: skip
    return {**mapping, "words": _own_words(columns, cells, tanks)}


def header_place(sheet: Sheet) -> int:
    """The line that names the columns: words that are known, and no numbers; -1 for none."""
    best, score = -1, 0.0
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        filled = [cell for cell in line.cells if cell]
        known = sum(_role(cell) is not None for cell in filled)
        numbers = sum(_is_number(cell, sheet.decimal) or _is_day(cell) for cell in filled)
        here = known * 2.0 + len(filled) * 0.1 - numbers * 3.0
        if len(filled) > 1 and known and here > score:
            best, score = place, here
    return best


def _is_number(cell: str, decimal: str) -> bool:
    try:
        amount(cell, decimal)
    except CellError:
        return False
    return True


def _is_day(cell: str) -> bool:
    for order in ("dmy", "mdy"):
        try:
            day_and_clock(cell, order)
        except CellError:
            continue
        return True
    return False


def _role(header: str) -> tuple[str, str] | None:
    """What a header says: (`role`, name), (`reading`, name) or (`kind`, name); None if nothing."""
    header = _FORM.sub("", header)
    whole = words.plain(header)
    name, _ = words.parted(header)
    for text in dict.fromkeys((whole, name)):
        bare = text.strip(" :.#*")
        if bare in words.ROLE_OF:
            return "role", words.ROLE_OF[bare]
        if bare in words.READING_OF:
            return "reading", words.READING_OF[bare]
        if bare in words.KIND_OF:
            return "kind", words.KIND_OF[bare]
        if bare in READINGS:
            return "reading", bare
        if bare.replace(" ", "_") in READINGS:
            return "reading", bare.replace(" ", "_")
    return None


def _column(header: str, cells: Sequence[str], decimal: str) -> dict[str, Any]:
    found = _role(header)
    unit = words.parted(header)[1]
    column: dict[str, Any] = {"column": header, "as": "ignore", "sure": True}
    if found is None:
        if not any(cells):
            return column
        return {**column, "sure": False, "why": "nothing is known by this name"}
    if found[0] == "role":
        return {**column, "as": found[1]}
    if found[0] == "kind":
        kind = KINDS[found[1]]
        usual = {"water_change": "L", "top_up": "L", "feed": "g", "harvest": "g"}.get(found[1], "")
        what = "" if kind.what in ("water", "feed", "plant", "animal", "sign") else found[1]
        return {
            **column, "as": "amount", "kind": found[1], "what": what, "unit": unit or usual,
            "sure": False, "why": f"say which {kind.what} is meant",
        }  # fmt: skip
    return {**column, "as": "amount", "kind": "reading", **_reading(found[1], unit, cells, decimal)}


def _reading(name: str, unit: str, cells: Sequence[str], decimal: str) -> dict[str, Any]:
    """The reading and unit of a column, with what is doubtful about them."""
    why = words.UNSURE_OF.get(name, "")
    if name in words.AS_NITROGEN and re.search(r"(?:\bas\s+N|-N)\b", unit):
        name, why = words.AS_NITROGEN[name], ""
    if name == "oxygen" and unit.strip().startswith("%"):
        name, unit = "oxygen_pct", "%"
    if name == "pen_ppm" and unit and not unit.casefold().startswith("ppm"):
        return {"as": "ignore", "what": name, "unit": unit, "sure": False,
                "why": f"solids in {unit} are worked out by the instrument, not read"}  # fmt: skip
    if name == "ph":
        return {"what": name, "unit": "", "sure": True} if not unit else {
            "as": "ignore", "what": name, "unit": unit, "sure": False,
            "why": f"pH has no unit, and this has {unit}",
        }  # fmt: skip
    if not unit:
        unit, told = _usual_unit(name, cells, decimal)
        why = "; ".join(part for part in (why, told) if part)
    return {"what": name, "unit": unit, "sure": not why} | ({"why": why} if why else {})


def _usual_unit(name: str, cells: Sequence[str], decimal: str) -> tuple[str, str]:
    """The unit of numbers that have none, by their size; and what is doubtful about it."""
    numbers = []
    for cell in cells:
        if not is_none(cell):
            try:
                typed = amount(cell, decimal)
            except CellError:
                continue
            if typed.unit:
                return "", ""
            numbers.append(float(typed.high or typed.low))
    top = max(numbers, default=0.0)
    own = READINGS[name].unit
    told = f"no unit is given: taken as {own}"
    if name in ("kh", "gh"):
        if top > 40.0:
            return "mg/L CaCO3", "no unit is given: taken as mg/L CaCO3 by the size of the numbers"
        return "dH", "" if top else told
    if name in ("temperature", "room_temperature") and top > 45.0:
        return "°F", "no unit is given: taken as °F by the size of the numbers"
    if name == "ec25" and 0.0 < top < 10.0:
        return "mS/cm", "no unit is given: taken as mS/cm by the size of the numbers"
    return own, told if own else ""


def _only_once(columns: list[dict[str, Any]]) -> None:
    """Let each part of an entry come from one column: the first of those that could be it."""
    seen: set[str] = set()
    for column in columns:
        role = column["as"]
        if role == "amount":
            role = f"amount {column['kind']} {column['what']} {column['unit']}"
        if role != "ignore" and role in seen:
            column.update({"as": "ignore", "sure": False, "why": "there is such a column already"})
        seen.add(role)


def _days(columns: list[dict[str, Any]], cells: Sequence[Sequence[str]]) -> None:
    """Where no column is named as the day, take the first one that holds days."""
    if any(column["as"] == "at" for column in columns):
        return
    for column, found in zip(columns, cells, strict=True):
        told = [cell for cell in found if cell]
        if told and sum(map(_is_day, told)) > 0.8 * len(told):
            column.update({"as": "at", "sure": False, "why": "it holds days"})
            return


def _the_tank(name: str, tanks: Sequence[str]) -> str:
    """The one tank there is, or the one that the file is named after; else none."""
    if len(tanks) == 1:
        return tanks[0]
    found = [tank for tank in tanks if words.plain(tank) in words.plain(name)]
    return found[0] if len(found) == 1 else ""


def _own_words(
    columns: Sequence[Mapping[str, Any]], cells: Sequence[Sequence[str]], tanks: Sequence[str]
) -> dict[str, dict[str, str]]:
    """Words of the table's own that stand for names of the record."""
    found: dict[str, dict[str, str]] = {}
    for column, told in zip(columns, cells, strict=True):
        role = column["as"]
        if role not in ("tank", "what", "kind", "unit"):
            continue
        for cell in dict.fromkeys(told):
            name = _own_word(role, cell, tanks)
            if cell and name and name != cell:
                found.setdefault(role, {})[cell] = name
    return found


def _own_word(role: str, cell: str, tanks: Sequence[str]) -> str:
    plain = words.plain(cell)
    if role == "tank":
        same = [tank for tank in tanks if words.plain(tank).replace(" ", "") ==
                _after_tank(plain).replace(" ", "")]  # fmt: skip
        return same[0] if len(same) == 1 else ""
    if role == "what":
        return cell if plain in READINGS else words.READING_OF.get(words.parted(cell)[0], "")
    if role == "kind":
        return cell if plain in KINDS else {"test": "reading", "reading": "reading"}.get(
            plain, words.KIND_OF.get(plain, "")
        )  # fmt: skip
    try:
        return cell if not cell or normalise(cell) else ""
    except UnitError:
        return "°C" if plain in ("°c", "c") else ""


def _after_tank(text: str) -> str:
    return re.sub(r"^(?:tank|aquarium|becken)\s+(?=\S)", "", text)
