"""Show a mask: alone, or laid over the surface it was read from."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

from pleuston.base.errors import InputError
from pleuston.photo.corners import Point
from pleuston.photo.cover import Cover, surface_of

OPEN_DIMMED = 0.45
EDGE = (255, 0, 255)  # no plant, soil or water has it


def mask_png(cover: Cover) -> bytes:
    """The mask as a black and white PNG, white where floaters are."""
    out = io.BytesIO()
    Image.fromarray(cover.mask.astype(np.uint8) * 255).convert("1").save(out, "PNG", optimize=True)
    return out.getvalue()


def overlay_jpeg(
    image: bytes | Path, cover: Cover, corners: Sequence[Point] | None = None
) -> bytes:
    """The rectified surface with open water dimmed and the edge of the floaters drawn."""
    surface = surface_of(image, corners)
    mask = cover.mask
    if surface.shape[:2] != mask.shape:
        raise InputError(
            "the mask is of another picture or of other corners", "overlay",
            "Give the picture and the corners that the cover was measured with",
        )  # fmt: skip
    shown = np.where(mask[..., None], surface, surface * OPEN_DIMMED).astype(np.uint8)
    edge = np.zeros_like(mask)
    edge[1:] |= mask[1:] & ~mask[:-1]
    edge[:-1] |= mask[:-1] & ~mask[1:]
    edge[:, 1:] |= mask[:, 1:] & ~mask[:, :-1]
    edge[:, :-1] |= mask[:, :-1] & ~mask[:, 1:]
    shown[edge] = EDGE
    out = io.BytesIO()
    Image.fromarray(shown).save(out, "JPEG", quality=85)
    return out.getvalue()
