"""Entries by program: sent once or many times, they are noted once."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, ConfigDict, Field

from pleuston.services.log import MOST_ROWS, log_entries
from pleuston.web.access import Logger
from pleuston.web.routes.log import ask_for
from pleuston.web.site import SiteHere

router = APIRouter(prefix="/api/v1", tags=["entries"])
ID = r"^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$"
AT = (
    r"^\d{4}-\d\d-\d\d([Tt ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?([Zz]|[+-]\d\d:?\d\d)?)?$"
)
Name = Annotated[str, Field(max_length=200)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class EntryGiven(BaseModel):
    """One entry; the fields are the columns of `entries.csv`."""

    model_config = ConfigDict(extra="forbid", strict=True)

    id: Annotated[str, Field(pattern=ID)] | None = Field(
        None, description="A UUID made by the sender; sending it again adds nothing."
    )
    at: Annotated[str, Field(pattern=AT)] | None = Field(
        None, description="RFC 3339, or without offset on the rack's clock; now when left out."
    )
    tank: Name = ""
    kind: Name
    what: Name = ""
    low: Number | None = Field(None, description="Empty: below the first step.")
    high: Number | None = Field(None, description="Empty: above the last step.")
    unit: Name = ""
    by: Name = ""
    method: Name = ""
    note: Annotated[str, Field(max_length=10_000)] = ""


class EntriesGiven(BaseModel):
    """Entries to note, all or none."""

    model_config = ConfigDict(extra="forbid", strict=True)

    entries: Annotated[list[EntryGiven], Field(min_length=1, max_length=MOST_ROWS)]


class EntryNoted(BaseModel):
    """An entry as it is kept; new: it was not there before."""

    model_config = ConfigDict(extra="allow")

    id: str
    new: bool


class EntriesNoted(BaseModel):
    """What was noted, with remarks on it."""

    entries: list[EntryNoted]
    changes: list[str] = []
    notes: list[str] = []


PROBLEM: dict[str, Any] = {"content": {"application/problem+json": {}}}
REFUSED: dict[int | str, dict[str, Any]] = {
    200: {"model": EntriesNoted, "description": "All of them were there already"},
    400: {**PROBLEM, "description": "The body can't be read"},
    401: {**PROBLEM, "description": "Nobody is signed in"},
    403: {**PROBLEM, "description": "This role may not log"},
    422: {**PROBLEM, "description": "Refused, with every problem"},
    503: {**PROBLEM, "description": "The database can't be written now"},
}


@router.post("/entries", status_code=201, responses=REFUSED, response_model=EntriesNoted)
def note_entries(
    site: SiteHere, who: Logger, given: EntriesGiven, response: Response
) -> dict[str, Any]:
    """Note entries, all or none; those already there are told as not new."""
    now = site.now()
    rows = [
        {**entry.model_dump(), "id": entry.id or "", "at": entry.at or ""}
        for entry in given.entries
    ]
    made = log_entries(site.db, rows, who, now)
    fresh = [entry for entry in made["entries"] if entry["new"]]
    ask_for(site, {entry["tank"] for entry in fresh}, now)
    if not fresh:
        response.status_code = 200
    return made
