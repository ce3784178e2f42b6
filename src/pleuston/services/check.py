"""The report card: laws of the table and the kernel, books of a run, grades, published numbers.

It judges what is installed (the table, the compiled kernel, the packed data), so it works
without the sources, the tests or a compiler. The full suite is `make laws`.
"""

from __future__ import annotations

import importlib
import math
import tomllib
from collections.abc import Mapping
from fractions import Fraction
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

import pleuston
from pleuston.base import parameters, references
from pleuston.engine.case import Case, tank_case
from pleuston.engine.ensemble import run_ensemble
from pleuston.engine.kernel import LANES, MODEL, Array, Kernel, tank_kernel
from pleuston.services.racks import open_rack, parse_moment

FINEST = 1e-9
"""Share of what a tank holds by which the books of a run may be off."""
RACK, TANK, DAYS = "demo_rack", "Birch", 140.0
SEED = 20
SHOWN = 5


def report_card() -> dict[str, Any]:
    """Check what is installed; "good" is whether nothing is broken."""
    kernel = tank_kernel()
    rack = open_rack(Path(str(files(pleuston))) / RACK)
    case = tank_case(rack, TANK, parse_moment("", rack))
    broken = laws_broken(kernel, case)
    books = books_of_a_run(kernel, case)
    fresh = freshness(kernel)
    numbers = verification()
    sources = sourced(kernel.table.data)
    good = (
        not any(found for _, found in broken.values())
        and books["good"] and sources["without_source"] == []
        and numbers["agree"] == numbers["numbers"] and "stale" not in fresh.values()
    )  # fmt: skip
    return {
        "good": bool(good),
        "laws": {
            "checked": sum(count for count, _ in broken.values()),
            "broken": sum(len(found) for _, found in broken.values()),
            "by_kind": {k: _told(count, found) for k, (count, found) in broken.items()},
        },
        "books": books,
        "parameters": grades(),
        "table": sources,
        "verification": numbers,
        "kernel": {"model": kernel.table.hash, "variant": _variant(kernel.path), **fresh},
    }


def _told(count: int, found: list[str]) -> str:
    if not found:
        return f"{count} hold"
    more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
    return f"{len(found)} of {count} broken: {'; '.join(found[:SHOWN])}{more}"


def _variant(binary: Path) -> str:
    return binary.stem.rsplit("-", 1)[-1]


# -- laws ----------------------------------------------------------------------

Broken = dict[str, tuple[int, list[str]]]


def laws_broken(kernel: Kernel, case: Case) -> Broken:
    """Kind of law -> how many were checked, and which are broken."""
    y, p = sample(kernel, case)
    return {
        "balance": balances(kernel.table.data),
        "empty_store": empty_stores(kernel, case, y, p),
        "never_negative": never_negative(kernel, case, y, p),
        "jump_leaves_no_debt": jumps_without_debt(kernel, case, y, p),
    }


def balances(data: Mapping[str, Any]) -> tuple[int, list[str]]:
    """Every row and move makes of each conserved thing what it carries across, exactly."""
    holds = {
        s["name"]: {thing: Fraction(v) for thing, v in s["holds"].items()} for s in data["states"]
    }
    changes = [*data["rows"], *data["moves"]]
    found = []
    for change in changes:
        for thing in data["conserved"]:
            made = sum(
                (Fraction(c) * holds[s].get(thing, Fraction(0))
                 for s, c in change["coefficients"].items()),
                Fraction(0),
            )  # fmt: skip
            crossed = Fraction(change["carried"].get(thing, "0"))
            if made != crossed or (crossed and not change["crosses"]):
                found.append(f"{change['name']} makes {float(made - crossed):g} {thing}")
    return len(changes) * len(data["conserved"]), found


