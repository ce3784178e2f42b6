"""What the rack is made of: tanks, waters, blends, feeds, soils; and the shipped library."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, PleustonError, UnknownNameError
from pleuston.records.near import near_names
from pleuston.services import catalogue
from pleuston.services.jobs import ask
from pleuston.services.tanks import tank_sheet
from pleuston.store import exchange_layout as layout
from pleuston.web.access import FromOurForm, Keeper, Reader
from pleuston.web.render import page, tank_url
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
SHELVES = {
    "waters": ("water", layout.WATERS, "Waters"), "feeds": ("feed", layout.FEEDS, "Feeds"),
    "soils": ("soil", layout.SOILS, "Soils"), "blends": ("blend", layout.BLENDS, "Blends"),
    "species": ("species", None, "Plants and animals"),
}  # fmt: skip
MEASURES = ("length_cm", "width_cm", "depth_cm", "soil_mm", "cap_mm")
PARTS = 5
"""Rows of waters that the form of a blend offers."""


def _shelf(name: str) -> tuple[str, layout.Table | None, str]:
    if name not in SHELVES:
        raise UnknownNameError(f"there is no shelf {name!r}", "stores", near_names(name, SHELVES))
    return SHELVES[name]


@router.get("/stores/{shelf}")
def list_shelf(
    request: Request, site: SiteHere, who: Reader, shelf: str,
    find: Annotated[str, Query(max_length=100)] = "",
) -> HTMLResponse:  # fmt: skip
    """The rack's own things of a kind, and what the library ships."""
    kind, table, title = _shelf(shelf)
    own = catalogue.list_items(site.db, kind) if table else []
    shipped = [] if kind == "blend" else catalogue.list_library(kind)
    if find:
        shipped = [item for item in shipped if _matches(item, find)]
    return page(
        request, site, "shelf.html", who=who, shelf=shelf, kind=kind, table=table, title=title,
        own=own, shipped=shipped, find=find, shelves=SHELVES,
    )  # fmt: skip


def _matches(item: dict[str, Any], text: str) -> bool:
    said = " ".join(str(v) for k, v in item.items() if k in ("name", "common", "synonyms", "group"))
    return text.casefold() in said.casefold()


