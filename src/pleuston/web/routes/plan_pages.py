"""Planners of a page of their own: the list of them, and one page for each."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import PleustonError
from pleuston.planning.planner import Planner
from pleuston.records.library import library
from pleuston.services.kept import Kept, kept_answer
from pleuston.services.plan_ground import Ground
from pleuston.services.plan_kinds import PLANNERS, plan_kind, planner_named
from pleuston.services.planners import ask_plan, at_once, check_asked, computed_in, ground_in
from pleuston.services.tanks import tank_sheet
from pleuston.services.who import Who, may, require
from pleuston.store.catalogue import names_of
from pleuston.web import plan_form
from pleuston.web.access import FromOurForm, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page, tank_url
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import Units

router = APIRouter(include_in_schema=False)
Tank = Annotated[str, Query(max_length=200)]
OTHERS: tuple[tuple[str, str, str, bool], ...] = ()
"""Planners with pages elsewhere: address, title, one line, and whether it takes `?tank=`."""


async def pairs_of(request: Request) -> list[tuple[str, str]]:
    """The fields of a form that was sent, in order, some several times."""
    form = await request.form()
    return [(k, v) for k, v in form.multi_items() if isinstance(v, str)]


PairsSent = Annotated[list[tuple[str, str]], Depends(pairs_of)]


def _index(request: Request, site: Site, who: Who, tank: str) -> HTMLResponse:
    places = [
        (plan_form.address(p.name, tank if p.tank != "none" else "", {}), p.title, p.line)
        for p in PLANNERS.values()
    ]
    places += [
        (address + (f"?tank={quote(tank, safe='')}" if tank and takes else ""), title, line)
        for address, title, line, takes in OTHERS
    ]
    if tank:
        places.insert(0, (tank_url(tank, "what-if"), "What if", "plans side by side for this tank"))
    return page(request, site, "plans.html", who=who, tank=tank, places=places)


@router.get("/plan")
def plans(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """List the planners."""
    return _index(request, site, who, "")


@router.get("/t/{tank}/plan")
def plans_of_tank(request: Request, site: SiteHere, who: Reader, tank: str) -> HTMLResponse:
    """List the planners for a tank."""
    tank_sheet(site.db, tank, site.now())
    return _index(request, site, who, tank)


@router.get("/plan/{name}")
def plan_page(
    request: Request, site: SiteHere, who: Reader, name: str, tank: Tank = ""
) -> HTMLResponse:
    """A planner: its form, and its answer where the address says what is asked."""
    planner = planner_named(name)
    given = plan_form.typed_in(planner, request.query_params.multi_items())
    return _show(request, site, who, planner, tank, given)


@router.post("/plan/{name}", dependencies=[FromOurForm])
def plan(
    request: Request, site: SiteHere, who: Reader, name: str, sent: PairsSent
) -> Response:
    """Ask a planner: the page of its answer, worked out in the background where it takes long."""
    planner = planner_named(name)
    units = Units.of(site, who)
    tank = next((v for k, v in sent if k == "tank"), "")[:200]
    typed = plan_form.typed_in(planner, sent)
    try:
        given = plan_form.canonical(planner, typed, units)
        check_asked(planner, given, tank)
        if not at_once(planner, given, tank):
            require(who, "log")
            ask_plan(site.db, planner.name, tank, given, site.now())
        else:
            given = given or {f.name: f.default for f in planner.asked(tank) if f.default}
            computed_in(site.db, tank, site.now(), planner, given)
    except PleustonError as error:
        return _page(request, site, who, planner, tank, typed, error=error)
    return RedirectResponse(plan_form.address(planner.name, tank, given), 303)


def _show(
    request: Request, site: Site, who: Who, planner: Planner, tank: str, given: dict[str, str]
) -> HTMLResponse:
    """The page for what the address names."""
    typed = plan_form.shown(planner, given, Units.of(site, who))
    if not given:
        return _page(request, site, who, planner, tank, typed)
    try:
        check_asked(planner, given, tank)
        if at_once(planner, given, tank):
            answer = computed_in(site.db, tank, site.now(), planner, given)
            return _page(request, site, who, planner, tank, typed, answer=answer)
        tank_sheet(site.db, tank, site.now())
        kept = kept_answer(site.db, tank, plan_kind(planner, given), site.now())
    except PleustonError as error:
        return _page(request, site, who, planner, tank, typed, error=error)
    return _page(request, site, who, planner, tank, typed, kept=kept, asked=True)


def _page(
    request: Request, site: Site, who: Who, planner: Planner, tank: str, typed: dict[str, str],
    *, error: PleustonError | None = None, answer: dict[str, Any] | None = None,
    kept: Kept | None = None, asked: bool = False,
) -> HTMLResponse:  # fmt: skip
    units = Units.of(site, who)
    with site.db.read() as connection:
        tanks = names_of(connection, "tank")
    known = tank if tank in tanks else ""
    ground = ground_in(site.db, "", site.now())
    return page(
        request, site, "plan.html", 422 if error else 200, who=who, planner=planner, tank=known,
        tanks=tanks, error=error, kept=kept, asked=asked, form=plan_form,
        answer=kept.answer if kept is not None else answer,
        fields=plan_form.fields_of(planner, known, typed, _lists(ground), units),
        work=work_of(site, known) if known and planner.simulates else None, may_ask=may(who, "log"),
    )  # fmt: skip


def _lists(ground: Ground) -> dict[str, list[str]]:
    """What choices are made from."""
    shelf = library()
    own = [s.name for s in ground.record.soils]
    return {
        "waters": ground.water_names(), "soils": list(dict.fromkeys([*own, *shelf.soils])),
        "floaters": [s.name for s in shelf.species.values() if s.group == "floating"],
        "plants": [s.name for s in shelf.species.values() if s.is_plant],
        "living": [s.name for s in shelf.species.values()],
        "tanks": [t.name for t in ground.record.tanks],
    }  # fmt: skip