def sample(kernel: Kernel, case: Case) -> tuple[Array, Array]:
    """States and parameters of eight unlike tanks, every store filled."""
    rng = np.random.default_rng(SEED)
    table = kernel.table
    y = table.typical * 10.0 ** rng.uniform(-1.5, 0.8, (LANES, len(table.states)))
    water = rng.uniform(0.5, 1.0, LANES) * case.constants["net_volume"]
    meq = water * rng.uniform(0.3, 6.0, LANES)
    y[:, table.at("state", "water")] = water
    y[:, table.at("state", "alkalinity")] = meq
    y[:, table.at("state", "carbon_inorganic")] = meq * 12.011 * rng.uniform(0.97, 1.4, LANES)
    capacity = 4.186 * (water + case.constants["bed_heat_capacity"])
    y[:, table.at("state", "heat")] = capacity * rng.uniform(6.0, 33.0, LANES)
    return y, case.parameters({}, LANES)


def ordinary(kernel: Kernel, case: Case) -> Array:
    """The forcings of the tank at noon of its first day."""
    return np.asarray(case.schedule(0.5, 0.6, [0.6], events=[]).x0[0])[: len(kernel.table.forcings)]


def _floored(data: Mapping[str, Any]) -> set[str]:
    return {s["name"] for s in data["states"] if s["floor"] is not None}


def empty_stores(kernel: Kernel, case: Case, y: Array, p: Array) -> tuple[int, list[str]]:
    """No row takes from a store that is empty: its rate there is exactly zero."""
    x, data, found, count = ordinary(kernel, case), kernel.table.data, [], 0
    for state in sorted(_floored(data) - {"water"}):
        empty = y.copy()
        empty[:, kernel.table.at("state", state)] = 0.0
        rates, _ = kernel.rates(empty, p, x)
        for i, row in enumerate(data["rows"]):
            if Fraction(row["coefficients"].get(state, "0")) < 0:
                count += 1
                if not (rates[:, i] == 0.0).all():
                    found.append(f"{row['name']} takes {state} that is not there")
    return count, found


def never_negative(kernel: Kernel, case: Case, y: Array, p: Array) -> tuple[int, list[str]]:
    """Rates that touch a floored store are finite and not negative."""
    rates, _ = kernel.rates(y, p, ordinary(kernel, case))
    floored = _floored(kernel.table.data)
    touching = [
        (i, r["name"]) for i, r in enumerate(kernel.table.data["rows"])
        if floored & set(r["coefficients"])
    ]  # fmt: skip
    bad = [n for i, n in touching if not (np.isfinite(rates[:, i]) & (rates[:, i] >= 0.0)).all()]
    return len(touching), bad


def jumps_without_debt(kernel: Kernel, case: Case, y: Array, p: Array) -> tuple[int, list[str]]:
    """A jump leaves no store below zero, neither a full one nor an empty one."""
    x, table, found = ordinary(kernel, case), kernel.table, []
    floored = [table.at("state", s) for s in sorted(_floored(table.data))]
    given = np.ones(len(table.arguments))
    for name, value in {"share": 0.9, "harvest_cover": 0.1, "to_mark": 0.0}.items():
        given[table.at("argument", name)] = value
    for jump in table.jumps:
        consumed = {
            s for m in table.data["moves"] if m["jump"] == jump
            for s, c in m["coefficients"].items() if Fraction(c) < 0
        } - {"water"}  # fmt: skip
        emptied = y.copy()
        emptied[:, [table.at("state", s) for s in sorted(consumed)]] = 0.0
        after = [kernel.jump(jump, start, p, x, given)[:, floored] for start in (y, emptied)]
        if not all((np.isfinite(a) & (a >= 0.0)).all() for a in after):
            found.append(f"{jump} leaves a store below zero")
    return len(table.jumps), found


# -- books ---------------------------------------------------------------------


