"""The catalogue as data: waters, blends, feeds, soils and tanks of the rack; the library."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from pleuston.services import catalogue
from pleuston.web.access import Keeper, Reader
from pleuston.web.render import page
from pleuston.web.routes.api_answers import Answer, Known
from pleuston.web.site import SiteHere

router = APIRouter(prefix="/api/v1", responses=Known, tags=["catalogue"])
pages = APIRouter(include_in_schema=False)
Text = Annotated[str, Field(max_length=1000)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class Kind(StrEnum):
    """What the rack has lists of."""

    WATER = "water"
    BLEND = "blend"
    FEED = "feed"
    SOIL = "soil"
    TANK = "tank"


class Shelf(StrEnum):
    """What the shipped library has lists of."""

    WATER = "water"
    FEED = "feed"
    SOIL = "soil"
    SPECIES = "species"
    SUBSTANCE = "substance"


class Rows(BaseModel):
    """One thing by the columns of its file in the rack folder; a blend by all its rows."""

    model_config = ConfigDict(extra="forbid", strict=True)

    rows: Annotated[list[dict[str, Text | Number | None]], Field(min_length=1, max_length=50)]
    new: bool = Field(False, description="Refuse a name that is there already.")


@router.get("/catalogue/{kind}")
def items(site: SiteHere, who: Reader, kind: Kind) -> list[Answer]:  # noqa: ARG001
    """The rack's own things of a kind, as rows of its file."""
    return catalogue.list_items(site.db, kind)


@router.put("/catalogue/{kind}")
def save(site: SiteHere, who: Keeper, kind: Kind, given: Rows) -> list[Answer]:
    """Save a thing; columns left out keep what they hold."""
    rows: Any = given.rows if kind == "blend" else given.rows[0]
    return catalogue.save_item(site.db, kind, rows, who, site.now(), given.new)


@router.delete("/catalogue/{kind}/{name}")
def remove(
    site: SiteHere, who: Keeper, kind: Kind,
    name: Annotated[str, Path(max_length=200)],
    valid_from: Annotated[str | None, Query(max_length=40)] = None,
) -> dict[str, int]:  # fmt: skip
    """Take a thing out that nothing of the record names."""
    gone = catalogue.remove_item(site.db, kind, name, who, site.now(), valid_from)
    return {"removed": gone}


@router.get("/library/{kind}")
def shelf(who: Reader, kind: Shelf) -> list[Answer]:  # noqa: ARG001
    """What the shipped library knows of a kind."""
    return catalogue.list_library(kind)


@pages.get("/api")
def about(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """The data interface in words, made from its own description."""
    paths = request.app.openapi()["paths"]
    calls = [
        {"method": method.upper(), "path": path, **call}
        for path, methods in paths.items()
        for method, call in methods.items()
    ]
    return page(request, site, "api.html", who=who, calls=calls)
