"""Fit a mixture of known kinds of surface to one picture.

The kinds keep their names: a centre may move only as far as such surfaces differ from tank
to tank. So a picture of one kind alone stays one kind, where a threshold that always
splits in two would make two of it. The colour of the lamp, on the line from warm to cool,
and the exposure are fitted first, over a grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pleuston.photo import kinds

Floats = NDArray[np.float64]
LAMPS = np.linspace(-0.36, 0.36, 9)
LAMP_SPREAD = 0.14
EXPOSURES = np.array([-0.5, 0.0, 0.5])
EXPOSURE_SPREAD = 0.4
BLUE_TO_RED = -1.2
COUNTED_AS = 30.0  # neighbouring pixels say the same; a picture weighs like so many
ROUNDS = 12
PRIOR_PIXELS = 0.05
FARTHEST = 1.3
LEAST_SHARE = 1e-3
NOTICED = 0.02
LEAST_STEP = 0.7
BRIGHT_BELOW = -2.5


@dataclass(frozen=True)
class Fit:
    """Centres, spreads and shares of the kinds in one picture, under one lamp."""

    centre: Floats
    spread: Floats
    share: Floats
    light: float  # the exposure, as a shift of ln(brightness)
    weight: float  # how likely this lamp and exposure are


def fit_kinds(pixels: Floats, most: int = 5) -> list[Fit]:
    """The likely fits to pixels (n x 4), the most likely first; weights sum to 1."""
    places = [(float(lamp), float(light)) for lamp in LAMPS for light in EXPOSURES]
    thin = pixels[:: max(1, len(pixels) // 1500)]
    scores = np.array([_score(thin, lamp, light) for lamp, light in places])
    chosen = np.argsort(-scores)[:most]
    weight = np.exp(scores[chosen] - scores[chosen[0]])
    keep = weight > 0.02
    weight = weight[keep] / weight[keep].sum()
    return [
        _adapted(pixels, places[k][0], places[k][1], float(w))
        for k, w in zip(chosen[keep], weight, strict=True)
    ]


def log_odds(
    pixels: NDArray[np.float32], fit: Fit, floats: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Log odds of the kinds that count as floaters against the others."""
    each = _log_each(pixels, fit.centre, fit.spread, fit.share)
    parts = np.exp(each - each.max(-1, keepdims=True))
    tiny = np.float32(1e-9)
    odds: NDArray[np.float32] = np.log(parts[..., floats].sum(-1) + tiny)
    odds -= np.log(parts[..., ~floats].sum(-1) + tiny)
    return odds


def below_counts(fit: Fit) -> bool:
    """Whether what was taken for plants below is as bright as leaves at the surface.

    Water takes light away twice over, so plants below are darker than floaters beside them.
    """
    below, green = fit.centre[kinds.SUBMERGED, 2], fit.centre[0, 2]
    if fit.share[0] > NOTICED:
        return bool(green - below < LEAST_STEP)
    return bool(below > fit.light + BRIGHT_BELOW)


def _moved(lamp: float, light: float) -> Floats:
    moved: Floats = kinds.centres() + np.array([lamp, BLUE_TO_RED * lamp, light, 0.0])
    return moved


def _score(pixels: Floats, lamp: float, light: float) -> float:
    """How well the kinds as known, under this lamp, explain the picture."""
    spread = np.hypot(kinds.between(), kinds.within())
    share = kinds.shares()
    each = _log_each(pixels, _moved(lamp, light), spread)
    for _ in range(4):
        parts = _parts(each + np.log(share).astype(each.dtype))
        share = (parts.mean(0) + 0.02 * kinds.shares()) / 1.02
    each = each + np.log(share).astype(each.dtype)
    top = each.max(1)
    mean = float((top + np.log(np.exp(each - top[:, None]).sum(1))).mean())
    prior = (lamp / LAMP_SPREAD) ** 2 + (light / EXPOSURE_SPREAD) ** 2
    return COUNTED_AS * mean - 0.5 * prior


def _adapted(pixels: Floats, lamp: float, light: float, weight: float) -> Fit:
    """Centres, spreads and shares moved to the picture, held by what is known."""
    start, between, within = _moved(lamp, light), kinds.between(), kinds.within()
    centre, spread, share = start.copy(), np.hypot(within, 0.6 * between), kinds.shares()
    base = PRIOR_PIXELS * len(pixels)
    squares = pixels * pixels
    for _ in range(ROUNDS):
        parts = _parts(_log_each(pixels, centre, spread, share))
        count = parts.sum(0)[:, None]
        total = parts.T @ pixels
        hold = 0.2 * base * (within / between) ** 2
        centre = (total + hold * start) / (count + hold)
        centre = np.clip(centre, start - FARTHEST * between, start + FARTHEST * between)
        around = parts.T @ squares - 2 * centre * total + count * centre**2
        spread = np.sqrt((around + base * within**2) / (count + base))
        least = LEAST_SHARE * kinds.shares() / kinds.shares().max()
        share = np.maximum(count[:, 0] / len(pixels), least)
        share = share / share.sum()
    return Fit(centre, spread, share, light, weight)


def _log_each(
    pixels: NDArray[np.floating], centre: Floats, spread: Floats, share: Floats | None = None
) -> NDArray[np.float32]:
    """Log density of each kind at each pixel, with its share where given."""
    found = np.empty((*pixels.shape[:-1], len(centre)), dtype=np.float32)
    for k, (middle, width) in enumerate(zip(centre, spread, strict=True)):
        away = (pixels - middle.astype(np.float32)) / width.astype(np.float32)
        away = np.minimum(np.einsum("...i,...i->...", away, away), 80.0)
        level = -np.log(width).sum() + (0.0 if share is None else np.log(share[k]))
        found[..., k] = -0.5 * away + level
    return found


def _parts(each: NDArray[np.float32]) -> NDArray[np.float32]:
    parts: NDArray[np.float32] = np.exp(each - each.max(1, keepdims=True))
    parts /= parts.sum(1, keepdims=True)
    return parts
