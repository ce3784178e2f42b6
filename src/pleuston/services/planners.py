"""Planners of a page of their own: starting, stocking, mixing, correcting, dosing, giving back.

Those of arithmetic answer at once; those that run a tank's members take its belief, which a
page lets a background process do.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pleuston.base.errors import InputError
from pleuston.inference.tank import TankBelief
from pleuston.planning.outlook import shown_bound
from pleuston.planning.planner import Planner, check_needed
from pleuston.records.library import library
from pleuston.records.record import Record, Tank
from pleuston.services.catalogue import net_litres
from pleuston.services.jobs import ask
from pleuston.services.keeping import keeping_simulated, traced
from pleuston.services.keeping_kinds import KEEPING, TRACE
from pleuston.services.kept import Kept, kept_answer
from pleuston.services.plan_ground import (
    Ground,
    brought_by,
    standing_of,
    standing_of_belief,
)
from pleuston.services.plan_kinds import (
    ADD_BACK,
    CORRECT,
    DOSE,
    MIX,
    START_UP,
    plan_kind,
    plan_of_kind,
    planner_named,
)
from pleuston.services.racks import Source, open_rack, parse_moment
from pleuston.store.record_hash import record_about
from pleuston.store.session import Database
from pleuston.store.whole import record_of

OF_WATER = ("ec25", "kh", "gh", "ammonium")
"""What is both diluted and asked for of the tank's water."""


def at_once(planner: Planner, given: Mapping[str, str], tank: str) -> bool:
    """Whether a planner answers without the members of a tank's belief."""
    if planner is ADD_BACK:
        return bool(given.get("weighings", "").strip())
    return not planner.simulates or not tank


def check_asked(planner: Planner, given: Mapping[str, str], tank: str) -> None:
    """Refuse what can't be read, and what is missing."""
    planner.read(given)
    check_needed(planner, given, tank)


# -- asking ------------------------------------------------------------------------


def plan_answer(
    rack: Source, name: str, tank: str, given: Mapping[str, str], at: str = "", seed: int = 1
) -> dict[str, Any]:
    """A planner's answer for a rack, worked out at once; a tank is learned where it is needed."""
    from pleuston.services.answers import belief_of

    record = open_rack(rack)
    moment = parse_moment(at, record)

    def believed() -> TankBelief:
        return belief_of(rack, record, tank, moment, seed)

    return _answered(record, name, tank, given, moment, believed, seed)


def plan_of_record(
    record: Record, name: str, tank: str, given: Mapping[str, str], moment: datetime,
    seed: int = 1,
) -> dict[str, Any]:  # fmt: skip
    """A planner's answer for a record, a tank learned where it is needed."""
    from pleuston.inference.tank import learn_tank

    def believed() -> TankBelief:
        return learn_tank(record, tank, moment, seed=seed)

    return _answered(record, name, tank, given, moment, believed, seed)


def _answered(
    record: Record, name: str, tank: str, given: Mapping[str, str], moment: datetime,
    believed: Any, seed: int,
) -> dict[str, Any]:  # fmt: skip
    planner = planner_named(name)
    check_asked(planner, given, tank)
    if tank:
        record.tank(tank)
    if not at_once(planner, given, tank):
        return simulated(believed(), planner, given)
    ground = Ground(record, tank, moment, {})
    try:
        return computed(ground, planner, given, seed)
    except NotKnownError:
        return computed(ground.with_standing(standing_of_belief(believed())), planner, given, seed)


class NotKnownError(InputError):
    """Something of a tank was neither typed nor worked out."""


def plan_in(
    db: Database, name: str, tank: str, given: Mapping[str, str], now: datetime
) -> dict[str, Any]:
    """The answer of a planner that takes no members, from the database and its kept answers."""
    planner = planner_named(name)
    check_asked(planner, given, tank)
    return computed_in(db, tank, now, planner, given)


def computed_in(
    db: Database, tank: str, now: datetime, planner: Planner, given: Mapping[str, str]
) -> dict[str, Any]:
    """The answer of a planner that takes no members, with as much of the record as it takes."""
    return computed(ground_in(db, tank, now, whole=planner is TRACE), planner, given)


