"""Pages from templates: one way to make them, with what every page shows."""

from __future__ import annotations

import hashlib
from functools import cache, partial
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from pleuston.web import words
from pleuston.web.access import form_token, keep_form_token
from pleuston.web.site import Site

STATIC = "/static"


@cache
def static_mark() -> str:
    """A mark of all static files together; it changes when any of them does."""
    digest = hashlib.sha256()
    folder = files("pleuston.web") / "static"
    for part in sorted((*folder.iterdir(), *(folder / "vendor").iterdir()), key=str):
        if part.is_file():
            digest.update(part.name.encode() + part.read_bytes())
    return digest.hexdigest()[:12]


def static_url(name: str) -> str:
    """The address of a static file.

    The mark stands in its folder, so that browsers may keep it, and so that scripts that
    name each other mean the same files.
    """
    return f"{STATIC}/{static_mark()}/{name}"


def tank_url(tank: str, page: str = "") -> str:
    """The address of a tank's page."""
    return f"/t/{quote(tank, safe='')}" + (f"/{page}" if page else "")


@cache
def environment() -> Environment:
    """The templates; an unknown name in one is an error, text is always escaped."""
    made = Environment(
        loader=PackageLoader("pleuston.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(static_url=static_url, tank_url=tank_url, words=words)
    made.filters.update(
        amount=words.amount, number=words.number, plural=words.plural, age=words.age,
        quantity=words.quantity, kind=words.kind, sentence=words.sentence,
    )  # fmt: skip
    return made


def page(
    request: Request, site: Site, template: str, status: int = 200, **data: Any
) -> HTMLResponse:
    """Give a page made from a template; `who` in the data decides what it offers."""
    who = data.pop("who", None)
    local = partial(words.local, zone=site.zone())
    text = environment().get_template(template).render(
        request=request, site=site, who=who, now=site.now(), form_token=form_token(request),
        units=words.Units.of(site, who), local=local, path=request.url.path, **data,
    )  # fmt: skip
    response = HTMLResponse(text, status_code=status)
    keep_form_token(request, response, site)
    return response
