"""Everything that is not used every day, and where each number comes from."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from pleuston.services.explain import where_answer
from pleuston.web.access import Reader
from pleuston.web.render import page
from pleuston.web.site import SiteHere

router = APIRouter(include_in_schema=False)
PLACES = (
    ("The rack", (
        ("/tanks/new", "Set up a tank", "litres, bed, lid, lamp", "keep"),
        ("/stores/waters", "Waters", "tap, rain, blends, with their analyses", "read"),
        ("/stores/feeds", "Feeds", "what each holds", "read"),
        ("/stores/soils", "Soils", "batches and what they hold", "read"),
        ("/stores/species", "Plants and animals", "the shipped library", "read"),
        ("/plan", "Plan", "start, stock, mix, correct, dose, give back", "read"),
        ("/compare", "Compare floaters", "which grew more, told fairly", "read"),
        ("/trust", "How far to trust it", "past forecasts held against readings", "read"),
        ("/kits", "Test kits", "your own steps", "log"),
    )),
    ("The record", (
        ("/take-in", "Take in a file", "CSV or a workbook, checked before it is stored", "keep"),
        ("/give-out", "Give out the record", "as a folder of plain CSV or a workbook", "read"),
        ("/paper", "Paper", "round sheet, tank cards, labels, holiday sheet", "read"),
        ("/changes", "What was changed", "who, when, before and after", "read"),
    )),
    ("The house", (
        ("/people", "People and devices", "let a phone in, take one out", "keep"),
        ("/settings", "Settings", "units, room, time zone", "read"),
        ("/backups", "Back-ups", "make one, check one, restore", "keep"),
        ("/where", "Where a number comes from", "formula, source and grade", "read"),
        ("/api", "Data interface", "for other programs", "read"),
    )),
)  # fmt: skip


@router.get("/more")
def more(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """List the places that are not in the bar."""
    from pleuston.services.who import may

    places = [(title, [p for p in found if may(who, p[3])]) for title, found in PLACES]
    return page(request, site, "more.html", who=who, places=places)


@router.get("/where")
def where(
    request: Request, site: SiteHere, who: Reader,
    name: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:  # fmt: skip
    """Show formula, unit, inputs, source and grade of a row, quantity or parameter."""
    found = where_answer(name.strip()) if name.strip() else None
    return page(request, site, "where.html", who=who, name=name, found=found)
