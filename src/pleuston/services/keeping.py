"""Answers of the planners of keeping, from a belief or from the record alone."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pleuston.base.errors import InputError
from pleuston.inference.tank import TankBelief
from pleuston.planning.planner import Planner
from pleuston.records.record import Record
from pleuston.services.keeping_kinds import AWAY, FEED_BUDGET, MOVE_PLANTS, SOIL_AGE
from pleuston.services.kept import kept_answer
from pleuston.services.plan_kinds import plan_kind
from pleuston.services.racks import parse_moment
from pleuston.store.catalogue import names_of
from pleuston.store.session import Database


def keeping_simulated(
    belief: TankBelief, planner: Planner, values: Mapping[str, Any], threads: int | None
) -> dict[str, Any]:
    """The answer of a planner of keeping from the members of a belief."""
    if planner is AWAY:
        from pleuston.planning.away import away

        return away(
            belief, round(values["days"]), neighbour=values["neighbour"],
            most_cover=values["most_cover"], threads=threads,
        )  # fmt: skip
    if planner is FEED_BUDGET:
        from pleuston.planning.feed_budget import feed_budget

        return feed_budget(belief, values["animals_g"], values["most"] / 100.0, threads)
    if planner is SOIL_AGE:
        from pleuston.planning.soil_age import soil_age

        return soil_age(belief, values["part"] / 100.0, values["soil"] or "", threads)
    if planner is MOVE_PLANTS:
        from pleuston.planning.moving import moving

        return moving(belief, values["to"], values["species"], values["grams"], threads)
    from pleuston.planning.give_away import give_away

    return give_away(belief, values["species"], values["grams"], values["region"] or "", threads)


def traced(record: Record, tank: str, since: str, now: datetime) -> dict[str, Any]:
    """Which tanks got anything from a tank since a day, by the whole record."""
    from pleuston.planning.moving import trace

    moment = parse_moment(since, record)
    if moment > now:
        raise InputError(f"{since!r} lies ahead", where="Since", remedy="give a day that was")
    return trace(record.until(now), tank, moment)


def away_lines(db: Database, days: int, now: datetime) -> list[str]:
    """What is done in each tank before a holiday of some days, where it was planned and holds."""
    with db.read() as connection:
        names = names_of(connection, "tank")
    made = []
    for tank in names:
        for given in ({"days": str(days), "neighbour": "yes"}, {"days": str(days)}):
            kept = kept_answer(db, tank, plan_kind(AWAY, given), now)
            if kept is not None and not kept.stale:
                made.append(_away_line(tank, kept.answer))
                break
    return made


def _away_line(tank: str, answer: Mapping[str, Any]) -> str:
    thin = "leave the plants" if answer["thin_to"] is None else f"thin to {answer['thin_to']} %"
    lamp = "" if answer["light_hours"] is None else f", lamp {answer['light_hours']:.1f} h"
    water = f" with {answer['top_up_water']}" if answer["top_up_water"] else ""
    return f"{tank}: {thin}, fill to the mark{water}{lamp}."
