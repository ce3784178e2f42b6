"""Who asks, and what they may: sessions by cookie, form tokens, and limits on guessing."""

from __future__ import annotations

import secrets
import threading
from collections import deque
from datetime import datetime, timedelta
from typing import Annotated

from fastapi import Depends, Form, Request, Response

from pleuston.base.errors import InputError
from pleuston.services.people import who_of_token
from pleuston.services.who import NotAllowedError, Who, require
from pleuston.web.site import Site, SiteHere

SESSION, FORM = "pleuston_session", "pleuston_form"
THIS_MACHINE = Who(person="", device="this machine", role="keeper")


class SignInNeededError(Exception):
    """Nobody is signed in; the browser is sent to the door."""


class TooOftenError(InputError):
    """Something was tried too often in a short time."""


def who_asks(request: Request, site: SiteHere) -> Who:
    """Tell who makes a request: this machine, or the person of the session's cookie."""
    if not site.settings.lan:
        return THIS_MACHINE
    token = request.cookies.get(SESSION) or _bearer(request)
    who = who_of_token(site.db, token, site.now()) if token else None
    if who is None:
        raise SignInNeededError
    return who


def _bearer(request: Request) -> str:
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


WhoAsks = Annotated[Who, Depends(who_asks)]


class _Needs:
    """A dependency that lets through only those who may do one thing."""

    def __init__(self, action: str) -> None:
        self.action = action

    def __call__(self, who: WhoAsks) -> Who:
        """Give who asks, or refuse."""
        require(who, self.action)
        return who


Reader = Annotated[Who, Depends(_Needs("read"))]
Logger = Annotated[Who, Depends(_Needs("log"))]
Keeper = Annotated[Who, Depends(_Needs("keep"))]


def form_token(request: Request) -> str:
    """The token that this browser's forms carry; made when it has none."""
    held = getattr(request.state, "form_token", "") or request.cookies.get(FORM, "")
    token = held if 20 <= len(held) <= 64 else secrets.token_urlsafe(24)
    request.state.form_token = token
    return token


def keep_form_token(request: Request, response: Response, site: Site) -> None:
    """Hand the browser its form token where it does not hold it yet."""
    token = getattr(request.state, "form_token", "")
    if token and request.cookies.get(FORM) != token:
        response.set_cookie(
            FORM, token, httponly=True, samesite="strict", secure=site.settings.secure
        )


def checked_form(request: Request, token: Annotated[str, Form(max_length=64)] = "") -> None:
    """Refuse a form that this browser was not given."""
    held = request.cookies.get(FORM, "")
    if not held or not secrets.compare_digest(held.encode(), token.encode()):
        raise NotAllowedError(
            what="this form is too old or was not made for this browser",
            where="form",
            remedy="open the page again and send it once more",
        )


FromOurForm = Depends(checked_form)


class Attempts:
    """Counts tries by who makes them; refuses when there were too many within a time."""

    def __init__(self, most: int, within: timedelta) -> None:
        self.most, self.within = most, within
        self._tries: dict[str, deque[datetime]] = {}
        self._lock = threading.Lock()

    def count(self, key: str, now: datetime) -> None:
        """Note one try; refuse it when it is one too many."""
        with self._lock:
            if len(self._tries) > 10_000:
                self._tries = {k: d for k, d in self._tries.items() if now - d[-1] < self.within}
            tries = self._tries.setdefault(key, deque())
            while tries and abs(now - tries[0]) > self.within:
                tries.popleft()
            if len(tries) >= self.most:
                raise TooOftenError(
                    what="this was tried too often",
                    where="sign-in",
                    remedy=f"wait {int(self.within.total_seconds() // 60)} minutes",
                )
            tries.append(now)

    def forget(self, key: str) -> None:
        """Forget the tries of one who got in."""
        with self._lock:
            self._tries.pop(key, None)
