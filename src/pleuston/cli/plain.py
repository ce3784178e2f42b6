"""Each kind of answer as plain text."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pleuston.cli.layout import Page, between, number, words
from pleuston.cli.plain_keeping import LAYOUTS

Answer = Any


def page_of(answer: Answer, kind: str) -> Page:
    """Lay an answer out; a list is one answer after another."""
    page = Page()
    lay = KINDS.get(kind, _other)
    for one in answer if isinstance(answer, list) else [answer]:
        lay(one, page)
    if not page.blocks:
        page.line("Nothing to show.")
    return page


def _demo(answer: Answer, page: Page) -> None:
    folder = answer["written"]
    page.line(f"Demo rack written to {folder}: nine invented tanks over twenty weeks.")
    page.line(f"Next: pleuston round {folder} --at 2026-07-20")


def _contents(answer: Answer) -> str:
    return (
        f"{answer['tanks']} tanks, {answer['entries']} entries, {answer['waters']} analyses of "
        f"waters, {answer['blends']} blends, {answer['feeds']} feeds, {answer['soils']} soils"
    )


def _import(answer: Answer, page: Page) -> None:
    page.line(f"{answer['rack'] or answer['source']}: {_contents(answer)}")
    page.table(
        ("taken in another form", "given", "taken as"),
        [(c["where"], c["given"], c["taken"]) for c in answer["changes"]],
    )
    where = answer["written"]
    page.line("Nothing is wrong; nothing was written." if where is None else f"Written to {where}.")


def _export(answer: Answer, page: Page) -> None:
    page.line(f"{answer['rack'] or 'Rack'}: {_contents(answer)}")
    page.line(f"Written to {answer['written']}, described in {answer['description']}.")


def _tanks(answer: Answer, page: Page) -> None:
    page.line(f"{answer['rack'] or 'Rack'} at {answer['at']}: {len(answer['tanks'])} tanks")
    page.line()
    rows = []
    for tank in answer["tanks"]:
        animals = ", ".join(f"{number(n)} {name}" for name, n in tank["animals"].items())
        floating = ", ".join(plant["species"] for plant in tank["floating_plants"])
        last = tank["last_reading"]
        seen = "none"
        if last:
            amount = between(last["low"], last["high"])
            unit = f" {last['unit']}" if last["unit"] else ""
            seen = f"{words(last['what'])} {amount}{unit}, {number(last['age_days'], 2)} d ago"
        rows.append(
            (tank["tank"], tank["net_l"], tank["surface_m2"], tank["lid"], floating or "none",
             animals or "none", seen, str(tank["entries"]))
        )  # fmt: skip
    head = ("tank", "L", "m2", "lid", "floating plants", "animals", "last reading", "entries")
    page.table(head, rows)


def _outlook(answer: Answer, page: Page) -> None:
    page.heading(f"{answer['tank']}: outlook from {answer['at']}")
    rows = []
    for name, data in answer["quantities"].items():
        if not data.get("times"):
            continue
        last = len(data["times"]) - 1
        rows.append(
            (words(name), data["unit"], data["p50"][0], _span(data, min(7, last)),
             data["p50"][last], _span(data, last))
        )  # fmt: skip
    head = ("quantity", "unit", "first", "after a week (p10 to p90)", "last", "last (p10 to p90)")
    page.table(head, rows)
    _crossings(answer.get("crossings", []), page)


def _span(data: Mapping[str, Any], at: int) -> str:
    return between(data["p10"][at], data["p90"][at])


def _crossings(crossings: list[Any], page: Page) -> None:
    page.line()
    if not crossings:
        page.line("No limit is likely to be crossed.")
        return
    rows = [
        (_limit(c), words(c["quantity"]), c["value"], f"{100 * (c['chance'] or 0.0):.0f} %",
         c["first_day_p50"], c["first_day_p5"])
        for c in crossings
    ]  # fmt: skip
    head = ("limit", "quantity", "at", "chance", "likely day", "earliest day")
    page.table(head, rows)


def _limit(crossing: Mapping[str, Any]) -> str:
    limit = crossing["limit"]
    return str(limit.get("word", limit)) if isinstance(limit, Mapping) else words(str(limit))


def _ledger(answer: Answer, page: Page) -> None:
    tank = answer.get("tank", "")
    title = f"{answer['element']} [{answer['unit']}]"
    page.heading(f"{tank}: {title}" if tank else title)
    rows = []
    for side in ("in", "out", "stored"):
        for name, value in answer[side].items():
            rows.append((side, words(name), _amount(value)))
    page.table(("", "by", answer["unit"]), rows)
    low, high = answer["unexplained"]
    page.line(f"unexplained: {between(low, high)} {answer['unit']}")


def _amount(value: Any) -> str:
    """A number, a range of two, a middle with its range, or the names and values of a mapping."""
    if isinstance(value, list) and len(value) == 2:
        return between(*value)
    if isinstance(value, list):
        return ", ".join(_amount(item) for item in value)
    if isinstance(value, Mapping):
        if {"p10", "p50", "p90"} <= set(value):
            return f"{number(value['p50'])} ({between(value['p10'], value['p90'])})"
        return ", ".join(f"{words(str(k))} {_amount(v)}" for k, v in value.items())
    return number(value)


def _round(answer: Answer, page: Page) -> None:
    given = f" of {number(answer['minutes_given'])}" if "minutes_given" in answer else ""
    page.line(f"Round at {answer['at']}: about {number(answer['minutes'])}{given} minutes")
    for tank in answer["tanks"]:
        page.heading(f"{tank['tank']}: {tank['state']}")
        if not tank["acts"]:
            page.line("Leave it alone.")
        for act in tank["acts"]:
            page.line(_act(act))
            page.line(f"  why: {act['reason']}")
            if act.get("confidence") not in (None, ""):
                page.line(f"  how sure: {_sure(act['confidence'])}")
            for key, said in SAID_OF_ACTS.items():
                if act.get(key):
                    page.line(f"  {said}{act[key]}")
    if answer.get("left"):
        page.heading("Left for next week, for want of minutes")
        for act in answer["left"]:
            page.line(f"{_act(act)} ({act['tank']}): {act['if_skipped']}")


SAID_OF_ACTS = {
    "since": "since: ", "if_skipped": "if skipped: ", "binds": "binds: ",
    "would_change": "",
}  # fmt: skip
"""What else is told of an act, and how it begins."""


def _act(act: Mapping[str, Any]) -> str:
    parts = [words(act["act"])]
    if act.get("what"):
        parts.append(words(str(act["what"])))
    if act.get("amount") is not None:
        parts.append(f"{_amount(act['amount'])} {act.get('unit') or ''}".rstrip())
    return "* " + ": ".join([parts[0], ", ".join(parts[1:])] if parts[1:] else parts)


def _sure(value: Any) -> str:
    return f"{100 * value:.0f} %" if isinstance(value, int | float) else words(str(value))


def _water(answer: Answer, page: Page) -> None:
    since = f", from {answer['from']}" if answer["from"] else ""
    page.heading(f"{answer['water']} ({answer['kind']}{since})")
    for one in answer["findings"]:
        value = "" if one["value"] is None else f" {_amount(one['value'])}"
        unit = f" {one['unit']}" if one["unit"] not in ("", "1") and value else ""
        span = ""
        if one["low"] is not None or one["high"] is not None:
            open_end = one["low"] is None or one["high"] is None
            span = f" ({'good ' * open_end}{between(one['low'], one['high'])})"
        page.line(f"[{one['word']:^4}] {words(one['what'])}:{value}{unit}{span}")
        page.line(f"       {one['reason']} [{one['source']}]")


def _where(answer: Answer, page: Page) -> None:
    if answer["kind"] == "process":
        page.line(f"{words(answer['name'])} is {', '.join(m['name'] for m in answer['members'])}")
        for member in answer["members"]:
            _where(member, page)
        return
    page.heading(f"{answer['name']}: {answer['kind']}")
    page.pairs({
        "meaning": answer.get("meaning"),
        "symbol": answer.get("symbol"),
        "unit": answer.get("unit"),
        "place": answer.get("place"),
        "source": answer.get("source"),
        "changes": _joined(answer.get("coefficients")),
        "crosses": answer.get("crosses"),
        "inputs": ", ".join(answer.get("inputs") or ()),
        "used by": ", ".join(answer.get("used_by") or ()),
        "changed by": ", ".join(answer.get("changed_by") or ()),
        "holds": _joined(answer.get("holds")),
        "note": answer.get("note"),
    })  # fmt: skip
    _formula(answer, page)
    for part in answer.get("behind", []):
        page.line()
        page.line(f"{part['name']} [{part.get('unit', '')}], {part['place']}: {part['meaning']}")
        if part["source"]:
            page.line(f"  from {part['source']}")
        _formula(part, page)
    for part in answer.get("moves", []):
        page.line()
        page.line(f"{part['name']} [{part['unit']}], {part['place']}: {part['meaning']}")
        page.line(f"  changes {_joined(part['coefficients'])}")
        _formula(part, page)
    for limit in answer.get("limits", []):
        page.line(
            f"limit, {limit['severity']}: {limit['word']} {limit['bound']} "
            f"[{limit['source']}, {limit['where']}]"
        )


def _formula(part: Mapping[str, Any], page: Page) -> None:
    """The formula and the parameters in it."""
    if part.get("formula"):
        page.line()
        for line in part["formula"].splitlines():
            page.line(f"    {line}")
    if part.get("parameters"):
        page.line()
        _parameters(part, page)


def _joined(values: Mapping[str, Any] | None) -> str:
    return ", ".join(f"{name} {value}" for name, value in (values or {}).items())


def _table(answer: Answer, page: Page) -> None:
    page.line(f"Model {answer['model']} {answer['hash']}: {len(answer['rows'])} rows")
    page.line("Themes: " + ", ".join(answer["themes"]))
    theme = None
    for row in answer["rows"]:
        if row["theme"] != theme:
            theme = row["theme"]
            page.heading(theme)
        crosses = f", through {row['crosses']}" if row["crosses"] else ""
        page.line(f"{row['name']} [{row['unit']}{crosses}]: {row['meaning']}")
        page.line(f"    {_joined(row['coefficients'])}  [{row['source']}, {row['where']}]")


def _parameters(answer: Answer, page: Page) -> None:
    page.table(
        ("parameter", "value", "low", "high", "unit", "grade", "source", "where"),
        [
            (p["name"], p["value"], p["low"], p["high"], p["unit"], p["grade"], p["source"],
             p["where"])
            for p in answer["parameters"]
        ],
    )  # fmt: skip


def _other(answer: Answer, page: Page, depth: int = 0) -> None:
    """Any answer as names and values, inner ones set in."""
    pad = "  " * depth
    if not isinstance(answer, Mapping):
        page.line(pad + _amount(answer))
        return
    for name, value in answer.items():
        if isinstance(value, Mapping) and value:
            page.line(f"{pad}{words(name)}:")
            _other(value, page, depth + 1)
        elif isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
            page.line(f"{pad}{words(name)}:")
            for item in value:
                page.line(f"{pad}  - {_amount(item)}")
        else:
            page.line(f"{pad}{words(name)}: {_amount(value)}")


KINDS: dict[str, Callable[[Answer, Page], None]] = {
    "demo": _demo, "import": _import, "export": _export, "tanks": _tanks, "outlook": _outlook,
    "run": _outlook, "ledger": _ledger, "round": _round, "water": _water, "where": _where,
    "table": _table, "parameters": _parameters, "check": _other, **LAYOUTS,
}  # fmt: skip
