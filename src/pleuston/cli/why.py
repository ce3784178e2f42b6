"""`pleuston why`: what may be going on in a tank, and what would tell."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from pleuston.cli.show import emit

SHOWN = 0.02


def why(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(help="A tank; else all.")] = "",
    at: Annotated[str, typer.Option("--at", help="As of this time; else the last entry.")] = "",
    signs_only: Annotated[
        bool, typer.Option("--signs-only", help="Read signs off the record; learn nothing.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Name the likely causes of what a tank shows, and the cheapest test between them."""
    from pleuston.services.why import why_answer

    answer = why_answer(rack, tank, at, signs_only=signs_only)
    if json:
        emit(answer, json, "why")
        return
    for one in answer if isinstance(answer, list) else [answer]:
        _say(one)


def _say(one: dict[str, Any]) -> None:
    typer.echo(one["tank"] + (f": {one['error']}" if "error" in one else ""))
    for row in one.get("causes", []):
        if row["probability"] < SHOWN:
            continue
        since = f", since {row['since']}" if row["since"] else ""
        typer.echo(f"  {100 * row['probability']:3.0f} %  {row['word']}{since}")
        for text in row["for"]:
            typer.echo(f"         for: {text}")
        for text in row["against"]:
            typer.echo(f"         against: {text}")
        typer.echo(f"         would tell: {row['next_word']}")
    for pair in one.get("together", []):
        typer.echo(f"  {100 * pair['probability']:3.0f} %  both {' and '.join(pair['causes'])}")
    if "meanwhile" in one:
        typer.echo(f"  {one['meanwhile']}")
