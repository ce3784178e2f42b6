"""Which causes explain a tank's record best: weighed by signs and by altered models.

A hypothesis is one cause, or two at once. Signs count as independent given the hypothesis,
each with the certainty it was found with (Pearl 1988, virtual evidence); of two causes either
may show a sign (noisy or, Pearl 1988). Where the readings were held against altered models
(evidence.py), their Bayes factors count too. What is not known leaves the odds untouched.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib import resources
from itertools import combinations
from math import exp, log, log2, prod
from typing import Any

from pleuston.inference.cause_signs import Sign, signs_of
from pleuston.inference.evidence import Factor, unknown_factor
from pleuston.inference.member_signs import member_signs
from pleuston.inference.tank import TankBelief
from pleuston.records.record import Record

NOTABLE = 0.35
"""Log likelihood ratio from which a sign is told as for or against."""
NOTHING, UNKNOWN = "nothing_wrong", "unknown"
PAIRED = 5
"""Likeliest single causes of which two at once are tried."""
LIKELY, POSSIBLE = 0.1, 0.05
"""Chance of a cause from which a measure for it is worth it, and one against it is left."""
OVERHEAD = 2.0
"""Minutes that any test takes beside its own: common practice, no source."""
COIN = 10.0
"""Minutes that a coin, a kit's single test, is worth: a guess."""
KNOWN = 0.3
"""Share of its worth that a look keeps at what is known well already."""
Hypothesis = tuple[str, ...]


