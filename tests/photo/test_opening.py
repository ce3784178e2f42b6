"""Pictures are opened safely; what is kept tells nothing about the keeper."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pleuston.base.errors import InputError
from pleuston.photo import keep_picture
from pleuston.photo.opening import MAX_BYTES, open_picture

ORIENTATION, GPS, MAKE = 0x0112, 0x8825, 0x010F


def encoded(image: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def halves(width: int = 400, height: int = 200) -> Image.Image:
    """Red on the left, blue on the right."""
    sheet = Image.new("RGB", (width, height), (200, 20, 20))
    sheet.paste((20, 20, 200), (width // 2, 0, width, height))
    return sheet


def exif(orientation: int) -> Image.Exif:
    tags = Image.Exif()
    tags[ORIENTATION] = orientation
    tags[MAKE] = "SOMEONES CAMERA"
    tags.get_ifd(GPS).update({1: "N", 2: (12.0, 34.0, 56.0), 3: "E", 4: (1.0, 2.0, 3.0)})
    return tags


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + check

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_kinds_are_taken(kind: str) -> None:
    found = open_picture(encoded(halves(), kind), 1600)
    assert (found.width, found.height, found.image.mode) == (400, 200, "RGB")


@pytest.mark.parametrize("mode", ["L", "P", "RGBA", "CMYK"])
def test_other_colour_modes_become_rgb(mode: str) -> None:
    kind = "JPEG" if mode in ("L", "CMYK") else "PNG"
    assert open_picture(encoded(halves().convert(mode), kind), 1600).image.mode == "RGB"


@pytest.mark.parametrize("frames", [2])
def test_a_phones_jpeg_of_several_frames_is_taken(frames: int) -> None:
    data = encoded(halves(), "MPO", save_all=True, append_images=[halves()] * (frames - 1))
    with Image.open(io.BytesIO(data)) as image:
        assert image.format == "MPO"
    assert open_picture(data, 1600).image.size == (400, 200)


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF"])
def test_other_kinds_are_refused_whatever_they_are_called(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(encoded(halves(), kind))
    with pytest.raises(InputError, match=r"photo\.jpg: this is no JPEG, PNG or WebP") as caught:
        open_picture(path, 1600)
    assert caught.value.remedy


def test_text_nothing_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no JPEG, PNG or WebP"):
        open_picture(b"<svg onload='x'/>", 1600)
    with pytest.raises(InputError, match="empty"):
        open_picture(b"", 1600)
    with pytest.raises(InputError, match="no such file"):
        open_picture(tmp_path / "gone.jpg", 1600)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_a_cut_file_is_refused(kind: str, share: float) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (200, 300, 3), dtype=np.uint8)
    data = encoded(Image.fromarray(noise), kind)
    with pytest.raises(InputError, match=r"damaged or cut short|no JPEG"):
        open_picture(data[: max(12, int(len(data) * share))], 1600)


def test_damage_anywhere_gives_a_picture_or_a_refusal() -> None:
    rng = np.random.default_rng(7)
    refused = []
    for kind in ("JPEG", "PNG", "WEBP"):
        whole = encoded(halves(), kind, **({"exif": exif(6)} if kind == "JPEG" else {}))
        for _ in range(60):
            data = bytearray(whole)
            for place in rng.integers(3, len(data), 4):
                data[place] = rng.integers(0, 256)
            try:
                assert open_picture(bytes(data), 800).image.mode == "RGB"
            except InputError as error:
                refused.append(error)
    assert len(refused) > 20
    assert all(error.remedy for error in refused)


@pytest.mark.parametrize("size", [(30_000, 30_000), (12_000, 9_000), (20_000, 100), (9_000, 6_000)])
def test_bombs_are_refused_by_their_header(size: tuple[int, int]) -> None:
    with pytest.raises(InputError, match="too large"):
        open_picture(png_header(*size), 1600)


def test_a_huge_file_and_a_tiny_picture_are_refused() -> None:
    with pytest.raises(InputError, match="MB"):
        open_picture(b"\xff\xd8\xff" + bytes(MAX_BYTES), 1600)
    with pytest.raises(InputError, match="only 40 x 300 pixels"):
        open_picture(encoded(halves(40, 300)), 1600)


def test_a_picture_of_deep_grey_is_refused() -> None:
    deep = Image.fromarray(np.full((100, 100), 40_000, dtype=np.uint16))
    with pytest.raises(InputError, match="no ordinary colours"):
        open_picture(encoded(deep, "PNG"), 1600)


@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [(1, (400, 200), (20, 100)), (3, (400, 200), (380, 100)), (6, (200, 400), (100, 20)),
     (8, (200, 400), (100, 380))],
)  # fmt: skip
def test_a_turned_picture_is_set_upright(
    orientation: int, size: tuple[int, int], red_at: tuple[int, int]
) -> None:
    data = encoded(halves(), exif=exif(orientation), quality=95)
    found = open_picture(data, 1600)
    assert (found.width, found.height) == found.image.size == size
    red, _, blue = found.image.getpixel(red_at)
    assert red > 150 > blue
    kept = keep_picture(data)
    assert (kept.width, kept.height) == size


def test_what_is_kept_is_small_and_tells_nothing() -> None:
    told = {"exif": exif(6), "comment": b"shot at home", "icc_profile": b"x" * 200}
    data = encoded(halves(3000, 2000), **told)
    assert b"SOMEONES CAMERA" in data
    kept = keep_picture(data)
    assert (kept.width, kept.height) == (1067, 1600)
    with Image.open(io.BytesIO(kept.data)) as image:
        assert image.format == "JPEG"
        assert image.size == (1067, 1600)
        assert dict(image.getexif()) == {}
        assert not {"exif", "comment", "icc_profile", "xmp", "photoshop"} & set(image.info)
    for words in (b"SOMEONES CAMERA", b"shot at home", b"Exif", b"GPS"):
        assert words not in kept.data


def test_a_large_jpeg_is_decoded_at_a_fraction_and_a_small_one_is_not_blown_up() -> None:
    found = open_picture(encoded(halves(4000, 3000)), 1600)
    assert found.image.size == (2000, 1500)
    assert (found.width, found.height) == (4000, 3000)
    kept = keep_picture(encoded(halves(300, 200)))
    assert (kept.width, kept.height) == (300, 200)
