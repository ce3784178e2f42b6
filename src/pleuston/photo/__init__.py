"""Cover from a photo: how much of the water floaters hide, how sure that is, and the mask."""

from pleuston.photo.brush import Stroke
from pleuston.photo.cover import Cover, measure_cover
from pleuston.photo.drawing import mask_png, overlay_jpeg
from pleuston.photo.opening import Kept, keep_picture

__all__ = [
    "Cover",
    "Kept",
    "Stroke",
    "keep_picture",
    "mask_png",
    "measure_cover",
    "overlay_jpeg",
]
