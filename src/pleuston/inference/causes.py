"""Which cause explains a tank's record best: causes weighed by what is found under each.

Signs count as independent given the cause, each with the certainty it was found with
(Pearl 1988, virtual evidence). What is not known leaves the odds untouched.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from math import exp, log
from typing import Any

from pleuston.inference.cause_signs import Sign, signs_of
from pleuston.records.record import Record

NOTABLE = 0.35
"""Log likelihood ratio from which a sign is told as for or against."""
NOTHING = "nothing_wrong"


@cache
def cause_data() -> Mapping[str, Any]:
    """The causes, how usual each sign is, and the tests that show signs."""
    text = resources.files("pleuston.inference").joinpath("causes.toml").read_text("utf-8")
    return tomllib.loads(text)


def weight_of(cause: str, name: str, there: float) -> float:
    """Log likelihood ratio of a sign under a cause against a tank where nothing is wrong."""
    data = cause_data()
    usual = data["usual"][name]
    chance = data["causes"][cause]["signs"].get(name, usual)
    found = there * chance + (1.0 - there) * (1.0 - chance)
    return log(found / (there * usual + (1.0 - there) * (1.0 - usual)))


def weighed(signs: Mapping[str, Sign]) -> dict[str, float]:
    """The probability of each cause, most likely first; they sum to one."""
    data = cause_data()
    scores = {
        cause: log(about["prior"]) + sum(weight_of(cause, n, s.there) for n, s in signs.items())
        for cause, about in data["causes"].items()
    }
    top = max(scores.values())
    total = sum(exp(s - top) for s in scores.values())
    ranked = sorted(scores, key=lambda c: -scores[c])
    return {c: exp(scores[c] - top) / total for c in ranked}


def causes_of(record: Record, tank: str, at: datetime) -> dict[str, Any]:
    """The causes of a tank as of a moment, what speaks for and against, what would tell."""
    record = record.until(at)
    record.tank(tank)
    signs = signs_of(record, tank, at)
    chances = weighed(signs)
    rows = [_row(record, c, p, signs, chances) for c, p in chances.items()]
    return {"tank": tank, "at": record.local(at).isoformat(), "causes": rows,
            "meanwhile": _meanwhile(chances)}  # fmt: skip


def _row(
    record: Record, cause: str, chance: float, signs: Mapping[str, Sign],
    chances: Mapping[str, float],
) -> dict[str, Any]:  # fmt: skip
    named = cause_data()["causes"][cause]["signs"]
    weights = {n: weight_of(cause, n, signs[n].there) for n in named if n in signs}
    if cause == NOTHING:
        rival = next(c for c in chances if c != NOTHING)
        rows = cause_data()["causes"][rival]["signs"]
        weights = {n: -weight_of(rival, n, signs[n].there) for n in rows if n in signs}
    order = sorted(weights, key=lambda n: -abs(weights[n]))
    onsets = [s for n in order if weights[n] > NOTABLE and (s := signs[n].since) is not None]
    since = min(onsets) if onsets and cause != NOTHING else None
    test = next_test(cause, chances, signs)
    return {
        "cause": cause, "word": cause_data()["causes"][cause]["word"], "probability": chance,
        "since": record.local(since).date().isoformat() if since else None,
        "for": [signs[n].words for n in order if weights[n] > NOTABLE],
        "against": [signs[n].words for n in order if weights[n] < -NOTABLE],
        "next_test": test["test"], "next_word": test["word"], "next_minutes": test["minutes"],
    }  # fmt: skip


def next_test(
    cause: str, chances: Mapping[str, float], signs: Mapping[str, Sign]
) -> dict[str, Any]:
    """The test that tells a cause from the likeliest other best, per minute and coin."""
    data = cause_data()
    rival = next(c for c in chances if c != cause)

    def worth(about: Mapping[str, Any]) -> float:
        gains = []
        for name in about["signs"]:
            usual = data["usual"][name]
            pair = [data["causes"][c]["signs"].get(name, usual) for c in (cause, rival)]
            known = name in signs and abs(signs[name].there - 0.5) > 0.4
            gains.append(abs(pair[0] - pair[1]) * (0.3 if known else 1.0))
        return float(max(gains) / (about["minutes"] + 10.0 * about["cost"] + 2.0))

    best = max(data["tests"], key=lambda name: worth(data["tests"][name]))
    about = data["tests"][best]
    return {"test": best, "word": about["word"], "minutes": about["minutes"], "against": rival}


def _meanwhile(chances: Mapping[str, float]) -> str:
    """What is safe under every likely cause."""
    if next(iter(chances)) == NOTHING:
        return "Go on as before."
    return ("Feed less, take out what is dead, keep some surface open, and add no animals; "
            "change nothing else until the test is done. Where animals gasp or lie, change water "
            "at once.")  # fmt: skip
