"""A night from a logger: choose the file, see what it tells, note it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError, PleustonError
from pleuston.services.jobs import ask
from pleuston.services.oxygen_night import Asked, note_nights, oxygen_answer
from pleuston.services.tanks import tank_sheet
from pleuston.store.whole import record_of
from pleuston.web.access import FromOurForm, Logger, Reader
from pleuston.web.render import page, tank_url
from pleuston.web.routes.api_answers import Known
from pleuston.web.routes.in_out import UPLOADS
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api/v1", responses=Known)
TEXT = Form(max_length=100)
WIDE, HIGH, LEFT, FOOT = 720.0, 260.0, 44.0, 28.0


@router.get("/t/{tank}/night")
def choose(request: Request, site: SiteHere, who: Logger, tank: str) -> HTMLResponse:
    """Choose a probe's file."""
    return _page(request, site, who, tank, {})


def _page(
    request: Request, site: Site, who: Logger, tank: str, typed: Mapping[str, str],
    error: PleustonError | None = None, answer: Mapping[str, Any] | None = None, key: str = "",
) -> HTMLResponse:  # fmt: skip
    tank_sheet(site.db, tank, site.now())
    return page(
        request, site, "night.html", 422 if error else 200, who=who, tank=tank, typed=typed,
        error=error, answer=answer, key=key, charts=_charts(answer) if answer else [],
    )  # fmt: skip


def _number(typed: Mapping[str, str], name: str, low: float, high: float) -> float | None:
    text = typed.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise InputError(
            f"{text!r} is not between {low:g} and {high:g}", name.replace("_", " "), "mend it"
        )
    return value


def asked_of(typed: Mapping[str, str]) -> Asked:
    """What was typed beside the file."""
    limit = _number(typed, "limit", 0.5, 12.0)
    warmth = _number(typed, "tonight", 5.0, 39.0)
    salinity = _number(typed, "salinity", 0.0, 42.0)
    off, on = typed.get("dark_from", ""), typed.get("dark_to", "")
    if bool(off) != bool(on):
        raise InputError("one end of the dark hours is missing", "dark hours", "give both")
    basis = typed.get("percent_of", "")
    if basis not in ("", "here", "sea"):
        raise InputError(f"{basis!r} is no air", "percent of", "choose here or sea level")
    columns = dict(
        part.strip().partition("=")[::2] for part in typed.get("columns", "").split(";") if part
    )
    return Asked(
        temperature_c=_number(typed, "temperature", 1.0, 39.0),
        pressure_hpa=_number(typed, "pressure", 500.0, 1090.0),
        altitude_m=_number(typed, "altitude", -400.0, 5000.0),
        salinity_g_kg=salinity or 0.0, timezone=typed.get("clock", "").strip(), columns=columns,
        dark=f"{off}-{on}" if off else "", percent_of=basis,
        limit_mg_l=4.0 if limit is None else limit,
        tonight_c=() if warmth is None else (warmth,),
    )  # fmt: skip


def _typed(form: Mapping[str, Any]) -> dict[str, str]:
    return {name: value[:200] for name, value in form.items() if isinstance(value, str)}


def _answer(site: Site, data: bytes, name: str, typed: Mapping[str, str], tank: str) -> Any:
    with site.db.read() as connection:
        record = record_of(connection)
    if tank:
        record.tank(tank)
    return oxygen_answer(data, name, asked_of(typed), record, tank)


