"""The round: every tank's acts in walking order, ticked as they are done."""

from __future__ import annotations

from typing import Annotated
from uuid import uuid4

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.services import ticks
from pleuston.services.due_tests import kept_tests
from pleuston.services.entries import entries_since
from pleuston.services.jobs import ask
from pleuston.services.kept import kept_round
from pleuston.services.log import log_entries
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)
MOST_MINUTES = 10000.0


@router.get("/round")
def the_round(
    request: Request, site: SiteHere, who: Reader,
    order: Annotated[str, Query(pattern="^(walk|worst)$")] = "walk",
    minutes: Annotated[str, Query(max_length=12)] = "",
) -> HTMLResponse:  # fmt: skip
    """The acts of this week, tank by tank, and what to test."""
    given = _minutes(minutes)
    made = kept_round(site.db, site.now(), order, given)
    since = {t["tank"]: t["at"] for t in made["tanks"] if t["at"]}
    done = ticks.ticked(entries_since(site.db, min(since.values())), since) if since else {}
    tanks = ticks.mark(made, done)
    left = sum(not act["tick"] for tank in tanks for act in tank["acts"])
    return page(
        request, site, "round.html", who=who, made=made, tanks=tanks, left=left, order=order,
        oldest=min(since.values(), default=None), work=work_of(site), ticks=ticks,
        new_id=lambda: str(uuid4()), tests=kept_tests(site.db, site.now(), given),
    )  # fmt: skip


def _minutes(typed: str) -> float | None:
    """The minutes typed into the page; None, the rack's own, where they are no such number."""
    try:
        value = float(typed.replace(",", "."))
    except ValueError:
        return None
    return value if 0.0 <= value <= MOST_MINUTES else None


@router.post("/round/tick", dependencies=[FromOurForm])
def tick(
    site: SiteHere,
    who: Logger,
    tank: Annotated[str, Form(max_length=200)],
    act: Annotated[str, Form(max_length=60)],
    entry_id: Annotated[str, Form(max_length=36)],
    what: Annotated[str, Form(max_length=200)] = "",
    amount: Annotated[float | None, Form(ge=0)] = None,
    choice: Annotated[str, Form(pattern="^(done|skip)$")] = "done",
    order: Annotated[str, Form(pattern="^(walk|worst)$")] = "walk",
) -> Response:
    """Note that an act was done, or left out."""
    now = site.now()
    if choice == "skip":
        row = ticks.skip_row(tank, act, what, entry_id, now)
    else:
        row = ticks.tick_row(tank, act, what, amount, entry_id, now)
    log_entries(site.db, [row], who, now)
    if choice == "done":
        ask(site.db, "tank", tank, now)
    return RedirectResponse(f"/round?order={order}#{act}-{entry_id[:8]}", 303)
