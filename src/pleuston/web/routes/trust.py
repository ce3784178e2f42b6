"""Trust: how a tank's past forecasts did, and what its belief rests on."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.services.jobs import ask
from pleuston.services.kept import kept_answer
from pleuston.services.score import FEW, kept_score
from pleuston.services.tanks import tank_sheet
from pleuston.store.catalogue import names_of
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page, tank_url
from pleuston.web.routes.api_answers import JobAsked, Known, TankName
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api/v1", responses=Known, tags=["answers"])


@router.get("/trust")
def trust_of_rack(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """Every tank's scores in a line."""
    with site.db.read() as connection:
        names = names_of(connection, "tank")
    rows = [(name, *kept_score(site.db, name, site.now())) for name in names]
    return page(request, site, "trust_rack.html", who=who, rows=rows, work=work_of(site))


@router.post("/trust", dependencies=[FromOurForm])
def score_rack(site: SiteHere, who: Logger) -> Response:  # noqa: ARG001
    """Ask for the scores that are missing or four weeks old."""
    with site.db.read() as connection:
        names = names_of(connection, "tank")
    for name in names:
        if kept_score(site.db, name, site.now())[1]:
            ask(site.db, "score", name, site.now())
    return RedirectResponse("/trust", 303)


@router.get("/t/{tank}/trust")
def trust_page(request: Request, site: SiteHere, who: Reader, tank: str) -> HTMLResponse:
    """One tank's scores, by quantity and days ahead, and how its learning went."""
    tank_sheet(site.db, tank, site.now())
    kept, due = kept_score(site.db, tank, site.now())
    now = kept_answer(site.db, tank, "now", site.now())
    told = now.answer.get("diagnostics") if now is not None else None
    return page(
        request, site, "trust.html", who=who, tank=tank, kept=kept, due=due, few=FEW, told=told,
        work=work_of(site, tank),
    )  # fmt: skip


@router.post("/t/{tank}/trust", dependencies=[FromOurForm])
def score_tank(site: SiteHere, who: Logger, tank: str) -> Response:  # noqa: ARG001
    """Ask for a tank's scores."""
    ask(site.db, "score", tank, site.now(), urgent=True)
    return RedirectResponse(tank_url(tank, "trust"), 303)


@api.get("/tanks/{tank}/score")
def score(site: SiteHere, who: Reader, tank: TankName) -> dict[str, Any]:  # noqa: ARG001
    """The scores as last made; `answer` is null where none were made yet."""
    tank_sheet(site.db, tank, site.now())
    kept, due = kept_score(site.db, tank, site.now())
    if kept is None:
        return {"answer": None, "due": due}
    return {"answer": kept.answer, "at": kept.at, "made_at": kept.made_at, "due": due}


@api.post("/tanks/{tank}/score", status_code=202)
def ask_score(site: SiteHere, who: Logger, tank: TankName) -> JobAsked:  # noqa: ARG001
    """Ask for a tank's scores to be made."""
    return JobAsked(job=ask(site.db, "score", tank, site.now(), urgent=True))
