"""What every request must pass: known hosts, own origin, bounded bodies; what answers carry.

Each guard is plain ASGI, so that it works on what streams too.
"""

from __future__ import annotations

from contextlib import suppress
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; font-src 'self'; manifest-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
}
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


class AnswerHeaders:
    """Puts the security headers on every answer; pages are not kept by browsers."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, its answer's headers completed."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, with_headers)


class OwnOrigin:
    """Refuses what another site makes a browser send.

    Sec-Fetch-Site decides where the browser sends it; on plain HTTP it does not, and then
    the host of Origin must be the host asked. A request with neither that carries a cookie
    comes from no browser of today and is refused too.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request that changes nothing, or that comes from our own pages."""
        changes = scope["type"] == "http" and scope["method"] not in SAFE
        if changes and foreign(Headers(scope=scope)):
            refusal = PlainTextResponse(
                "This request came from another site and was not carried out.", status_code=403
            )
            await refusal(scope, receive, send)
            return
        await self.app(scope, receive, send)


def foreign(headers: Headers) -> bool:
    """Say whether the headers tell of a request that another site caused."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc != headers.get("host", "")
    return "cookie" in headers


class BodyLimit:
    """Counts the bytes of a body while it is read and stops at the limit."""

    def __init__(self, app: ASGIApp, limit: int, upload_limit: int, uploads: tuple[str, ...]):
        self.app, self.limit, self.upload_limit, self.uploads = app, limit, upload_limit, uploads

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request whose body is not larger than its limit."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        large = any(part in scope["path"] for part in self.uploads)
        most = self.upload_limit if large else self.limit
        refusal = PlainTextResponse(
            f"More than {most // 1_000_000 or 1} MB were sent; nothing was taken in.", 413
        )
        declared = Headers(scope=scope).get("content-length", "0")
        if not declared.isdigit() or int(declared) > most:
            await refusal(scope, receive, send)
            return
        counted, started, over = 0, False, False

        async def counting() -> Message:
            nonlocal counted, over
            message = await receive()
            counted += len(message.get("body", b""))
            if counted > most:
                over = True
                raise TooLargeError
            return message

        async def watched(message: Message) -> None:
            nonlocal started
            if over and not started:
                return
            started = True
            await send(message)

        with suppress(TooLargeError):
            await self.app(scope, counting, watched)
        if over and not started:
            await refusal(scope, receive, send)


class TooLargeError(Exception):
    """A body went over its limit while it was read."""
