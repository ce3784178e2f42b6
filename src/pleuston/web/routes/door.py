"""The door: signing in and out, and letting a phone in by a one-time code."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pleuston.base.errors import InputError
from pleuston.services import people
from pleuston.web.access import SESSION, Attempts, FromOurForm
from pleuston.web.render import page
from pleuston.web.site import Site, SiteHere

router = APIRouter(include_in_schema=False)
TRIES = Attempts(most=8, within=timedelta(minutes=10))
WEEKS_SIGNED_IN = 26


def _let_in(site: Site, token: str) -> Response:
    response = RedirectResponse("/", 303)
    response.set_cookie(
        SESSION, token, max_age=WEEKS_SIGNED_IN * 7 * 86400, httponly=True, samesite="lax",
        secure=site.settings.secure,
    )  # fmt: skip
    return response


def _caller(request: Request) -> str:
    return request.client.host if request.client else ""


@router.get("/sign-in")
def sign_in_page(request: Request, site: SiteHere) -> HTMLResponse:
    """Ask for name and password."""
    return page(request, site, "sign_in.html", error=None, person="")


@router.post("/sign-in", dependencies=[FromOurForm])
def sign_in(
    request: Request,
    site: SiteHere,
    person: Annotated[str, Form(max_length=100)],
    password: Annotated[str, Form(max_length=1000)],
    device: Annotated[str, Form(max_length=100)] = "",
) -> Response:
    """Let in who knows the password; eight tries in ten minutes."""
    now = site.now()
    TRIES.count(_caller(request), now)
    TRIES.count(f"person {person}", now)
    try:
        token = people.sign_in(site.db, person, password, device or _device(request), now)
    except InputError as error:
        return page(request, site, "sign_in.html", 422, error=error, person=person)
    TRIES.forget(_caller(request))
    TRIES.forget(f"person {person}")
    return _let_in(site, token)


@router.get("/pair/{code}")
def pairing_page(request: Request, site: SiteHere, code: str) -> HTMLResponse:
    """Ask whether to let this device in; opening the address alone uses nothing up."""
    return page(request, site, "pair.html", code=code)


@router.post("/pair/{code}", dependencies=[FromOurForm])
def pair(
    request: Request, site: SiteHere, code: str, device: Annotated[str, Form(max_length=100)] = ""
) -> Response:
    """Use up a one-time code and let its device in."""
    TRIES.count(_caller(request), site.now())
    return _let_in(
        site, people.use_pairing(site.db, code, device or _device(request), site.now())
    )


@router.post("/sign-out", dependencies=[FromOurForm])
def sign_out(request: Request, site: SiteHere) -> Response:
    """End this device's session."""
    token = request.cookies.get(SESSION, "")
    if token:
        people.sign_out(site.db, token, site.now())
    response = RedirectResponse("/sign-in", 303)
    response.delete_cookie(SESSION)
    return response


def _device(request: Request) -> str:
    agent = request.headers.get("user-agent", "")
    kinds = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
    return next((kind for kind in kinds if kind in agent), "a browser")
