"""`pleuston help-now`: a tank's amounts for the first hours when something is wrong."""

from __future__ import annotations

from typing import Annotated

import typer

from pleuston.cli.plan import page_of_plan
from pleuston.cli.show import emit


def help_now(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(metavar="TANK", help="A tank of the rack.")],
    card: Annotated[
        str, typer.Option("--card", help="What is seen: gasping, ammonia, deaths, ...")
    ] = "",
    at: Annotated[str, typer.Option("--at", help="As of this time; else the last entry.")] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Give a tank's amounts for the first hours: food, litres in stages, air until when."""
    from pleuston.services.help_now import help_answer

    answer = help_answer(rack, tank, at, card, seed)
    if json:
        emit(answer, True, "help")
    else:
        page_of_plan(answer).show()
