"""Two floaters compared fairly by the record."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from pleuston.base.errors import PleustonError
from pleuston.services.compare import compare_floaters, floaters_of
from pleuston.store.whole import record_of
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.routes.api_answers import Known
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api/v1", responses=Known)
NAME = Query(max_length=200)
DAY = Query(pattern=r"^(\d{4}-\d\d-\d\d)?$")


@router.get("/compare")
def compare(
    request: Request, site: SiteHere, who: Reader,
    a: Annotated[str, NAME] = "", b: Annotated[str, NAME] = "", tank: Annotated[str, NAME] = "",
    start: Annotated[str, DAY] = "", end: Annotated[str, DAY] = "",
) -> HTMLResponse:  # fmt: skip
    """Choose two floaters; with both chosen, what the record shows."""
    with site.db.read() as connection:
        record = record_of(connection)
    answer, error = None, None
    if a and b:
        try:
            answer = compare_floaters(record, a, b, (tank,) if tank else (), start, end)
        except PleustonError as fault:
            error = fault
    return page(
        request, site, "compare.html", 422 if error else 200, who=who, answer=answer, error=error,
        floaters=floaters_of(record), tanks=[t.name for t in record.tanks],
        chosen={"a": a, "b": b, "tank": tank, "start": start, "end": end},
    )  # fmt: skip


@api.get("/compare", tags=["answers"])
def compared(
    site: SiteHere, who: Reader,  # noqa: ARG001
    a: Annotated[str, NAME], b: Annotated[str, NAME],
    tank: Annotated[list[str] | None, Query(max_length=50)] = None,
    start: Annotated[str, DAY] = "", end: Annotated[str, DAY] = "",
) -> dict[str, Any]:  # fmt: skip
    """Two floaters compared by paired weeks."""
    with site.db.read() as connection:
        record = record_of(connection)
    return compare_floaters(record, a, b, tuple(tank or ()), start, end)
