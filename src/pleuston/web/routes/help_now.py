"""Help now: what to do in the first hour, on one page that needs nothing more once loaded."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from pleuston.planning.incidents import incidents
from pleuston.services.help_now import help_in
from pleuston.services.tanks import tank_sheet
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)


@router.get("/help-now")
def help_now(
    request: Request, site: SiteHere, who: Reader,
    tank: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:  # fmt: skip
    """All incident cards: signs to choose by, then the steps; with amounts for a named tank."""
    told: dict[str, Any] = {"said": [], "steps": []}
    if tank:
        tank_sheet(site.db, tank, site.now())
        told = help_in(site.db, tank, site.now())
    return page(
        request, site, "help_now.html", who=who, cards=incidents(), tank=tank, told=told
    )
