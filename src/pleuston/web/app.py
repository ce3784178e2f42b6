"""The app: guards, pages and data interface put together for one rack."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import as_file, files
from typing import Any

from fastapi import FastAPI
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from pleuston.store.session import Database
from pleuston.web.refusals import add_refusals
from pleuston.web.render import static_mark
from pleuston.web.routes import ROUTERS
from pleuston.web.security import AnswerHeaders, BodyLimit, OwnOrigin
from pleuston.web.site import Settings, Site

UPLOADS = ("/photos", "/cover", "/take-in", "/restore", "/night", "/oxygen")
YEAR = "public, max-age=31536000, immutable"


class Assets(StaticFiles):
    """Static files; those asked for under the mark of their content may be kept for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Give a file, and how long it may be kept."""
        mark, _, name = path.partition("/")
        marked = mark == static_mark()
        response = await super().get_response(name if marked else path, scope)
        response.headers["Cache-Control"] = YEAR if marked else "no-cache"
        return response


def create_app(
    db: Database, settings: Settings | None = None, workers: Any = None,
    notes: dict[str, str] | None = None,
) -> FastAPI:  # fmt: skip
    """Make the app that serves one rack; workers: who computes, or None for no computing."""
    settings = settings or Settings()

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        if workers is not None:
            workers.start()
        yield
        if workers is not None:
            workers.stop()

    app = FastAPI(
        title="Pleuston",
        version="1",
        summary="The record, the balance and the round of a rack of planted tanks.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
        lifespan=life,
        middleware=[
            Middleware(AnswerHeaders),
            Middleware(TrustedHostMiddleware, allowed_hosts=list(settings.hosts)),
            Middleware(OwnOrigin),
            Middleware(
                BodyLimit,
                limit=settings.body_limit,
                upload_limit=settings.upload_limit,
                uploads=UPLOADS,
            ),
            Middleware(GZipMiddleware, minimum_size=600, compresslevel=5),
        ],
    )
    app.state.site = Site(db, settings, workers, notes or {})
    with as_file(files("pleuston.web") / "static") as folder:
        app.mount("/static", Assets(directory=folder), name="static")
    for router in ROUTERS:
        app.include_router(router)
    add_refusals(app)
    return app


