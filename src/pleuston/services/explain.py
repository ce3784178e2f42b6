"""Where a number comes from: formula, place, unit, source, inputs, parameters."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pleuston
from pleuston.base import glossary, parameters, references
from pleuston.base.errors import UnknownNameError
from pleuston.records.kinds import READINGS
from pleuston.records.near import near_names

SHELVES = ("pleuston.chemistry", "pleuston.biology", "pleuston.model.rows")
"""Packages whose public functions are equations with a source."""
ROOT = Path(pleuston.__file__).parents[1]
DEPTH = 2
"""How far below a row or quantity the quantities behind it are shown."""
PROCESSES: Mapping[str, tuple[str, ...]] = {
    "nitrify": ("oxidise_ammonium", "oxidise_nitrite"),
    "photosynthesise": (
        "photosynthesise_floater1", "photosynthesise_rooted", "photosynthesise_algae"
    ),
    "harvest": ("harvest_floater1", "trim_rooted"),
    "water_change": ("water_out", "top_up"),
    "death": ("die_fish", "die_shrimp", "die_snails"),
}  # fmt: skip
"""Everyday names of processes and acts, and the rows or jumps they stand for."""
FAMILIES: Mapping[str, tuple[str, ...]] = {
    "floater": ("floater1", "floater2", "floater3"),
    "animal": ("fish", "shrimp", "snail", "snails"),
    "metal": ("copper", "zinc"),
}
"""Names of the glossary that stand for each of several."""
_FORMAT_MARK = re.compile(r"\s+# fmt: \w+$")
_INSTANCE = re.compile(r"(floater)\d+")


def _data() -> Mapping[str, Any]:
    from pleuston.engine.kernel import tank_table

    return tank_table().data


# -- where -------------------------------------------------------------------


def where_answer(name: str) -> dict[str, Any]:
    """Say where a row, quantity, state, parameter, jump, reading, limit or equation is from."""
    data = _data()
    for kind, find in _FINDERS.items():
        found = find(name, data)
        if found is not None:
            return {"name": name, "kind": kind, **_term(name), **found}
    members = PROCESSES.get(name) or _named_so(name, data)
    if members:
        return {"name": name, "kind": "process", "members": [where_answer(m) for m in members]}
    term = _term(name)
    if term:
        kind = glossary.load()[name].kind
        return {"name": name, "kind": kind, **term, **_around(name, data)}
    raise UnknownNameError(
        f"nothing is called {name!r}", where="pleuston where", remedy=near_names(name, names())
    )


def _named_so(name: str, data: Mapping[str, Any]) -> list[str]:
    """Rows and jumps whose name begins with a verb; of a plant's instances the first only."""
    every = [*(r["name"] for r in data["rows"]), *data["jumps"]]
    return [
        n for n in every if n.startswith(f"{name}_") and not re.search(r"floater[2-9]", n)
    ]  # fmt: skip


def names() -> list[str]:
    """Every name that `where_answer` knows."""
    data = _data()
    every = [
        *(r["name"] for r in (*data["rows"], *data["moves"])), *data["quantities"],
        *(s["name"] for s in data["states"]), *data["jumps"], *data["parameters"],
        *parameters.load(), *glossary.load(), *READINGS, *_equations(), *PROCESSES,
    ]  # fmt: skip
    return sorted(set(every))


def _term(name: str) -> dict[str, Any]:
    term = glossary.load().get(name) or glossary.load().get(_family(name))
    if term is None:
        return {}
    return {
        "symbol": term.symbol,
        "unit": f"{term.unit} of {term.of}" if term.of else term.unit,
        "meaning": term.meaning,
    }


def _family(name: str) -> str:
    """The name its whole family has in the glossary: floater1_carbon is a floater_carbon."""
    parts = name.split("_")
    return "_".join(
        next((f for f, members in FAMILIES.items() if part in members), part) for part in parts
    )


def _source(key: str, where: str) -> dict[str, str]:
    """The reference in words, and the place in it."""
    item = references.load().get(key)
    if item is None:
        return {"source_key": key, "source": f"{key}, {where}" if key else where}
    if key == "common_practice":
        return {"source_key": key, "source": f"common practice: {where}"}
    text = f"{item.authors} ({item.year}), {item.title}. {item.container}"
    return {"source_key": key, "source": f"{text}: {where}" if where else text}


def _code(function: Callable[..., Any]) -> dict[str, Any]:
    """File, line and formula of a function."""
    function = inspect.unwrap(function)
    lines, first = inspect.getsourcelines(function)
    path = Path(inspect.getsourcefile(function) or "")
    shown = path.relative_to(ROOT) if path.is_relative_to(ROOT) else path
    return {"place": f"{shown}:{first}", "formula": formula_of("".join(lines))}


