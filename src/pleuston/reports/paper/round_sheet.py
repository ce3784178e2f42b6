"""The week's round on paper: the whole rack on the first page, reasons after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from pleuston.planning.incidents import cautions
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import READINGS, day_of, phrase, pretty, short_day, short_name

STATES: Mapping[str, tuple[str, str]] = {
    "well": ("●", "well"), "watch": ("◐", "watch"),
    "act": ("▲", "act"), "danger": ("■", "danger"),
    "unknown": ("○", "not worked out"),
}  # fmt: skip
FIRST = ("danger", "act")
"""States that are marked by the order in which to see to them."""
TICKS = ("gasping", "film", "cloudy", "algae", "dead")
MARKS = ("Cover, %", "Harvest, g", "Top-up, L", "Pen", "Water, °C")
PAIRED = MARKS[0]
"""Written twice: before and after thinning."""
MARK_COUNT = 5
"""A tank is asked for five marks at most: a round has about a minute for each tank."""
IDLE = "Nothing to do: leave it alone."
PUT_OFF = "What there is to do is left for next week: see overleaf."
UNKNOWN = "Not worked out yet: look at it yourself, and print the sheet again later."
NO_TICK = ("no_new_animals",)


def round_sheet(
    answer: Mapping[str, Any], order: Sequence[str], rack: str, made: datetime
) -> Sheet:
    """The sheet of a round; order: the tanks as one walks along them."""
    place = {name: number for number, name in enumerate(order)}
    urgent = [t for t in answer["tanks"] if t["state"] in FIRST]
    urgent.sort(key=lambda t: FIRST.index(t["state"]))
    ranks = {part["tank"]: number for number, part in enumerate(urgent, 1)}
    walked = sorted(answer["tanks"], key=lambda t: (place.get(t["tank"], len(place)), t["tank"]))
    left = sorted(answer.get("left", ()), key=lambda a: place.get(a["tank"], len(place)))
    waits = {act["tank"] for act in left}
    data = {
        "heading": "Round",
        "rack": short_name(rack or "Rack"),
        "day": day_of(made),
        "minutes": f"{answer['minutes']:.0f}",
        "to_do": str(sum(bool(t["acts"]) for t in walked)),
        "ticks": list(TICKS),
        "tanks": [_tank(p, ranks.get(p["tank"]), p["tank"] in waits) for p in walked],
        "left": [{"tank": short_name(act["tank"]), **_act(act)} for act in left],
        "left_said": _left_said(len(left)),
        "alone": _alone(walked, waits),
        "cautions": _cautions(walked),
        "sign": "A forecast is no substitute for looking: if animals suffer, change water.",
    }
    return sheet_of("round", f"Round of {data['rack']}", made, data)


def _left_said(count: int) -> str:
    """How many acts wait for next week; empty where none does."""
    if not count:
        return ""
    return (f"{count} {'act is' if count == 1 else 'acts are'} left for next week: more than your "
            "minutes hold. What guards animals is never left.")  # fmt: skip


def _alone(walked: Sequence[Mapping[str, Any]], waits: set[str]) -> str:
    """The tanks that are best left alone, in one line; empty where none is."""
    names = [
        short_name(p["tank"]) for p in walked
        if not p["acts"] and p["state"] != "unknown" and p["tank"] not in waits
    ]  # fmt: skip
    return f"Left alone this week: {', '.join(names)}." if names else ""


def _idle(part: Mapping[str, Any], waits: bool) -> str:
    """What stands where a tank has no act to do."""
    if part["acts"]:
        return ""
    return UNKNOWN if part["state"] == "unknown" else PUT_OFF if waits else IDLE


def _tank(part: Mapping[str, Any], rank: int | None, waits: bool) -> dict[str, Any]:
    icon, word = STATES.get(part["state"], STATES["unknown"])
    return {
        "name": short_name(part["tank"]),
        "icon": icon,
        "state": word,
        "rank": "" if rank is None else str(rank),
        "minutes": f"{part['minutes']:.0f} min" if part["minutes"] >= 1 else "under 1 min",
        "acts": [_act(act) for act in part["acts"]],
        "idle": _idle(part, waits),
        "lines": _lines(part["acts"]),
        "aside": " · ".join(_asides(part)),
        "marks": [{"label": m, "pair": m == PAIRED} for m in [*marks_of(part["acts"]), "Note"]],
    }


def _lines(acts: Sequence[Mapping[str, Any]]) -> list[str]:
    """What gets a box to tick: each act one line, tests together where the first one stands."""
    tests = [pretty(phrase(a)).removeprefix("Test ") for a in acts if a["act"] == "test"]
    together = f"Test {', '.join(dict.fromkeys(tests))}"
    said = [
        together if a["act"] == "test" else pretty(phrase(a))
        for a in acts if a["act"] not in NO_TICK
    ]  # fmt: skip
    return list(dict.fromkeys(said))


def _asides(part: Mapping[str, Any]) -> list[str]:
    """What holds for the whole week, the gravest reason with its chance, and a stale date."""
    said = [pretty(phrase(a)) for a in part["acts"] if a["act"] in NO_TICK]
    said += [f"{b['word']} ({b['chance']:.0%})" for b in part["because"][:1]]
    if part.get("stale") and part.get("at") is not None:
        said.append(f"worked out on {short_day(part['at'])}")
    return said


def _act(act: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "say": pretty(phrase(act)),
        "reason": pretty(act["reason"]),
        "skipped": pretty(act["if_skipped"]),
        "confidence": act["confidence"],
        "since": pretty(act.get("since") or ""),
    }


def marks_of(acts: Sequence[Mapping[str, Any]]) -> list[str]:
    """The five marks of a tank: this week's tests first, then what every week asks.

    >>> marks_of([{"act": "test", "what": "nitrite"}])[:2]
    ['Nitrite', 'Cover, %']
    """
    tests = [a["what"] for a in acts if a["act"] == "test" and a["what"] in READINGS]
    asked = [READINGS[what].split(",")[0] for what in tests][:3]
    return [*dict.fromkeys(asked), *MARKS][:MARK_COUNT]


def _cautions(parts: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    """The cautions of all acts of the round, each once, and those that always hold."""
    found: dict[str, str] = {}
    for part in parts:
        for act in part["acts"]:
            if act["caution"]:
                found.setdefault(act["caution"], act["act"])
    titles = {"water_change": "Water change", "thin": "Surplus plants", "dose": "Doses",
              "test": "Test kits", "stir_surface": "Moving the surface",
              "remove_dead": "Dead animals"}  # fmt: skip
    said = [
        {"title": titles.get(act, act.replace("_", " ").capitalize()), "text": text}
        for text, act in found.items()
    ]
    always = [cautions()[name] for name in ("mains", "siphon", "method")]
    if "water_change" in found.values():
        always = [c for c in always if c.name != "siphon"]
    return [*({"title": c.title, "text": c.text} for c in always), *said]