def ground_in(db: Database, tank: str, now: datetime, whole: bool = False) -> Ground:
    """What a planner stands on in a database: its record, and the tank as last worked out.

    whole: with the entries of all tanks.
    """
    with db.read() as connection:
        record = (record_of(connection) if whole else record_about(connection, tank)).until(now)
    standing: Mapping[str, Any] = {}
    if tank:
        record.tank(tank)
        kept = kept_answer(db, tank, "now", now)
        standing = standing_of(kept.answer) if kept is not None else {}
    return Ground(record, tank, now, standing)


def ask_plan(
    db: Database, name: str, tank: str, given: Mapping[str, str], now: datetime
) -> tuple[Kept | None, str]:
    """The kept answer where it still holds, else the job that will make it."""
    planner = planner_named(name)
    check_asked(planner, given, tank)
    kind = plan_kind(planner, given)
    kept = kept_answer(db, tank, kind, now)
    if kept is not None and not kept.stale:
        return kept, ""
    return kept, ask(db, kind, tank, now, urgent=True)


def answer_plan(belief: TankBelief, kind: str, threads: int | None) -> dict[str, Any]:
    """A kind of answer from a belief, as a background process makes it."""
    planner, given = plan_of_kind(kind)
    return simulated(belief, planner, given, threads)


# -- answering ---------------------------------------------------------------------


def simulated(
    belief: TankBelief, planner: Planner, given: Mapping[str, str], threads: int | None = None
) -> dict[str, Any]:
    """The answer of a planner that runs the members of a belief."""
    values = planner.read(given)
    if planner is START_UP:
        from pleuston.planning.start_up import start_up_of_tank

        return start_up_of_tank(belief, (values["ammonia_step"], values["nitrite_step"]), threads)
    if planner is ADD_BACK:
        from pleuston.planning.add_back import add_back

        return add_back(
            belief, values["element"], rise=values["rise"], days=int(values["days"]),
            pairs=int(values["pairs"]), purity=values["purity"] / 100.0, threads=threads,
        )  # fmt: skip
    if planner in KEEPING:
        return keeping_simulated(belief, planner, values, threads)
    from pleuston.planning.stocking import stocking

    return stocking(belief, values["wish"], threads)


def computed(
    ground: Ground, planner: Planner, given: Mapping[str, str], seed: int = 1
) -> dict[str, Any]:
    """The answer of a planner that runs no members of a belief."""
    values = planner.read(given)
    if planner is START_UP:
        return _start_up(ground, values, seed)
    if planner is TRACE:
        return traced(ground.record, ground.tank, values["since"], ground.moment)
    if planner is ADD_BACK:
        from pleuston.planning.add_back import analysed, trials_from

        trials = trials_from(values["weighings"], values["days"])
        return analysed(trials, values["element"]) | {"tank": ground.tank}
    made = {MIX.name: _mix, CORRECT.name: _correct, DOSE.name: _dose}[planner.name](ground, values)
    return made | {"tank": ground.tank}


def _start_up(ground: Ground, values: Mapping[str, Any], seed: int) -> dict[str, Any]:
    from pleuston.planning.start_up import Start, start_up

    size = net_litres(
        values["length"], values["width"], values["depth"], values["soil_depth"],
        values["cap_depth"],
    )  # fmt: skip
    bed = (values["soil_depth"] + values["cap_depth"]) / 10.0
    free = values["length"] * values["width"] * (values["depth"] - bed) / 1000.0
    tank = Tank(
        "planned", size["net_l"], size["surface_m2"], values["lid"], values["heater"],
        values["light_hours"], values["light"], values["soil"] or "", values["soil_depth"],
        values["cap_depth"],
    )  # fmt: skip
    floater = library().find_species(values["floater"], ("floating",)).name
    start = Start(
        tank, values["water"] or ground.water_names()[0], values["planted"] / 100.0, floater,
        values["cover"] / 100.0, (values["ammonia_step"], values["nitrite_step"]),
        values["converts"],
    )  # fmt: skip
    return start_up(ground.record, start, ground.moment, free_litres=free, seed=seed)


def _mix(ground: Ground, values: Mapping[str, Any]) -> dict[str, Any]:
    from pleuston.planning.mixer import MOST_WATERS, mix_plan

    targets = {
        n: values[f"to_{n}"] for n in ("ec25", "gh", "kh") if values[f"to_{n}"] is not None
    }
    own = [w.name for w in ground.record.waters]
    names = values["waters"] or list(dict.fromkeys(own))[:MOST_WATERS]
    use = ground.use(values["litres"], values["poured"])
    if use.poured > 0.0 and use.litres <= 0.0:
        raise InputError("the litres of the tank are not known", "plan mix", "type them in")
    return mix_plan(
        [ground.source(n) for n in names], values["salts"], targets, use, ground.caps,
        values["amount"],
    )  # fmt: skip


