"""The house: people and devices, settings and units, back-ups, what was changed."""

from __future__ import annotations

import io
from datetime import timedelta
from pathlib import Path
from typing import Annotated

import segno
from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, PleustonError
from pleuston.services import backup as backups
from pleuston.services import catalogue, people
from pleuston.services.changes import changes_made
from pleuston.web import words
from pleuston.web.access import FromOurForm, Keeper, Reader
from pleuston.web.render import page
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import CHOICES

router = APIRouter(include_in_schema=False)
PAIRING_MINUTES = 10
Text = Annotated[str, Form(max_length=1000)]


@router.get("/people")
def people_page(request: Request, site: SiteHere, who: Keeper) -> HTMLResponse:
    """Who may use the rack, and on which devices."""
    return _people(request, site, who)


def _people(
    request: Request, site: Site, who: Keeper, error: PleustonError | None = None,
    pairing: dict[str, str] | None = None,
) -> HTMLResponse:  # fmt: skip
    return page(
        request, site, "people.html", 422 if error else 200, who=who, error=error,
        people=people.list_people(site.db), devices=people.devices_of(site.db),
        pairing=pairing, minutes=PAIRING_MINUTES,
    )  # fmt: skip


@router.post("/people", dependencies=[FromOurForm])
def add_person(
    request: Request, site: SiteHere, who: Keeper, person: Text, role: Text, password: Text = ""
) -> Response:
    """Add a person."""
    try:
        people.add_person(site.db, person.strip(), role, password, who, site.now())
    except InputError as error:
        return _people(request, site, who, error)
    return RedirectResponse("/people", 303)


@router.post("/people/password", dependencies=[FromOurForm])
def change_password(
    request: Request, site: SiteHere, who: Keeper, person: Text, password: Text
) -> Response:
    """Give a person a new password; their devices must sign in again."""
    try:
        people.set_password(site.db, person, password, who, site.now())
    except InputError as error:
        return _people(request, site, who, error)
    return RedirectResponse("/people", 303)


@router.post("/people/leave", dependencies=[FromOurForm])
def remove_person(request: Request, site: SiteHere, who: Keeper, person: Text) -> Response:
    """Take a person out, with all their devices; what they noted stays."""
    try:
        people.remove_person(site.db, person, who, site.now())
    except InputError as error:
        return _people(request, site, who, error)
    return RedirectResponse("/people", 303)


@router.post("/devices/revoke", dependencies=[FromOurForm])
def revoke(site: SiteHere, who: Keeper, device: Text) -> Response:
    """End a device's session at once."""
    people.revoke(site.db, device, who, site.now())
    return RedirectResponse("/people", 303)


@router.post("/people/pairing", dependencies=[FromOurForm])
def new_pairing(request: Request, site: SiteHere, who: Keeper, person: Text) -> HTMLResponse:
    """Show a code that lets one phone in, once, for a short time."""
    ends = timedelta(minutes=PAIRING_MINUTES)
    code = people.new_pairing(site.db, person, who, site.now(), lasts=ends)
    address = f"{site.settings.address}/pair/{code}"
    drawn = io.BytesIO()
    segno.make(address, error="m").save(
        drawn, kind="svg", scale=6, border=4, light="white", dark="black", xmldecl=False,
        svgns=True, nl=False,
    )  # fmt: skip
    pairing = {"person": person, "address": address, "picture": segno_data(drawn.getvalue())}
    return _people(request, site, who, pairing=pairing)


def segno_data(svg: bytes) -> str:
    """Give a drawn code as an address that an image can show."""
    import base64

    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode()


@router.get("/settings")
def settings_page(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """The rack's settings, and the units of who reads."""
    return _settings(request, site, who)


def _settings(
    request: Request, site: Site, who: Reader, error: PleustonError | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:  # fmt: skip
    return page(
        request, site, "settings.html", 422 if error else 200, who=who, error=error,
        settings=typed or catalogue.rack_settings(site.db), choices=CHOICES,
        chosen=people.units_of(site.db, who.person), meanings=catalogue.SETTINGS_MEAN,
    )  # fmt: skip


@router.post("/settings/rack", dependencies=[FromOurForm])
async def save_settings(request: Request, site: SiteHere, who: Keeper) -> Response:
    """Change the rack's settings."""
    form = await request.form()
    typed = {key: str(form.get(key, "")).strip() for key in catalogue.SETTINGS_MEAN}
    try:
        catalogue.save_rack_settings(site.db, typed, who, site.now())
    except InputError as error:
        return _settings(request, site, who, error, typed)
    return RedirectResponse("/settings", 303)


@router.post("/settings/units", dependencies=[FromOurForm])
async def save_units(request: Request, site: SiteHere, who: Reader) -> Response:
    """Change the units that this person reads and types."""
    form = await request.form()
    chosen = {key: str(form[key]) for key, units in CHOICES.items() if form.get(key) in units}
    people.set_units(site.db, who.person, chosen)
    return RedirectResponse("/settings", 303)


@router.get("/changes")
def changes(
    request: Request, site: SiteHere, who: Reader,
    before: Annotated[int, Query(ge=0)] = 0,
) -> HTMLResponse:  # fmt: skip
    """Who changed what."""
    return page(
        request, site, "changes.html", who=who,
        changes=changes_made(site.db, before=before or None),
    )  # fmt: skip


def _folder(site: Site) -> Path | None:
    return backups.backup_folder(site.db) if site.db.is_sqlite else None


@router.get("/backups")
def backups_page(request: Request, site: SiteHere, who: Keeper) -> HTMLResponse:
    """The back-ups there are."""
    return _backups(request, site, who)


def _backups(
    request: Request, site: Site, who: Keeper, error: PleustonError | None = None, said: str = ""
) -> HTMLResponse:
    folder = _folder(site)
    return page(
        request, site, "backups.html", 422 if error else 200, who=who, error=error, said=said,
        folder=folder, kept=backups.list_backups(folder) if folder else [], words=words,
    )  # fmt: skip


@router.post("/backups", dependencies=[FromOurForm])
def make_backup(request: Request, site: SiteHere, who: Keeper) -> Response:
    """Make a back-up now, while the app goes on."""
    folder = _folder(site)
    try:
        made = backups.backup(site.db, folder, site.now(), who=who)
    except PleustonError as error:
        return _backups(request, site, who, error)
    return _backups(request, site, who, said=f"Written and checked: {Path(made['file']).name}")


@router.post("/backups/check", dependencies=[FromOurForm])
def check(request: Request, site: SiteHere, who: Keeper, name: Text) -> HTMLResponse:
    """Read a back-up through and say whether it is sound."""
    try:
        found = backups.check_backup(_named(site, name))
    except PleustonError as error:
        return _backups(request, site, who, error)
    said = f"{name} is sound: {found['tanks']} tanks, {found['entries']} entries"
    return _backups(request, site, who, said=said)


@router.get("/backups/{name}")
def fetch(site: SiteHere, who: Keeper, name: str) -> FileResponse:  # noqa: ARG001
    """Give a back-up's file."""
    return FileResponse(_named(site, name), filename=name)


def _named(site: Site, name: str) -> Path:
    """The back-up of that name; a name outside the folder is none."""
    folder = _folder(site)
    found = backups.list_backups(folder) if folder else []
    kept = {b["name"]: Path(b["file"]) for b in found}
    if name not in kept:
        raise InputError(f"there is no back-up {name!r}", "back-ups", "take one from the list")
    return kept[name]
