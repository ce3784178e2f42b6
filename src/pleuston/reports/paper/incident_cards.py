"""Incident cards: the first hour on one page of a small sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pleuston.base import references
from pleuston.planning.incidents import Incident, Step
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import number, short_name

SHARES = ((0.10, "a tenth"), (0.25, "a quarter"), (1 / 3, "a third"), (0.5, "half"))


def incident_cards(cards: Sequence[Incident], made: datetime, facts: Facts | None = None) -> Sheet:
    """Cards one to a page; with a tank, the litres of its shares stand on them."""
    title = "Incident cards" if len(cards) > 1 else cards[0].title
    if facts is not None:
        title += f" for {facts.name}"
    data = {"tank": None if facts is None else _tank(facts), "cards": [_card(c) for c in cards]}
    return sheet_of("incidents", title, made, data)


def _card(card: Incident) -> dict[str, Any]:
    marks: dict[tuple[str, str], int] = {}
    for step in card.steps:
        if step.source != "common_practice":
            marks.setdefault((step.source, step.grade), len(marks) + 1)
    return {
        "name": card.name,
        "title": card.title,
        "signs": list(card.signs),
        "first": [_step(s, marks) for s in card.first],
        "measure": [_step(s, marks) for s in card.measure],
        "never": [_step(s, marks) for s in card.never],
        "cautions": [{"title": c.title, "text": c.text} for c in card.cautions],
        "ends": card.ends,
        "sources": [
            {"mark": str(number), "text": cited(key), "grade": grade}
            for (key, grade), number in marks.items()
        ],
    }


def _step(step: Step, marks: dict[tuple[str, str], int]) -> dict[str, str]:
    found = marks.get((step.source, step.grade))
    return {"text": step.text, "mark": "" if found is None else str(found)}


def cited(key: str) -> str:
    """A source as it is named on a card: first author and year.

    >>> cited("emerson1975"), cited("kramer1982")
    ('Emerson and others 1975', 'Kramer and McClure 1982')
    """
    item = references.load()[key]
    names = item.authors.split("; " if ";" in item.authors else ", ")
    first, *others = (re.sub(r"(,| [A-Z]{1,3}$).*", "", name) for name in names)
    rest = f" and {others[0]}" if len(others) == 1 else " and others" if others else ""
    return f"{first}{rest} {item.year}"


def _tank(facts: Facts) -> dict[str, Any]:
    litres = float(facts.tank.net_l)
    shares = [f"{word} is {number(float(f'{share * litres:.2g}'))} L" for share, word in SHARES]
    return {
        "name": facts.name,
        "litres": f"{number(litres)} L of water: {', '.join(shares)}.",
        "water": short_name(facts.tank.top_up_water) if facts.tank.top_up_water else "",
    }
