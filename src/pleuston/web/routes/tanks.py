"""Tanks at a glance: one line each, worst or walking order, with what is next."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse
from starlette.concurrency import run_in_threadpool

from pleuston.services.jobs import ask
from pleuston.services.tanks import tanks_glance
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)
ORDER = {"danger": 0, "act": 1, "watch": 2, "well": 4}
WATCH_SECONDS = 0.5


@router.get("/")
def tanks(
    request: Request, site: SiteHere, who: Reader,
    order: Annotated[str, Query(pattern="^(walk|worst)$")] = "walk",
) -> HTMLResponse:  # fmt: skip
    """The list of tanks."""
    rows = tanks_glance(site.db, site.now())
    if order == "worst":
        rows = sorted(rows, key=lambda row: ORDER.get(row["state"] or "", 3))
    return page(
        request, site, "tanks.html", who=who, rows=rows, order=order, work=work_of(site)
    )


@router.post("/work-out", dependencies=[FromOurForm])
def work_out(site: SiteHere, who: Logger) -> Response:  # noqa: ARG001
    """Ask for every tank's answers anew."""
    for row in tanks_glance(site.db, site.now()):
        ask(site.db, "tank", row["tank"], site.now())
    return RedirectResponse("/", 303)


@router.get("/work")
async def work(
    request: Request, site: SiteHere, who: Reader,  # noqa: ARG001
    tank: Annotated[str, Query(max_length=200)] = "",
) -> StreamingResponse:  # fmt: skip
    """Tell how far the work in the background is, until it ends."""

    async def news() -> AsyncIterator[str]:
        while not await request.is_disconnected():
            found = await run_in_threadpool(work_of, site, tank)
            if found is None:
                yield "event: done\ndata: {}\n\n"
                return
            yield f"data: {json.dumps(found)}\n\n"
            await asyncio.sleep(WATCH_SECONDS)

    return StreamingResponse(
        news(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"}
    )
