"""`pleuston cover`: how much of the water floaters cover in a photo from above."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pleuston.cli.show import emit


def cover(
    image: Annotated[Path, typer.Argument(help="A JPEG, PNG or WebP photo from above.")],
    corners: Annotated[
        str,
        typer.Option("--corners", help="Corners of the water: x,y;x,y;x,y;x,y in pixels."),
    ] = "",
    shift: Annotated[
        float, typer.Option("--shift", help="Above 0 counts more as floaters, below 0 less.")
    ] = 0.0,
    mask: Annotated[
        Path | None, typer.Option("--mask", help="Also write the mask here (PNG).")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Measure the cover of floaters in a photo, with its error; say so when it can't be told."""
    from pleuston.photo import mask_png, measure_cover
    from pleuston.photo.corners import parse_corners

    found = measure_cover(image, parse_corners(corners) if corners else None, shift)
    answer = {
        "cover_pct": round(found.cover_pct, 1), "low_pct": round(found.low_pct, 1),
        "high_pct": round(found.high_pct, 1), "sure": found.sure,
        "reasons": list(found.reasons), "method": found.method, "version": found.version,
        "width": found.size[0], "height": found.size[1],
    }  # fmt: skip
    if mask is not None:
        mask.write_bytes(mask_png(found))
        answer["mask"] = str(mask)
    if json:
        emit(answer, json, "cover")
        return
    typer.echo(
        f"Cover {found.cover_pct:.0f} %, likely {found.low_pct:.0f} to {found.high_pct:.0f} %"
    )
    for reason in found.reasons:
        typer.echo(f"Not sure: {reason}")
    if mask is not None:
        typer.echo(f"Mask: {mask.resolve()}")
