"""Why a tank is as it is: the causes of one tank, or of all."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pleuston.base.errors import PleustonError
from pleuston.inference.causes import causes_of
from pleuston.records.record import Record
from pleuston.services.answers import belief_of, each_tank, learn_all
from pleuston.services.racks import Source, open_rack, parse_moment
from pleuston.services.tank_answers import causes_by_balance


def why_answer(
    rack: Source, tank: str = "", at: str = "", *, seed: int = 1, signs_only: bool = False
) -> Any:
    """The causes of a tank as of a moment, or a list over all tanks, which borrow from each other.

    signs_only: read them off the record alone, at once; else the tank is learned, and its
    readings are held against altered models too.
    """
    record = open_rack(rack)
    moment = parse_moment(at, record)

    def answer(name: str, threads: int | None) -> dict[str, Any]:
        if signs_only:
            return causes_of(record, name, moment)
        return _weighed(rack, record, name, moment, seed, threads, whole=not tank)

    def failed(name: str, why: str) -> dict[str, Any]:
        return {"tank": name, "error": why}

    if not tank and not signs_only:
        learn_all(rack, record, moment, seed)
    made = each_tank(record, moment, tank, answer, failed)
    return made[0] if tank else made


def _weighed(
    rack: Source, record: Record, tank: str, moment: datetime, seed: int, threads: int | None,
    whole: bool,
) -> dict[str, Any]:  # fmt: skip
    """By signs, balance and altered models; by signs alone where the tank can't be run."""
    try:
        belief = belief_of(rack, record, tank, moment, seed, threads, whole)
    except PleustonError:
        return causes_of(record, tank, moment)
    return causes_by_balance(belief, threads)
