"""What-if: plans side by side, asked for and kept like every answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from pleuston.base.errors import InputError
from pleuston.planning.plan import Plan, plan_from, words_of
from pleuston.services.jobs import ask
from pleuston.services.kept import Kept, kept_answer
from pleuston.services.log import log_entries
from pleuston.services.what_if_kinds import BEST, kind_of, plans_of
from pleuston.services.who import Who
from pleuston.store.session import Database

if TYPE_CHECKING:
    from pleuston.inference.tank import TankBelief

def answer_what_if(
    belief: TankBelief, kind: str, threads: int | None, tell: Callable[[float], None] | None = None
) -> dict[str, Any]:
    """Run the plans of a kind from a belief."""
    if kind == BEST:
        from pleuston.planning.policy import best_week

        return best_week(belief, threads=threads)
    from pleuston.planning.whatif import what_if

    if tell is not None:
        tell(0.5)
    plans, days = plans_of(kind)
    return what_if(belief, plans, days, threads=threads)


def what_if_answer(
    rack: Any, tank: str, plans: Sequence[str], days: int, at: str, seed: int, best: bool = False
) -> dict[str, Any]:
    """Plans side by side for a tank of a rack, worked out at once."""
    from pleuston.services.answers import belief_of
    from pleuston.services.racks import open_rack, parse_moment

    kind = kind_of([plan_from(p) for p in plans], days) if plans or not best else ""
    record = open_rack(rack)
    record.tank(tank)
    belief = belief_of(rack, record, tank, parse_moment(at, record), seed)
    made = answer_what_if(belief, kind, None) if kind else {"tank": tank}
    return made | ({"best_week": answer_what_if(belief, BEST, None)} if best else {})


def ask_what_if(
    db: Database, tank: str, kind: str, now: datetime
) -> tuple[Kept | None, str]:
    """The kept answer where it still holds, else the job that will make it."""
    kept = kept_answer(db, tank, kind, now)
    if kept is not None and not kept.stale:
        return kept, ""
    return kept, ask(db, kind, tank, now, urgent=True)


SETTINGS = {"light": "light_hours", "lid": "lid", "flow": "flow", "top_up": "top_up_water"}


def make_the_plan(
    db: Database, tank: str, plan: Plan, who: Who, now: datetime
) -> dict[str, Any]:
    """Note a plan as settings of the tank, and as a note what no setting holds.

    What is noted of cover, top-up water, light, lid and flow is what the outlook goes by.
    """
    changes = plan.changes
    if not changes:
        raise InputError("the plan changes nothing", f"plan {plan.name!r}", "choose another")
    rows: list[dict[str, str | float | None]] = []

    def setting(what: str, low: float | None = None, unit: str = "", note: str = "") -> None:
        rows.append({"tank": tank, "kind": "setting", "what": what, "low": low, "high": low,
                     "unit": unit, "note": note, "method": "plan"})  # fmt: skip

    if plan.cover is not None and plan.cover < 1.0:
        setting("cover_target_pct", round(plan.cover * 100.0, 6), "%")
    if plan.light is not None:
        setting("light_hours", plan.light, "h")
    for key in ("lid", "flow", "top_up"):
        if changes.get(key):
            setting(SETTINGS[key], note=str(changes[key]))
    if plan.holiday:
        rows.append({"tank": tank, "kind": "holiday", "low": plan.holiday, "high": plan.holiday,
                     "unit": "day"})  # fmt: skip
    rows.append({"tank": tank, "kind": "note",
                 "note": f"Plan '{plan.name}': {words_of(plan)}"})  # fmt: skip
    return log_entries(db, rows, who, now)
