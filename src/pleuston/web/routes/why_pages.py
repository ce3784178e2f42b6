"""Why: the causes that may be behind what a tank shows, with what speaks for and against."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pleuston.inference.causes import causes_of
from pleuston.services.kept import kept_answer
from pleuston.services.tanks import tank_sheet
from pleuston.store.whole import record_of
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.routes.api_answers import Known, TankName
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api/v1", responses=Known, tags=["answers"])
LEAST = 0.01
"""Causes less likely than this are not listed."""


def _causes(site: Site, tank: str) -> dict[str, Any]:
    """The causes as last weighed; until then read off the record, so nobody waits."""
    tank_sheet(site.db, tank, site.now())
    kept = kept_answer(site.db, tank, "why", site.now())
    if kept is not None and not kept.stale:
        weighed: dict[str, Any] = kept.answer
        return weighed
    with site.db.read() as connection:
        record = record_of(connection, site.now())
    found: dict[str, Any] = causes_of(record, tank, site.now())
    return found


@router.get("/t/{tank}/why")
def why_page(request: Request, site: SiteHere, who: Reader, tank: str) -> HTMLResponse:
    """The likely causes, most likely first."""
    found = _causes(site, tank)
    likely = [cause for cause in found["causes"] if cause["probability"] >= LEAST]
    return page(request, site, "why.html", who=who, tank=tank, found=found, likely=likely)


@api.get("/tanks/{tank}/why")
def why(site: SiteHere, who: Reader, tank: TankName) -> dict[str, Any]:  # noqa: ARG001
    """Competing causes with evidence for and against; probabilities sum to one."""
    return _causes(site, tank)
