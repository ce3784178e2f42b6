"""`pleuston score`: how far forecasts of a tank were to be trusted, on its own past."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from pleuston.cli.show import emit


def score(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(help="A tank; else all.")] = "",
    at: Annotated[str, typer.Option("--at", help="As of this time; else the last entry.")] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Score past forecasts against what was read later: bands, and skill beside simple guesses."""
    from pleuston.services.score import score_answer

    answer = score_answer(rack, tank, at, seed=seed)
    if json:
        emit(answer, json, "score")
        return
    for one in answer if isinstance(answer, list) else [answer]:
        _say(one)


def _say(one: dict[str, Any]) -> None:
    if "error" in one:
        typer.echo(f"{one['tank']}: {one['error']}")
        return
    looks = len(one["starts"]) - len(one["skipped"])
    typer.echo(f"{one['tank']}: {one['words']} Looked ahead from {looks} "
               f"moment{'' if looks == 1 else 's'} of the past.")  # fmt: skip
    for row in one["quantities"]:
        typer.echo(f"  {row['quantity']}: {row['words']} {row['skill_words']}".rstrip())
