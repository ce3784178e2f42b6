"""Rows of photos: the picture, a small one, and when and of which tank it is."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select

from pleuston.store.tables import PHOTOS

F = PHOTOS.c
ABOUT = (F.photo, F.tank, F.at, F.media_type, F.width, F.height, F.note)


def add_photo(
    connection: Connection, photo: str, tank: str, at: datetime, media_type: str,
    size: tuple[int, int], picture: bytes, small: bytes, note: str = "",
) -> bool:  # fmt: skip
    """Keep a photo under the id of its entry; False where it is there already."""
    if connection.execute(select(F.photo).where(F.photo == photo)).first() is not None:
        return False
    connection.execute(
        insert(PHOTOS).values(
            photo=photo, tank=tank, at=at, media_type=media_type, width=size[0],
            height=size[1], picture=picture, small=small, note=note,
        )
    )  # fmt: skip
    return True


def photos_of(
    connection: Connection, tank: str = "", limit: int = 50, before: datetime | None = None
) -> list[Row[Any]]:
    """What is known of the photos of a tank or of all, newest first, without the pictures."""
    query = select(*ABOUT).order_by(F.at.desc(), F.photo).limit(limit)
    if tank:
        query = query.where(F.tank == tank)
    if before is not None:
        query = query.where(F.at < before)
    return list(connection.execute(query))


def photo_row(connection: Connection, photo: str) -> Any | None:
    """What is known of one photo, without its picture."""
    return connection.execute(select(*ABOUT).where(F.photo == photo)).first()


def picture_of(connection: Connection, photo: str, small: bool = False) -> tuple[str, bytes] | None:
    """The type and bytes of a photo, or of its small picture (always JPEG)."""
    column = F.small if small else F.picture
    row = connection.execute(select(F.media_type, column).where(F.photo == photo)).first()
    if row is None:
        return None
    return ("image/jpeg" if small else str(row[0])), bytes(row[1])


def remove_photo(connection: Connection, photo: str) -> bool:
    """Delete a photo; its entry stays."""
    return bool(connection.execute(delete(PHOTOS).where(F.photo == photo)).rowcount)
