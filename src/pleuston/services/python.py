"""The Python API: the answers of the command line, and runs with arrays, for notebooks.

A rack is a `Record` from `pleuston.load_rack`. Times are ISO 8601 text (local to the rack
where they have no offset) or aware datetimes. Every answer is the data of `--json`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pleuston.engine.ensemble import DEFAULT, Trajectory
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Event
from pleuston.inference.tank import TankBelief, believed, learn_rates, learn_tank
from pleuston.records.record import Record
from pleuston.services.racks import parse_moment


def _moment(at: str | datetime, rack: Record) -> datetime:
    return at if isinstance(at, datetime) else parse_moment(at, rack)


def believe(
    rack: Record, tank: str, at: str | datetime = "", *, seed: int = 1, from_prior: bool = False
) -> TankBelief:
    """Learn a tank's own rates from its record up to `at`; from_prior leaves readings unused."""
    return learn_tank(rack, tank, _moment(at, rack), seed=seed, from_prior=from_prior)


def simulate(
    belief: TankBelief, days: int = 28, outputs: Sequence[str] = ("oxygen_concentration",),
    events: Sequence[Event] = (), *, every: float = 1.0, tolerance: float = DEFAULT,
) -> Trajectory:  # fmt: skip
    """Run the members of a belief onward with the given jumps and nothing else.

    days: length; outputs: observed quantities by name; every: days between records;
    tolerance: 3e-5 for a worst state within 0.1 %. Returns arrays of (records, outputs, members).
    """
    case = belief.case
    end = belief.at + days
    count = int(days / every)
    times = [belief.at + every * (i + 1) for i in range(count)]
    schedule = case.schedule(belief.at, end, times, events=events)
    return run_tank(
        schedule, belief.end, belief.parameters, outputs=outputs,
        scale=case.scale, tolerance=tolerance,
    )  # fmt: skip


def outlook(
    rack: Record, tank: str, at: str | datetime = "", days: int = 28, *, seed: int = 1
) -> dict[str, Any]:
    """Daily ranges of every quantity ahead, and the limits that may be crossed."""
    from pleuston.planning.outlook import outlook_of

    return outlook_of(believe(rack, tank, at, seed=seed), days)


def score(
    rack: Record, tank: str, at: str | datetime = "", *, seed: int = 1
) -> dict[str, Any]:
    """Past forecasts of a tank held against what was read later: coverage, error and skill."""
    from pleuston.services.score import score_of_record

    return score_of_record(rack, tank, _moment(at, rack), seed=seed)


def ledger(
    rack: Record, tank: str, element: str = "N", *, start: str | datetime = "",
    end: str | datetime = "", seed: int = 1,
) -> dict[str, Any]:  # fmt: skip
    """What came in, went out and stayed of one element, and what is unexplained."""
    from pleuston.planning.ledger import ledger as ledger_of

    belief = believe(rack, tank, end, seed=seed)
    clock = belief.case.clock
    first = clock.day(_moment(start, rack)) if start else max(0.0, belief.at - 28.0)
    return ledger_of(belief, element, first, belief.at)


def _rack_beliefs(rack: Record, moment: datetime, seed: int) -> list[TankBelief]:
    """Beliefs of all tanks, each of which borrows from the others."""
    names = [t.name for t in rack.until(moment).tanks]
    learned = [learn_rates(rack, n, moment, seed=seed) for n in names]
    told = [one.own for one in learned]
    return [believed(one, told) for one in learned]


def round_of(
    rack: Record, at: str | datetime = "", *, minutes: float | None = None, seed: int = 1
) -> dict[str, Any]:
    """This week's round over all tanks, within the keeper's minutes (10 where none are given)."""
    from pleuston.planning.round import round_of as made

    moment = _moment(at, rack)
    return made(_rack_beliefs(rack, moment, seed), moment, minutes)


def due_tests(
    rack: Record, at: str | datetime = "", *, minutes: float = 10.0, seed: int = 1
) -> list[dict[str, Any]]:
    """The readings over a rack that tell most for the choice at hand, within the minutes."""
    from pleuston.planning.value import tests_for_rack
    from pleuston.planning.view import view_of

    moment = _moment(at, rack)
    return tests_for_rack((view_of(b) for b in _rack_beliefs(rack, moment, seed)), minutes)


