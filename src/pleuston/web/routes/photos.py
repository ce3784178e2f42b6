"""Photos of a tank, and the cover measured from one."""

from __future__ import annotations

import base64
from datetime import UTC, datetime
from typing import Annotated, Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Form, Path, Query, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, PleustonError, UnknownNameError
from pleuston.photo import measure_cover, overlay_jpeg
from pleuston.photo.corners import parse_corners
from pleuston.services import photos
from pleuston.services.entries import entries_of_tank
from pleuston.services.jobs import ask
from pleuston.services.log import log_entries
from pleuston.services.tanks import tank_sheet
from pleuston.web.access import FromOurForm, Keeper, Logger, Reader
from pleuston.web.render import page, tank_url
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
ON_A_PAGE = 60
PhotoId = Annotated[UUID, Path()]
Corners = Annotated[str, Form(max_length=200)]
Shift = Annotated[float, Form(ge=-6, le=6)]
Strokes = Annotated[str, Form(max_length=400_000)]


@router.get("/t/{tank}/photos")
def gallery(
    request: Request, site: SiteHere, who: Reader, tank: str,
    before: Annotated[datetime | None, Query()] = None,
) -> HTMLResponse:  # fmt: skip
    """A tank's photos, newest first, so many on a page."""
    return _gallery(request, site, who, tank, before=before)


def _gallery(
    request: Request, site: Site, who: Reader, tank: str, error: PleustonError | None = None,
    before: datetime | None = None,
) -> HTMLResponse:  # fmt: skip
    tank_sheet(site.db, tank, site.now())
    if before is not None and before.tzinfo is None:
        before = before.replace(tzinfo=site.zone() or UTC)
    shown = photos.list_photos(site.db, tank, ON_A_PAGE, before)
    older = shown[-1]["at"] if len(shown) == ON_A_PAGE else None
    return page(
        request, site, "photos.html", 422 if error else 200, who=who, tank=tank, error=error,
        photos=shown, older=older, entry_id=str(uuid4()),
    )  # fmt: skip


@router.post("/t/{tank}/photos", dependencies=[FromOurForm])
def add(
    request: Request, site: SiteHere, who: Logger, tank: str, file: UploadFile,
    entry_id: Annotated[UUID, Form()],
    note: Annotated[str, Form(max_length=1000)] = "",
    at: Annotated[str, Form(max_length=40)] = "",
    choice: Annotated[str, Form(pattern="^(keep|cover)$")] = "keep",
) -> Response:  # fmt: skip
    """Keep a photo; on a flaw nothing is kept and the page says why."""
    try:
        when = _moment(site, at)
        made = photos.add_photo(
            site.db, tank, file.file.read(), note, when, str(entry_id), who, site.now()
        )
    except InputError as error:
        return _gallery(request, site, who, tank, error)
    if choice == "cover":
        return RedirectResponse(f"{tank_url(tank, 'cover')}?photo={made['photo']}", 303)
    return RedirectResponse(tank_url(tank, "photos"), 303)


def _moment(site: Site, text: str) -> datetime | None:
    """A time typed on the rack's clock; None when nothing was typed."""
    if not text:
        return None
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no time", "when", "choose day and hour") from None
    return found if found.tzinfo else found.replace(tzinfo=site.zone() or UTC)


@router.get("/photos/{photo}.jpg")
def full(site: SiteHere, who: Reader, photo: PhotoId, small: bool = False) -> Response:  # noqa: ARG001
    """A picture, or its small copy."""
    media, data = photos.picture(site.db, str(photo), small)
    return Response(data, media_type=media, headers={"Cache-Control": "private, max-age=86400"})


@router.post("/photos/{photo}/remove", dependencies=[FromOurForm])
def remove(
    site: SiteHere, who: Keeper, photo: PhotoId, tank: Annotated[str, Form(max_length=200)]
) -> Response:
    """Delete a picture for good."""
    photos.remove_photo(site.db, str(photo), who, site.now())
    return RedirectResponse(tank_url(tank, "photos"), 303)


@router.get("/t/{tank}/cover")
def cover_page(
    request: Request, site: SiteHere, who: Logger, tank: str,
    photo: Annotated[UUID | None, Query()] = None,
) -> HTMLResponse:  # fmt: skip
    """Choose a picture, then mark the water in it."""
    return _cover(request, site, who, tank, str(photo) if photo else "")


def _cover(
    request: Request, site: Site, who: Logger, tank: str, photo: str,
    error: PleustonError | None = None, **typed: Any,
) -> HTMLResponse:  # fmt: skip
    tank_sheet(site.db, tank, site.now())
    kept = photos.list_photos(site.db, tank, ON_A_PAGE)
    about = photos.photo_of(site.db, tank, photo) if photo else None
    past = [
        e for e in entries_of_tank(site.db, tank, kind="reading", limit=200) if e.what == "cover"
    ]
    data = {"corners": "", "shift": 0.0, "strokes": "", "result": None, "overlay": "", **typed}
    return page(
        request, site, "cover.html", 422 if error else 200, who=who, tank=tank, photos=kept,
        about=about, error=error, entry_id=str(uuid4()), past=past[:8], **data,
    )  # fmt: skip


@router.post("/t/{tank}/cover", dependencies=[FromOurForm])
def measure(
    request: Request, site: SiteHere, who: Logger, tank: str,
    photo: Annotated[UUID, Form()],
    entry_id: Annotated[UUID, Form()],
    corners: Corners = "", shift: Shift = 0.0, strokes: Strokes = "",
    choice: Annotated[str, Form(pattern="^(measure|note)$")] = "measure",
) -> Response:  # fmt: skip
    """Measure the cover in a kept picture, or note it as a reading."""
    typed: dict[str, Any] = {"corners": corners, "shift": shift, "strokes": strokes}
    try:
        about = photos.photo_of(site.db, tank, str(photo))
        _media, picture = photos.picture(site.db, str(photo))
        points = parse_corners(corners) if corners.strip() else None
        found = measure_cover(picture, points, shift, photos.parse_strokes(strokes))
        if choice == "note":
            return _note(site, who, tank, about["at"], found, str(entry_id))
        drawn = base64.b64encode(overlay_jpeg(picture, found, points)).decode()
    except UnknownNameError:
        raise
    except InputError as error:
        return _cover(request, site, who, tank, str(photo), error, **typed)
    return _cover(
        request, site, who, tank, str(photo), result=photos.cover_data(found),
        overlay=f"data:image/jpeg;base64,{drawn}", **typed,
    )  # fmt: skip


def _note(
    site: Site, who: Logger, tank: str, taken: datetime, found: Any, entry: str
) -> Response:
    row = photos.cover_reading(found, tank, entry, taken)
    log_entries(site.db, [row], who, site.now())
    ask(site.db, "tank", tank, site.now())
    return RedirectResponse(tank_url(tank, "cover"), 303)
