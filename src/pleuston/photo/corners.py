"""From four corners of the water surface to the surface seen straight from above."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from pleuston.base.errors import InputError
from pleuston.photo.opening import Opened

Point = tuple[float, float]
LEAST_AREA = 0.01
LEAST_SIDE = 24.0
LEAST_TURN = 0.05
LONGEST = 640
MOST_STRETCH = 8.0
WHERE = "corners"
AGAIN = "Mark the four corners of the water surface in the picture"


def parse_corners(text: str) -> tuple[Point, ...]:
    """Corners written as x,y;x,y;x,y;x,y."""
    try:
        pairs = [tuple(float(v) for v in part.split(",")) for part in text.split(";")]
    except ValueError:
        pairs = []
    if len(pairs) != 4 or any(len(pair) != 2 for pair in pairs):
        raise InputError(f"{text!r} is not four corners", WHERE, "Write x,y;x,y;x,y;x,y in pixels")
    return tuple((pair[0], pair[1]) for pair in pairs)


def ordered_corners(corners: Sequence[Point], width: int, height: int) -> NDArray[np.float64]:
    """The corners clockwise from the upper left one, or a refusal that says what is wrong."""
    try:
        points = np.array(corners, dtype=np.float64)
    except (TypeError, ValueError):
        points = np.zeros(0)
    if points.shape != (4, 2):
        raise InputError("there must be four corners, each x and y", WHERE, AGAIN)
    if not np.isfinite(points).all():
        raise InputError("a corner is no number", WHERE, AGAIN)
    if (points < 0).any() or (points > [width, height]).any():
        raise InputError(
            f"a corner lies outside the picture of {width} x {height} pixels", WHERE, AGAIN
        )
    away = points - points.mean(0)
    points = points[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    points = np.roll(points, -int(np.argmin(points.sum(1))), axis=0)
    sides = np.roll(points, -1, 0) - points
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    if lengths.min() < LEAST_SIDE:
        raise InputError("two corners lie on or close to each other", WHERE, AGAIN)
    following = np.roll(sides, -1, 0)
    cross = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if (cross / (lengths * np.roll(lengths, -1)) < LEAST_TURN).any():
        raise InputError("the corners make no four-sided shape that bulges outward", WHERE, AGAIN)
    if 0.5 * abs(_twice_area(points)) < LEAST_AREA * width * height:
        raise InputError(
            "the corners enclose less than a hundredth of the picture", WHERE,
            "Go closer, or mark the whole water surface",
        )  # fmt: skip
    return points


def rectify(opened: Opened, corners: Sequence[Point] | None) -> NDArray[np.uint8]:
    """The surface as seen from straight above, at most 640 pixels on the longer side."""
    image = opened.image
    if corners is None:
        sheet = image.copy()
        sheet.thumbnail((LONGEST, LONGEST), Image.Resampling.BOX)
        return np.asarray(sheet)
    points = ordered_corners(corners, opened.width, opened.height)
    points = points * (image.width / opened.width, image.height / opened.height)
    ends = [*points, points[0]]
    lengths = [float(np.hypot(*(b - a))) for a, b in pairwise(ends)]
    across, down = (lengths[0] + lengths[2]) / 2, (lengths[1] + lengths[3]) / 2
    across, down = max(across, down / MOST_STRETCH), max(down, across / MOST_STRETCH)
    share = min(1.0, LONGEST / max(across, down))
    width, height = max(16, round(across * share)), max(16, round(down * share))
    # Twice as fine first, then averaged: one sample a pixel would pick up single grains.
    fine = (2 * width, 2 * height)
    warped = image.transform(
        fine, Image.Transform.PERSPECTIVE, _perspective(points, fine), Image.Resampling.BILINEAR
    )
    return np.asarray(warped.reduce(2))


def _perspective(points: NDArray[np.float64], size: tuple[int, int]) -> list[float]:
    """The eight numbers that lead from the rectified surface back into the picture."""
    w, h = size
    rows, right = [], []
    for (u, v), (x, y) in zip(((0, 0), (w, 0), (w, h), (0, h)), points, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -u * x, -v * x], [0, 0, 0, u, v, 1, -u * y, -v * y]]
        right += [x, y]
    return [float(v) for v in np.linalg.solve(np.array(rows, float), np.array(right, float))]


def _twice_area(points: NDArray[np.float64]) -> float:
    x, y = points.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
