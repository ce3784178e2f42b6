"""`pleuston tests`: what to test this week, by what knowing is worth."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from pleuston.cli.show import emit


def due_tests(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", min=0.0, help="Minutes for tests; else the rack's for a round."),
    ] = None,
    at: Annotated[
        str,
        typer.Option("--at", help="Answer as of this time (ISO 8601), using nothing later."),
    ] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """What to test this week: the readings that save most by changing what is done."""
    from pleuston.services.due_tests import due_answer

    answer = due_answer(rack, at, minutes, seed)
    if json:
        emit(answer, True, "tests")
        return
    typer.echo(
        f"Tests at {answer['at']}: {answer['minutes']:g} of {answer['minutes_given']:g} minutes, "
        f"{answer['coins']:g} coins"
    )
    for line in lines_of(answer):
        typer.echo(line)


def lines_of(answer: dict[str, Any]) -> list[str]:
    """The tests as lines of text."""
    made = []
    for test in answer["tests"]:
        kit = f" with {test['kit']}" if test["kit"] else ""
        made.append(f"* {test['tank']}: {test['what']}{kit}, worth {test['value']:g} min a week "
                    f"for {test['minutes']:g} min")  # fmt: skip
        made += [f"  if it shows {t['shows']} ({t['chance']:.0%}): {t['then']}"
                 for t in test["turns"]]  # fmt: skip
    return made or ["No reading would change what is done."]