@router.post("/t/{tank}/night", dependencies=[FromOurForm])
async def look(
    request: Request, site: SiteHere, who: Logger, tank: str,
    file: Annotated[UploadFile | None, File()] = None, held: Annotated[str, TEXT] = "",
    choice: Annotated[str, Form(pattern="^(look|note)$")] = "look",
) -> Response:  # fmt: skip
    """Read the file and show what it tells, or note the thinned readings."""
    typed = _typed(dict(await request.form()))
    key = ""
    try:
        if file is not None and file.filename:
            name, data = file.filename, await file.read()
            key = UPLOADS.put(name, data, site.now())
        elif held:
            name, data = UPLOADS.get(held)
            key = held
        else:
            raise InputError("no file was chosen", "file", "choose the probe's CSV or .xlsx")
        answer = _answer(site, data, name[:200], typed, tank)
        if choice == "note":
            note_nights(site.db, answer["rows"], who, site.now())
            ask(site.db, "tank", tank, site.now())
            return RedirectResponse(tank_url(tank, "entries"), 303)
    except InputError as error:
        return _page(request, site, who, tank, typed, error, key=key)
    return _page(request, site, who, tank, typed, None, answer, key)


@api.post("/oxygen", tags=["answers"])
async def oxygen(
    site: SiteHere, who: Reader,  # noqa: ARG001
    file: Annotated[UploadFile, File()],
    tank: Annotated[str, Form(max_length=200)] = "",
    temperature: Annotated[str, TEXT] = "", pressure: Annotated[str, TEXT] = "",
    altitude: Annotated[str, TEXT] = "", salinity: Annotated[str, TEXT] = "",
    clock: Annotated[str, TEXT] = "", columns: Annotated[str, Form(max_length=500)] = "",
    dark_from: Annotated[str, TEXT] = "", dark_to: Annotated[str, TEXT] = "",
    percent_of: Annotated[str, TEXT] = "", limit: Annotated[str, TEXT] = "",
    tonight: Annotated[str, TEXT] = "",
) -> dict[str, Any]:  # fmt: skip
    """What a probe's file tells of its nights and the one to come; nothing is stored."""
    typed = {
        "temperature": temperature, "pressure": pressure, "altitude": altitude, "clock": clock,
        "salinity": salinity, "columns": columns, "dark_from": dark_from, "dark_to": dark_to,
        "percent_of": percent_of, "limit": limit, "tonight": tonight,
    }  # fmt: skip
    name = (file.filename or "table")[:200]
    found: dict[str, Any] = _answer(site, await file.read(), name, typed, tank)
    return found


def _charts(answer: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [_chart(night) for night in answer["nights"]]


def _chart(night: Mapping[str, Any]) -> dict[str, Any]:
    """Lines and marks of a night in the picture's own measure."""
    rows = night["curve"]
    at = [datetime.fromisoformat(row["at"]) for row in rows]
    span = (at[-1] - at[0]).total_seconds()
    values = [row[key] for row in rows for key in ("seen", "fitted", "saturation")]
    low, high = min(values) - 0.1, max(values) + 0.1
    across = [
        LEFT + (WIDE - LEFT - 8.0) * (moment - at[0]).total_seconds() / span for moment in at
    ]

    def down(value: float) -> float:
        return 8.0 + (HIGH - FOOT - 8.0) * float((high - value) / (high - low))

    def line(key: str) -> str:
        return " ".join(f"{x:.1f},{down(r[key]):.1f}" for x, r in zip(across, rows, strict=True))

    thin = max(1, len(rows) // 150)
    return {
        "night": night, "width": WIDE, "height": HIGH, "left": LEFT, "foot": HIGH - FOOT,
        "seen": [(round(x, 1), round(down(r["seen"]), 1))
                 for x, r in list(zip(across, rows, strict=True))[::thin]],
        "fitted": line("fitted"), "saturation": line("saturation"),
        "marks": [(round(down(v), 1), f"{v:.1f}") for v in _marks(low, high)],
        "times": [(round(across[n], 1), at[n], end) for n, end in _ends(len(rows))],
    }  # fmt: skip


def _marks(low: float, high: float) -> Sequence[float]:
    step = next((s for s in (0.1, 0.2, 0.5, 1.0, 2.0) if (high - low) / s <= 5.0), 5.0)
    first = int(low / step) + 1
    return [n * step for n in range(first, int(high / step) + 1)]


def _ends(count: int) -> Sequence[tuple[int, str]]:
    return ((0, "start"), (count // 2, "middle"), (count - 1, "end"))