def plan(
    rack: Record, planner: str, tank: str = "", at: str | datetime = "", *, seed: int = 1,
    **values: object,
) -> dict[str, Any]:  # fmt: skip
    """A planner's answer: `start-up`, `stocking`, `mix`, `dilute`, `dose`, `add-back`, `away`,
    `feed-budget`, `soil-age`, `move-plants`, `trace` or `give-away`.

    values: its fields as the command's options take them, in their units.
    """
    from pleuston.services.planners import plan_of_record

    given = {name: str(value) for name, value in values.items() if value is not None}
    return plan_of_record(rack, planner, tank, given, _moment(at, rack), seed)


def limits(rack: Record, tank: str, at: str | datetime = "") -> dict[str, Any]:
    """The limits that hold in a tank, the library's and the keeper's own, with their reasons."""
    from pleuston.services.limits import limits_told
    from pleuston.services.plan_ground import Ground

    return limits_told(Ground(rack, tank, _moment(at, rack), {}))


def own_limit(
    rack: Record, tank: str, what: str, reason: str, *, at_least: float | None = None,
    at_most: float | None = None, unit: str = "", severity: str = "watch", species: str = "",
    since: str | datetime = "", by: str = "", end: bool = False,
) -> Record:  # fmt: skip
    """The record with an own limit of a tank (`""`: of the whole rack) set, or ended with `end`.

    what: as readings are named, also oxygen_dawn, ammonia_nh3, ec_step, ph_step and
    temperature_step; unit: any known one, the usual where it is empty. Raises InputError without
    a reason in words, and where it is looser than may be (docs/decisions/019).
    """
    from pleuston.services.limits import limit_row, with_limit

    now = _moment("", rack) if rack.entries else datetime.now(UTC)
    start = since.isoformat() if isinstance(since, datetime) else since
    row = limit_row(
        tank, what, severity, reason, at_least=at_least, at_most=at_most, unit=unit,
        species=species, since=start, by=by, end=end,
    )  # fmt: skip
    return with_limit(rack, row, now)


def help_now(
    rack: Record, tank: str, at: str | datetime = "", card: str = "", *, seed: int = 1
) -> dict[str, Any]:
    """A tank's amounts for the first hours: food, litres in stages, air until when.

    card: the name of an incident card whose steps come first, such as `gasping`.
    """
    from pleuston.services.help_now import help_of_record

    return help_of_record(rack, tank, _moment(at, rack), card, seed)


def why(
    rack: Record, tank: str, at: str | datetime = "", *, seed: int = 1, signs_only: bool = False
) -> dict[str, Any]:
    """The likely causes of what a tank shows, what speaks for and against, what would tell."""
    from pleuston.inference.causes import causes_of
    from pleuston.services.tank_answers import causes_by_balance

    if signs_only:
        return causes_of(rack, tank, _moment(at, rack))
    return causes_by_balance(believe(rack, tank, at, seed=seed), None)


def what_if(
    rack: Record, tank: str, plans: Sequence[str], days: int = 60, at: str | datetime = "", *,
    seed: int = 1,
) -> dict[str, Any]:  # fmt: skip
    """Up to four plans side by side, each as the command takes it (`less:cover=25,feed=50`)."""
    from pleuston.planning.plan import plan_from
    from pleuston.planning.whatif import what_if as side_by_side

    return side_by_side(
        believe(rack, tank, at, seed=seed), [plan_from(text) for text in plans], days
    )


def compare(
    rack: Record, a: str, b: str, tanks: Sequence[str] = (), start: str = "", end: str = ""
) -> dict[str, Any]:
    """Two floaters paired by place and week, with the interval on their difference."""
    from pleuston.services.compare import compare_floaters

    return compare_floaters(rack, a, b, tuple(tanks), start, end)


def oxygen(
    file: str | Path, rack: Record | None = None, tank: str = "", *, timezone: str = "",
    dark: str = "",
) -> dict[str, Any]:  # fmt: skip
    """What a logger's file tells of a tank's nights: exchange, respiration, tonight's minimum.

    timezone: of the file's times, else the rack's; dark: hours as `20:00-08:00`, else told by the
    rack's lamp or the file.
    """
    from pleuston.services.oxygen_night import Asked, oxygen_answer

    path, asked = Path(file), Asked(timezone=timezone, dark=dark)
    return oxygen_answer(path.read_bytes(), path.name, asked, rack, tank)
