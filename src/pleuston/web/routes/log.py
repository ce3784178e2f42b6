"""The quick log: choose a tank, a kind, one short form; works without script."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any
from uuid import uuid4

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.kinds import READINGS, SETTINGS, SIGNS
from pleuston.records.library import library
from pleuston.records.near import near_names
from pleuston.services.jobs import ask
from pleuston.services.kits import WAYS, kits, remove_kit, save_kit, steps_of
from pleuston.services.log import log_entries, withdraw_entry
from pleuston.services.tanks import tanks_glance
from pleuston.services.usual import Usual, stops, usual, walk
from pleuston.services.who import Who
from pleuston.web import log_pages
from pleuston.web.access import FromOurForm, Keeper, Logger
from pleuston.web.log_form import rows_of_form
from pleuston.web.render import page, tank_url
from pleuston.web.said import entries_said
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import Units

router = APIRouter(include_in_schema=False)
MOST_UNDONE = 400
STOPS = 40
"""Tanks on a page of the round with pen and thermometer; a form of more fields is refused."""


async def form_of(request: Request) -> dict[str, str]:
    """The fields of a form that was sent, each once."""
    return {key: value for key, value in (await request.form()).items() if isinstance(value, str)}


FormSent = Annotated[dict[str, str], Depends(form_of)]
Kind = Annotated[str, Query(max_length=40)]
What = Annotated[str, Query(max_length=200)]
Saved = Annotated[str, Query(max_length=4000)]
Start = Annotated[int, Query(ge=0, le=1_000_000)]


@router.get("/log")
def choose(request: Request, site: SiteHere, who: Logger, saved: Saved = "") -> HTMLResponse:
    """Choose a tank, in walking order."""
    return page(
        request, site, "log_choose.html", who=who, rows=tanks_glance(site.db, site.now()),
        saved=entries_said(site, who, saved),
    )  # fmt: skip


def _neighbours(site: Site, tank: str) -> tuple[str, str]:
    order = walk(site.db)
    place = order.index(tank)
    before = order[place - 1] if place else ""
    return before, order[place + 1] if place + 1 < len(order) else ""


def _screen(use: Usual, site: Site, who: Who, kind: str, what: str) -> dict[str, Any]:
    """What the screen of a kind needs beside what is usual."""
    units, today = Units.of(site, who), site.now().date()
    if kind == "reading" and what:
        if what not in READINGS:
            raise UnknownNameError(
                f"there is no reading {what!r}", "log", near_names(what, READINGS)
            )
        form = log_pages.reading_form(use, what, kits(site.db, today), units)
        return {"screen": "reading", "form": form}
    if kind == "reading":
        return {"screen": "readings"}
    if kind == "kits":
        forms = log_pages.kit_round(use, kits(site.db, today), units)
        return {"screen": "kit_round", "forms": forms}
    if kind and kind not in log_pages.SCREENS:
        raise UnknownNameError(
            f"nothing of the kind {kind!r} can be noted", "log",
            near_names(kind, log_pages.SCREENS),
        )  # fmt: skip
    return {"screen": log_pages.SCREENS.get(kind, "kinds")}


def _log_page(
    request: Request, site: Site, who: Who, tank: str, kind: str, what: str, status: int = 200,
    **more: Any,
) -> HTMLResponse:  # fmt: skip
    use = usual(site.db, tank, site.now())
    before, after = _neighbours(site, tank)
    data = {"saved": [], "error": None, "given": {}, **more}
    return page(
        request, site, "log.html", status, who=who, tank=tank, kind=kind, what=what, use=use,
        before=before, after=after, new_id=lambda: str(uuid4()), pages=log_pages,
        times=log_pages.times(site.now(), site.zone()), readings=READINGS, signs=SIGNS,
        settings=SETTINGS, substances=sorted(library().substances),
        **_screen(use, site, who, kind, what), **data,
    )  # fmt: skip


@router.get("/t/{tank}/log")
def log_page(
    request: Request, site: SiteHere, who: Logger, tank: str, kind: Kind = "", what: What = "",
    saved: Saved = "",
) -> HTMLResponse:  # fmt: skip
    """Note something of a tank."""
    return _log_page(
        request, site, who, tank, kind, what, saved=entries_said(site, who, saved)
    )


def keep(site: Site, who: Who, form: dict[str, str]) -> str:
    """Log the rows of a form and ask for new answers; gives the ids, joined."""
    now = site.now()
    made = log_entries(site.db, list(rows_of_form(form, now)), who, now)["entries"]
    ask_for(site, {entry["tank"] for entry in made if entry["new"]}, now)
    return ",".join(entry["id"] for entry in made)


def ask_for(site: Site, tanks: set[str], now: datetime) -> None:
    """Ask for new answers of tanks; the whole rack's entries wait for the next round."""
    for tank in sorted(tanks - {""}):
        ask(site.db, "tank", tank, now)


