"""`pleuston check-belief`: a tank's learned numbers by a second, slower method."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from pleuston.cli.show import emit


def check_belief(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(help="A tank.")],
    at: Annotated[str, typer.Option("--at", help="As of this time; else the last entry.")] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Learn a tank by a second method too, and say whether both find the same."""
    from pleuston.services.second_opinion import second_opinion

    answer = second_opinion(rack, tank, at, seed=seed)
    if json:
        emit(answer, json, "check-belief")
    else:
        _say(answer)


def _say(answer: dict[str, Any]) -> None:
    apart = ", ".join(answer["apart"])
    verdict = "Both methods agree" if answer["agree"] else f"The methods differ in {apart}"
    typer.echo(f"{answer['tank']}: {verdict} ({answer['readings']} readings)")
    for way in ("first", "second"):
        how = answer[way]
        typer.echo(f"  {how['method']}: {how['runs']} runs, "
                   f"{how['effective_members']:.0f} members count")  # fmt: skip
    for row in answer["numbers"]:
        if row["learned"]:
            first, second = (
                f"{row[way]['middle']:.3g} ({row[way]['low']:.3g} to {row[way]['high']:.3g})"
                for way in ("first", "second")
            )
            unit = "" if row["unit"] == "1" else f" {row['unit']}"
            typer.echo(f"  {row['name']}: {first}; {second}{unit}, "
                       f"{row['shift_sd']:.2f} sd apart")  # fmt: skip
