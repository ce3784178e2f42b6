"""Set a sheet: as PDF by typst, or as one HTML page that a browser prints."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pleuston.base.errors import EngineError
from pleuston.reports.paper.sheet import Sheet

HOUSE = "house.typ"
STYLE = "paper.css"
UNKNOWN = "▯"
"""Stands for a letter that the fonts of the PDF don't hold."""
ALWAYS = frozenset("\u200c\u200d")


def as_pdf(sheet: Sheet) -> bytes:
    """The sheet as a tagged PDF (PDF/UA-1), its fonts inside, nothing of the machine's own."""
    import typst

    data = {"title": sheet.title, "paper": sheet.paper, **sheet.data}
    data, lost = printable(data)
    data["lost"] = lost
    sources = {"main": _template(f"{sheet.kind}.typ"), HOUSE: _template(HOUSE)}
    try:
        compiled: Any = typst.compile
        made = compiled(
            sources, format="pdf", sys_inputs={"data": json.dumps(data)},
            font_paths=[str(_fonts())], ignore_system_fonts=True, pdf_standards="ua-1",
            timestamp=int(sheet.made.timestamp()),
        )  # fmt: skip
    except typst.TypstError as error:
        raise EngineError(
            f"the sheet can't be set ({error})", where=f"sheet {sheet.kind}",
            remedy="Use the HTML form",
        ) from None  # fmt: skip
    return bytes(made)


def as_html(sheet: Sheet, stylesheet: str = "") -> bytes:
    """The sheet as one HTML page; its style inside, or linked where an address is given."""
    template = _environment().get_template(f"{sheet.kind}.html")
    text: str = template.render(
        title=sheet.title, kind=sheet.kind, paper=sheet.paper, stylesheet=stylesheet,
        style="" if stylesheet else style(), **sheet.data,
    )  # fmt: skip
    return text.encode()


def style() -> str:
    """The style of every sheet, on screen and printed."""
    return _template(STYLE).decode()


def printable(data: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    """The data with letters that the fonts don't hold marked, and whether there were any."""
    known, lost = _letters(), False

    def fit(value: Any) -> Any:
        nonlocal lost
        if isinstance(value, dict):
            return {key: fit(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [fit(inner) for inner in value]
        if not isinstance(value, str) or value.isascii():
            return value
        made = "".join(c if ord(c) in known else UNKNOWN for c in value)
        lost = lost or made != value
        return made

    return fit(data), lost


@cache
def _template(name: str) -> bytes:
    return (resources.files("pleuston.reports.paper") / "templates" / name).read_bytes()


@cache
def _fonts() -> Path:
    """The folder of free fonts that comes with the drawing library."""
    found = find_spec("matplotlib")
    if found is None or not found.submodule_search_locations:
        raise EngineError("the fonts are missing", "sheet", "Install the package again, whole")
    return Path(found.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"


@cache
def _letters() -> frozenset[int]:
    """Every character that the sans font holds in its regular and its bold cut."""
    from matplotlib.ft2font import FT2Font

    cuts = [set(FT2Font(str(_fonts() / f"DejaVuSans{cut}.ttf")).get_charmap())
            for cut in ("", "-Bold")]  # fmt: skip
    return frozenset(cuts[0] & cuts[1]) | {ord(c) for c in ALWAYS}


@cache
def _environment() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("pleuston.reports.paper", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
