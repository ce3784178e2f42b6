"""What is said when something is refused: a page for people, problem data for programs."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from pleuston.base.errors import PleustonError, UnknownNameError
from pleuston.services.who import NotAllowedError
from pleuston.store.session import StoreError
from pleuston.web.access import SignInNeededError, TooOftenError
from pleuston.web.render import page
from pleuston.web.routes import ROUTERS

STATUS: tuple[tuple[type[PleustonError], int], ...] = (
    (NotAllowedError, 403),
    (TooOftenError, 429),
    (UnknownNameError, 404),
    (StoreError, 503),
)


def status_of(error: PleustonError) -> int:
    """Give the HTTP status of an error: 422 unless its kind has its own."""
    return next((status for kind, status in STATUS if isinstance(error, kind)), 422)


def is_data(request: Request) -> bool:
    """Say whether a program asks, rather than a page."""
    return request.url.path.startswith("/api/")


def problem(error: PleustonError, status: int) -> JSONResponse:
    """Give an error as problem data (RFC 9457)."""
    body: dict[str, Any] = {
        "type": "about:blank", "title": type(error).__name__.removesuffix("Error"),
        "status": status, "detail": str(error), "what": error.what, "where": error.where,
        "remedy": error.remedy, "problems": [str(p) for p in getattr(error, "problems", ())],
    }  # fmt: skip
    return JSONResponse(body, status, media_type="application/problem+json")


def allowed(path: str) -> list[str]:
    """Give the methods that a path answers, over all its routes."""
    return sorted({
        method
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute) and route.path_regex.match(path)
        for method in route.methods or ()
    })


def add_refusals(app: FastAPI) -> None:
    """Answer every error that a request can end in."""

    @app.exception_handler(PleustonError)
    def refused(request: Request, error: PleustonError) -> Response:
        status = status_of(error)
        if is_data(request):
            return problem(error, status)
        return page(request, app.state.site, "refused.html", status, error=error, code=status)

    @app.exception_handler(SignInNeededError)
    def sign_in(request: Request, _error: SignInNeededError) -> Response:
        if is_data(request):
            error = NotAllowedError("nobody is signed in", "session", "sign in, or send a token")
            return problem(error, 401)
        if request.headers.get("hx-request"):
            return Response(status_code=401, headers={"HX-Redirect": "/sign-in"})
        return RedirectResponse("/sign-in", 303)

    @app.exception_handler(HTTPException)
    def other(request: Request, error: HTTPException) -> Response:
        said = PleustonError(
            what=str(error.detail).lower(),
            where=request.url.path,
            remedy="go back to the tanks" if error.status_code == 404 else "try again",
        )
        if is_data(request):
            refused = problem(said, error.status_code)
            refused.headers.update(error.headers or {})
            if error.status_code == 405:
                refused.headers["Allow"] = ", ".join(allowed(request.url.path))
            return refused
        return page(
            request, app.state.site, "refused.html", error.status_code, error=said,
            code=error.status_code,
        )  # fmt: skip

    @app.exception_handler(RequestValidationError)
    def unreadable(request: Request, error: RequestValidationError) -> Response:
        said = _places(error)
        if is_data(request):
            return problem(said, 422)
        return page(request, app.state.site, "refused.html", 422, error=said, code=422)


def _places(error: RequestValidationError) -> PleustonError:
    """Say where a request can't be read, and why."""
    places = [
        f"{'.'.join(str(p) for p in e['loc'][1:]) or e['loc'][0]}: {e['msg']}"
        for e in error.errors()
    ]
    said = PleustonError("the request can't be read", places[0], "mend what is named")
    said.problems = places  # type: ignore[attr-defined]
    return said
