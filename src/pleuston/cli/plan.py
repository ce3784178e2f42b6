"""The planners as commands, such as `pleuston start-up` or `pleuston away`: one for each."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Annotated, Any

import typer

from pleuston.cli.layout import Page, between, number
from pleuston.cli.show import emit
from pleuston.planning.planner import Field, Planner
from pleuston.services.plan_kinds import PLANNERS

RACK = Annotated[
    str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
]
TANK = Annotated[str, typer.Argument(metavar="[TANK]", help="A tank of the rack.")]
AT = Annotated[
    str, typer.Option("--at", help="Answer as of this time (ISO 8601), using nothing later.")
]
SEED = Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")]
JSON = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]
SHARED = ("rack", "tank", "at", "seed", "json")


def register(app: typer.Typer) -> None:
    """Add a command for every planner."""
    for planner in PLANNERS.values():
        app.command(name=planner.name)(command_of(planner))


def command_of(planner: Planner) -> Callable[..., None]:
    """The command of a planner, with an option for each of its fields."""

    def command(**given: Any) -> None:
        from pleuston.services.planners import plan_answer

        typed = {f.name: given[f.name] for f in planner.fields if given[f.name]}
        answer = plan_answer(
            given["rack"], planner.name, given["tank"], typed, given["at"], given["seed"]
        )
        if given["json"]:
            emit(answer, True, "plan")
        else:
            page_of_plan(answer).show()

    types: dict[str, Any] = {"rack": RACK, "tank": TANK}
    types |= {f.name: _option(f) for f in planner.fields} | {"at": AT, "seed": SEED, "json": JSON}
    first = {"tank": "", "at": "", "seed": 1, "json": False}
    parameters = [
        inspect.Parameter(
            name, inspect.Parameter.KEYWORD_ONLY, annotation=kind,
            default=inspect.Parameter.empty if name == "rack" else first.get(name, ""),
        )
        for name, kind in types.items()
    ]  # fmt: skip
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = dict(types)
    command.__name__ = planner.name.replace("-", "_")
    command.__doc__ = f"{planner.title}: {planner.line}."
    return command


def _option(field: Field) -> Any:
    """The option of a field, with its unit, choices and what stands in where it is left out."""
    parts = [field.word]
    if field.unit:
        parts.append(f"[{field.unit}]")
    if field.kind == "yes":
        parts.append("(yes or no)")
    if field.choices:
        parts.append(f"({', '.join(field.choices)})")
    if field.kind == "many":
        parts.append("several between slashes")
    rest = field.hint or (f"{field.default} unless given" if field.default else "")
    help_text = " ".join(parts) + (f"; {rest}" if rest else "") + "."
    return Annotated[str, typer.Option(f"--{field.name.replace('_', '-')}", help=help_text)]


def page_of_plan(answer: Mapping[str, Any]) -> Page:
    """A planner's answer as lines and tables."""
    page = Page()
    page.heading(f"{answer['tank']}: {answer['headline']}" if answer["tank"] else
                 answer["headline"])  # fmt: skip
    for line in answer["said"]:
        page.line(line)
    for i, one in enumerate(answer["steps"], 1):
        page.line()
        page.line(f"{i}. {one['title']}")
        for line in one["lines"]:
            page.line(f"   {line}")
    for one in answer["tables"]:
        page.heading(one["title"])
        page.table(one["columns"], [[_text(c) for c in row] for row in one["rows"]])
        if one.get("note"):
            page.line(one["note"])
    for line in answer["cautions"]:
        page.line(f"Caution: {line}")
    return page


def _text(value: Any) -> str:
    """A cell of a table: text, an amount, or a range."""
    if not isinstance(value, Mapping):
        return str(value)
    said = number(value["value"]) if "value" in value else between(value["low"], value["high"])
    return f"{said} {value['unit']}".strip()