def formula_of(source: str) -> str:
    """The body of a function without its docstring.

    >>> formula_of('def f(a):' + chr(10) + '    "Twice."' + chr(10) + '    return 2 * a')
    'return 2 * a'
    """
    text = textwrap.dedent(source)
    definition = ast.parse(text).body[0]
    if not isinstance(definition, ast.FunctionDef):
        return text.strip()
    body = definition.body
    first = body[0]
    documented = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    start = body[1].lineno if documented and len(body) > 1 else first.lineno
    lines = text.splitlines()[start - 1 : definition.end_lineno]
    return textwrap.dedent("\n".join(_FORMAT_MARK.sub("", line) for line in lines)).strip()


def _function(module: str, name: str) -> Callable[..., Any]:
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def _row(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    change = next((r for r in data["rows"] if r["name"] == name), None)
    if change is None:
        return None
    found = _change(change)
    return {**found, "behind": behind(found["inputs"], data)}


def _change(change: Mapping[str, Any]) -> dict[str, Any]:
    inputs = list(change["inputs"])
    return {
        "meaning": change["meaning"],
        "unit": change["unit"],
        **_code(_function(change["module"], change["function"])),
        **_source(change["source"], change["where"]),
        "coefficients": dict(change["coefficients"]),
        "crosses": change["crosses"],
        "carried": dict(change["carried"]),
        "inputs": inputs,
        "parameters": records_of(inputs),
    }


def behind(inputs: Iterable[str], data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The quantities that inputs are computed from, nearest first, each with its formula."""
    found: dict[str, dict[str, Any]] = {}
    level = list(inputs)
    for _ in range(DEPTH):
        deeper: list[str] = []
        for name in level:
            if name in data["quantities"] and name not in found:
                found[name] = {"name": name, "kind": "quantity", **_formula(name, data)}
                deeper += found[name]["inputs"]
        level = deeper
    return list(found.values())


def _formula(name: str, data: Mapping[str, Any]) -> dict[str, Any]:
    item = data["quantities"][name]
    inputs = list(item["inputs"])
    return {
        **_equation_of(_function(item["module"], item["function"])),
        **_term(name),
        "inputs": inputs,
        "parameters": records_of(inputs),
    }


def _move(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    move = next((m for m in data["moves"] if m["name"] == name), None)
    return None if move is None else {"jump": move["jump"], **_change(move)}


def _jump(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    if name not in data["jumps"]:
        return None
    moves = [m for m in data["moves"] if m["jump"] == name]
    return {
        **_term(name),
        "moves": [{"name": m["name"], "kind": "move", **_change(m)} for m in moves],
        "inputs": sorted({i for m in moves for i in m["inputs"]}),
    }


def _quantity(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    if name not in data["quantities"]:
        return None
    found = _formula(name, data)
    return {**found, "behind": behind(found["inputs"], data), **_around(name, data)}


def _equation_of(function: Callable[..., Any]) -> dict[str, Any]:
    meaning = (inspect.getdoc(function) or "").split("\n")[0]
    source = _source(getattr(function, "source", ""), getattr(function, "where", ""))
    return {"meaning": meaning, **_code(function), **source}


def _state(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    state = next((s for s in data["states"] if s["name"] == name), None)
    if state is None:
        return None
    changed = [r["name"] for r in (*data["rows"], *data["moves"]) if name in r["coefficients"]]
    return {
        "unit": state["unit"],
        "holds": dict(state["holds"]),
        "floor": state["floor"],
        "typical": state["typical"],
        "changed_by": changed,
        **_around(name, data),
    }


def _parameter(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    item = parameters.load().get(name)
    if item is None and name not in data["parameters"]:
        return None
    records = [_record(item)] if item else records_of([name])
    source = _source(item.source, item.where) if item else {}
    used = users(name, data)
    if item is not None and not used:
        used = [u for kernel in data["parameters"] if item.name in _record_names(kernel)
                for u in users(kernel, data)]  # fmt: skip
    return {
        **source,
        "parameters": records,
        "used_by": sorted(set(used)),
        "note": item.note if item else "",
    }


def _reading(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    item = READINGS.get(name)
    if item is None:
        return None
    inner = _predicted().get(item.quantity, item.quantity)
    return {
        "meaning": item.meaning,
        "unit": item.unit or "1",
        "inputs": [inner],
        "behind": behind([inner], data),
        "canonical_unit": item.canonical,
        "least": item.least,
        "most": item.most,
        **_around(item.quantity, data),
    }


def _equation(name: str, data: Mapping[str, Any]) -> dict[str, Any] | None:
    function = _equations().get(name)
    if function is None:
        return None
    inputs = list(inspect.signature(function).parameters)
    return {
        **_equation_of(function),
        **_term(name),
        "inputs": inputs,
        "parameters": records_of(inputs),
        **_around(name, data),
    }


def _limit(name: str, _data: Mapping[str, Any]) -> dict[str, Any] | None:
    """Limits by their own name, limit_WHAT_HORIZON."""
    from pleuston.planning.limits import records

    found = {r.quantity for r in records() if name == f"limit_{r.quantity}_{r.horizon}"}
    limits = [i for q in found for i in _limits(q) if i["horizon"] == name.rsplit("_", 1)[-1]]
    return {"inputs": sorted(found), "limits": limits} if found else None


def _equations() -> dict[str, Callable[..., Any]]:
    """Every public function of chemistry, biology and the rows, by name."""
    found: dict[str, Callable[..., Any]] = {}
    for shelf in SHELVES:
        package = importlib.import_module(shelf)
        for part in pkgutil.iter_modules(package.__path__):
            module = importlib.import_module(f"{shelf}.{part.name}")
            for name, value in vars(module).items():
                if name.startswith("_") or not inspect.isfunction(value):
                    continue
                if value.__module__ == module.__name__:
                    found.setdefault(name, value)
    return found


_FINDERS: dict[str, Callable[[str, Mapping[str, Any]], dict[str, Any] | None]] = {
    "row": _row,
    "quantity": _quantity,
    "state": _state,
    "jump": _jump,
    "move": _move,
    "parameter": _parameter,
    "equation": _equation,
    "reading": _reading,
    "limit": _limit,
}


def users(name: str, data: Mapping[str, Any]) -> list[str]:
    """Rows, moves and quantities that have a name among their inputs."""
    changes = [r["name"] for r in (*data["rows"], *data["moves"]) if name in r["inputs"]]
    return changes + [q for q, item in data["quantities"].items() if name in item["inputs"]]


def _around(name: str, data: Mapping[str, Any]) -> dict[str, Any]:
    """What uses a name, and the limits of that quantity."""
    return {"used_by": users(name, data), "limits": _limits(name)}


def _predicted() -> Mapping[str, str]:
    """What a reading measures -> the quantity of the model that it is compared with."""
    from pleuston.inference.tank import PREDICTED

    return PREDICTED


def _limits(name: str) -> list[dict[str, Any]]:
    from pleuston.planning.limits import records

    same = {name, *(read for read, inner in _predicted().items() if inner == name)}
    return [
        {
            "severity": limit.severity,
            "word": limit.word,
            "bound": _bound(limit.low, limit.high, limit.rule, limit.unit),
            "who": list(limit.who),
            "horizon": limit.horizon,
            "source": limit.source,
            "where": limit.where,
            "grade": limit.grade,
        }
        for limit in records()
        if limit.quantity in same
    ]


def _bound(low: float | None, high: float | None, rule: str, unit: str) -> str:
    if rule:
        return f"by rule {rule} [{unit}]"
    ends = (("below", low), ("above", high))
    said = " or ".join(f"{word} {end:g}" for word, end in ends if end is not None)
    return said if unit == "1" else f"{said} {unit}"


# -- parameters ----------------------------------------------------------------


def _record_names(name: str) -> list[str]:
    """Names of the records that can fill a parameter of the model."""
    from pleuston.records.library.lookup import FLOATER_MODELS

    if name in parameters.load():
        return [name]
    if not _INSTANCE.match(name):
        return []
    return [_INSTANCE.sub(plant, name, count=1) for plant in FLOATER_MODELS]


def records_of(inputs: Iterable[str]) -> list[dict[str, Any]]:
    """The parameter records among some inputs; a floater's stand for every kind of plant."""
    known = parameters.load()
    found = dict.fromkeys(n for name in inputs for n in _record_names(name) if n in known)
    return [_record(known[name]) for name in found]


def _record(item: parameters.Parameter) -> dict[str, Any]:
    return {field: getattr(item, field) for field in item.__dataclass_fields__}


def parameters_answer(prefix: str = "") -> dict[str, Any]:
    """Parameter records whose names start so, with how many rest on what."""
    known = parameters.load()
    chosen = [item for name, item in sorted(known.items()) if name.startswith(prefix)]
    if not chosen:
        raise UnknownNameError(
            f"no parameter starts with {prefix!r}",
            where="pleuston parameters",
            remedy=near_names(prefix, known),
        )
    grades = {grade: sum(p.grade == grade for p in chosen) for grade in parameters.GRADES}
    return {"parameters": [_record(item) for item in chosen], "grades": grades}


# -- table ---------------------------------------------------------------------


def table_answer(theme: str = "") -> dict[str, Any]:
    """The rows of the model with their solved coefficients, of one theme or all."""
    data = _data()
    rows = [{"theme": _theme(row), **_line(row)} for row in data["rows"]]
    themes = list(dict.fromkeys(row["theme"] for row in rows))
    if theme and theme not in themes:
        raise UnknownNameError(
            f"no theme of rows is called {theme!r}",
            where="pleuston table",
            remedy=near_names(theme, themes),
        )
    return {
        "model": data["name"],
        "hash": data["hash"],
        "theme": theme,
        "themes": themes,
        "rows": [row for row in rows if not theme or row["theme"] == theme],
        "jumps": {} if theme else {
            jump: [_line(m) for m in data["moves"] if m["jump"] == jump] for jump in data["jumps"]
        },
    }  # fmt: skip


def _theme(row: Mapping[str, Any]) -> str:
    return str(row["module"]).rsplit(".", 1)[-1]


def _line(change: Mapping[str, Any]) -> dict[str, Any]:
    shown = ("name", "unit", "meaning", "coefficients", "crosses", "carried", "source", "where")
    return {key: change[key] for key in shown}
