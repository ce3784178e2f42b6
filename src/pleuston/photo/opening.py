"""Open a picture safely, and keep it small and without what it tells about the keeper."""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from pleuston.base.errors import InputError

FORMATS = ("JPEG", "PNG", "WEBP")
FOUND = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "WEBP": "WebP"}
MODES = ("RGB", "RGBA", "L", "LA", "P", "1", "CMYK", "YCbCr")
MAX_BYTES = 40_000_000
MAX_SIDE = 16_000
MIN_SIDE = 64
MAX_PIXELS = {"JPEG": 64_000_000, "PNG": 32_000_000, "WebP": 32_000_000}
KEPT_SIDE = 1600
KEPT_QUALITY = 85
ORIENTATION = 0x0112
# What Pillow raises, or warns of, on damaged files.
DAMAGE = (OSError, SyntaxError, ValueError, EOFError, struct.error, MemoryError, Warning)
UPRIGHT_BY = {
    2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270, 7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_90,
}  # fmt: skip
TAKE_ANOTHER = "Send the photo as JPEG, PNG or WebP, as the camera wrote it"


@dataclass(frozen=True)
class Kept:
    """A picture fit to be stored: JPEG without any metadata."""

    data: bytes
    width: int
    height: int


@dataclass(frozen=True)
class Opened:
    """A decoded upright picture, and the size it has in full."""

    image: Image.Image
    width: int
    height: int
    where: str


def open_picture(source: bytes | Path, longest: int) -> Opened:
    """Decode a picture upright in RGB, about `longest` pixels or more on its longer side.

    A JPEG is decoded at a fraction of its size where that is enough. Colours are taken as
    sRGB; a colour profile is not read.
    """
    where = source.name if isinstance(source, Path) else "picture"
    data = _bytes_of(source, where)
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as image:
            width, height = _checked(image, where)
            orientation = _orientation(image)
            if image.format in ("JPEG", "MPO"):
                share = min(1.0, longest / max(width, height))
                image.draft(None, (max(1, int(width * share)), max(1, int(height * share))))
            plain = image.convert("RGB")
    except InputError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_large(where, "far more than a photo has") from None
    except UnidentifiedImageError:
        raise InputError("this is no JPEG, PNG or WebP picture", where, TAKE_ANOTHER) from None
    except DAMAGE as error:
        raise InputError(
            f"the picture is damaged or cut short ({str(error) or type(error).__name__})", where,
            "Send the file again, or take another photo",
        ) from None  # fmt: skip
    if orientation in UPRIGHT_BY:
        plain = plain.transpose(UPRIGHT_BY[orientation])
    if orientation >= 5:
        width, height = height, width
    return Opened(plain, width, height, where)


def keep_picture(data: bytes | Path, side: int = KEPT_SIDE) -> Kept:
    """The picture as it may be stored: upright JPEG of at most `side` pixels, no metadata."""
    image = open_picture(data, side).image
    image.thumbnail((side, side), Image.Resampling.LANCZOS, reducing_gap=2.0)
    # A new sheet, so that nothing the decoder attached to the old one is written.
    sheet = Image.new("RGB", image.size)
    sheet.paste(image)
    out = io.BytesIO()
    sheet.save(out, "JPEG", quality=KEPT_QUALITY, optimize=True)
    return Kept(out.getvalue(), *sheet.size)


def _bytes_of(source: bytes | Path, where: str) -> bytes:
    if isinstance(source, Path):
        if not source.is_file():
            raise InputError("there is no such file", where, "Check the path")
        size = source.stat().st_size
        data = source.read_bytes() if size <= MAX_BYTES else b""
    else:
        size, data = len(source), source
    if size > MAX_BYTES:
        raise InputError(
            f"the file has {size / 1e6:.0f} MB, more than the {MAX_BYTES / 1e6:.0f} MB taken",
            where, "Send a smaller copy; 2000 pixels on the longer side are plenty",
        )  # fmt: skip
    if not data:
        raise InputError("the file is empty", where, TAKE_ANOTHER)
    return data


def _orientation(image: Image.Image) -> int:
    """How the camera was held, 1 to 8; damaged metadata count as upright."""
    try:
        found = image.getexif().get(ORIENTATION)
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, struct.error, Warning):
        return 1
    return found if isinstance(found, int) and found in UPRIGHT_BY else 1


def _checked(image: Image.Image, where: str) -> tuple[int, int]:
    """Refuse by what the header says, before anything is decoded."""
    kind = FOUND.get(image.format or "")
    if kind is None:
        raise InputError(f"{image.format} pictures are not taken", where, TAKE_ANOTHER)
    width, height = image.size
    if max(width, height) > MAX_SIDE or width * height > MAX_PIXELS[kind]:
        raise _too_large(where, f"{width} x {height} pixels, too many for a {kind}")
    if min(width, height) < MIN_SIDE:
        raise InputError(
            f"the picture has only {width} x {height} pixels", where,
            f"Send one of at least {MIN_SIDE} pixels each way",
        )  # fmt: skip
    if image.mode not in MODES:
        raise InputError(
            f"its pixels ({image.mode}) are no ordinary colours", where, TAKE_ANOTHER
        )
    return width, height


def _too_large(where: str, how: str) -> InputError:
    return InputError(
        f"the picture is too large ({how})", where,
        "Send a smaller copy; 2000 pixels on the longer side are plenty",
    )  # fmt: skip