@cache
def cause_data() -> Mapping[str, Any]:
    """The causes, how usual each sign is, the tests that show signs, what is safe meanwhile."""
    text = resources.files("pleuston.inference").joinpath("causes.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True)
class Weighed:
    """The probability of every hypothesis; they sum to one."""

    hypotheses: Mapping[Hypothesis, float]

    @property
    def causes(self) -> dict[str, float]:
        """The probability of each cause, most likely first; of two at once each has half."""
        found: dict[str, float] = {}
        for causes, chance in self.hypotheses.items():
            for cause in causes:
                found[cause] = found.get(cause, 0.0) + chance / len(causes)
        return dict(sorted(found.items(), key=lambda c: -c[1]))

    @property
    def together(self) -> dict[Hypothesis, float]:
        """The pairs of causes, most likely first."""
        pairs = {h: p for h, p in self.hypotheses.items() if len(h) > 1}
        return dict(sorted(pairs.items(), key=lambda h: -h[1]))


def chance_of(causes: Sequence[str], name: str) -> float:
    """Chance to find a sign under causes that are at work together."""
    data = cause_data()
    usual: float = data["usual"][name]
    named = [data["causes"][c]["signs"][name] for c in causes
             if name in data["causes"][c]["signs"]]  # fmt: skip
    return 1.0 - (1.0 - usual) * float(prod((1.0 - chance) / (1.0 - usual) for chance in named))


def weight_of(causes: Sequence[str], name: str, sign: Sign) -> float:
    """Log likelihood ratio of a sign under causes against a tank where nothing is wrong."""
    usual, chance, there = cause_data()["usual"][name], chance_of(causes, name), sign.there
    found = there * chance + (1.0 - there) * (1.0 - chance)
    return sign.weight * log(found / (there * usual + (1.0 - there) * (1.0 - usual)))


def weighed(signs: Mapping[str, Sign], factors: Mapping[str, Factor] | None = None) -> Weighed:
    """Weigh every cause, and pairs of the likeliest, by signs and Bayes factors."""
    data = cause_data()["causes"]
    logs = {c: f.log for c, f in (factors or {}).items()}
    logs[UNKNOWN] = unknown_factor(factors or {})

    def score(causes: Hypothesis) -> float:
        prior = sum(log(data[c]["prior"]) for c in causes)
        prior -= (len(causes) - 1) * log(data[NOTHING]["prior"])
        told = sum(weight_of(causes, n, s) for n, s in signs.items())
        return float(prior + told + sum(logs.get(c, 0.0) for c in causes))

    scores: dict[Hypothesis, float] = {(cause,): score((cause,)) for cause in data}
    likely = sorted((c for c in data if c not in (NOTHING, UNKNOWN)), key=lambda c: -scores[(c,)])
    scores |= {pair: score(pair) for pair in combinations(likely[:PAIRED], 2)}
    top = max(scores.values())
    total = sum(exp(s - top) for s in scores.values())
    return Weighed({h: exp(s - top) / total for h, s in scores.items()})


def causes_of(
    record: Record, tank: str, at: datetime, *, belief: TankBelief | None = None,
    factors: Mapping[str, Factor] | None = None, threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The causes of a tank as of a moment, what speaks for and against, what would tell.

    belief: adds what the balance says of now to what was read and seen; factors: Bayes
    factors of altered models (`evidence.factors_of`).
    """
    record = record.until(at)
    record.tank(tank)
    signs = signs_of(record, tank, at)
    if belief is not None:
        signs = {**signs, **member_signs(belief, threads)}
    factors = factors or {}
    found = weighed(signs, factors)
    rows = [_row(record, c, signs, factors, found.causes) for c in found.causes]
    return {
        "tank": tank, "at": record.local(at).isoformat(), "causes": rows,
        "together": [{"causes": list(h), "probability": p}
                     for h, p in found.together.items() if p >= POSSIBLE],
        "meanwhile": meanwhile(found.causes),
        "weighed_by": ["signs", *(["balance"] if belief is not None else []),
                       *(["altered models"] if factors else [])],
    }  # fmt: skip


def _row(
    record: Record, cause: str, signs: Mapping[str, Sign], factors: Mapping[str, Factor],
    chances: Mapping[str, float],
) -> dict[str, Any]:  # fmt: skip
    about = cause_data()["causes"]
    weights = {n: weight_of((cause,), n, signs[n]) for n in about[cause]["signs"]
               if n in signs}  # fmt: skip
    if cause == NOTHING:
        rival = next(c for c in chances if c != NOTHING)
        weights = {n: -weight_of((rival,), n, signs[n]) for n in about[rival]["signs"]
                   if n in signs}  # fmt: skip
    order = sorted(weights, key=lambda n: -abs(weights[n]))
    onsets = [s for n in order if weights[n] > NOTABLE and (s := signs[n].since) is not None]
    speaks_for = [signs[n].words for n in order if weights[n] > NOTABLE]
    against = [signs[n].words for n in order if weights[n] < -NOTABLE]
    factor = factors.get(cause)
    if factor is not None and abs(factor.log) > NOTABLE:
        words = f"a model altered so gives the readings since {exp(abs(factor.log)):.1f} times " \
                f"{'the' if factor.log > 0.0 else 'less'} chance"  # fmt: skip
        (speaks_for if factor.log > 0.0 else against).append(words)
        if factor.since is not None:
            onsets.append(factor.since)
    since = min(onsets) if onsets and cause != NOTHING else None
    test = next_test(cause, chances, signs)
    return {
        "cause": cause, "word": about[cause]["word"], "probability": chances[cause],
        "since": record.local(since).date().isoformat() if since else None,
        "for": speaks_for, "against": against,
        "next_test": test["test"], "next_word": test["word"], "next_minutes": test["minutes"],
        "next_bits": test["bits"],
    }  # fmt: skip


def next_test(
    cause: str, chances: Mapping[str, float], signs: Mapping[str, Sign]
) -> dict[str, Any]:
    """The test or look that tells most of a cause against all others, per minute and coin.

    Gives what it is, its minutes and what it is expected to tell [bit].
    """
    tests = cause_data()["tests"]
    others = {c: p for c, p in chances.items() if c != cause}
    rest = max(sum(others.values()), 1e-9)
    share = min(max(chances[cause], POSSIBLE), 1.0 - POSSIBLE)

    def told(name: str) -> float:
        own = chance_of((cause,), name)
        other = sum(p * chance_of((c,), name) for c, p in others.items()) / rest
        mixed = share * own + (1.0 - share) * other
        bits = _doubt(mixed) - share * _doubt(own) - (1.0 - share) * _doubt(other)
        known = name in signs and abs(signs[name].there - 0.5) > 0.4
        return bits * (KNOWN if known else 1.0)

    bits = {test: max(map(told, about["signs"])) for test, about in tests.items()}
    best = max(tests, key=lambda t: bits[t] / _cost(tests[t]))
    about = tests[best]
    return {"test": best, "word": about["word"], "minutes": about["minutes"],
            "bits": round(bits[best], 3)}  # fmt: skip


def _cost(about: Mapping[str, Any]) -> float:
    return float(about["minutes"] + COIN * about["cost"] + OVERHEAD)


def _doubt(chance: float) -> float:
    """Entropy of a yes or no [bit]."""
    if not 0.0 < chance < 1.0:
        return 0.0
    return -chance * log2(chance) - (1.0 - chance) * log2(1.0 - chance)


def meanwhile(chances: Mapping[str, float]) -> str:
    """What helps under a likely cause and harms under none that is possible."""
    if chances[NOTHING] > 1.0 - POSSIBLE:
        return "Go on as before."
    likely = {c for c, p in chances.items() if p >= LIKELY}
    possible = {c for c, p in chances.items() if p >= POSSIBLE}
    words = [
        about["word"] for about in cause_data()["meanwhile"].values()
        if likely & set(about["helps"]) and not possible & set(about["harms"])
    ]  # fmt: skip
    safe = "; ".join([*words, "add no animals"])
    return (f"{safe[0].upper()}{safe[1:]}; change nothing else until the test is done. Where "
            "animals gasp or lie, act at once: stir the surface, and change water, matched in "
            "salts and warmth, from a source you trust.")  # fmt: skip
