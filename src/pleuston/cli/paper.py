"""`pleuston sheet`: sheets for paper, as PDF or as a page that a browser prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pleuston.cli.show import emit

KIND_HELP = "round, tank-card, incidents, water-record, holiday, slip, labels or vet."


def sheet(
    kind: Annotated[str, typer.Argument(metavar="KIND", help=KIND_HELP)],
    rack: Annotated[str, typer.Argument(metavar="RACK", help="A rack folder or database.")],
    tank: Annotated[
        str, typer.Argument(metavar="[TANK]", help="One tank; slip and vet need it.")
    ] = "",
    out: Annotated[
        Path | None, typer.Option("--out", help="File to write, ending in .pdf or .html.")
    ] = None,
    at: Annotated[
        str, typer.Option("--at", help="As of this time (ISO 8601); a holiday's first day.")
    ] = "",
    base_url: Annotated[
        str, typer.Option("--base-url", help="Address of the app, for the codes.")
    ] = "http://127.0.0.1:8000",
    days: Annotated[int, typer.Option("--days", help="Length of a holiday.")] = 14,
    skip: Annotated[int, typer.Option("--skip", help="Labels already used on the sheet.")] = 0,
    card: Annotated[str, typer.Option("--card", help="One incident card alone.")] = "",
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", min=0.0, help="Your minutes for the round; else the rack's."),
    ] = None,
    region: Annotated[
        str, typer.Option("--region", help="Of a slip: eu, uk, us, ...; else the rack's.")
    ] = "",
    seed: Annotated[int, typer.Option("--seed", help="Seed of the round's members.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
) -> None:
    """Make a sheet for paper: the round, cards, records, labels, what a neighbour or vet needs."""
    from pleuston.services.paper import Wishes, write_sheet

    file = out if out is not None else Path(f"{kind}.pdf")
    wishes = Wishes(base_url=base_url, days=days, skip=skip, incident=card, seed=seed,
                    minutes=minutes, region=region)  # fmt: skip
    emit(write_sheet(rack, kind, tank, at, file, wishes), json, "sheet")
