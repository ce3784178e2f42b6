"""Nothing is left over: parameters, names, sources and definitions."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import pytest

import pleuston
from pleuston.base import glossary, parameters, references
from pleuston.model.assemble import Quantity
from pleuston.model.declare import Closed

from .evaluate import CONSTANTS, FAMILY_OF, record_of, tank, term_of

SOURCE = Path(pleuston.__file__).parent
OPENING = "initial_"


def test_every_parameter_of_the_glossary_is_used_or_recorded() -> None:
    """A parameter is an input of the model, or the record of one, or of a tank's start."""
    used = set(tank().parameters)
    recorded = set(parameters.load())
    spare = [
        name for name, term in glossary.load().items()
        if term.kind == "parameter" and name not in used | recorded
        and not any(m in name.split("_") for m in ("floater", "animal", "metal"))
    ]  # fmt: skip
    assert spare == []


def test_every_parameter_of_the_model_has_a_record_in_its_unit() -> None:
    for name in tank().parameters:
        if name in CONSTANTS:
            assert term_of(name).kind == "parameter"
            continue
        assert record_of(name).unit == term_of(name).unit, name


def asked_by_equations() -> set[str]:
    """Arguments of the equations of chemistry: `light_per_lux` has a record for every lamp."""
    asked: set[str] = set()
    for path in (SOURCE / "chemistry").glob("*.py"):
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                asked.update(a.arg for a in node.args.args)
    return asked


def test_every_record_is_used() -> None:
    """By the model, by an equation, at a tank's start, or by name in the code."""
    roles = {n.split("_", 1)[1] for n in tank().parameters if "_" in n}
    used = {record_of(n).name for n in tank().parameters if n not in CONSTANTS}
    asked = tuple(f"{a}_" for a in asked_by_equations())
    text = "".join(
        p.read_text("utf-8") for p in SOURCE.rglob("*.py") if p.name != "kernel_numpy.py"
    )
    spare = [
        name for name in parameters.load()
        if name not in used and not name.startswith((OPENING, *asked))
        and name.split("_", 1)[-1] not in roles and f'"{name}"' not in text
    ]  # fmt: skip
    assert spare == []


@pytest.mark.parametrize(
    "kind", ["states", "quantities", "parameters", "forcings", "arguments", "implicits"]
)
def test_every_name_is_in_the_glossary(kind: str) -> None:
    kinds = {
        "states": {"state"}, "quantities": {"quantity"}, "parameters": {"parameter"},
        "forcings": {"forcing"}, "arguments": {"argument"}, "implicits": {"quantity"},
    }  # fmt: skip
    for name in getattr(tank(), kind):
        assert term_of(name).kind in kinds[kind], name


def test_every_source_is_known() -> None:
    known = references.load()
    model = tank()
    cited = {q.name: getattr(q.function, "source", None) for q in model.quantities.values()}
    cited |= {c.name: c.source for c in (*model.rows, *model.moves)}
    assert {n: s for n, s in cited.items() if s not in known} == {}


def test_every_equation_is_defined_once() -> None:
    model = tank()
    ours = {q.function.__name__ for q in model.quantities.values()}
    ours |= {c.function.__name__ for c in (*model.rows, *model.moves)}
    found: Counter[str] = Counter()
    for path in SOURCE.rglob("*.py"):
        if path.name == "kernel_numpy.py":
            continue
        tree = ast.parse(path.read_text("utf-8"))
        found.update(n.name for n in tree.body if isinstance(n, ast.FunctionDef) and n.name in ours)
    assert {n: k for n, k in found.items() if k != 1} == {}
    assert ours == set(found)


def test_every_quantity_is_used() -> None:
    model = tank()
    quantities: list[Quantity | Closed] = [*model.quantities.values(), *model.implicits.values()]
    users = [*quantities, *model.rows, *model.moves]
    used = {n for user in users for n in user.arguments.values()}
    used |= {*model.observed, *model.tracked}
    spare = [n for n in model.quantities if n not in used]
    assert spare == []


def test_every_member_of_a_family_is_there() -> None:
    for name in tank().states:
        words = [w for w in name.split("_") if w in FAMILY_OF]
        for word in words:
            for other, family in FAMILY_OF.items():
                if family == FAMILY_OF[word]:
                    twin = "_".join(other if w == word else w for w in name.split("_"))
                    assert twin in tank().states
