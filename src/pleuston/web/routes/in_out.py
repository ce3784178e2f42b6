"""In and out: take a kept table in, after a look and a trial; give the record out."""

from __future__ import annotations

import io
import secrets
import threading
import zipfile
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from fastapi import APIRouter, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, PleustonError
from pleuston.records.kinds import KINDS, READINGS
from pleuston.services import messy
from pleuston.services.jobs import ask
from pleuston.services.racks import open_rack
from pleuston.services.spreadsheet import csv_table, xlsx_rack
from pleuston.services.tanks import tanks_glance
from pleuston.store.exchange_write import files_of
from pleuston.web.access import FromOurForm, Keeper, Reader
from pleuston.web.render import page
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
KEPT_FILES, KEPT_FOR = 8, timedelta(hours=2)
COLUMN_FIELDS = ("as", "kind", "what", "unit")
CHOSEN = ("tank", "date_order", "decimal")


@dataclass
class Uploads:
    """Files between their look and their taking in: few, for a short time, in memory alone."""

    files: OrderedDict[str, tuple[datetime, str, bytes]] = field(default_factory=OrderedDict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def put(self, name: str, data: bytes, now: datetime) -> str:
        """Keep a file; gives the word it is found by."""
        key = secrets.token_urlsafe(12)
        with self.lock:
            self.files[key] = (now, name, data)
            for old in [k for k, (at, _, _) in self.files.items() if now - at > KEPT_FOR]:
                del self.files[old]
            while len(self.files) > KEPT_FILES:
                self.files.popitem(last=False)
        return key

    def get(self, key: str) -> tuple[str, bytes]:
        """Give a kept file's name and content."""
        with self.lock:
            if key not in self.files:
                raise InputError(
                    "the file is no longer held here", "take in", "choose the file again"
                )
            return self.files[key][1:]


UPLOADS = Uploads()


@router.get("/take-in")
def choose(request: Request, site: SiteHere, who: Keeper) -> HTMLResponse:
    """Choose a file."""
    return page(request, site, "take_in.html", who=who, error=None)


@router.post("/take-in", dependencies=[FromOurForm])
async def upload(request: Request, site: SiteHere, who: Keeper, file: UploadFile) -> Response:
    """Look at a file; nothing is stored."""
    data = await file.read()
    try:
        seen = messy.preview(data, file.filename or "table", site.db)
    except PleustonError as error:
        return page(request, site, "take_in.html", 422, who=who, error=error)
    key = UPLOADS.put(file.filename or "table", data, site.now())
    return _look(request, site, who, key, seen)


def _look(
    request: Request, site: Site, who: Keeper, key: str, seen: dict[str, Any],
    report: dict[str, Any] | None = None, error: PleustonError | None = None,
) -> HTMLResponse:  # fmt: skip
    return page(
        request, site, "take_in_look.html", 422 if error else 200, who=who, key=key, seen=seen,
        mapping=seen["mapping"], report=report, error=error, kinds=tuple(KINDS),
        readings=tuple(READINGS), tanks=[row["tank"] for row in tanks_glance(site.db, site.now())],
    )  # fmt: skip


def _mapping(form: dict[str, str], guess: dict[str, Any]) -> dict[str, Any]:
    """The mapping that the form says, begun from the guess."""
    columns = []
    for i, column in enumerate(guess["columns"]):
        given = {k: form.get(f"{k}{i}", str(column.get(k, ""))) for k in COLUMN_FIELDS}
        if given["as"] != "amount":
            given = {"as": given["as"]}
        same = {k: column[k] for k in ("method", "steps") if k in column}
        columns.append({"column": column["column"], **same, **given})
    chosen: dict[str, Any] = {k: form[k] for k in CHOSEN if k in form}
    kept = {k: v for k, v in guess.items() if k not in ("columns", "date_order_sure")}
    return {**kept, **chosen, "columns": columns}


@router.post("/take-in/{key}", dependencies=[FromOurForm])
async def try_or_take(request: Request, site: SiteHere, who: Keeper, key: str) -> Response:
    """Try a file with the mapping of the form, or take it in."""
    form = {k: str(v).strip() for k, v in (await request.form()).items()}
    name, data = UPLOADS.get(key)
    seen = messy.preview(data, name, site.db)
    seen["mapping"] = {**_mapping(form, seen["mapping"]), "date_order_sure": True}
    mapping = {k: v for k, v in seen["mapping"].items() if k != "date_order_sure"}
    now = site.now()
    try:
        if form.get("choice") == "refused":
            report = messy.dry_run(site.db, data, name, mapping, who, now)
            return _download(messy.refused_rows(data, name, mapping, report), "refused.csv")
        act = messy.take_in if form.get("choice") == "take" else messy.dry_run
        report = act(site.db, data, name, mapping, who, now)
    except InputError as error:
        return _look(request, site, who, key, seen, error=error)
    if report["written"]:
        for row in tanks_glance(site.db, now):
            ask(site.db, "tank", row["tank"], now)
    return _look(request, site, who, key, seen, report)


@router.get("/give-out")
def give_out(request: Request, site: SiteHere, who: Reader) -> HTMLResponse:
    """The ways the record goes out."""
    return page(request, site, "give_out.html", who=who)


@router.get("/give-out/{name}")
def fetch(site: SiteHere, who: Reader, name: str) -> Response:  # noqa: ARG001
    """Give the record as a folder in a ZIP, a workbook, or its entries as CSV."""
    record = open_rack(site.db.address)
    if name == "rack.zip":
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for file, content in files_of(record).items():
                archive.writestr(file, content)
        return _download(packed.getvalue(), name)
    if name == "rack.xlsx":
        return _download(xlsx_rack(record), name)
    if name == "entries.csv":
        return _download(csv_table(record), name)
    return RedirectResponse("/give-out", 303)


def _download(content: bytes, name: str) -> Response:
    return Response(
        content, media_type="application/octet-stream",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )  # fmt: skip
