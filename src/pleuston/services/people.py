"""People, their devices and units: who may come in, and how they are let in.

A token or a code is shown once, to the one it is for; only its hash is kept.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import uuid
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.base.units import convert
from pleuston.records.near import near_names
from pleuston.services.who import MAY, Who, require
from pleuston.store import audit
from pleuston.store import people as rows
from pleuston.store.session import Database, StoreError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

LEAST_PASSWORD, MOST_PASSWORD = 10, 1000
MOST_NAME = 100
LASTS, IDLE = timedelta(days=180), timedelta(days=30)
"""How long a session lasts at most, and how long without being used."""
SEEN_EVERY = timedelta(minutes=5)
PAIRING_LASTS = timedelta(minutes=2)
UNITS = {
    "volume": "L", "temperature": "degC", "equivalents": "meq/L", "mass": "g", "length": "mm",
}  # fmt: skip
"""What a person may choose a unit for, and a unit of that dimension."""


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


@cache
def _nobody() -> str:
    """A hash that takes as long to refuse as a real one, so that names can't be guessed."""
    return _hasher().hash(secrets.token_urlsafe())


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


def _checked_name(person: str) -> str:
    name = person.strip()
    if not name or len(name) > MOST_NAME or not name.isprintable():
        raise InputError(
            what="this name can't be used" if name else "the name is missing",
            where="person",
            remedy=f"give 1 to {MOST_NAME} letters",
        )
    return name


def _checked_password(password: str) -> str:
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        raise InputError(
            what=f"the password has {len(password)} characters",
            where="password",
            remedy=f"give {LEAST_PASSWORD} or more",
        )
    try:
        password.encode()
    except UnicodeEncodeError:
        raise InputError("the password holds half a character", "password", "type it") from None
    return _hasher().hash(password)


def _known(connection: Connection, person: str) -> Any:
    row = rows.person_row(connection, person) if person else None
    if row is None or row.left_at is not None:
        names = [found.person for found in rows.people_rows(connection)]
        raise UnknownNameError(
            f"there is nobody named {person!r}", "people", near_names(person, names)
        )
    return row


def add_person(
    db: Database, person: str, role: str, password: str, who: Who, now: datetime
) -> dict[str, Any]:
    """Let a person use the rack; without a password they come in by a code alone."""
    require(who, "keep")
    name = _checked_name(person)
    if role not in MAY:
        raise InputError(f"{role!r} is not a role", "role", "use " + ", ".join(MAY))
    hashed = _checked_password(password) if password else ""
    with db.write() as connection:
        there = [found.person for found in rows.people_rows(connection)]
        if name.casefold() in (other.casefold() for other in there):
            raise InputError(f"{name!r} is there already", "person", "take another name")
        rows.put_person(connection, name, role, hashed, now)
        audit.note(
            connection, "add person", name, now, person=who.person, device=who.device,
            after={"role": role, "password": bool(password)},
        )  # fmt: skip
    return {"person": name, "role": role, "can_sign_in": bool(password)}


def list_people(db: Database) -> list[dict[str, Any]]:
    """The people who may use the rack."""
    with db.read() as connection:
        return [
            {
                "person": row.person, "role": row.role, "can_sign_in": bool(row.password_hash),
                "created_at": row.created_at,
            }
            for row in rows.people_rows(connection)
        ]  # fmt: skip


def set_password(db: Database, person: str, password: str, who: Who, now: datetime) -> None:
    """Give a new password; the person's devices must sign in again."""
    if who.person != person:
        require(who, "keep")
    hashed = _checked_password(password)
    with db.write() as connection:
        _known(connection, person)
        rows.change_person(connection, person, password_hash=hashed)
        ended = rows.revoke_devices(connection, now, person=person)
        audit.note(
            connection, "set password", person, now, person=who.person, device=who.device,
            after={"devices signed out": ended},
        )  # fmt: skip


def set_role(db: Database, person: str, role: str, who: Who, now: datetime) -> None:
    """Give a person another role."""
    require(who, "keep")
    if role not in MAY:
        raise InputError(f"{role!r} is not a role", "role", "use " + ", ".join(MAY))
    with db.write() as connection:
        row = _known(connection, person)
        if row.role == "keeper" and role != "keeper":
            _not_the_last(connection, person)
        rows.change_person(connection, person, role=role)
        audit.note(
            connection, "set role", person, now, person=who.person, device=who.device,
            before={"role": row.role}, after={"role": role},
        )  # fmt: skip


def remove_person(db: Database, person: str, who: Who, now: datetime) -> None:
    """Take a person out with all their devices; what they noted stays."""
    require(who, "keep")
    with db.write() as connection:
        row = _known(connection, person)
        if row.role == "keeper":
            _not_the_last(connection, person)
        rows.change_person(connection, person, left_at=now, password_hash="")
        rows.revoke_devices(connection, now, person=person)
        rows.drop_pairings(connection, person)
        audit.note(
            connection, "remove person", person, now, person=who.person, device=who.device,
            before={"role": row.role},
        )  # fmt: skip


def _not_the_last(connection: Connection, person: str) -> None:
    others = [row for row in rows.people_rows(connection) if row.person != person]
    if others and not any(row.role == "keeper" for row in others):
        raise InputError(
            what=f"{person} is the only keeper",
            where="people",
            remedy="make another person a keeper first",
        )


