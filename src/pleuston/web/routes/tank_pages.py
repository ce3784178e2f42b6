"""The pages of one tank: now, the outlook, the ledger."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import UnknownNameError
from pleuston.services import tanks as tank_service
from pleuston.services.chart_readings import chart_readings
from pleuston.services.entries import entries_of_tank
from pleuston.services.jobs import ask
from pleuston.services.kept import Kept, kept_answer, kept_answers
from pleuston.services.kinds import ELEMENTS, answer_kind
from pleuston.web import chart_data
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page, tank_url
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import Units

router = APIRouter(include_in_schema=False)
SPANS = {"night": 2, "outlook": 28, "months": 120}
BEHIND = {"night": 2, "outlook": 42, "months": 180}
"""Days of readings drawn before the forecast."""
FIRST = ("oxygen_dawn", "cover", "ec25", "nitrate", "ammonia_nh3", "temperature")



def _charts(
    site: Site, tank: str, span: str, names: tuple[str, ...] | None, units: Units
) -> tuple[Kept | None, list[dict[str, Any]]]:
    """The kept answer of a span and its charts."""
    kept = kept_answer(site.db, tank, span, site.now())
    if kept is None:
        return None, []
    since = kept.at - timedelta(days=BEHIND[span])
    read = chart_readings(site.db, tank, since=since)
    held = kept.answer["quantities"]
    found = [chart_data.fan(kept.answer, n, read, units) for n in names or held if n in held]
    return kept, found


@router.get("/t/{tank}")
def now_page(request: Request, site: SiteHere, who: Reader, tank: str) -> HTMLResponse:
    """The tank now: ranges, what they rest on, what to do, what was noted."""
    now = site.now()
    about = tank_service.tank_sheet(site.db, tank, now)
    kept = kept_answers(site.db, tank, ("now", "round"), now)
    return page(
        request, site, "tank.html", who=who, tank=tank, about=about, kept=kept["now"],
        part=kept["round"], entries=entries_of_tank(site.db, tank, limit=8),
        work=work_of(site, tank),
    )  # fmt: skip


@router.post("/t/{tank}/work-out", dependencies=[FromOurForm])
def work_out(
    site: SiteHere, who: Logger, tank: str,  # noqa: ARG001
    back: Annotated[str, Form(pattern="^(|outlook|ledger)$")] = "",
) -> Response:  # fmt: skip
    """Ask for this tank's answers anew."""
    tank_service.tank_sheet(site.db, tank, site.now())
    ask(site.db, "tank", tank, site.now())
    return RedirectResponse(tank_url(tank, back), 303)


@router.get("/t/{tank}/outlook")
def outlook_page(
    request: Request, site: SiteHere, who: Reader, tank: str,
    span: Annotated[str, Query(pattern="^(night|outlook|months)$")] = "outlook",
    quantity: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:  # fmt: skip
    """The outlook: one quantity large, or the first few."""
    tank_service.tank_sheet(site.db, tank, site.now())
    units = Units.of(site, who)
    names = (quantity,) if quantity else None if span == "night" else FIRST
    kept, charts = _charts(site, tank, span, names, units)
    if kept is not None and quantity:
        chart_data.must_have(kept.answer, quantity)
    return page(
        request, site, "outlook.html", who=who, tank=tank, span=span, spans=SPANS, kept=kept,
        charts=charts, quantity=quantity, stamp=_stamp(site, span),
        zone_name=str(site.zone() or "UTC"), work=work_of(site, tank),
        score=kept_answer(site.db, tank, "score", site.now()),
    )  # fmt: skip


def _stamp(site: Site, span: str) -> Any:
    form = "%a %H:%M" if span == "night" else "%a %d %b"
    zone = site.zone()
    return lambda seconds: datetime.fromtimestamp(seconds, tz=zone).strftime(form)


@router.get("/t/{tank}/ledger")
def ledger_page(
    request: Request, site: SiteHere, who: Reader, tank: str,
    element: Annotated[str, Query(max_length=20)] = "N",
    since: Annotated[str, Query(max_length=10)] = "",
    until: Annotated[str, Query(max_length=10)] = "",
) -> HTMLResponse:  # fmt: skip
    """The ledger of one element: of the last four weeks, or of a period beside the one before."""
    tank_service.tank_sheet(site.db, tank, site.now())
    if element not in ELEMENTS:
        raise UnknownNameError(
            what=f"there is no ledger of {element!r}",
            where="ledger",
            remedy="use one of " + ", ".join(ELEMENTS),
        )
    kinds = _periods(element, since, until)
    made = kept_answers(site.db, tank, kinds, site.now())
    kept, before = made[kinds[0]], made[kinds[1]] if len(kinds) > 1 else None
    return page(
        request, site, "ledger.html", who=who, tank=tank, element=element, elements=ELEMENTS,
        kept=kept, before=before, flows=chart_data.flows(kept.answer) if kept else None,
        since=since, until=until, today=site.now().astimezone(site.zone()).date(),
        work=work_of(site, tank),
    )  # fmt: skip


def _periods(element: str, since: str, until: str) -> list[str]:
    """The ledgers of a period and of the one before it; without a period the usual one."""
    if not since and not until:
        return [f"ledger:{element}"]
    kind = answer_kind(f"ledger:{element}:{since}:{until}")
    first, last = date.fromisoformat(since), date.fromisoformat(until)
    days = last - first + timedelta(days=1)
    earlier = f"ledger:{element}:{first - days}:{last - days}"
    return [kind, earlier]


@router.post("/t/{tank}/ledger", dependencies=[FromOurForm])
def work_ledger_out(
    site: SiteHere, who: Logger, tank: str,  # noqa: ARG001
    element: Annotated[str, Form(max_length=20)],
    since: Annotated[str, Form(max_length=10)],
    until: Annotated[str, Form(max_length=10)],
) -> Response:  # fmt: skip
    """Ask for the ledgers of a period and of the one before it."""
    for kind in _periods(element, since, until):
        ask(site.db, kind, tank, site.now(), urgent=True)
    query = urlencode({"element": element, "since": since, "until": until})
    return RedirectResponse(f"{tank_url(tank, 'ledger')}?{query}", 303)
