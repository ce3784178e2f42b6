"""Rows of people, the devices they are signed in on, and one-time codes."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from pleuston.store.tables import DEVICES, PAIRINGS, PEOPLE

P, D, Q = PEOPLE.c, DEVICES.c, PAIRINGS.c


def person_row(connection: Connection, person: str) -> Row[Any] | None:
    """A person, also one who has left."""
    return connection.execute(select(PEOPLE).where(P.person == person)).first()


def people_rows(connection: Connection) -> list[Row[Any]]:
    """The people who may use the rack, in the order they came."""
    query = select(PEOPLE).where(P.person != "", P.left_at.is_(None))
    return list(connection.execute(query.order_by(P.created_at, P.person)))


def put_person(
    connection: Connection, person: str, role: str, password_hash: str, now: datetime
) -> None:
    """Add a person, or let one who left come back."""
    values = {"role": role, "password_hash": password_hash, "created_at": now, "left_at": None}
    same = update(PEOPLE).where(P.person == person).values(**values)
    if not connection.execute(same).rowcount:
        connection.execute(insert(PEOPLE).values(person=person, **values))


def change_person(connection: Connection, person: str, **values: Any) -> None:
    """Change columns of a person."""
    connection.execute(update(PEOPLE).where(P.person == person).values(**values))


def add_device(
    connection: Connection, device: str, person: str, name: str, token_hash: str,
    now: datetime, expires: datetime,
) -> None:  # fmt: skip
    """Sign a person in on a device."""
    connection.execute(
        insert(DEVICES).values(
            device=device, person=person, name=name, token_hash=token_hash,
            created_at=now, seen_at=now, expires_at=expires,
        )
    )  # fmt: skip


def device_by_token(connection: Connection, token_hash: str) -> Row[Any] | None:
    """The device of a token, with the role of its person and whether they have left."""
    query = (
        select(DEVICES, P.role, P.left_at)
        .join(PEOPLE, P.person == D.person)
        .where(D.token_hash == token_hash)
    )
    return connection.execute(query).first()


def device_row(connection: Connection, device: str) -> Row[Any] | None:
    """A device by its id."""
    return connection.execute(select(DEVICES).where(D.device == device)).first()


def device_rows(connection: Connection, person: str = "") -> list[Row[Any]]:
    """The devices of a person or of all, the one seen last first."""
    query = select(DEVICES).order_by(D.seen_at.desc(), D.device)
    if person:
        query = query.where(D.person == person)
    return list(connection.execute(query))


def seen(connection: Connection, device: str, now: datetime) -> None:
    """Note that a device was here."""
    connection.execute(update(DEVICES).where(D.device == device).values(seen_at=now))


def revoke_devices(
    connection: Connection, now: datetime, *, device: str = "", person: str = ""
) -> int:
    """End the sessions of a device, of a person, or of all; gives how many."""
    query = update(DEVICES).where(D.revoked_at.is_(None))
    if device:
        query = query.where(D.device == device)
    if person:
        query = query.where(D.person == person)
    return connection.execute(query.values(revoked_at=now)).rowcount


def forget_devices(connection: Connection, before: datetime) -> None:
    """Delete devices whose sessions ended before a moment."""
    gone = (D.revoked_at < before) | (D.expires_at < before)
    connection.execute(delete(DEVICES).where(gone))


def add_pairing(
    connection: Connection, code_hash: str, person: str, now: datetime, expires: datetime
) -> None:
    """Note a one-time code; codes that ran out go."""
    connection.execute(delete(PAIRINGS).where(Q.expires_at < now))
    connection.execute(
        insert(PAIRINGS).values(
            code_hash=code_hash, person=person, created_at=now, expires_at=expires
        )
    )


def take_pairing(connection: Connection, code_hash: str, now: datetime) -> str | None:
    """Use a one-time code up; gives its person, None where it is not valid."""
    valid = (Q.code_hash == code_hash) & Q.used_at.is_(None) & (Q.expires_at > now)
    row = connection.execute(select(PAIRINGS).where(valid)).first()
    if row is None:
        return None
    used = connection.execute(update(PAIRINGS).where(valid).values(used_at=now))
    return str(row.person) if used.rowcount else None


def drop_pairings(connection: Connection, person: str = "") -> None:
    """Forget the codes of a person, or all."""
    query = delete(PAIRINGS)
    connection.execute(query.where(Q.person == person) if person else query)
