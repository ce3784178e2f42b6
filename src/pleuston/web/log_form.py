"""Forms of the quick log read as rows of entries.

The module that sends forms from the phone (`static/rows.js`) reads them by the same rules.
A field `name.2` belongs to the third row; a row without an amount was left empty and is
none, unless its field `bare` says that it needs no amount. The amount is, whichever is there:

- `preset`  what|low|high|unit, of a button;
- `pair`    low|high, of a kit's step or a choice; an end may be empty;
- `gross` less `container`, both as the scale shows;
- `value` give or take `half`, of an instrument, within `least` and `most`;
- `amount` times `times`, an exact amount.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta

from pleuston.base.errors import InputError
from pleuston.records.given import converted, is_number
from pleuston.store.exchange_problems import ImportRefused, Problem

Cells = dict[str, str]
AMOUNTS = ("preset", "pair", "gross", "value", "amount")
PLAIN = ("kind", "what", "unit", "method", "note")
MOST_ROWS = 400


def rows_of_form(form: Mapping[str, str], now: datetime) -> list[Cells]:
    """Give the rows of entries that a form holds; what can't be read is refused."""
    groups: dict[str, Cells] = {}
    for key, value in form.items():
        name, _, group = key.partition(".")
        groups.setdefault(group, {})[name] = value
    if len(groups) > MOST_ROWS:
        raise InputError("the form has too many rows", "log", "send fewer at once")
    shared = groups.get("", {})
    problems: list[Problem] = []
    rows: list[Cells] = []
    for line, fields in enumerate(groups.values(), start=1):
        if "kind" not in fields:
            continue
        row = _row({**fields, "when": shared.get("when", "")}, shared, now, line, problems)
        if row is not None:
            rows.append(row)
    if problems:
        raise ImportRefused("log", problems, failed="not noted")
    if not rows:
        raise InputError("nothing was filled in", "log", "fill in what you measured or did")
    return rows


def _row(
    group: Cells, shared: Cells, now: datetime, line: int, problems: list[Problem]
) -> Cells | None:
    try:
        amount = _amount(group)
        at = _time(group, shared, now)
    except ValueError as fault:
        column = str(fault.args[1]) if len(fault.args) > 1 else "low"
        remedy = "say when it was" if column == "at" else "write it as 0.5"
        problems.append(Problem("entry", line, column, str(fault.args[0]), remedy))
        return None
    if amount is None and not group.get("bare"):
        return None
    row = {name: group.get(name, "").strip() for name in PLAIN}
    row.update(amount or {"unit": ""})
    row["id"] = group.get("entry_id", "").strip() or str(uuid.uuid4())
    row["at"] = at
    wide = group.get("scope", "") == "rack"
    row["tank"] = "" if wide else group.get("tank", shared.get("tank", ""))
    return row


def _amount(group: Cells) -> Cells | None:
    """Low and high of a row (and what a button says); None where nothing was filled in."""
    if text := group.get("preset", ""):
        what, low, high, unit, *_ = [*text.rsplit("|", 3), "", "", ""]
        return {"what": what, "low": low, "high": high, "unit": unit}
    if text := group.get("pair", ""):
        low, _, high = text.partition("|")
        return {"low": number(low), "high": number(high)}
    if group.get("gross", "").strip():
        gross, container = number(group["gross"]), number(group.get("container", "")) or "0"
        net = float(gross) - float(container)
        if net < 0:
            raise ValueError("the container weighs more than all of it")
        text = converted(net).text
        method = f"{group.get('method', '').strip()}, container {container} {group.get('unit', '')}"
        return {"low": text, "high": text, "method": method.strip(" ,")}
    if group.get("value", "").strip():
        value = number(group["value"])
        half = float(number(group.get("half", "")) or 0.0)
        if not half:
            return {"low": value, "high": value}
        return _about(float(value), half, group)
    if group.get("amount", "").strip():
        value = number(group["amount"])
        times = float(number(group.get("times", "")) or 1.0)
        text = value if times == 1.0 else converted(float(value) * times).text
        return {"low": text, "high": text}
    return None


def _about(value: float, half: float, group: Cells) -> Cells:
    """Give or take half a step, within what is possible where the value itself is."""
    low, high = value - half, value + half
    least, most = float(group.get("least", "") or -1e9), float(group.get("most", "") or 1e9)
    if least <= value <= most:
        low, high = max(low, least), min(high, most)
    return {"low": converted(low).text, "high": converted(high).text}


def number(text: str) -> str:
    """The text of a number, with a decimal point; empty stays empty.

    >>> number(" 0,5 "), number("")
    ('0.5', '')
    """
    found = text.strip().replace(",", ".")
    if found and not is_number(found):
        raise ValueError(f"{text.strip()!r} is not a number")
    return found


def _time(group: Cells, shared: Cells, now: datetime) -> str:
    """When it happened, as the record writes it; empty for now."""
    when = group.get("when", "")
    text = shared.get("at_other", "").strip() if when == "other" else when
    if when == "other" and not text:
        raise ValueError("the time is missing", "at")
    minutes = int(group.get("minutes", "") or 0)
    if not minutes:
        return text
    if not text:
        return (now + timedelta(minutes=minutes)).isoformat(timespec="seconds")
    try:
        moved = datetime.fromisoformat(text) + timedelta(minutes=minutes)
    except ValueError:
        raise ValueError(f"{text!r} is not a time", "at") from None
    return moved.isoformat()