@router.get("/stores/{shelf}/edit")
def edit(
    request: Request, site: SiteHere, who: Keeper, shelf: str,
    name: Annotated[str, Query(max_length=200)] = "",
    valid_from: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:  # fmt: skip
    """The form of one thing; without a name, of a new one."""
    kind, _table, _title = _shelf(shelf)
    rows = catalogue.get_item(site.db, kind, name) if name else []
    if kind == "water" and name:
        rows = [row for row in rows if row["from"] == valid_from] or rows[-1:]
    return _form(request, site, who, shelf, rows)


def _form(
    request: Request, site: Site, who: Keeper, shelf: str, rows: list[dict[str, Any]],
    error: PleustonError | None = None,
) -> HTMLResponse:  # fmt: skip
    kind, table, title = _shelf(shelf)
    if table is None:
        raise InputError("the shipped library can't be changed here", "stores", "note it as a note")
    return page(
        request, site, "shelf_form.html", 422 if error else 200, who=who, shelf=shelf, kind=kind,
        table=table, title=title, rows=rows, row=rows[0] if rows else {}, error=error,
        parts_offered=PARTS, waters=_waters(site),
    )  # fmt: skip


def _waters(site: Site) -> list[str]:
    own = [row["water"] for row in catalogue.list_items(site.db, "water")]
    blends = [row["blend"] for row in catalogue.list_items(site.db, "blend")]
    shipped = [item["name"] for item in catalogue.list_library("water")]
    return list(dict.fromkeys([*own, *blends, *shipped]))


@router.post("/stores/{shelf}", dependencies=[FromOurForm])
async def save(request: Request, site: SiteHere, who: Keeper, shelf: str) -> Response:
    """Save a thing; what is wrong is said beside the form, and what was typed stays."""
    kind, table, _title = _shelf(shelf)
    form = {key: str(value).strip() for key, value in (await request.form()).items()}
    rows: list[dict[str, Any]]
    if kind == "blend":
        rows = [
            {"blend": form.get("blend", ""), "part": form[f"part{i}"], "share": form[f"share{i}"]}
            for i in range(PARTS)
            if form.get(f"part{i}") and form.get(f"share{i}")
        ]
    else:
        rows = [{c.name: form.get(c.name, "") for c in table.columns}] if table else []
    try:
        catalogue.save_item(site.db, kind, rows if kind == "blend" else rows[0], who, site.now())
    except (InputError, IndexError) as error:
        if isinstance(error, IndexError):
            raise InputError("nothing was given", shelf, "fill in the form") from None
        return _form(request, site, who, shelf, rows, error)
    return RedirectResponse(f"/stores/{shelf}", 303)


@router.post("/stores/{shelf}/remove", dependencies=[FromOurForm])
def remove(
    site: SiteHere, who: Keeper, shelf: str,
    name: Annotated[str, Form(max_length=200)],
    valid_from: Annotated[str | None, Form(max_length=40)] = None,
) -> Response:  # fmt: skip
    """Take a thing out that the record does not name."""
    kind, _table, _title = _shelf(shelf)
    catalogue.remove_item(site.db, kind, name, who, site.now(), valid_from)
    return RedirectResponse(f"/stores/{shelf}", 303)


@router.get("/tanks/new")
def new_tank(request: Request, site: SiteHere, who: Keeper) -> HTMLResponse:
    """The form of a new tank."""
    return _tank_form(request, site, who, {}, "")


@router.get("/t/{tank}/setup")
def tank_setup(request: Request, site: SiteHere, who: Reader, tank: str) -> HTMLResponse:
    """How a tank was set up; the keeper may change it."""
    tank_sheet(site.db, tank, site.now())
    return _tank_form(request, site, who, catalogue.get_item(site.db, "tank", tank)[0], tank)


def _tank_form(
    request: Request, site: Site, who: Reader, row: dict[str, Any], tank: str,
    error: PleustonError | None = None, litres: dict[str, float] | None = None,
) -> HTMLResponse:  # fmt: skip
    soils = [r["soil"] for r in catalogue.list_items(site.db, "soil")]
    soils += [item["name"] for item in catalogue.list_library("soil")]
    return page(
        request, site, "tank_form.html", 422 if error else 200, who=who, row=row, tank=tank,
        error=error, columns={c.name: c for c in layout.TANKS.columns}, litres=litres,
        soils=list(dict.fromkeys(soils)), waters=_waters(site),
    )  # fmt: skip


@router.post("/tanks/new", dependencies=[FromOurForm])
async def save_new_tank(request: Request, site: SiteHere, who: Keeper) -> Response:
    """Set up a tank."""
    return await _save_tank(request, site, who, "")


@router.post("/t/{tank}/setup", dependencies=[FromOurForm])
async def save_tank(request: Request, site: SiteHere, who: Keeper, tank: str) -> Response:
    """Change how a tank was set up."""
    return await _save_tank(request, site, who, tank)


async def _save_tank(request: Request, site: Site, who: Keeper, tank: str) -> Response:
    form = {key: str(value).strip() for key, value in (await request.form()).items()}
    row: dict[str, Any] = {c.name: form.get(c.name, "") for c in layout.TANKS.columns}
    if tank:
        row["tank"] = tank
    typed = {**row, **{m: form.get(m, "") for m in MEASURES}}
    try:
        litres = _litres(form) if form.get("length_cm") else None
        if litres is not None:
            row["net_l"], row["surface_m2"] = str(litres["net_l"]), str(litres["surface_m2"])
            typed.update(net_l=row["net_l"], surface_m2=row["surface_m2"])
        if form.get("choice") == "measure":
            return _tank_form(request, site, who, typed, tank, litres=litres)
        catalogue.save_item(site.db, "tank", row, who, site.now(), new=not tank)
    except InputError as error:
        return _tank_form(request, site, who, typed, tank, error)
    ask(site.db, "tank", row["tank"], site.now())
    return RedirectResponse(tank_url(row["tank"], "" if tank else "log"), 303)


def _litres(form: dict[str, str]) -> dict[str, float]:
    """Net litres from inside measures."""
    numbers: dict[str, float] = {}
    for name in MEASURES:
        text = form.get(name, "").replace(",", ".")
        try:
            numbers[name] = float(text) if text else 0.0
        except ValueError:
            raise InputError(f"{text!r} is not a number", name, "give centimetres") from None
    return catalogue.net_litres(**numbers)