def _known(ground: Ground, values: Mapping[str, Any]) -> Any:
    """The tank's water; what is not known can be had from its belief."""
    try:
        return ground.water(values)
    except InputError as error:
        if ground.standing or error.where != "plan":
            raise
        raise NotKnownError(error.what, error.where, error.remedy) from error


def _correct(ground: Ground, values: Mapping[str, Any]) -> dict[str, Any]:
    from pleuston.planning.correction import Pour, correction
    from pleuston.planning.mixing import KELVIN, of_source

    quantity = values["quantity"]
    if quantity in OF_WATER and values[quantity] is None:
        values = {**values, quantity: values["now"]}
    tank = _known(ground, values)
    now = _now(ground, values, tank)
    limit, found = values["limit"], None
    if limit is None:
        found = ground.limit_of(quantity, tank, "act")
        limit = None if found is None else shown_bound(found)
    if limit is None:
        raise InputError(
            f"no limit of {quantity} is known for the animals here", "plan dilute",
            "type what it is to come to",
        )  # fmt: skip
    celsius = values["water_temperature"]
    celsius = tank.temperature - KELVIN if celsius is None else celsius
    chosen = values["water"] or ground.setup.top_up_water or ground.water_names()[0]
    sources = {s.name: s for s in ground.sources()}
    sources.setdefault(chosen, ground.source(chosen))
    pours = [
        Pour(n, of_source(s, celsius, values["water_ph"] if n == chosen else None),
             brought_by(s, quantity), tuple(a for a in s.assumed if a.endswith(quantity)))
        for n, s in sources.items()
    ]  # fmt: skip
    typed = values["now"] is not None
    spread = None if typed or quantity not in ground.standing else ground.standing[quantity]
    return correction(
        tank, pours, chosen, quantity, now, limit, ground.setup.net_l, ground.caps,
        emergency=_emergency(ground, values, tank, now),
        now_range=None if spread is None else (spread[0], spread[2]), of_limit=found,
    )  # fmt: skip


def _now(ground: Ground, values: Mapping[str, Any], tank: Any) -> float:
    quantity = values["quantity"]
    of_water = {"ec25": tank.ec25, "kh": tank.kh_dh, "gh": tank.gh_dh,
                "ammonium": tank.held["ammonium"]}  # fmt: skip
    found = values["now"]
    if found is None:
        found = of_water.get(quantity) or ground.value(quantity, None)
    if found is None:
        known = quantity in ("nitrite", "nitrate", "phosphate", "copper", "potassium")
        error = NotKnownError if known and not ground.standing else InputError
        raise error(f"how much {quantity} there is is not known", "plan dilute", "type it in")
    return float(found)


def _emergency(ground: Ground, values: Mapping[str, Any], tank: Any, now: float) -> str:
    """Why there is an emergency, empty for none."""
    from pleuston.planning.correction import STATES

    if values["gasping"]:
        return "Animals gasp: oxygen is near 2 mg/L or the water is poisoned."
    nh3 = tank.nh3(tank.ph)
    if values["ammonium"] is None and "ammonia_nh3" in ground.standing:
        nh3 = max(nh3, ground.standing["ammonia_nh3"][2])
    most = ground.limit_of("ammonia_nh3", tank, "danger")
    if most is not None and nh3 > most.value:
        return (
            f"Poisonous ammonia may stand at {nh3:.2g} mg/L N: {most.word} from "
            f"{most.value:.2g} on."
        )
    most = ground.limit_of(values["quantity"], tank, "danger")
    if most is not None and now > shown_bound(most):
        word = STATES[values["quantity"]][0].capitalize()
        return f"{word} is beyond {shown_bound(most):.3g}: {most.word}."
    return ""


def _dose(ground: Ground, values: Mapping[str, Any]) -> dict[str, Any]:
    from pleuston.planning.dosing import dose_plan

    return dose_plan(
        _known(ground, values), values["substance"], values["quantity"], values["rise"],
        ground.setup.net_l, ground.caps, purity=values["purity"] / 100.0,
        invertebrates=ground.invertebrates,
    )  # fmt: skip
