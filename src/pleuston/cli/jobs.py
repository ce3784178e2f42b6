"""`pleuston refresh` and `pleuston jobs`: answers made and kept, and what works on them."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated, Any

import typer

from pleuston.base.errors import EngineError, InputError
from pleuston.cli.show import emit

RackArg = Annotated[str, typer.Argument(metavar="RACK", help="A database file or address.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]


def refresh(
    rack: RackArg,
    tank: Annotated[str, typer.Argument(metavar="[TANK]", help="One tank; else all.")] = "",
    at: Annotated[str, typer.Option("--at", help="Answer as of this time (ISO 8601).")] = "",
    every: Annotated[
        bool, typer.Option("--all", help="Also tanks whose answers still hold.")
    ] = False,
    processes: Annotated[
        int, typer.Option(min=0, max=64, help="Processes; 0 takes one a core.")
    ] = 0,
    json: JsonOption = False,
) -> None:
    """Make the answers of tanks that no longer hold, and keep them in the database."""
    from pleuston.services.refresh import refresh as made

    line = _progress_line()
    answer = made(rack, tank, at, every=every or bool(tank), processes=processes, told=line)
    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[K")
    if json:
        emit(answer, True, "refresh")
    else:
        for row in answer["tanks"]:
            typer.echo(f"{row['tank']}: {row['ended']}" + (f", {row['why']}" if row["why"] else ""))
        if not answer["tanks"]:
            typer.echo("All answers still hold.")
    if any(row["ended"] != "done" for row in answer["tanks"]):
        raise EngineError(
            "not every tank could be answered", where=rack, remedy="See what is said of each tank"
        )


def _progress_line() -> Callable[[dict[str, Any]], None]:
    """Tell progress on one line of a terminal's standard error, and nowhere else."""
    shown = sys.stderr.isatty()

    def told(now: dict[str, Any]) -> None:
        if shown:
            sys.stderr.write(f"\r\x1b[K{100.0 * now['progress']:3.0f} % {now['message']}")
            sys.stderr.flush()

    return told


def jobs(
    rack: RackArg,
    cancel: Annotated[str, typer.Option("--cancel", help="Cancel the job of this id.")] = "",
    json: JsonOption = False,
) -> None:
    """List the work in the background: what runs, waits and ended last."""
    from pleuston.services.jobs import cancel as cancel_job
    from pleuston.services.jobs import list_jobs, wall_clock
    from pleuston.store.session import open_database

    db = open_database(rack)
    try:
        if cancel and not cancel_job(db, cancel, wall_clock()):
            raise InputError("this job has ended", f"job {cancel}", "look at the list of jobs")
        found = list_jobs(db)
    finally:
        db.close()
    if json:
        emit({"jobs": found}, True, "jobs")
        return
    for job in found:
        percent = f" {100.0 * job['progress']:.0f} %" if job["state"] == "running" else ""
        typer.echo(
            f"{job['state']}{percent}  {job['kind']} of {job['tank']}, asked {job['asked_at']}"
            f"  {job['message']}  [{job['job']}]"
        )
    if not found:
        typer.echo("Nothing was asked for lately.")
