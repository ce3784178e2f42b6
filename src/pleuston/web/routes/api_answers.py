"""Answers as data: every answer that a page shows, as it is kept, with its age."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, ConfigDict, Field

from pleuston.base.errors import UnknownNameError
from pleuston.services import catalogue, jobs
from pleuston.services.chart_readings import chart_readings
from pleuston.services.due_tests import kept_tests
from pleuston.services.entries import entry_history, recent_entries
from pleuston.services.explain import where_answer
from pleuston.services.kept import Kept, kept_answer, kept_round
from pleuston.services.kinds import answer_kind
from pleuston.services.log import correct_entry, undo_last, withdraw_entry
from pleuston.services.tanks import tank_sheet, tanks_glance
from pleuston.web.access import Logger, Reader
from pleuston.web.routes.api_entries import ID, PROBLEM, EntryGiven
from pleuston.web.routes.log import ask_for
from pleuston.web.site import Site, SiteHere

TankName = Annotated[str, Path(max_length=200, description="The name of a tank.")]
Minutes = Annotated[
    float | None, Query(ge=0.0, le=10000.0, description="Minutes; else the rack's own.")
]
EntryId = Annotated[str, Path(pattern=ID, description="The UUID of an entry.")]
Known: dict[int | str, dict[str, Any]] = {
    400: {**PROBLEM, "description": "The body can't be read"},
    401: {**PROBLEM, "description": "Nobody is signed in"},
    403: {**PROBLEM, "description": "This role may not do it"},
    404: {**PROBLEM, "description": "Nothing of that name, or nothing worked out yet"},
    422: {**PROBLEM, "description": "Refused, with every problem"},
    503: {**PROBLEM, "description": "The database can't be used now"},
}
router = APIRouter(prefix="/api/v1", responses=Known)
Answer = dict[str, Any]
Element = Literal[
    "N", "P", "K", "Ca", "Mg", "C", "O2", "water", "dissolved_solids", "Cu", "Zn", "Fe"
]


class AnswerKept(BaseModel):
    """An answer with what it was made from."""

    answer: Any
    at: datetime
    made_at: datetime
    stale: bool
    why_stale: str
    model: str
    seed: int
    grades: str


def _held(site: Site, tank: str, kind: str) -> AnswerKept:
    """The kept answer, or a refusal that says how to get one."""
    tank_sheet(site.db, tank, site.now())
    kept: Kept | None = kept_answer(site.db, tank, kind, site.now())
    if kept is None:
        raise UnknownNameError(
            what=f"nothing of the kind {kind!r} is worked out for {tank!r} yet",
            where="answers",
            remedy=f"ask for it: POST /api/v1/tanks/{tank}/jobs",
        )
    return AnswerKept(**{name: getattr(kept, name) for name in AnswerKept.model_fields})


@router.get("/rack", tags=["rack"])
def rack(site: SiteHere, who: Reader) -> Answer:  # noqa: ARG001
    """The settings of the rack."""
    return {"settings": catalogue.rack_settings(site.db)}


@router.get("/tanks", tags=["tanks"])
def tanks(site: SiteHere, who: Reader) -> list[Answer]:  # noqa: ARG001
    """The tanks at a glance, in walking order."""
    return tanks_glance(site.db, site.now())


@router.get("/tanks/{tank}", tags=["tanks"])
def tank(site: SiteHere, who: Reader, tank: TankName) -> Answer:  # noqa: ARG001
    """A tank as it stands by its record."""
    return tank_sheet(site.db, tank, site.now())


@router.get("/tanks/{tank}/readings", tags=["tanks"])
def readings(
    site: SiteHere, who: Reader, tank: TankName,  # noqa: ARG001
) -> dict[str, list[Answer]]:  # fmt: skip
    """A tank's readings as intervals, by the quantities they tell of."""
    tank_sheet(site.db, tank, site.now())
    return chart_readings(site.db, tank)


@router.get("/tanks/{tank}/answers/{kind}", tags=["answers"])
def answer(
    site: SiteHere, who: Reader, tank: TankName,  # noqa: ARG001
    kind: Literal["now", "outlook", "night", "months", "round"],
) -> AnswerKept:  # fmt: skip
    """A kept answer: the tank now, its outlook, two nights, four months, its part of the round."""
    return _held(site, tank, kind)


@router.get("/tanks/{tank}/ledger", tags=["answers"])
def ledger(
    site: SiteHere, who: Reader, tank: TankName,  # noqa: ARG001
    element: Annotated[Element, Query()] = "N",
    since: Annotated[date | None, Query(description="First day of a period.")] = None,
    until: Annotated[date | None, Query(description="Last day of a period.")] = None,
) -> AnswerKept:  # fmt: skip
    """The ledger of an element, of the last four weeks or of a period."""
    period = f":{since or ''}:{until or ''}" if since or until else ""
    return _held(site, tank, answer_kind(f"ledger:{element}{period}"))


