"""What a chart draws, shaped once for picture, table and sentence alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from pleuston.base.errors import UnknownNameError
from pleuston.records.near import near_names
from pleuston.web import words
from pleuston.web.words import Units

BANDS = ("p02.5", "p10", "p25", "p50", "p75", "p90", "p97.5")
SEVERITIES = ("watch", "act", "danger")


def fan(
    answer: Mapping[str, Any], quantity: str, read: Mapping[str, Sequence[Mapping[str, Any]]],
    units: Units,
) -> dict[str, Any]:  # fmt: skip
    """Shape one quantity: times [s since 1970], bands, readings as intervals, limits, sentence.

    read: readings by the quantity they are shown under (services/chart_readings.py).
    """
    found = answer["quantities"][quantity]
    unit = found["unit"]

    def shown(value: float | None) -> float | None:
        return None if value is None else units.convert(value, unit)

    times = [datetime.fromisoformat(t) for t in found["times"]]
    limits = [
        {
            "value": shown(c["value"]), "word": words.sentence(c["word"]), "side": c["side"],
            "severity": c["severity"], "chance": c.get("chance", 0.0),
            "first": c.get("first_day_p5"), "source": c["source"], "who": c["who"],
        }
        for c in answer.get("crossings") or answer.get("limits", ())
        if c["quantity"] == quantity
    ]  # fmt: skip
    data: dict[str, Any] = {
        "quantity": quantity,
        "title": words.quantity(quantity),
        "unit": words.unit_shown(units.unit(unit)),
        "t": [t.timestamp() for t in times],
        "bands": {band: [shown(v) for v in found[band]] for band in BANDS},
        "readings": [
            [datetime.fromisoformat(r["at"]).timestamp(), shown(r["low"]), shown(r["high"])]
            for r in read.get(quantity, ())
        ],
        "limits": limits,
        "nights": [
            [datetime.fromisoformat(a).timestamp(), datetime.fromisoformat(b).timestamp()]
            for a, b in answer.get("dark", ())
        ],
    }
    return {**data, "sentence": sentence(data, times)}


def sentence(data: Mapping[str, Any], times: Sequence[datetime]) -> str:
    """Say level, trend and the first day a limit may be crossed."""
    first = {k: v[0] for k, v in data["bands"].items()}
    last = {k: v[-1] for k, v in data["bands"].items()}
    move, width = last["p50"] - first["p50"], first["p90"] - first["p10"]
    trend = "stays about there" if abs(move) < 0.25 * width else "rises" if move > 0 else "falls"
    unit = f" {data['unit']}" if data["unit"] else ""
    step = times[1] - times[0] if len(times) > 1 else timedelta(days=1)
    days = max(1, round((times[-1] - times[0] + step) / timedelta(days=1)))
    text = (
        f"{data['title']} is {words.number(first['p10'])} to {words.number(first['p90'])}{unit} "
        f"at first and {trend}: {words.number(last['p10'])} to {words.number(last['p90'])}{unit} "
        f"at the end of {words.plural(days, 'day')} (80 % range)."
    )
    crossed = [c for c in data["limits"] if c["first"] is not None]
    worst = max(crossed, key=lambda c: SEVERITIES.index(c["severity"]), default=None)
    if worst is None:
        return text
    chance = "a certainty" if worst["chance"] >= 0.995 else f"{100 * worst['chance']:.0f} % likely"
    first_day = f"at the earliest on day {worst['first']}"
    return f"{text} {worst['word']} is {chance} within that time, {first_day}."


def flows(ledger: Mapping[str, Any]) -> dict[str, Any]:
    """Shape a ledger for its bars and its flow picture: what came in, went out, was stored."""
    gains = {k: v for k, v in ledger["stored"].items() if v > 0}
    losses = {k: -v for k, v in ledger["stored"].items() if v < 0}
    left = [
        {"name": _place(k), "amount": v, "from": "in"}
        for k, v in sorted(ledger["in"].items(), key=lambda kv: -kv[1])
        if v > 0
    ] + [{"name": f"{_place(k)} gave up", "amount": v, "from": "store"} for k, v in losses.items()]
    right = [
        {"name": _place(k), "amount": v, "to": "out"}
        for k, v in sorted(ledger["out"].items(), key=lambda kv: -kv[1])
        if v > 0
    ] + [{"name": f"{_place(k)} took up", "amount": v, "to": "store"} for k, v in gains.items()]
    most = max((item["amount"] for item in (*left, *right)), default=0.0)
    return {"left": left, "right": right, "most": most, "unit": ledger["unit"]}


def _place(name: str) -> str:
    return words.sentence(name.replace("_", " "))


def must_have(answer: Mapping[str, Any], quantity: str) -> None:
    """Refuse a quantity that an outlook does not hold."""
    if quantity not in answer["quantities"]:
        raise UnknownNameError(
            what=f"the outlook has no quantity {quantity!r}",
            where="outlook",
            remedy=near_names(quantity, list(answer["quantities"])),
        )
