"""All answers about a tank that follow from one belief of it, in the order pages need them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from pleuston.inference.causes import causes_of
from pleuston.inference.evidence import factors_of
from pleuston.inference.tank import TankBelief
from pleuston.planning.explain import with_drivers
from pleuston.planning.flows import Span, span_of, substance
from pleuston.planning.gauges import Gauge
from pleuston.planning.hours import hours_ahead, limits_data, night_data
from pleuston.planning.ledger import ledger_of_span
from pleuston.planning.outlook import limits_of, outlook_data, run_ahead
from pleuston.planning.tank_round import tank_round, view_of
from pleuston.planning.unexplained import OUTPUTS
from pleuston.services.diagnostics import diagnostics_of
from pleuston.services.kinds import ELEMENTS
from pleuston.services.state_now import state_now

LEDGER_DAYS = 28.0
MONTHS_DAYS = 120
DAILY, APART = 14, 3
"""Of the months ahead every day of the first two weeks is kept, then every third."""
Part = list[tuple[str, dict[str, Any]]]
Tell = Callable[[float, str], None]


def all_answers(
    belief: TankBelief, threads: int | None, tell: Tell, gauges: tuple[Gauge, ...] = ()
) -> Iterator[Part]:
    """Give the answers as (kind, data), a few at a time; `tell` hears the share done.

    gauges: the kits at hand; the usual ones where none are given.
    """
    tell(0.0, "looking four weeks ahead")
    view = view_of(belief, threads, gauges)
    limits = limits_of(view.ahead)
    hours = hours_ahead(belief, threads=threads)
    ahead = with_drivers(view.ahead, outlook_data(view.ahead))
    yield [
        ("now", state_now(hours, view.ahead) | {"diagnostics": diagnostics_of(belief)}),
        ("outlook", {**ahead, "limits": limits_data(limits)}),
        ("night", night_data(hours, limits)),
    ]
    tell(0.25, "choosing what to do")
    yield [("round", tank_round(view))]
    tell(0.4, "looking four months ahead")
    yield [("months", months_data(belief, threads))]
    tell(0.6, "weighing what may be wrong")
    yield [("why", causes_by_balance(belief, threads))]
    tell(0.85, "balancing the last four weeks")
    span = span_before(belief, belief.at - LEDGER_DAYS, belief.at, threads)
    yield [(f"ledger:{e}", ledger_on(span, e)) for e in ELEMENTS]


def causes_by_balance(belief: TankBelief, threads: int | None) -> dict[str, Any]:
    """The likely causes, weighed by signs, by the balance of now and by altered models."""
    case = belief.case
    at = case.clock.moment(belief.at)
    factors = factors_of(case.record, case.tank.name, at, seed=belief.seed, threads=threads)
    return causes_of(case.record, case.tank.name, at, belief=belief, factors=factors,
                     threads=threads)  # fmt: skip


def months_data(belief: TankBelief, threads: int | None) -> dict[str, Any]:
    """The outlook over months as data, thinned; crossings are judged on every day."""
    ahead = run_ahead(belief, MONTHS_DAYS, threads=threads)
    made = outlook_data(ahead)
    days = range(1, MONTHS_DAYS + 1)
    kept = [i for i, day in enumerate(days) if day <= DAILY or (MONTHS_DAYS - day) % APART == 0]
    made["quantities"] = {
        name: {
            key: [value[i] for i in kept] if isinstance(value, list) else value
            for key, value in rows.items()
        }
        for name, rows in made["quantities"].items()
    }
    return {**made, "limits": limits_data(limits_of(ahead))}


def span_before(belief: TankBelief, start: float, end: float, threads: int | None) -> Span:
    """The members over a period of the record, an hour at least."""
    last = min(end, belief.at)
    return span_of(belief, min(max(0.0, start), last - 1.0 / 24.0), last, OUTPUTS, threads)


def ledger_on(span: Span, element: str) -> dict[str, Any]:
    """The ledger of a thing over members that were run over a period."""
    return ledger_of_span(span, substance(span.belief.case.table, element))
