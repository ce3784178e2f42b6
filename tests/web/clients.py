"""A client that fills in forms as a browser without script does."""

from __future__ import annotations

import asyncio
import re
from datetime import datetime
from html import unescape
from pathlib import Path
from typing import Any

import httpx
from httpx import Response

from pleuston.store.session import Database
from pleuston.web.app import create_app
from pleuston.web.site import Settings

from .racks import NOW, small_database

ORIGIN = "http://127.0.0.1"


class _Served(httpx.BaseTransport):
    """Each request is answered by the app itself, without a network."""

    def __init__(self, app: Any) -> None:
        self.app = httpx.ASGITransport(app=app)

    def handle_request(self, request: httpx.Request) -> Response:
        """Give the whole answer."""

        async def answered() -> Response:
            answer = await self.app.handle_async_request(request)
            body = await answer.aread()
            headers = [(k, v) for k, v in answer.headers.raw if k != b"content-encoding"]
            return Response(answer.status_code, headers=headers, content=body)

        return asyncio.run(answered())


class Client(httpx.Client):
    """A browser on the small rack, at a fixed time."""

    def __init__(self, db: Database, now: datetime = NOW, **settings: Any) -> None:
        self.db = db
        self.app = create_app(db, Settings(clock=lambda: now, **settings))
        super().__init__(transport=_Served(self.app), base_url=ORIGIN, headers={"origin": ORIGIN})

    def token(self) -> str:
        """The token that this browser's forms carry."""
        found = re.search(r'name="form-token" content="([^"]+)"', self.get("/log").text)
        assert found is not None
        return unescape(found[1])

    def submit(self, address: str, **fields: str) -> Response:
        """Send a form."""
        return self.post(address, data={"token": self.token(), **fields})


def client_on(folder: Path, **settings: Any) -> Client:
    """A client on a fresh small rack in a folder."""
    return Client(small_database(folder / "rack.db"), **settings)
