"""How much of the water surface floaters cover in a picture, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pleuston.base.errors import InputError
from pleuston.photo.brush import Stroke, apply_strokes
from pleuston.photo.corners import Point, rectify
from pleuston.photo.features import COLOURLESS, Features, features
from pleuston.photo.opening import open_picture
from pleuston.photo.separate import Separation, separate

Mask = NDArray[np.bool_]
METHOD = "known kinds of surface, fitted"
VERSION = "1"
READ_AT = 1600
MOST_SHIFT = 6.0
FLOOR = 3.5
MIDDLE = 7.0
HARD = 12.0
HARD_SHARE = 0.2
EDGE_WEIGHT = 0.6
NUDGE_WEIGHT = 1.0
LAMP_WEIGHT = 1.6
GLARE_WEIGHT = 0.4
TOO_WIDE = 30.0
MUCH_GLARE = 0.25
MUCH_DARK = 0.6


@dataclass(frozen=True)
class Cover:
    """Cover in percent with an interval that should hold the truth nine times in ten.

    `mask` says per pixel of the rectified surface whether floaters are there; `size` is
    its width and height; `reasons` say why the answer can't be relied on.
    """

    cover_pct: float
    low_pct: float
    high_pct: float
    sure: bool
    reasons: tuple[str, ...]
    method: str
    version: str
    mask: Mask
    size: tuple[int, int]

    @property
    def error_pct(self) -> float:
        """The larger distance from the cover to an end of its interval, in points."""
        return max(self.high_pct - self.cover_pct, self.cover_pct - self.low_pct)


def measure_cover(
    image: bytes | Path,
    corners: Sequence[Point] | None = None,
    shift: float = 0.0,
    strokes: Sequence[Stroke] = (),
) -> Cover:
    """Cover of the surface within four corners (pixels of the upright picture), or of it all.

    `shift` moves the threshold: above 0 more counts as floaters, below 0 less. `strokes`
    are corrections by hand in pixels of the rectified surface.
    """
    if not math.isfinite(shift) or abs(shift) > MOST_SHIFT:
        raise InputError(
            f"a threshold moved by {shift:g} says nothing", "shift",
            f"Take a number from -{MOST_SHIFT:g} to {MOST_SHIFT:g}",
        )  # fmt: skip
    surface = surface_of(image, corners)
    found = features(surface)
    apart = separate(found, shift)
    mask, touched = apply_strokes(apart.mask, strokes)
    cover = 100.0 * float(mask.mean())
    low, high, reasons = _interval(cover, mask, touched, apart, found)
    height, width = mask.shape
    mask.setflags(write=False)
    return Cover(cover, low, high, not reasons, reasons, METHOD, VERSION, mask, (width, height))


def surface_of(image: bytes | Path, corners: Sequence[Point] | None = None) -> NDArray[np.uint8]:
    """The surface in a picture seen from straight above, as `measure_cover` reads it."""
    return rectify(open_picture(image, READ_AT), corners)


def _interval(
    cover: float, mask: Mask, touched: Mask, apart: Separation, found: Features
) -> tuple[float, float, tuple[str, ...]]:
    """Low, high and reasons for doubt, from what other readings of the picture would give.

    A pixel that was brushed is known and adds no error.
    """
    free = ~touched
    coarse = free[::2, ::2]
    left = float(free.mean())
    base = apart.half & coarse

    def beyond(other: Mask) -> float:
        return 100.0 * float((other & coarse).mean() - base.mean())

    covers = np.array([beyond(other) for _, other in apart.lamps])
    weights = np.array([weight for weight, _ in apart.lamps])
    lamp = LAMP_WEIGHT * math.sqrt(float(np.dot(weights, covers**2)))
    edges = (mask[1:, 1:] != mask[:-1, 1:]) | (mask[1:, 1:] != mask[1:, :-1])
    edge = EDGE_WEIGHT * 100.0 * float((edges & free[1:, 1:]).mean())
    glare = GLARE_WEIGHT * 100.0 * float((found.glare & free).mean())
    middle = MIDDLE * left * 4.0 * (cover / 100.0) * (1.0 - cover / 100.0)
    hard = HARD * left * min(1.0, apart.hard / HARD_SHARE)
    fixed = (FLOOR * left, middle, hard, lamp, edge, glare)
    up = math.hypot(*fixed, NUDGE_WEIGHT * max(beyond(apart.more), 0.0))
    down = math.hypot(*fixed, NUDGE_WEIGHT * max(-beyond(apart.less), 0.0))
    below = beyond(apart.other_below)
    low, high = cover - down + min(below, 0.0), cover + up + max(below, 0.0)
    doubts = _colour_doubts(found) if left > 0.05 else ()
    if doubts:
        low, high = cover - cover * left, cover + (100.0 - cover) * left
    reasons = (*doubts, *_doubts(high - low, below, lamp, glare))
    return max(low, 0.0), min(high, 100.0), reasons


def _colour_doubts(found: Features) -> tuple[str, ...]:
    """What keeps colour from telling anything at all."""
    if found.colour < COLOURLESS:
        return ("The picture has no colour.",)
    if found.dark > MUCH_DARK:
        return ("The picture is too dark to tell colours.",)
    if float(found.glare.mean()) > 0.6:
        return ("Most of the surface is glare.",)
    return ()


def _doubts(width: float, below: float, lamp: float, glare: float) -> tuple[str, ...]:
    doubts = []
    if abs(below) > 10.0:
        doubts.append("Green areas may be plants below the surface.")
    if glare > 100.0 * MUCH_GLARE * GLARE_WEIGHT:
        doubts.append("Glare hides much of the surface.")
    if lamp > 8.0:
        doubts.append("The colour of the lamp can't be told from that of the plants.")
    if width > TOO_WIDE and not doubts:
        doubts.append("Floaters and water look too much alike.")
    return tuple(doubts)