@router.post("/t/{tank}/log", dependencies=[FromOurForm])
def log(request: Request, site: SiteHere, who: Logger, tank: str, form: FormSent) -> Response:
    """Note what a form says; on a flaw the form comes back with what was typed."""
    kind, what = form.get("screen", "")[:40], form.get("screen_what", "")[:200]
    try:
        saved = keep(site, who, {**form, "tank": tank})
    except InputError as error:
        return _log_page(
            request, site, who, tank, kind, what, status=422, error=error, given=form
        )
    back = f"kind={kind}&" if kind in ("reading", "seen", "setting") else ""
    return RedirectResponse(f"{tank_url(tank, 'log')}?{back}saved={_few(saved)}", 303)


def _few(ids: str) -> str:
    """So many ids as an address should hold."""
    return ",".join(ids.split(",")[:100])


@router.get("/log/round")
def round_page(
    request: Request, site: SiteHere, who: Logger, saved: Saved = "", start: Start = 0
) -> HTMLResponse:
    """Pen and thermometer for all tanks, so many on a page as a form may hold."""
    return _round(request, site, who, start, saved=entries_said(site, who, saved))


def _round(
    request: Request, site: Site, who: Who, start: int, status: int = 200, **more: Any
) -> HTMLResponse:
    now, units = site.now(), Units.of(site, who)
    data = {"saved": [], "error": None, "given": {}, **more}
    room = [
        (what, log_pages.scale(units, READINGS[what], None, half))
        for what, half in (("room_temperature", 0.25), ("humidity", 2.5))
    ]
    found = stops(site.db, now)
    return page(
        request, site, "log_round.html", status, who=who, new_id=lambda: str(uuid4()),
        stops=log_pages.stop_forms(found[start : start + STOPS], units), room=room, start=start,
        before=start - STOPS, after=start + STOPS if start + STOPS < len(found) else 0,
        times=log_pages.times(now, site.zone()), **data,
    )  # fmt: skip


@router.post("/log/round", dependencies=[FromOurForm])
def log_round(
    request: Request, site: SiteHere, who: Logger, form: FormSent, start: Start = 0
) -> Response:
    """Note the readings of all tanks, all or none."""
    try:
        saved = keep(site, who, form)
    except InputError as error:
        return _round(request, site, who, start, 422, error=error, given=form)
    return RedirectResponse(f"/log/round?start={start}&saved={_few(saved)}", 303)


@router.post("/log/undo", dependencies=[FromOurForm])
def undo(site: SiteHere, who: Logger, form: FormSent) -> Response:
    """Take back what was just saved; what is taken back already stays so."""
    tanks = set()
    for name in form.get("entry_ids", "").split(",")[:MOST_UNDONE]:
        try:
            made = withdraw_entry(site.db, name, "taken back", who, site.now())
        except UnknownNameError:
            raise
        except InputError:
            continue
        tanks.add(made["entry"]["tank"])
    ask_for(site, tanks, site.now())
    tank = form.get("tank", "")
    return RedirectResponse(tank_url(tank, "log") if tank else "/log", 303)


@router.get("/log/kits")
def kits_page(request: Request, site: SiteHere, who: Logger) -> HTMLResponse:
    """The test kits and their steps."""
    return _kits(request, site, who)


def _kits(request: Request, site: Site, who: Who, status: int = 200, **more: Any) -> HTMLResponse:
    data = {"error": None, "given": {}, **more}
    shown = [(kit, steps_of(kit)) for kit in kits(site.db, site.now().date())]
    return page(
        request, site, "kits.html", status, who=who, kits=shown, readings=READINGS, ways=WAYS,
        **data,
    )  # fmt: skip


@router.post("/log/kits", dependencies=[FromOurForm])
def keep_kit(request: Request, site: SiteHere, who: Keeper, form: FormSent) -> Response:
    """Keep a kit, or take one out."""
    if form.get("remove"):
        remove_kit(site.db, form.get("kit", ""), who, site.now())
        return RedirectResponse("/log/kits", 303)
    try:
        save_kit(site.db, form, who, site.now())
    except InputError as error:
        return _kits(request, site, who, 422, error=error, given=form)
    return RedirectResponse("/log/kits", 303)
