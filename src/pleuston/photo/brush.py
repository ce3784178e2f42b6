"""Corrections of a mask by hand: strokes of a brush on the rectified surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from pleuston.base.errors import InputError

Mask = NDArray[np.bool_]
MOST_STROKES = 500
MOST_POINTS = 5000
WHERE = "strokes"


@dataclass(frozen=True)
class Stroke:
    """One stroke: where the brush went, its radius in pixels, and whether it says plants."""

    points: tuple[tuple[float, float], ...]
    radius: float
    paint: bool


def apply_strokes(mask: Mask, strokes: Sequence[Stroke]) -> tuple[Mask, Mask]:
    """The mask after the strokes in their order, and which pixels any stroke touched."""
    _check(strokes)
    height, width = mask.shape
    mask, touched = mask.copy(), np.zeros_like(mask)
    for stroke in strokes:
        under = _under(stroke, width, height)
        mask[under] = stroke.paint
        touched |= under
    return mask, touched


def _under(stroke: Stroke, width: int, height: int) -> Mask:
    sheet = Image.new("1", (width, height), 0)
    pen = ImageDraw.Draw(sheet)
    r = stroke.radius
    points = [(float(x), float(y)) for x, y in stroke.points]
    if len(points) > 1:
        pen.line(points, fill=1, width=max(1, round(2 * r)), joint="curve")
    for x, y in points:
        pen.ellipse((x - r, y - r, x + r, y + r), fill=1)
    return np.array(sheet, dtype=bool)


def _check(strokes: Sequence[Stroke]) -> None:
    if len(strokes) > MOST_STROKES:
        raise InputError(
            f"{len(strokes)} strokes are more than the {MOST_STROKES} taken", WHERE,
            "Move the threshold first, and take a wider brush",
        )  # fmt: skip
    for number, stroke in enumerate(strokes, start=1):
        if not 1 <= len(stroke.points) <= MOST_POINTS:
            raise InputError(
                f"stroke {number} has {len(stroke.points)} points", WHERE,
                f"Give 1 to {MOST_POINTS} points",
            )  # fmt: skip
        numbers = [stroke.radius, *(v for point in stroke.points for v in point)]
        if not np.isfinite(numbers).all() or max(map(abs, numbers)) > 10_000:
            raise InputError(f"stroke {number} lies nowhere", WHERE, "Give pixels of the surface")
        if not 0.5 <= stroke.radius <= 400:
            raise InputError(
                f"stroke {number} has a radius of {stroke.radius:g} pixels", WHERE,
                "Take 0.5 to 400 pixels",
            )  # fmt: skip
