"""Beliefs of tanks, learned side by side and kept while the program runs."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import Any

from pleuston.base.errors import PleustonError
from pleuston.inference.tank import TankBelief, learn_tank
from pleuston.records.record import Record
from pleuston.services.racks import open_rack

KEPT = 64
"""Beliefs that are kept; the oldest give way."""


@dataclass
class Beliefs:
    """Beliefs by content of the rack, tank, moment and how they were drawn."""

    kept: dict[tuple[Any, ...], TankBelief] = field(default_factory=dict)
    lock: Lock = field(default_factory=Lock)

    def of(
        self, rack: OpenRack, tank: str, at: datetime, seed: int, *, members: int = 0,
        from_prior: bool = False,
    ) -> TankBelief:  # fmt: skip
        """The belief of a tank: one learned before from the same record, else learned now."""
        key = (rack.content, tank, at, seed, members, from_prior)
        with self.lock:
            if key in self.kept:
                return self.kept[key]
        extra: dict[str, Any] = {"members": members} if members else {}
        made = learn_tank(
            rack.record, tank, at, seed=seed, threads=1, from_prior=from_prior, **extra
        )
        with self.lock:
            self.kept[key] = made
            while len(self.kept) > KEPT:
                del self.kept[next(iter(self.kept))]
        return made


BELIEFS = Beliefs()


@dataclass(frozen=True)
class OpenRack:
    """A rack that has been read, and what identifies its content."""

    record: Record
    content: str


def read_rack(folder: Path) -> OpenRack:
    """Open a rack folder. Raises `ImportRefused` with every problem."""
    record = open_rack(Path(folder))
    digest = hashlib.sha256()
    for file in sorted(Path(folder).glob("*.csv")):
        digest.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return OpenRack(record, digest.hexdigest())


def side_by_side(
    names: Sequence[str], work: Callable[[str], dict[str, Any]],
    failed: Callable[[str, PleustonError], dict[str, Any]],
) -> list[dict[str, Any]]:
    """Work on tanks in parallel, in order; a tank that can't be answered gives its error."""

    def guarded(name: str) -> dict[str, Any]:
        try:
            return work(name)
        except PleustonError as error:
            return failed(name, error)

    if len(names) == 1:
        return [guarded(names[0])]
    with ThreadPoolExecutor(min(len(names) or 1, os.cpu_count() or 1)) as pool:
        return list(pool.map(guarded, names))
