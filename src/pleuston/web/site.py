"""What every page needs: the rack's database, its settings, the workers, and the clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import Annotated, Any

from fastapi import Depends, Request

from pleuston.store.catalogue import zone_of
from pleuston.store.session import Database


def wall_clock() -> datetime:
    """The time now."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Settings:
    """How the app is served.

    lan: others than this machine may come in, all by password; hosts: names and addresses
    that requests may be made to; secure: served over TLS; body_limit: bytes of one request.
    """

    lan: bool = False
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "[::1]")
    address: str = "http://127.0.0.1:8000"
    secure: bool = False
    body_limit: int = 1_000_000
    upload_limit: int = 30_000_000
    clock: Callable[[], datetime] = wall_clock


@dataclass(frozen=True)
class Site:
    """The rack that this process serves; workers: None where nothing is computed."""

    db: Database
    settings: Settings
    workers: Any = None
    notes: dict[str, str] = field(default_factory=dict)

    def zone(self) -> tzinfo | None:
        """The time zone of the rack."""
        with self.db.read() as connection:
            return zone_of(connection)

    def now(self) -> datetime:
        """The time now, by the site's clock."""
        return self.settings.clock()


def site_of(request: Request) -> Site:
    """Give the site that a request came to."""
    found: Site = request.app.state.site
    return found


SiteHere = Annotated[Site, Depends(site_of)]
