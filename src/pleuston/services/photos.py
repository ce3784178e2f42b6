"""Photos of tanks: kept without the data of their camera, each with its entry."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.photo import Cover, Stroke, keep_picture
from pleuston.services.log import log_in
from pleuston.services.who import Who, require
from pleuston.store import audit
from pleuston.store import photos as rows
from pleuston.store.session import Database

SMALL_SIDE = 320


def add_photo(
    db: Database, tank: str, data: bytes, note: str, at: datetime | None, photo: str, who: Who,
    now: datetime,
) -> dict[str, Any]:  # fmt: skip
    """Keep a picture with its `photo` entry, both or neither; the same id again adds nothing.

    photo: the UUID of both. at: when it was taken; None stands for now, or for the time
    that was kept where the same is sent again. The picture is turned upright, made small
    enough, and loses everything its camera wrote into it.
    """
    require(who, "photo")
    kept, small = keep_picture(data), keep_picture(data, SMALL_SIDE)
    entry = {
        "id": photo, "at": at.isoformat() if at else "", "tank": tank, "kind": "photo",
        "what": f"{photo}.jpg", "note": note,
    }  # fmt: skip
    with db.write() as connection:
        made = log_in(connection, [entry], who, now)["entries"][0]
        rows.add_photo(
            connection, made["id"], tank, datetime.fromisoformat(made["at"]), "image/jpeg",
            (kept.width, kept.height), kept.data, small.data, note,
        )  # fmt: skip
    return {"photo": made["id"], "new": made["new"], "width": kept.width, "height": kept.height}


def list_photos(
    db: Database, tank: str, limit: int = 60, before: datetime | None = None
) -> list[dict[str, Any]]:
    """What is known of a tank's photos, newest first; before: the time to go on from."""
    with db.read() as connection:
        return [dict(row._mapping) for row in rows.photos_of(connection, tank, limit, before)]


def photo_of(db: Database, tank: str, photo: str) -> dict[str, Any]:
    """What is known of one photo of a tank; that of another tank is refused."""
    with db.read() as connection:
        row = rows.photo_row(connection, photo)
    if row is None or row.tank != tank:
        raise UnknownNameError(
            f"{tank} has no photo {photo!r}", "photos", "choose one of this tank's own"
        )
    return dict(row._mapping)


def picture(db: Database, photo: str, small: bool = False) -> tuple[str, bytes]:
    """A photo's media type and bytes."""
    with db.read() as connection:
        found = rows.picture_of(connection, photo, small)
    if found is None:
        raise UnknownNameError(f"there is no photo {photo!r}", "photos", "look at the list")
    return found


def remove_photo(db: Database, photo: str, who: Who, now: datetime) -> None:
    """Delete a picture for good; that it was taken stays in the record."""
    require(who, "keep")
    with db.write() as connection:
        if not rows.remove_photo(connection, photo):
            raise UnknownNameError(f"there is no photo {photo!r}", "photos", "look at the list")
        audit.note(
            connection, "remove photo", photo, now, person=who.person, device=who.device
        )


def parse_strokes(text: str) -> tuple[Stroke, ...]:
    """Corrections by hand as JSON: [{"points": [[x, y], ...], "radius": r, "paint": true}, ...]."""
    try:
        given = json.loads(text) if text.strip() else []
        return tuple(
            Stroke(
                tuple((float(x), float(y)) for x, y in one["points"]), float(one["radius"]),
                one["paint"] is True,
            )
            for one in given
        )  # fmt: skip
    except (ValueError, TypeError, KeyError, RecursionError):
        raise InputError(
            "the strokes can't be read", "strokes", "open the page again and draw them once more"
        ) from None


def cover_data(found: Cover) -> dict[str, Any]:
    """A measured cover as data."""
    return {
        "cover_pct": round(found.cover_pct, 1), "low_pct": round(found.low_pct, 1),
        "high_pct": round(found.high_pct, 1), "sure": found.sure,
        "reasons": list(found.reasons), "method": found.method, "version": found.version,
        "width": found.size[0], "height": found.size[1],
    }  # fmt: skip


def cover_reading(found: Cover, tank: str, entry: str, at: datetime) -> dict[str, Any]:
    """The reading that a measured cover stands for."""
    return {
        "id": entry, "at": at.isoformat(), "tank": tank, "kind": "reading", "what": "cover",
        "low": round(found.low_pct, 1), "high": round(found.high_pct, 1), "unit": "%",
        "method": f"photo, {found.method} {found.version}",
    }  # fmt: skip


