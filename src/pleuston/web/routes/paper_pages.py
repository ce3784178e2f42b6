"""Paper: the sheets as PDF, and as pages that a browser prints."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from pleuston.base.errors import UnknownNameError
from pleuston.reports.paper.sheet import PAPERS
from pleuston.services.catalogue import list_tanks, rack_settings
from pleuston.services.keeping import away_lines
from pleuston.services.kept import kept_round
from pleuston.services.paper import NEEDS_TANK, WITHOUT_TANK, Wishes, paper_style, sheet
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
TYPES = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}
STYLE = "/paper/style.css"


@router.get("/paper")
def paper(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """The sheets there are."""
    return page(
        request, site, "paper.html", who=who, papers=PAPERS, needs_tank=NEEDS_TANK,
        without_tank=WITHOUT_TANK, region=rack_settings(site.db)["region"],
        tanks=[row["tank"] for row in list_tanks(site.db)],
    )  # fmt: skip


@router.get(STYLE)
def style(who: Reader) -> Response:  # noqa: ARG001
    """The style of sheets shown as pages."""
    return Response(paper_style(), media_type="text/css")


@router.get("/paper/{kind}.{form}")
def one(
    site: SiteHere, who: Reader, kind: str, form: str,  # noqa: ARG001
    tank: Annotated[str, Query(max_length=200)] = "",
    incident: Annotated[str, Query(max_length=60)] = "",
    days: Annotated[int, Query(ge=1, le=60)] = 14,
    skip: Annotated[int, Query(ge=0, le=23)] = 0,
    region: Annotated[str, Query(max_length=60)] = "",
    minutes: Annotated[float | None, Query(ge=0.0, le=10000.0)] = None,
) -> Response:  # fmt: skip
    """One sheet."""
    if form not in TYPES:
        raise UnknownNameError(f"{form!r} is no form of a sheet", "paper", "use pdf or html")
    wishes = Wishes(
        base_url=site.settings.address, days=days, skip=skip, incident=incident,
        region=region,
        answer=_round(site, minutes) if kind == "round" else None, stylesheet=STYLE,
        advice=away_lines(site.db, days, site.now()) if kind == "holiday" else (),
    )  # fmt: skip
    made = sheet(site.db.address, kind, tank, site.now(), form, wishes)  # type: ignore[arg-type]
    headers = {"Content-Disposition": f'inline; filename="{kind}.{form}"'}
    return Response(made, media_type=TYPES[form], headers=headers)


def _round(site: Site, minutes: float | None) -> dict[str, Any]:
    """The round as it is kept, in walking order; tanks never worked out say so."""
    made = kept_round(site.db, site.now(), minutes=minutes)
    walk = [row["tank"] for row in list_tanks(site.db)]
    made["tanks"] = sorted(made["tanks"], key=lambda tank: walk.index(tank["tank"]))
    return {**made, "at": site.now().astimezone(site.zone()).isoformat(timespec="minutes")}
