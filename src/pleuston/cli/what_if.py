"""`pleuston what-if`: plans side by side on the same members."""

from __future__ import annotations

from typing import Annotated

import typer

from pleuston.cli.show import emit
from pleuston.planning.plan import KEYS


def what_if(
    rack: Annotated[
        str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
    ],
    tank: Annotated[str, typer.Argument(metavar="TANK", help="A tank.")],
    plan: Annotated[
        list[str] | None,
        typer.Option("--plan", help="NAME:key=value,key=value; up to four times. Keys: "
                     f"{', '.join(KEYS)}."),
    ] = None,
    days: Annotated[int, typer.Option("--days", min=2, max=120, help="How far to look.")] = 60,
    best: Annotated[
        bool, typer.Option("--best", help="Also what the planner would choose this week.")
    ] = False,
    at: Annotated[
        str,
        typer.Option("--at", help="Answer as of this time (ISO 8601), using nothing later."),
    ] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """What if: up to four plans beside `as now`: ranges, chances of crossing limits, minutes.

    Shares are typed as percent (cover=25, feed=50); cover=100 is no harvest. Several animals or
    plants stand between slashes: stock=Poecilia wingei 4/Neocaridina davidi -3.
    """
    from pleuston.services.what_if import what_if_answer

    answer = what_if_answer(rack, tank, plan or [], days, at, seed, best)
    if json:
        emit(answer, True, "what-if")
        return
    for made in answer.get("plans", ()):
        typer.echo(f"{made['name']} ({made['changes']}), {made['minutes']:g} minutes a week")
        typer.echo(f"  {made['sentence']}")
        for row in made["chances"]:
            first = f", day {row['first_day']} at the earliest" if row["first_day"] else ""
            typer.echo(f"  {row['chance']:4.0%}  {row['word']}{first}")
    if best:
        week = answer["best_week"]
        typer.echo(f"The planner would choose: {week['changes']}. {week['because']}")
        typer.echo(f"  {week['would_change']}")
