"""Planners as data: what each asks for, and its answer, kept where it takes long."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from pleuston.services.help_now import help_in
from pleuston.services.plan_kinds import PLANNERS, planner_named
from pleuston.services.planners import ask_plan, at_once, plan_in
from pleuston.services.tanks import tank_sheet
from pleuston.web.access import Logger, Reader
from pleuston.web.routes.api_answers import Known, TankName
from pleuston.web.site import SiteHere

router = APIRouter(prefix="/api/v1", tags=["answers"], responses=Known)
Name = Annotated[str, Path(max_length=40, description="The name of a planner.")]
Key = Annotated[str, Field(max_length=40)]
Value = Annotated[str, Field(max_length=400)]


class PlanWish(BaseModel):
    """What a planner is asked: a tank where it takes one, and its fields as text."""

    model_config = ConfigDict(extra="forbid", strict=True)

    tank: Annotated[str, Field(max_length=200)] = ""
    values: dict[Key, Value] = Field(
        default_factory=dict, max_length=40,
        description="Fields and their values as the command's options take them, such as "
        '{"rise": "5"}.',
    )  # fmt: skip


class PlanAsked(BaseModel):
    """The answer where it is there, and the job that works it out where it is not."""

    job: str
    answer: dict[str, Any] | None
    stale: bool


@router.get("/plan")
def planners(who: Reader) -> list[dict[str, Any]]:  # noqa: ARG001
    """The planners, with the fields that each asks for."""
    return [
        {
            "name": p.name, "title": p.title, "line": p.line, "tank": p.tank,
            "fields": [
                {"name": f.name, "word": f.word, "kind": f.kind, "unit": f.unit,
                 "default": f.default, "choices": list(f.choices)}
                for f in p.fields
            ],
        }
        for p in PLANNERS.values()
    ]  # fmt: skip


@router.get("/help-now/{tank}")
def help_now(
    site: SiteHere, who: Reader, tank: TankName,  # noqa: ARG001
    card: Annotated[str, Query(max_length=60, description="Name of an incident card.")] = "",
) -> dict[str, Any]:  # fmt: skip
    """A tank's amounts for the first hours, by its record and what was last worked out."""
    tank_sheet(site.db, tank, site.now())
    return help_in(site.db, tank, site.now(), card)


@router.post("/plan/{name}", responses={202: {"description": "Asked for; the job that makes it"}})
def planned(
    site: SiteHere, who: Logger, name: Name, wish: PlanWish, response: Response  # noqa: ARG001
) -> PlanAsked:
    """A planner's answer, or 202 and the job that makes it; then ask again."""
    planner = planner_named(name)
    if wish.tank:
        tank_sheet(site.db, wish.tank, site.now())
    if at_once(planner, wish.values, wish.tank):
        made = plan_in(site.db, name, wish.tank, wish.values, site.now())
        return PlanAsked(job="", answer=made, stale=False)
    kept, job = ask_plan(site.db, name, wish.tank, wish.values, site.now())
    response.status_code = 202 if job else 200
    return PlanAsked(
        job=job, answer=None if kept is None else kept.answer, stale=bool(kept and kept.stale)
    )
