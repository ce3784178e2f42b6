"""Four corners in any order lead to the surface seen from above, or to a refusal."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from PIL import Image

from pleuston.base.errors import InputError
from pleuston.photo.corners import Point, ordered_corners, parse_corners, rectify
from pleuston.photo.opening import Opened

QUAD = ((100.0, 80.0), (520.0, 60.0), (600.0, 420.0), (40.0, 400.0))


def test_any_order_of_the_corners_is_the_same_surface() -> None:
    for order in permutations(QUAD):
        assert ordered_corners(order, 640, 480).tolist() == [list(p) for p in QUAD]


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (((0, 0), (641, 0), (600, 400), (0, 400)), "outside"),
        (((-1, 0), (600, 0), (600, 400), (0, 400)), "outside"),
        (((float("nan"), 0), (600, 0), (600, 400), (0, 400)), "no number"),
        (((0, 0), (600, 0), (600, 400)), "four corners"),
        (((0, 0, 1), (600, 0, 1), (600, 400, 1), (0, 0, 2)), "four corners"),
        (((0, 0), (600, 0), (300, 100), (300, 400)), "bulges"),
        (((0, 0), (200, 0), (400, 0), (600, 0)), "bulges"),
        (((0, 0), (1, 0), (600, 400), (0, 400)), "close to each other"),
        (((10, 10), (40, 10), (40, 40), (10, 40)), "a hundredth"),
    ],
)
def test_corners_that_make_no_surface_are_refused(corners: tuple[Point, ...], said: str) -> None:
    with pytest.raises(InputError, match=said) as caught:
        ordered_corners(corners, 640, 480)
    assert caught.value.where == "corners"


@pytest.mark.parametrize("text", ["", "1,2;3,4;5,6", "1,2;3,4;5,6;7", "a,b;1,2;3,4;5,6"])
def test_corners_badly_written_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="not four corners"):
        parse_corners(text)


def test_corners_are_read_as_written() -> None:
    assert parse_corners("1,2; 3,4.5;5,6;7,8") == ((1, 2), (3, 4.5), (5, 6), (7, 8))


@pytest.mark.parametrize("scale", [1.0, 0.5])
def test_shares_of_the_surface_come_out_right_from_a_slanted_view(scale: float) -> None:
    """A quarter of the surface is white; seen aslant it takes up less of the picture."""
    surface = np.zeros((400, 600), dtype=np.uint8)
    surface[:200, 300:] = 255
    quad = np.array(QUAD)
    rows, right = [], []
    for (x, y), (u, v) in zip(quad, ((0, 0), (600, 0), (600, 400), (0, 400)), strict=True):
        rows += [[x, y, 1, 0, 0, 0, -x * u, -y * u], [0, 0, 0, x, y, 1, -x * v, -y * v]]
        right += [u, v]
    back = np.linalg.solve(np.array(rows, float), np.array(right, float))
    seen = Image.fromarray(surface).transform(
        (640, 480), Image.Transform.PERSPECTIVE, list(back), Image.Resampling.BILINEAR
    )
    share_in_picture = (np.asarray(seen) > 127).mean()
    decoded = seen.resize((round(640 * scale), round(480 * scale))).convert("RGB")
    flat = rectify(Opened(decoded, 640, 480, "test"), QUAD)
    assert share_in_picture < 0.18
    assert (flat[..., 0] > 127).mean() == pytest.approx(0.25, abs=0.01)
    height, width = flat.shape[:2]
    assert flat[height // 4, 3 * width // 4, 0] > 200
    assert flat[3 * height // 4, width // 4, 0] < 50


def test_without_corners_the_whole_picture_counts() -> None:
    sheet = Image.new("RGB", (1200, 900), (10, 20, 30))
    assert rectify(Opened(sheet, 1200, 900, "test"), None).shape == (480, 640, 3)
