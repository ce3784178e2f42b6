"""What if: plans of one tank side by side, and the one chosen made the plan."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError
from pleuston.planning.plan import MOST_PLANS, PRESETS, Plan, plan_from, text_of
from pleuston.services.catalogue import list_items
from pleuston.services.kept import Kept, kept_answer
from pleuston.services.tanks import tank_sheet
from pleuston.services.what_if import ask_what_if, make_the_plan
from pleuston.services.what_if_kinds import BEST, DAYS, MOST_DAYS, kind_of
from pleuston.services.who import Who
from pleuston.web import what_if_form
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.background import work_of
from pleuston.web.render import page, tank_url
from pleuston.web.routes.log import FormSent, ask_for
from pleuston.web.site import Site, SiteHere
from pleuston.web.words import Units

router = APIRouter(include_in_schema=False)
PlanText = Annotated[str, Form(max_length=600)]
PlanTexts = Annotated[list[str] | None, Query(alias="plan", max_length=MOST_PLANS)]
Days = Annotated[int, Query(ge=2, le=MOST_DAYS)]
ADD = "Add to the plans"


def _address(tank: str, plans: list[Plan], days: int) -> str:
    query = urlencode([("days", str(days)), *(("plan", text_of(p)) for p in plans)])
    return f"{tank_url(tank, 'what-if')}?{query}"


def _presets(site: Site, tank: str, plans: list[Plan], days: int) -> list[tuple[str, str]]:
    """Ready plans, each with the address that adds it."""
    ready = {**PRESETS}
    rain = next((w["water"] for w in list_items(site.db, "water") if w["kind"] == "rain"), "")
    if rain:
        ready["Top up with rain"] = f"top_up={rain}"
    names = {p.name for p in plans}
    made = [(name, plan_from(f"{name}:{text}")) for name, text in ready.items()]
    return [
        (name, _address(tank, [*plans, plan], days)) for name, plan in made
        if name not in names and len(plans) < MOST_PLANS
    ]  # fmt: skip


def _show(
    request: Request, site: Site, who: Who, tank: str, plans: list[Plan], days: int,
    status: int = 200, error: InputError | None = None,
    given: list[dict[str, str]] | None = None,
) -> HTMLResponse:  # fmt: skip
    now, units = site.now(), Units.of(site, who)
    about = tank_sheet(site.db, tank, now)
    kept: Kept | None = None
    if plans and error is None:
        kept = kept_answer(site.db, tank, kind_of(plans, days), now)
    best = kept_answer(site.db, tank, BEST, now)
    waters = [r["water"] for r in list_items(site.db, "water")]
    waters += [r["blend"] for r in list_items(site.db, "blend")]
    shaped: dict[str, Any] = {"charts": [], "rows": [], "differences": []}
    if kept is not None:
        shaped = {
            "charts": what_if_form.charts_of(kept.answer, units),
            "rows": what_if_form.table_of(kept.answer, units),
            "differences": what_if_form.differences_of(kept.answer, units),
        }
    return page(
        request, site, "what_if.html", status, who=who, tank=tank, about=about, kept=kept,
        best=best, days=days, error=error, form=what_if_form, waters=sorted(set(waters)),
        given=what_if_form.given_of(plans) if given is None else given, plans=plans,
        presets=_presets(site, tank, plans, days), most_days=MOST_DAYS,
        zone_name=str(site.zone() or "UTC"), work=work_of(site, tank), **shaped,
    )  # fmt: skip


@router.get("/t/{tank}/what-if")
def what_if_page(
    request: Request, site: SiteHere, who: Reader, tank: str, plan: PlanTexts = None,
    days: Days = DAYS,
) -> HTMLResponse:  # fmt: skip
    """The plans that the address names, with their answer where it is worked out."""
    return _show(request, site, who, tank, [plan_from(text) for text in plan or []], days)


@router.post("/t/{tank}/what-if", dependencies=[FromOurForm])
def compare(
    request: Request, site: SiteHere, who: Logger, tank: str, form: FormSent
) -> Response:
    """Ask for the plans side by side, or for what the planner would choose."""
    given = what_if_form.given_in(form)
    days = form.get("days", str(DAYS))
    number = int(days) if days.isdecimal() and len(days) < 5 else 0
    try:
        plans = what_if_form.plans_in(given)
        if form.get("choice") == "best":
            tank_sheet(site.db, tank, site.now())
            ask_what_if(site.db, tank, BEST, site.now())
        else:
            ask_what_if(site.db, tank, kind_of(plans, number), site.now())
    except InputError as error:
        kept_days = number if 2 <= number <= MOST_DAYS else DAYS
        return _show(request, site, who, tank, [], kept_days, 422, error, given)
    return RedirectResponse(_address(tank, plans, number or DAYS), 303)


@router.post("/t/{tank}/what-if/plan", dependencies=[FromOurForm])
def make_plan(site: SiteHere, who: Logger, tank: str, plan: PlanText) -> Response:
    """Make a plan the plan: noted as settings and a note, which can be taken back."""
    now = site.now()
    tank_sheet(site.db, tank, now)
    made = make_the_plan(site.db, tank, plan_from(plan), who, now)
    ask_for(site, {tank}, now)
    saved = ",".join(e["id"] for e in made["entries"])
    return RedirectResponse(f"{tank_url(tank, 'log')}?saved={saved}", 303)