def books_of_a_run(kernel: Kernel, case: Case) -> dict[str, Any]:
    """Run the demo tank with its own entries: what came, went and stayed of each thing."""
    data = kernel.table.data
    run = run_ensemble(
        kernel, case.schedule(0.0, DAYS, [DAYS]), case.start({}, LANES),
        case.parameters({}, LANES), outputs=["ph"], scale=case.scale, extents=True,
    )  # fmt: skip
    start = case.start({}, LANES)
    extents = run.extents[-1] if run.extents is not None else np.empty((0, LANES))
    off: dict[str, float] = {}
    for thing in data["conserved"]:
        holds = np.array([float(Fraction(s["holds"].get(thing, "0"))) for s in data["states"]])
        carried = np.array(
            [float(Fraction(c["carried"].get(thing, "0"))) for c in (*data["rows"], *data["moves"])]
        )
        inventory = np.abs(run.end) @ np.abs(holds)
        error = np.abs((run.end - start) @ holds - carried @ extents)
        off[thing] = float((error / inventory).max())
    worst = max(off, key=lambda t: off[t])
    floors = [kernel.table.at("state", s) for s in _floored(data)]
    lowest = float(run.end[:, floors].min())
    return {
        "good": bool(run.good.all() and off[worst] <= FINEST and lowest >= 0.0),
        "days": DAYS, "tank": TANK, "things": len(off), "worst_thing": worst,
        "worst_share": off[worst], "lowest_store": lowest,
    }  # fmt: skip


# -- sources -------------------------------------------------------------------


def grades() -> dict[str, Any]:
    """How many parameter records there are, and the share of each grade."""
    held = [p.grade for p in parameters.load().values()]
    return {
        "records": len(held),
        "share_by_grade": {g: round(held.count(g) / len(held), 3) for g in parameters.GRADES},
    }


def sourced(data: Mapping[str, Any]) -> dict[str, Any]:
    """Rows and moves with a source of the bibliography and a place in it."""
    known = references.load()
    changes = [*data["rows"], *data["moves"]]
    lacking = [c["name"] for c in changes if c["source"] not in known or not c["where"].strip()]
    published = [r for r in data["rows"] if r["source"] != "common_practice"]
    return {
        "states": len(data["states"]), "rows": len(data["rows"]), "moves": len(data["moves"]),
        "quantities": len(data["quantities"]),
        "rows_with_a_publication": round(len(published) / len(data["rows"]), 3),
        "without_source": lacking,
    }  # fmt: skip


def freshness(kernel: Kernel) -> dict[str, str]:
    """Whether the generated files are those of the table of processes."""
    from pleuston.model.build import generate
    from pleuston.model.tank import model

    made = generate(model())
    stale = [n for n, text in made.items() if (MODEL / n).read_text(encoding="utf-8") != text]
    built = f'"hash": "{kernel.table.hash}"' in made["table.json"]
    return {
        "generated_files": "stale" if stale else "fresh",
        "binary": "fresh" if built else "stale",
    }


# -- published numbers -----------------------------------------------------------


def verification() -> dict[str, Any]:
    """Published numbers computed again: how many agree, and to how many digits."""
    text = (files("pleuston.services") / "verification.toml").read_text(encoding="utf-8")
    each = [_number(item) for item in tomllib.loads(text)["number"]]
    return {
        "numbers": len(each),
        "agree": sum(n["agrees"] for n in each),
        "fewest_digits": min(n["digits"] for n in each),
        "each": each,
    }


def _number(item: Mapping[str, Any]) -> dict[str, Any]:
    """One number again; it agrees within a unit of its last place: some tables cut, not round."""
    module, name = item["equation"].split(":")
    found = float(getattr(importlib.import_module(module), name)(**item["arguments"]))
    printed: str = item["printed"]
    published = float(printed)
    places = len(printed.partition(".")[2])
    off = abs(found - published)
    same = -math.log10(off / abs(published)) if off else 16.0
    return {
        "equation": name, "printed": printed, "unit": item["unit"],
        "found": round(found, places + 3), "digits": round(max(same, 0.0), 1),
        "agrees": off <= 10.0**-places,
        "source": item["source"], "where": item["where"],
    }  # fmt: skip
