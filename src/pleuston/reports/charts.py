"""Charts of an outlook as SVG: ranges ahead, readings as intervals, limits as lines."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np

from pleuston.engine.kernel import Array
from pleuston.planning.limits import Limit
from pleuston.planning.outlook import FROM_MODEL, SHOWN, Ahead

mpl.use("svg")
PAPER, INK, QUIET = "none", "#3a4a45", "#8a9a94"
BANDS = ((0.025, 0.975, 0.16), (0.1, 0.9, 0.26), (0.25, 0.75, 0.38))
LEAF = "#2f7d5b"
STYLE: Any = {
    "svg.hashsalt": "pleuston", "svg.fonttype": "none", "font.family": "sans-serif",
    "font.size": 9.0, "axes.edgecolor": QUIET, "axes.labelcolor": INK, "xtick.color": INK,
    "ytick.color": INK, "text.color": INK, "axes.spines.top": False, "axes.spines.right": False,
}  # fmt: skip
SEVERITY = {"watch": (QUIET, ":"), "act": ("#a86a12", "--"), "danger": ("#a3342c", "-")}


@dataclass(frozen=True)
class Past:
    """Readings as bars: days from now, lowest and highest value they stand for."""

    days: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]


@dataclass(frozen=True)
class Chart:
    """A drawn chart with the sentence that says the same."""

    svg: str
    sentence: str


def fan(ahead: Ahead, quantity: str, title: str, limits: Sequence[Limit], past: Past) -> Chart:
    """Draw one quantity: the readings behind, the ranges ahead, the limits across."""
    from matplotlib.figure import Figure

    values = ahead.values(quantity)
    days = ahead.times - ahead.belief.at
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(4.4, 2.3), layout="constrained")
        axes = figure.add_subplot()
        for low, high, alpha in BANDS:
            edges = np.quantile(values, [low, high], axis=1)
            axes.fill_between(days, *edges, color=LEAF, alpha=alpha, linewidth=0.6, edgecolor=LEAF)
        axes.plot(days, np.median(values, axis=1), color=LEAF, linewidth=1.4)
        axes.vlines(past.days, past.low, past.high, color=INK, linewidth=2.2)
        axes.axvline(0.0, color=QUIET, linewidth=0.7)
        top = _top(values, past, limits, quantity)
        for limit in limits:
            _line(axes, limit, top)
        axes.set_ylim(*top)
        unit = SHOWN[quantity].unit
        axes.set_title(f"{title}{f' [{unit}]' if unit else ''}", loc="left", fontsize=9.5)
        axes.set_xlabel("days from the round")
        figure.patch.set_alpha(0.0)
        axes.patch.set_alpha(0.0)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    said = sentence(values, quantity, title, limits)
    return Chart(inline(out.getvalue(), said), said)


def inline(svg: str, said: str) -> str:
    """A drawn SVG as part of a page: without prolog and metadata, its sentence as its label."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    return body.replace("<svg", f'<svg role="img" aria-label="{html.escape(said)}"', 1)


def _bound(limit: Limit) -> float:
    turn = FROM_MODEL.get(limit.quantity)
    return turn(limit.value) if turn is not None else limit.value


def _top(values: Array, past: Past, limits: Sequence[Limit], quantity: str) -> tuple[float, float]:
    """Axis ends that hold ranges and readings, and limits that are near."""
    edges = [float(np.quantile(values, 0.025)), float(np.quantile(values, 0.975))]
    edges += [v for v in (*past.low, *past.high) if np.isfinite(v)]
    low, high = min(edges), max(edges)
    room = max(high - low, 0.05 * abs(high), 1e-6)
    for limit in limits:
        bound = _bound(limit)
        if low - room <= bound <= high + room:
            low, high = min(low, bound), max(high, bound)
    low = low - 0.08 * room if quantity == "temperature" else max(0.0, low - 0.08 * room)
    return low, high + 0.1 * room


def _line(axes: Any, limit: Limit, ends: tuple[float, float]) -> None:
    bound = _bound(limit)
    if ends[0] <= bound <= ends[1]:
        colour, dash = SEVERITY[limit.severity]
        axes.axhline(bound, color=colour, linestyle=dash, linewidth=0.9)


def sentence(values: Array, quantity: str, title: str, limits: Sequence[Limit]) -> str:
    """Level, trend and the first day a limit may be crossed, in one sentence."""
    first = np.quantile(values[0], [0.1, 0.5, 0.9])
    last = np.quantile(values[-1], [0.1, 0.5, 0.9])
    unit = SHOWN[quantity].unit
    move = last[1] - first[1]
    still = abs(move) < 0.25 * (first[2] - first[0])
    trend = "stays about there" if still else ("rises" if move > 0 else "falls")
    text = (
        f"{title} is {first[0]:.3g} to {first[2]:.3g} {unit} tomorrow and {trend}: "
        f"{last[0]:.3g} to {last[2]:.3g} {unit} in {len(values)} days."
    )
    for limit in sorted(limits, key=lambda x: -x.rank):
        bound = _bound(limit)
        over = values < bound if limit.side == "low" else values > bound
        ever = np.logical_or.accumulate(over, axis=0).mean(axis=1)
        reached = np.flatnonzero(ever >= 0.05)
        if len(reached):
            word = limit.word[0].upper() + limit.word[1:]
            return f"{text} {word} is possible from day {reached[0] + 1}."
    return text
