"""`pleuston limits`: the limits that hold in a tank, and the keeper's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from pleuston.cli.layout import Page, number
from pleuston.cli.show import emit
from pleuston.records.own_limits import SIDES

HOW = (
    "Set one: pleuston log RACK TANK limit temperature '<25' C --method act --note 'why'. "
    "Use '>' for at least; end one by limit_end with the same words and its own reason."
)


def limits(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(metavar="TANK", help="A tank of the rack.")],
    at: Annotated[
        str, typer.Option("--at", help="Answer as of this time (ISO 8601), using nothing later.")
    ] = "",
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """The limits of a tank: the library's and your own, each with its reason or source."""
    from pleuston.services.limits import limits_answer

    answer = limits_answer(rack, tank, at)
    if json:
        emit(answer, True, "limits")
    else:
        page_of_limits(answer).show()


def page_of_limits(answer: Mapping[str, Any]) -> Page:
    """The limits as tables."""
    page = Page()
    page.heading(f"{answer['tank']}: limits at {answer['at']}")
    if not answer["animals"]:
        page.line("No animals are here: the library has nothing to protect.")
    elif not answer["water_known"]:
        page.line("What depends on the water is told for the strictest usual water.")
    page.table(
        ("quantity", "limit", "severity", "beyond it", "rests on"),
        [(x["quantity"].replace("_", " "), _bound(x), x["severity"], x["word"], _source(x))
         for x in answer["limits"]],
    )  # fmt: skip
    page.heading("Your own")
    for own in answer["own"]:
        place = own["tank"] or "the whole rack"
        whom = f" for {own['species']}" if own["species"] else ""
        by = f" by {own['by']}" if own["by"] else ""
        page.line(
            f"{own['what'].replace('_', ' ')} {_bound(own)} ({own['severity']}{whom}), {place}, "
            f"since {own['since']}{by}: {own['reason']}. {own['effect'].capitalize()}."
        )
    if not answer["own"]:
        page.line("None is set.")
    page.line(HOW)
    return page


def _bound(one: Mapping[str, Any]) -> str:
    return f"{SIDES[one['side']]} {number(one['value'])} {one['unit']}".strip()


def _source(one: Mapping[str, Any]) -> str:
    return f"{one['where']}; {one['conditions']}" if one["is_own"] else one["source"]
