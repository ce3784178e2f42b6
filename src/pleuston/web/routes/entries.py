"""What was noted of a tank: look it up, put it right, take it back."""

from __future__ import annotations

from itertools import groupby
from typing import Annotated, Any
from uuid import uuid4

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.kinds import KINDS
from pleuston.services.entries import entry_history, recent_entries
from pleuston.services.log import correct_entry, undo_last, withdraw_entry
from pleuston.services.tanks import tank_sheet
from pleuston.services.usual import walk
from pleuston.services.who import Who, may
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.log_form import number
from pleuston.web.render import page, tank_url
from pleuston.web.routes.log import FormSent, ask_for
from pleuston.web.said import told_line
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import local, time

router = APIRouter(include_in_schema=False)
A_PAGE = 60


def _of_tank(site: Site, tank: str, name: str) -> dict[str, Any]:
    """The history of an entry of this tank."""
    found = entry_history(site.db, name)
    if not any(entry["tank"] in (tank, "") for entry in found["entries"]):
        raise UnknownNameError(
            f"there is no entry {name!r} of {tank}", "entries", "look it up in the list"
        )
    return found


@router.get("/t/{tank}/entries")
def entries_page(
    request: Request, site: SiteHere, who: Reader, tank: str,
    kind: Annotated[str, Query(max_length=40)] = "",
    before: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    undone: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:  # fmt: skip
    """The entries that count, newest first, page by page."""
    tank_sheet(site.db, tank, site.now())
    taken_back = _of_tank(site, tank, undone) if undone else None
    return _list(request, site, who, tank, kind, before, taken_back=taken_back)


@router.get("/log/entries")
def all_entries(
    request: Request, site: SiteHere, who: Reader,
    kind: Annotated[str, Query(max_length=40)] = "",
    before: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> HTMLResponse:  # fmt: skip
    """The entries of all tanks and of the whole rack, newest first."""
    return _list(request, site, who, "", kind, before, taken_back=None)


def _list(
    request: Request, site: Site, who: Who, tank: str, kind: str, before: int | None, **more: Any
) -> HTMLResponse:
    found = recent_entries(site.db, tank, A_PAGE + 1, before, kind if kind in KINDS else "")
    zone = site.zone()
    days = [
        (day, list(rows))
        for day, rows in groupby(
            found[:A_PAGE], key=lambda row: local(time(row["at"]), zone, "%A %d %B %Y")
        )
    ]
    return page(
        request, site, "entries.html", who=who, tank=tank, kind=kind, days=days, kinds=KINDS,
        before=before, older=found[A_PAGE - 1]["sequence"] if len(found) > A_PAGE else None,
        line=told_line, may_log=may(who, "log"), some_tank=tank or next(iter(walk(site.db)), ""),
        **more,
    )  # fmt: skip


@router.post("/t/{tank}/entries/undo", dependencies=[FromOurForm])
def undo(site: SiteHere, who: Logger, tank: str) -> Response:
    """Take back the last thing this person noted or changed."""
    made = undo_last(site.db, who, site.now())
    ask_for(site, {made["entry"]["tank"]}, site.now())
    here = made["entry"]["tank"] or tank
    return RedirectResponse(f"{tank_url(here, 'entries')}?undone={made['id']}", 303)


def _entry_page(
    request: Request, site: Site, who: Who, tank: str, name: str, status: int = 200, **more: Any
) -> HTMLResponse:
    history = _of_tank(site, tank, name)
    by_id = {entry["id"]: entry for entry in history["entries"]}
    data = {"error": None, "given": {}, **more}
    return page(
        request, site, "entry.html", status, who=who, tank=tank, history=history,
        entry=by_id.get(history["counts"] or ""), asked=by_id[name.lower()], by_id=by_id,
        line=told_line, may_log=may(who, "log"), new_id=str(uuid4()), **data,
    )  # fmt: skip


@router.get("/t/{tank}/entries/{name}")
def entry_page(
    request: Request, site: SiteHere, who: Reader, tank: str, name: str
) -> HTMLResponse:
    """One entry: what became of it, and the forms to put it right or take it back."""
    return _entry_page(request, site, who, tank, name)


@router.post("/t/{tank}/entries/{name}", dependencies=[FromOurForm])
def correct(
    request: Request, site: SiteHere, who: Logger, tank: str, name: str, form: FormSent
) -> Response:
    """Put another entry in its place; both are kept."""
    _of_tank(site, tank, name)
    try:
        made = correct_entry(
            site.db, name, _changes(form), _reason(form), who, site.now(),
            new_id=form.get("entry_id", ""),
        )  # fmt: skip
    except UnknownNameError:
        raise
    except InputError as error:
        return _entry_page(request, site, who, tank, name, 422, error=error, given=form)
    ask_for(site, {tank, made["tank"]}, site.now())
    return RedirectResponse(tank_url(made["tank"] or tank, f"entries/{made['id']}"), 303)


def _reason(form: dict[str, str]) -> str:
    reason = form.get("reason", "").strip()
    if not reason:
        raise InputError("the reason is missing", "reason", "say why, so that others understand")
    return reason


def _changes(form: dict[str, str]) -> dict[str, str | float | None]:
    """The cells that were changed; a time only where another was given."""
    cells: dict[str, str | float | None] = {
        name: form[name] for name in ("what", "unit", "method", "note") if name in form
    }
    for name in ("low", "high"):
        try:
            cells[name] = number(form.get(name, ""))
        except ValueError as fault:
            raise InputError(str(fault), name, "write it as 0.5") from None
    if form.get("at") and form["at"] != form.get("at_was"):
        cells["at"] = form["at"]
    return cells


@router.post("/t/{tank}/entries/{name}/withdraw", dependencies=[FromOurForm])
def withdraw(
    request: Request, site: SiteHere, who: Logger, tank: str, name: str, form: FormSent
) -> Response:
    """Let an entry count no longer."""
    _of_tank(site, tank, name)
    try:
        withdraw_entry(site.db, name, _reason(form), who, site.now())
    except UnknownNameError:
        raise
    except InputError as error:
        return _entry_page(request, site, who, tank, name, 422, error=error, given=form)
    ask_for(site, {tank}, site.now())
    return RedirectResponse(tank_url(tank, f"entries/{name}"), 303)