def sign_in(db: Database, person: str, password: str, device: str, now: datetime) -> str:
    """Give a token to who knows the password; the caller limits how often this is tried."""
    with db.read() as connection:
        row = rows.person_row(connection, person.strip()) if person.strip() else None
    there = row is not None and row.left_at is None and bool(row.password_hash)
    fits = _fits(row.password_hash if there and row is not None else _nobody(), password)
    if row is None or not there or not fits:
        raise InputError("name or password is wrong", "sign-in", "try again")
    with db.write() as connection:
        again = rows.person_row(connection, row.person)
        if again is None or again.password_hash != row.password_hash:
            raise InputError("the password was changed meanwhile", "sign-in", "try again")
        return _let_in(connection, row.person, device, now)


def _fits(hashed: str, password: str) -> bool:
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        return _hasher().verify(hashed, password[: MOST_PASSWORD + 1].encode(errors="replace"))
    except (VerificationError, InvalidHashError):
        return False


def _let_in(connection: Connection, person: str, device: str, now: datetime) -> str:
    token, name = secrets.token_urlsafe(32), str(uuid.uuid4())
    shown = "".join(c for c in device if c.isprintable())[:MOST_NAME].strip()
    rows.forget_devices(connection, now - LASTS)
    rows.add_device(connection, name, person, shown, _hash(token), now, now + LASTS)
    audit.note(
        connection, "sign in", person, now, person=person, device=name, after={"device": shown}
    )
    return token


def who_of_token(db: Database, token: str, now: datetime) -> Who | None:
    """Tell who holds a token; None when it is not valid (any more)."""
    with db.read() as connection:
        row = rows.device_by_token(connection, _hash(token))
    if row is None or row.revoked_at is not None or row.left_at is not None:
        return None
    if now >= row.expires_at or now - row.seen_at > IDLE:
        return None
    if abs(now - row.seen_at) > SEEN_EVERY:
        with suppress(StoreError), db.write() as connection:
            rows.seen(connection, row.device, now)
    return Who(row.person, row.device, row.role)


def sign_out(db: Database, token: str, now: datetime) -> None:
    """End the session of a token."""
    with db.write() as connection:
        row = rows.device_by_token(connection, _hash(token))
        if row is not None:
            rows.revoke_devices(connection, now, device=row.device)


def devices_of(db: Database, person: str = "") -> list[dict[str, Any]]:
    """The devices of a person or of all, the one seen last first."""
    with db.read() as connection:
        return [
            {
                "device": row.device, "person": row.person, "name": row.name,
                "created_at": row.created_at, "seen_at": row.seen_at,
                "expires_at": row.expires_at, "revoked_at": row.revoked_at,
            }
            for row in rows.device_rows(connection, person)
        ]  # fmt: skip


def revoke(db: Database, device: str, who: Who, now: datetime) -> None:
    """End a device's session at once."""
    with db.write() as connection:
        row = rows.device_row(connection, device)
        if row is None:
            raise UnknownNameError("there is no such device", "devices", "take one of the list")
        if row.person != who.person:
            require(who, "keep")
        if rows.revoke_devices(connection, now, device=device):
            audit.note(
                connection, "revoke device", device, now, person=who.person, device=who.device,
                before={"person": row.person, "name": row.name},
            )  # fmt: skip


def new_pairing(
    db: Database, person: str, who: Who, now: datetime, lasts: timedelta = PAIRING_LASTS
) -> str:
    """Give a code that lets one device in as this person, once, for a short time."""
    if who.person != person:
        require(who, "keep")
    code = secrets.token_urlsafe(18)
    with db.write() as connection:
        _known(connection, person)
        rows.add_pairing(connection, _hash(code), person, now, now + lasts)
        audit.note(connection, "new pairing", person, now, person=who.person, device=who.device)
    return code


def use_pairing(db: Database, code: str, device: str, now: datetime) -> str:
    """Give a token to the device that brings a code; the code is used up."""
    with db.write() as connection:
        person = rows.take_pairing(connection, _hash(code), now)
        row = rows.person_row(connection, person) if person else None
        if row is None or row.left_at is not None:
            raise InputError(
                what="this code is used up or too old",
                where="pairing",
                remedy="have a new one shown",
            )
        return _let_in(connection, row.person, device, now)


def units_of(db: Database, person: str) -> dict[str, str]:
    """The units a person reads and types in, by dimension; empty: those of the record."""
    with db.read() as connection:
        row = rows.person_row(connection, person)
    return dict(json.loads(row.units)) if row is not None else {}


def set_units(
    db: Database, person: str, units: Mapping[str, str], now: datetime | None = None
) -> dict[str, str]:
    """Choose the units a person reads and types in; `person` is empty without sign-in."""
    for dimension, unit in units.items():
        if dimension not in UNITS:
            raise UnknownNameError(
                f"no unit can be chosen for {dimension!r}", "units", near_names(dimension, UNITS)
            )
        convert(1.0, unit, UNITS[dimension])
    with db.write() as connection:
        if not person and rows.person_row(connection, "") is None:
            rows.put_person(connection, "", "keeper", "", now or datetime.now().astimezone())
        elif person:
            _known(connection, person)
        rows.change_person(connection, person, units=json.dumps(dict(units)))
    return dict(units)
