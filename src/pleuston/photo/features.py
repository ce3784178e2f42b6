"""What tells floaters from water in a picture: two colour ratios, brightness, texture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
DARK_FLOOR = 0.004
GLARE_LEAST = 0.80
GLARE_SPAN = 0.12
COLOURLESS = 0.03
HALO = 40  # round a patch of glare the light is mixed, pixels
HALO_LEAST = 0.22


@dataclass(frozen=True)
class Features:
    """Per pixel: ln(red/green), ln(blue/green), ln(brightness), ln(texture); and what shines."""

    stack: Floats  # height x width x 4
    linear: Floats  # height x width x 3, light as it fell on the sensor
    glare: NDArray[np.bool_]
    colour: float  # spread of the colour ratios; near 0 in a grey picture
    dark: float  # share of pixels too dark to have a colour


def features(surface: NDArray[np.uint8]) -> Features:
    """The features of a rectified surface."""
    linear = _linear_table()[surface]
    low, high = linear.min(-1), linear.max(-1)
    glare = (low > GLARE_LEAST) | ((high > 0.97) & (high - low < GLARE_SPAN))
    core = glare.astype(np.float32)
    halo = (box_mean(core, HALO) > 0.01) & (low > HALO_LEAST)
    glare = (box_mean(core, 2) > 0.2) | (box_mean(halo.astype(np.float32), 3) > 0.3)
    soft = np.stack([box_mean(linear[..., c], 1) for c in range(3)], -1) + DARK_FLOOR
    red, green, blue = soft[..., 0], soft[..., 1], soft[..., 2]
    ratio_red, ratio_blue = np.log(red / green), np.log(blue / green)
    bright = np.log(0.25 * red + 0.65 * green + 0.10 * blue)
    colour = float(np.quantile(np.abs(ratio_red) + np.abs(ratio_blue), 0.9))
    stack = np.stack([ratio_red, ratio_blue, bright, _texture(linear)], -1)
    dark = float((bright < np.log(3 * DARK_FLOOR)).mean())
    return Features(stack.astype(np.float32), linear, glare, colour, dark)


def box_mean(values: Floats, reach: int) -> Floats:
    """Mean over a square of 2 reach + 1 pixels, the border repeated."""
    width = 2 * reach + 1
    for axis in (0, 1):
        pad = [(reach + 1, reach) if k == axis else (0, 0) for k in range(2)]
        total = np.cumsum(np.pad(values, pad, mode="edge"), axis=axis, dtype=np.float64)
        ahead = np.take(total, range(width, total.shape[axis]), axis=axis)
        behind = np.take(total, range(total.shape[axis] - width), axis=axis)
        values = ((ahead - behind) / width).astype(np.float32)
    return values


def _texture(linear: Floats) -> Floats:
    """How much the square root of the brightness varies within 5 pixels, as a logarithm."""
    root = np.sqrt(linear[..., 1])
    spread = box_mean(root * root, 2) - box_mean(root, 2) ** 2
    level = np.maximum(box_mean(root, 3), 0.05)
    relative = np.sqrt(np.maximum(spread, 0)) / level
    found: Floats = np.log(box_mean(relative, 2) + 0.01)
    return found


def _linear_table() -> Floats:
    coded = np.arange(256) / 255.0
    table = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return table.astype(np.float32)
