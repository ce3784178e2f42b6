"""What-if as data: plans side by side, kept once worked out."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Response
from pydantic import BaseModel, ConfigDict, Field

from pleuston.planning.plan import MOST_PLANS, plan_of
from pleuston.services.tanks import tank_sheet
from pleuston.services.what_if import ask_what_if
from pleuston.services.what_if_kinds import BEST, DAYS, MOST_DAYS, kind_of
from pleuston.web.access import Logger
from pleuston.web.routes.api_answers import AnswerKept, Known, TankName
from pleuston.web.site import SiteHere

router = APIRouter(prefix="/api/v1", tags=["answers"], responses=Known)
Key = Annotated[str, Field(max_length=20)]
Value = Annotated[str, Field(max_length=200)]


class PlanGiven(BaseModel):
    """A plan: its name, and what is done otherwise than by habit."""

    model_config = ConfigDict(extra="forbid", strict=True)

    name: Annotated[str, Field(min_length=1, max_length=60)]
    changes: dict[Key, Value] = Field(
        default_factory=dict, max_length=30,
        description="Keys and values as `pleuston what-if` takes them, such as "
        '{"holiday": "14"}.',
    )  # fmt: skip


class WhatIfWish(BaseModel):
    """The plans to run beside `as now`; none with `best_week` for what the planner would do."""

    model_config = ConfigDict(extra="forbid", strict=True)

    plans: Annotated[list[PlanGiven], Field(max_length=MOST_PLANS)] = []
    days: Annotated[int, Field(ge=2, le=MOST_DAYS)] = DAYS
    best_week: bool = False


class WhatIfAsked(BaseModel):
    """The job that works the answer out, empty where it holds; the last answer, if any."""

    job: str
    kept: AnswerKept | None


@router.post(
    "/tanks/{tank}/what-if",
    responses={202: {"description": "Asked for; the job that makes it"}},
)
def what_if(
    site: SiteHere, who: Logger, tank: TankName, wish: WhatIfWish, response: Response  # noqa: ARG001
) -> WhatIfAsked:
    """Plans side by side: the kept answer, or 202 and the job that makes it; then ask again."""
    tank_sheet(site.db, tank, site.now())
    plans = [plan_of(p.name, list(p.changes.items())) for p in wish.plans]
    kind = BEST if wish.best_week and not plans else kind_of(plans, wish.days)
    kept, job = ask_what_if(site.db, tank, kind, site.now())
    response.status_code = 202 if job else 200
    found = None if kept is None else AnswerKept(
        **{name: getattr(kept, name) for name in AnswerKept.model_fields}
    )  # fmt: skip
    return WhatIfAsked(job=job, kept=found)
