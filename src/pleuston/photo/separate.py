"""Separate floaters from open water in a rectified surface, and weigh other readings of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pleuston.photo import kinds
from pleuston.photo.features import Features, box_mean
from pleuston.photo.mixture import Fit, below_counts, fit_kinds, log_odds

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
FITTED_PIXELS = 5000
ODDS_MOST = 6.0
NUDGE = 1.5
NEAR = 8


@dataclass(frozen=True)
class Separation:
    """The mask at full fineness, and other readings of the same picture at half of it."""

    mask: Mask
    half: Mask
    more: Mask  # with the threshold lowered
    less: Mask  # with the threshold raised
    other_below: Mask  # with plants below counted the other way
    lamps: tuple[tuple[float, Mask], ...]  # weight and mask under other lamps
    hard: float  # share of what is hard to tell: red floaters, plants below


def separate(found: Features, shift: float) -> Separation:
    """Fit the picture and separate it; `shift` adds to the log odds of floaters."""
    stack, glare = found.stack, found.glare
    clear = stack[~glare] if glare.mean() < 0.9 else stack.reshape(-1, stack.shape[-1])
    step = max(1, len(clear) // FITTED_PIXELS)
    fits = fit_kinds(clear[::step].astype(np.float64))
    best = fits[0]
    odds = _odds(stack, glare, best, below_counts(best)) + np.float32(shift)
    mask = _edges_settled(odds > 0, found)
    coarse, thin = stack[::2, ::2], glare[::2, ::2]
    half = odds[::2, ::2]
    other = _odds(coarse, thin, best, not below_counts(best)) + shift > 0
    hard = float(best.share[[kinds.RED, kinds.SUBMERGED]].sum())
    lamps = [(best.weight, half > 0)]
    for fit in fits[1:]:
        lamps.append((fit.weight, _odds(coarse, thin, fit, below_counts(fit)) + shift > 0))
    more, less = half > -NUDGE, half > NUDGE
    return Separation(mask, half > 0, more, less, other, tuple(lamps), hard)


def _odds(stack: Floats, glare: Mask, fit: Fit, below: bool) -> Floats:
    """Log odds of floaters, smoothed a little; glare takes after what lies around it."""
    floats = kinds.FLOATS.copy()
    floats[kinds.SUBMERGED] = below
    odds = np.clip(log_odds(stack, fit, floats), -ODDS_MOST, ODDS_MOST)
    odds = box_mean(odds, 1)
    if not glare.any() or glare.all():
        return odds
    seen = (~glare).astype(np.float32)
    open_yet = glare.copy()
    for reach in (6, 20, 60, 200):
        weight = box_mean(seen, reach)
        ready = open_yet & (weight > 0.1)
        odds[ready] = (box_mean(odds * seen, reach)[ready]) / weight[ready]
        open_yet &= ~ready
        if not open_yet.any():
            break
    return odds


def _edges_settled(mask: Mask, found: Features) -> Mask:
    """Take back edge pixels that are less than half leaf, by what lies to both sides.

    A pixel with a little bright leaf in it has the colour of leaf all over, and texture
    reaches a few pixels beyond the leaf: both put the edge too far out, and on small leaves
    that adds up. Bright leaves are told by light, others by the ratios of colour.
    """
    share = box_mean(mask.astype(np.float32), 1)
    inside, outside = (share > 0.99).astype(np.float32), (share < 0.01).astype(np.float32)
    n_in, n_out = box_mean(inside, NEAR), box_mean(outside, NEAR)
    edge = mask & (box_mean(mask.astype(np.float32), 2) < 0.99)
    known = edge & ~found.glare & (n_in > 0.01) & (n_out > 0.01)

    def sides(values: Floats) -> tuple[Floats, Floats]:
        leaf = box_mean(values * inside, NEAR)[known] / n_in[known]
        return leaf, box_mean(values * outside, NEAR)[known] / n_out[known]

    light = np.sqrt(found.linear[..., 1])
    leaf, water = sides(light)
    bright = leaf > water + 0.12
    along, across = np.zeros_like(leaf), np.full_like(leaf, 1e-9)
    for ratio in (found.stack[..., 0], found.stack[..., 1]):
        on, off = sides(ratio)
        along += (ratio[known] - off) * (on - off)
        across += (on - off) ** 2
    settled = mask.copy()
    settled[known] = np.where(bright, light[known] > 0.5 * (leaf + water), along > 0.5 * across)
    return settled