@router.get("/round", tags=["answers"])
def the_round(site: SiteHere, who: Reader, minutes: Minutes = None) -> Answer:  # noqa: ARG001
    """This week's round over all tanks, worst first, within the keeper's minutes."""
    return kept_round(site.db, site.now(), minutes=minutes)


@router.get("/tests", tags=["answers"])
def due_tests(site: SiteHere, who: Reader, minutes: Minutes = None) -> Answer:  # noqa: ARG001
    """What to test this week: the readings that tell most for the choice at hand."""
    return kept_tests(site.db, site.now(), minutes)


@router.get("/where/{name}", tags=["answers"])
def where(
    who: Reader,  # noqa: ARG001
    name: Annotated[str, Path(max_length=200)],
) -> Answer:
    """Where a number comes from: formula, unit, source, parameters with their grades."""
    found: Answer = where_answer(name)
    return found


@router.get("/jobs", tags=["jobs"])
def list_jobs(site: SiteHere, who: Reader) -> list[Answer]:  # noqa: ARG001
    """Work in the background: what runs and waits, then what ended last."""
    return jobs.list_jobs(site.db)


class JobAsked(BaseModel):
    """A job that was asked for."""

    job: str


class JobWish(BaseModel):
    """What to work out: `tank` for all answers, or a ledger of a period."""

    model_config = ConfigDict(extra="forbid", strict=True)

    kind: Annotated[str, Field(max_length=60)] = "tank"


@router.post("/tanks/{tank}/jobs", tags=["jobs"], status_code=202)
def ask(site: SiteHere, who: Logger, tank: TankName, wish: JobWish) -> JobAsked:  # noqa: ARG001
    """Ask for a tank's answers; the same that waits already is given."""
    return JobAsked(job=jobs.ask(site.db, wish.kind, tank, site.now()))


@router.get("/jobs/{job}", tags=["jobs"])
def job(
    site: SiteHere, who: Reader, job: Annotated[str, Path(max_length=60)],  # noqa: ARG001
) -> Answer:  # fmt: skip
    """How far a job is."""
    return jobs.progress(site.db, job)


@router.post("/jobs/{job}/cancellation", tags=["jobs"])
def cancel(
    site: SiteHere, who: Logger, job: Annotated[str, Path(max_length=60)],  # noqa: ARG001
) -> dict[str, bool]:  # fmt: skip
    """Cancel a job; false when it has ended."""
    return {"cancelled": jobs.cancel(site.db, job, site.now())}


@router.get("/entries", tags=["entries"])
def entries(
    site: SiteHere, who: Reader,  # noqa: ARG001
    tank: Annotated[str, Query(max_length=200)] = "",
    kind: Annotated[str, Query(max_length=60)] = "",
    limit: Annotated[int, Query(ge=1, le=1000)] = 50,
    before: Annotated[int | None, Query(ge=0, le=2**62)] = None,
) -> list[Answer]:  # fmt: skip
    """The last entries that count, newest first; before: the `sequence` to go on from."""
    if tank:
        tank_sheet(site.db, tank, site.now())
    return recent_entries(site.db, tank, limit, before, kind)


@router.get("/entries/{entry_id}", tags=["entries"])
def history(site: SiteHere, who: Reader, entry_id: EntryId) -> Answer:  # noqa: ARG001
    """What became of an entry."""
    return entry_history(site.db, entry_id)


class Correction(EntryGiven):
    """Another entry in place of one: what is left out stays as it was."""

    kind: Annotated[str, Field(max_length=200)] = ""
    reason: Annotated[str, Field(max_length=1000)] = ""


@router.post("/entries/{entry_id}/correction", tags=["entries"], status_code=201)
def correct(site: SiteHere, who: Logger, entry_id: EntryId, given: Correction) -> Answer:
    """Correct an entry; both are kept."""
    changes = given.model_dump(exclude_unset=True, exclude={"id", "reason"})
    now = site.now()
    made = correct_entry(site.db, entry_id, changes, given.reason, who, now, given.id or "")
    ask_for(site, {made["tank"]}, now)
    return made


class Withdrawal(BaseModel):
    """Why an entry is to count no longer."""

    model_config = ConfigDict(extra="forbid", strict=True)

    reason: Annotated[str, Field(max_length=1000)] = ""


@router.post("/entries/{entry_id}/withdrawal", tags=["entries"])
def withdraw(site: SiteHere, who: Logger, entry_id: EntryId, given: Withdrawal) -> Answer:
    """Let an entry count no longer."""
    made = withdraw_entry(site.db, entry_id, given.reason, who, site.now())
    ask_for(site, {made["entry"]["tank"]}, site.now())
    return made


@router.post("/undo", tags=["entries"])
def undo(site: SiteHere, who: Logger) -> Answer:
    """Take back the last entry, correction or withdrawal made by this person."""
    return undo_last(site.db, who, site.now())


