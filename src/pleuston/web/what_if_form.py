"""The form of a what-if: up to four plans as simple fields, and what its answer shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from pleuston.planning.plan import KEYS, MOST_PLANS, Plan, plan_of, typed
from pleuston.records.kinds import FLOWS, LIDS
from pleuston.web import words
from pleuston.web.words import Units

FIRST = ("oxygen_dawn", "cover", "ammonia_nh3", "nitrate", "ec25", "temperature")
"""Quantities drawn at once; the others stand in the table."""
NUMBERS = (
    ("cover", "Thin to cover [%]", "100: no harvest"), ("feed", "Food [% of the usual]", ""),
    ("light", "Light [hours a day]", ""), ("water_change", "Water changed [L a week]", ""),
    ("holiday", "Days away", ""), ("holiday_feed", "Food while away [%]", ""),
    ("heat", "Room warmer by [°C]", "a heat wave"), ("heat_days", "for days", "7 unless given"),
    ("power_cut", "No power for [hours]", "from 8 in the evening"),
)  # fmt: skip
CHOICES = (("lid", "Lid", LIDS), ("flow", "Movement of the water", FLOWS))
TEXTS = (
    ("stock", "Animals in or out", "Poecilia wingei 4/Neocaridina davidi -3"),
    ("swap", "Floating species swapped", "Lemna minor>Pistia stratiotes"),
    ("harvest", "Harvest [g a week]", "Lemna minor 20"),
    ("soil", "New soil [kg]", "its name and kilograms"),
)  # fmt: skip
FORM_KEYS = (*(n[0] for n in NUMBERS), "lid", "flow", "top_up", "neighbour",
             *(t[0] for t in TEXTS))  # fmt: skip


def given_of(plans: Sequence[Plan]) -> list[dict[str, str]]:
    """The fields of the form for some plans, empty ones up to four."""
    made = [{"name": p.name, **typed(p)} for p in plans]
    return [*made, *({} for _ in range(MOST_PLANS - len(made)))]


def given_in(form: Mapping[str, str]) -> list[dict[str, str]]:
    """What was typed, plan by plan."""
    return [
        {k: form.get(f"{k}{i}", "").strip()[:200] for k in ("name", *FORM_KEYS)}
        for i in range(1, MOST_PLANS + 1)
    ]


def plans_in(given: Sequence[Mapping[str, str]]) -> list[Plan]:
    """The plans that were typed; those without any change are left out."""
    plans = []
    for i, fields in enumerate(given, start=1):
        pairs = [
            (k, v.replace(",", ".") if k in _NUMERIC else v)
            for k in KEYS for v in [fields.get(k, "")] if v
        ]  # fmt: skip
        if pairs:
            plans.append(plan_of(fields.get("name") or f"Plan {i}", pairs))
    return plans


_NUMERIC = {n[0] for n in NUMBERS}


def charts_of(answer: Mapping[str, Any], units: Units) -> list[dict[str, Any]]:
    """What is drawn: for each quantity all plans on the same axes, with its limits."""
    times = [datetime.fromisoformat(t).timestamp() for t in answer["times"]]
    made = []
    for quantity in FIRST:
        unit = answer["units"][quantity]
        plans = [
            {"name": p["name"],
             **{b: [units.convert(v, unit) for v in rows] for b, rows in
                p["quantities"][quantity].items()}}
            for p in answer["plans"]
        ]  # fmt: skip
        limits = [
            {"value": units.convert(x["value"], unit), "word": words.sentence(x["word"]),
             "severity": x["severity"]}
            for x in answer["limits"] if x["quantity"] == quantity
        ]  # fmt: skip
        shown = words.unit_shown(units.unit(unit))
        ends = "; ".join(
            f"{p['name']} {words.number(p['p10'][-1])} to {words.number(p['p90'][-1])}"
            for p in plans
        )
        made.append({
            "quantity": quantity, "title": words.quantity(quantity), "unit": shown, "t": times,
            "plans": plans, "limits": limits,
            "sentence": f"At the end, 80 % range{f' in {shown}' if shown else ''}: {ends}.",
        })  # fmt: skip
    return made


def table_of(answer: Mapping[str, Any], units: Units) -> list[dict[str, Any]]:
    """Limits by plans: the chance of each in words."""
    rows = []
    for i, limit in enumerate(answer["limits"]):
        cells = [p["chances"][i] for p in answer["plans"]]
        side = "below" if limit["side"] == "low" else "above"
        rows.append({
            "word": words.sentence(limit["word"]),
            "bound": f"{side} {units.amount(limit['value'], limit['unit'])}",
            "severity": limit["severity"], "who": ", ".join(limit["who"]),
            "own": limit.get("own", ""),
            "cells": [
                {"said": chance_said(c["chance"]), "first": c["first_day"],
                 "surely": surely(c["change"])}
                for c in cells
            ],
        })  # fmt: skip
    return rows


def chance_said(chance: float) -> str:
    """A chance in words, with its number.

    >>> chance_said(0.0), chance_said(0.04), chance_said(0.5), chance_said(1.0)
    ('no sign of it', 'very unlikely, 4 %', 'even, 50 %', 'all but certain, 100 %')
    """
    if chance < 0.005:
        return "no sign of it"
    steps = ((0.05, "very unlikely"), (0.33, "unlikely"), (0.66, "even"), (0.95, "likely"))
    word = next((w for top, w in steps if chance < top), "all but certain")
    return f"{word}, {100.0 * chance:.0f} %"


def surely(change: Sequence[float]) -> str:
    """Whether a chance surely differs from as now.

    >>> surely([-0.2, -0.1, -0.05]), surely([-0.1, 0.0, 0.1])
    ('less', '')
    """
    return "more" if change[0] > 0.0 else "less" if change[2] < 0.0 else ""


def differences_of(answer: Mapping[str, Any], units: Units) -> list[dict[str, Any]]:
    """What each plan changes at the end of the time, by quantity, as 80 % ranges."""
    rows = []
    for quantity, unit in answer["units"].items():
        nothing = units.convert(0.0, unit)
        shown = words.unit_shown(units.unit(unit))
        rows.append({
            "title": f"{words.quantity(quantity)}{f' [{shown}]' if shown else ''}",
            "cells": [
                _apart([units.convert(v, unit) - nothing for v in ends])
                for p in answer["plans"][1:] for ends in [p["differences"][quantity]["end"]]
            ],
        })  # fmt: skip
    return rows


def _apart(ends: Sequence[float]) -> str:
    low, high = words.number(ends[0], 2), words.number(ends[2], 2)
    return "the same" if not any(ends) else f"{low} to {high}"
