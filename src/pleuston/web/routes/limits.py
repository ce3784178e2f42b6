"""A tank's limits: what holds and why, the keeper's own set and ended; as pages and data."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError
from pleuston.records.kinds import LIMIT_SEVERITIES, LIMITED
from pleuston.records.own_limits import SIDES
from pleuston.services.limits import end_row, limit_row, limits_in, own_by
from pleuston.services.log import log_entries
from pleuston.services.tanks import tanks_glance
from pleuston.services.who import Who
from pleuston.web.access import FromOurForm, Keeper, Reader
from pleuston.web.log_form import number
from pleuston.web.render import page, tank_url
from pleuston.web.routes.api_answers import Known, TankName
from pleuston.web.routes.log import FormSent, Saved, ask_for
from pleuston.web.said import entries_said
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import Units

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api/v1", responses=Known)
Short = Annotated[str, Query(max_length=40)]


@router.get("/t/{tank}/limits")
def limits_page(
    request: Request, site: SiteHere, who: Reader, tank: str, what: Short = "",
    side: Short = "high", severity: Short = "watch", saved: Saved = "",
) -> HTMLResponse:  # fmt: skip
    """The limits of a tank; what, side, severity: what the form offers first."""
    given = {"what": what, "side": side, "severity": severity}
    return _page(request, site, who, tank, given=given, saved=entries_said(site, who, saved))


def _page(
    request: Request, site: Site, who: Who, tank: str, status: int = 200, **more: Any
) -> HTMLResponse:
    told = limits_in(site.db, tank, site.now())
    data = {"saved": [], "error": None, **more}
    return page(
        request, site, "limits.html", status, who=who, tank=tank, told=told, sides=SIDES,
        groups=_groups(told["limits"]), limited=LIMITED, severities=LIMIT_SEVERITIES, **data,
    )  # fmt: skip


def _groups(limits: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Limits by quantity, in their order; an own one that moved milder ones is told once."""
    found: dict[str, list[dict[str, Any]]] = {}
    for limit, after in zip_longest(limits, limits[1:]):
        same = ("quantity", "side", "value", "where")
        moved = after is not None and all(limit[key] == after[key] for key in same)
        if not (limit["is_own"] and moved):
            found.setdefault(limit["quantity"], []).append(limit)
    return found


@router.post("/t/{tank}/limits", dependencies=[FromOurForm])
def set_limit(
    request: Request, site: SiteHere, who: Keeper, tank: str, form: FormSent
) -> Response:
    """Set an own limit; on a flaw the form comes back with what was typed."""
    try:
        saved = _keep(site, who, tank, _row_of(site, who, tank, form))
    except InputError as error:
        return _page(request, site, who, tank, 422, error=error, given=form)
    return RedirectResponse(f"{tank_url(tank, 'limits')}?saved={saved}#own", 303)


def _row_of(site: Site, who: Who, tank: str, form: dict[str, str]) -> dict[str, Any]:
    what = form.get("what", "")
    item = LIMITED.get(what)
    try:
        value = number(form.get("amount", ""))
    except ValueError as fault:
        raise InputError(str(fault), "limits", "write it as 0.5") from None
    side = "at_least" if form.get("side") == "low" else "at_most"
    bound: dict[str, Any] = {side: value}
    return limit_row(
        "" if form.get("scope") == "rack" else tank, what, form.get("severity", ""),
        form.get("reason", "").strip(), species=form.get("species", ""),
        unit=Units.of(site, who).unit(item.unit) if item else "",
        since=form.get("since", ""), **bound,
    )  # fmt: skip


def _keep(site: Site, who: Who, tank: str, row: dict[str, Any]) -> str:
    """Note it and ask for new answers, of every tank where it is the whole rack's."""
    now = site.now()
    (made,) = log_entries(site.db, [row], who, now)["entries"]
    every = {line["tank"] for line in tanks_glance(site.db, now)}
    ask_for(site, {tank} if made["tank"] else every, now)
    return str(made["id"])


@router.post("/t/{tank}/limits/end", dependencies=[FromOurForm])
def end_limit(
    request: Request, site: SiteHere, who: Keeper, tank: str, form: FormSent
) -> Response:
    """End an own limit, with a reason."""
    try:
        own = own_by(limits_in(site.db, tank, site.now())["own"], form)
        row = end_row(own, form.get("reason", "").strip(), site.now())
        saved = _keep(site, who, tank, row)
    except InputError as error:
        return _page(request, site, who, tank, 422, error=error, given={})
    return RedirectResponse(f"{tank_url(tank, 'limits')}?saved={saved}#own", 303)


@api.get("/tanks/{tank}/limits", tags=["tanks"])
def limits(site: SiteHere, who: Reader, tank: TankName) -> dict[str, Any]:  # noqa: ARG001
    """The limits that hold in a tank, and the keeper's own; set one by an entry `limit`."""
    return limits_in(site.db, tank, site.now())
