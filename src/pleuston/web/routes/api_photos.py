"""Photos as data: keep one, list them, measure the cover in a picture."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, File, Form, UploadFile
from pydantic import BaseModel

from pleuston.photo import measure_cover
from pleuston.photo.corners import parse_corners
from pleuston.services import photos
from pleuston.services.tanks import tank_sheet
from pleuston.web.access import Logger, Reader
from pleuston.web.routes.api_answers import Answer, Known, TankName
from pleuston.web.routes.api_entries import PROBLEM
from pleuston.web.site import SiteHere

TOO_LARGE: dict[int | str, dict[str, Any]] = {413: {**PROBLEM, "description": "Too large"}}
router = APIRouter(prefix="/api/v1", responses={**Known, **TOO_LARGE}, tags=["photos"])


class CoverFound(BaseModel):
    """A cover as it was measured: in about 90 of 100 cases it lies from low to high."""

    cover_pct: float
    low_pct: float
    high_pct: float
    sure: bool
    reasons: list[str]
    method: str
    version: str
    width: int
    height: int


class PhotoKept(BaseModel):
    """A photo as it was kept."""

    photo: UUID
    new: bool
    width: int
    height: int


@router.post("/cover")
def cover(
    who: Logger,  # noqa: ARG001
    image: Annotated[UploadFile, File(description="A JPEG, PNG or WebP photo from above.")],
    corners: Annotated[str, Form(max_length=200, description="x,y;x,y;x,y;x,y")] = "",
    shift: Annotated[float, Form(ge=-6, le=6)] = 0.0,
) -> CoverFound:
    """Measure the cover of floating plants in a picture; nothing is kept."""
    points = parse_corners(corners) if corners.strip() else None
    return CoverFound(**photos.cover_data(measure_cover(image.file.read(), points, shift)))


@router.get("/tanks/{tank}/photos")
def listed(site: SiteHere, who: Reader, tank: TankName) -> list[Answer]:  # noqa: ARG001
    """A tank's photos, newest first; the picture is at `/photos/{photo}.jpg`."""
    tank_sheet(site.db, tank, site.now())
    return photos.list_photos(site.db, tank)


@router.post("/tanks/{tank}/photos", status_code=201)
def keep(
    site: SiteHere, who: Logger, tank: TankName,
    image: Annotated[UploadFile, File()],
    photo: Annotated[UUID, Form(description="Made by the sender; sent again it adds nothing.")],
    note: Annotated[str, Form(max_length=1000)] = "",
) -> PhotoKept:  # fmt: skip
    """Keep a photo of a tank, without what its camera wrote into it."""
    made = photos.add_photo(
        site.db, tank, image.file.read(), note, None, str(photo), who, site.now()
    )
    return PhotoKept(**made)
