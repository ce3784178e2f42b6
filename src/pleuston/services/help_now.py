"""Help now: a tank's amounts for the first hours, beside the card of what is seen."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pleuston.base.errors import PleustonError
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS
from pleuston.planning.incidents import incident
from pleuston.records.record import Record
from pleuston.services.help_amounts import Night, amounts_now
from pleuston.services.kept import kept_answer
from pleuston.services.plan_ground import Ground, standing_of_belief
from pleuston.services.planners import ground_in
from pleuston.services.racks import open_rack, parse_moment
from pleuston.store.session import Database, is_database, open_database

METHOD = "An emergency water change is right in this tank too."


def help_answer(
    rack: str, tank: str, at: str = "", card: str = "", seed: int = 1
) -> dict[str, Any]:
    """A tank's amounts for the first hours, with the steps of a card where one is named.

    rack: a folder, a file or an address. A database answers from what is kept, without delay; a
    folder's tank is learned first. Raises UnknownNameError for a tank or card that is not known.
    """
    record = open_rack(rack)
    moment = parse_moment(at, record)
    if not is_database(rack):
        return help_of_record(record, tank, moment, card, seed)
    db = open_database(rack)
    try:
        return help_in(db, tank, moment, card)
    finally:
        db.close()


def help_in(db: Database, tank: str, now: datetime, card: str = "") -> dict[str, Any]:
    """The same from a database, by what is kept there; nothing is worked out."""
    kept = kept_answer(db, tank, "night", now)
    ground = ground_in(db, tank, now)
    why = "" if ground.standing else "This tank was not worked out yet: the record alone counts."
    return _answered(ground, None if kept is None else kept.answer, card, why)


def help_of_record(
    record: Record, tank: str, moment: datetime, card: str = "", seed: int = 1
) -> dict[str, Any]:
    """The same from a record, the tank learned; by the record alone where it can't be."""
    from pleuston.inference.tank import learn_tank

    known = record.until(moment)
    known.tank(tank)
    if card:
        incident(card)
    ground = Ground(known, tank, moment, {})
    try:
        belief = learn_tank(record, tank, moment, seed=seed)
        ground, night = ground.with_standing(standing_of_belief(belief)), _night(belief)
    except PleustonError as error:
        return _answered(ground, None, card, f"Not worked out, the record alone counts: {error}")
    return _answered(ground, night, card, "")


def _night(belief: TankBelief) -> Night:
    from pleuston.planning.hours import hours_ahead, night_data

    return night_data(hours_ahead(belief), ())


def _answered(ground: Ground, night: Night | None, card: str, why: str) -> dict[str, Any]:
    shown = incident(card) if card else None
    steps = [] if shown is None else [
        {"name": "card", "title": s.text, "lines": [], "amounts": {}} for s in shown.first
    ]  # fmt: skip
    return {
        "tank": ground.tank, "at": ground.record.local(ground.moment).isoformat(timespec="minutes"),
        "card": card, "headline": "amounts for the first hours" if shown is None else shown.title,
        "said": [METHOD, *([why] if why else [])], "steps": [*steps, *amounts_now(ground, night)],
        "tables": [], "sources": ["common_practice", "emerson1975"],
        "cautions": [CAUTIONS["water_change"], CAUTIONS["test"],
                     *(f"{c.title}. {c.text}" for c in (shown.cautions if shown else ()))],
    }  # fmt: skip
