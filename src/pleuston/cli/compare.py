"""`pleuston compare`: which of two floaters grew more, told fairly."""

from __future__ import annotations

from typing import Annotated

import typer

from pleuston.base.errors import InputError
from pleuston.cli.show import emit


def compare(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    species: Annotated[
        list[str] | None, typer.Option("--species", help="A floater; give the option twice.")
    ] = None,
    tanks: Annotated[
        list[str] | None, typer.Option("--tanks", help="Only this tank; may be given again.")
    ] = None,
    start: Annotated[str, typer.Option("--from", help="First day; else half a year back.")] = "",
    end: Annotated[str, typer.Option("--to", help="Last day; else the last entry.")] = "",
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Compare two floaters by paired weeks; say that no difference is shown where none is."""
    from pleuston.services.compare import compare_in

    if len(species or []) != 2:
        raise InputError("two floaters are needed", "--species", "give --species A --species B")
    first, second = species or ("", "")
    answer = compare_in(rack, first, second, tuple(tanks or ()), start, end)
    if json:
        emit(answer, json, "compare")
        return
    typer.echo(answer["verdict"])
    typer.echo(
        f"{answer['pairs']} paired weeks, {answer['fed_pairs']} of them not short of nutrients"
    )
    for line in (*answer["confounders"], *(f"left out: {text}" for text in answer["left_out"])):
        typer.echo(f"- {line}")
