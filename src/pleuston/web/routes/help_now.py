"""Help now: what to do in the first hour, on one page that needs nothing more once loaded."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pleuston.planning.incidents import incidents
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)


@router.get("/help-now")
def help_now(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """All incident cards: signs to choose by, then the steps."""
    return page(request, site, "help_now.html", who=who, cards=incidents())
