"""The `pleuston` command. Every command says in one line what it does and ends with a code.

Exit codes: 0 done; 1 a check failed; 2 the input can't be taken; 3 the model or the
engine can't do it. Errors are one line on standard error.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pleuston.base.errors import PleustonError
from pleuston.cli import keeping, plan
from pleuston.cli.check_belief import check_belief
from pleuston.cli.compare import compare
from pleuston.cli.cover import cover
from pleuston.cli.due_tests import due_tests
from pleuston.cli.help_now import help_now
from pleuston.cli.jobs import jobs, refresh
from pleuston.cli.limits import limits
from pleuston.cli.oxygen import oxygen
from pleuston.cli.paper import sheet
from pleuston.cli.score import score
from pleuston.cli.serve import serve
from pleuston.cli.show import emit, stop_writing
from pleuston.cli.what_if import what_if
from pleuston.cli.why import why

app = typer.Typer(
    help="Keeps the record and the balance of planted, soil-bottomed tanks without filter, "
    "and turns both into the week's round.\n\nStart with: pleuston demo my-rack, then "
    "pleuston round my-rack --at 2026-07-20",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)

RackArg = Annotated[
    str, typer.Argument(metavar="RACK", help="A rack folder, a database file, or an address.")
]
TankArg = Annotated[str, typer.Argument(metavar="[TANK]", help="A tank; without it, every tank.")]
AtOption = Annotated[
    str,
    typer.Option("--at", help="Answer as of this time (ISO 8601), using nothing recorded later."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]
SeedOption = Annotated[int, typer.Option("--seed", help="Seed of the members drawn.")]


@app.command()
def demo(
    target: Annotated[
        Path, typer.Argument(help="A new folder, or a new database (rack.db), to write.")
    ],
    this_week: Annotated[
        bool, typer.Option("--this-week", help="Move its times by weeks, to end in these days.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """Write the demo rack: nine invented tanks over twenty weeks."""
    from datetime import UTC, datetime

    from pleuston.services.demo import write_demo

    written = write_demo(target, now=datetime.now(UTC) if this_week else None)
    emit({"written": str(written)}, json, "demo")


@app.command(name="import")
def import_(
    source: Annotated[str, typer.Argument(metavar="FOLDER", help="The rack to take in.")],
    target: Annotated[
        str, typer.Argument(help="The new folder or empty database (rack.db) to write.")
    ],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only check, write nothing.")] = False,
    json: JsonOption = False,
) -> None:
    """Take a rack folder into a database or folder whole, or say row by row what can't be."""
    from pleuston.services.racks import import_rack

    emit(import_rack(source, None if dry_run else target), json, "import")


@app.command()
def export(
    rack: RackArg,
    target: Annotated[
        Path, typer.Argument(help="The folder to write; or a file .xlsx, or .csv of the entries.")
    ],
    json: JsonOption = False,
) -> None:
    """Write a rack as a folder of plain CSV with its description, or as a spreadsheet."""
    from pleuston.services.racks import export_rack

    if target.suffix.lower() in (".xlsx", ".csv"):
        from pleuston.services.spreadsheet import export_spreadsheet

        emit(export_spreadsheet(rack, target), json, "spreadsheet")
        return
    emit(export_rack(rack, target), json, "export")


@app.command()
def tanks(rack: RackArg, at: AtOption = "", json: JsonOption = False) -> None:
    """List the tanks: litres, plants, animals, last reading."""
    from pleuston.services.racks import list_tanks

    emit(list_tanks(rack, at), json, "tanks")


@app.command()
def outlook(
    rack: RackArg,
    tank: TankArg = "",
    at: AtOption = "",
    days: Annotated[int, typer.Option("--days", min=1, max=366, help="How far to look.")] = 28,
    json: JsonOption = False,
    seed: SeedOption = 1,
) -> None:
    """Look ahead: daily ranges of every quantity, and when a limit may be crossed."""
    from pleuston.services.answers import outlook_answer

    emit(outlook_answer(rack, tank, at, days, seed), json, "outlook")


@app.command()
def ledger(
    rack: RackArg,
    tank: TankArg = "",
    element: Annotated[str, typer.Option("--element", help="N, P, K, Ca, Cu, water, ...")] = "N",
    since: Annotated[str, typer.Option("--from", help="Start of the period (ISO 8601).")] = "",
    until: Annotated[str, typer.Option("--to", help="End of the period (ISO 8601).")] = "",
    at: AtOption = "",
    json: JsonOption = False,
    seed: SeedOption = 1,
) -> None:
    """Show what came in, went out and stayed of one element, and what is unexplained."""
    from pleuston.services.answers import ledger_answer

    emit(ledger_answer(rack, tank, element, since, until, at, seed), json, "ledger")


@app.command(name="round")
def round_(
    rack: RackArg,
    at: AtOption = "",
    json: JsonOption = False,
    seed: SeedOption = 1,
    report: Annotated[
        Path | None, typer.Option("--report", help="Also write an HTML report here.")
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", min=0.0, help="Your minutes for the round; else the rack's."),
    ] = None,
) -> None:
    """This week's round: per tank what to take out, feed, top up, test, or leave alone."""
    from pleuston.services.answers import round_answer

    answer = round_answer(rack, at, seed, report, minutes)
    emit(answer, json, "round")
    if report is not None and not json:
        typer.echo(f"Report: {report.resolve()}")


@app.command()
def run(
    rack: RackArg,
    tank: TankArg,
    days: Annotated[int, typer.Option("--days", min=1, max=1000, help="Length.")] = 28,
    at: AtOption = "",
    members: Annotated[
        int, typer.Option("--members", min=1, max=5000, help="Members drawn.")
    ] = 100,
    json: JsonOption = False,
    seed: SeedOption = 1,
) -> None:
    """Run the model of a tank from its literature priors alone, readings unused."""
    from pleuston.services.answers import run_answer

    emit(run_answer(rack, tank, at, days, members, seed), json, "run")


@app.command()
def water(
    file: Annotated[Path, typer.Argument(metavar="WATERS.csv", help="Analyses of source waters.")],
    json: JsonOption = False,
) -> None:
    """Judge source waters: conductivity from ions, charge balance, slips, copper for animals."""
    from pleuston.services.waters import judge_waters

    emit(judge_waters(file), json, "water")


@app.command()
def where(
    name: Annotated[str, typer.Argument(help="A row, quantity, state, parameter or jump.")],
    json: JsonOption = False,
) -> None:
    """Show where a number comes from: formula, unit, source, inputs, parameters with grades."""
    from pleuston.services.explain import where_answer

    emit(where_answer(name), json, "where")


@app.command()
def table(
    theme: Annotated[str, typer.Argument(help="A theme of rows, such as nitrogen.")] = "",
    json: JsonOption = False,
) -> None:
    """Show the table of processes: every row with its solved coefficients."""
    from pleuston.services.explain import table_answer

    emit(table_answer(theme), json, "table")


@app.command()
def parameters(
    prefix: Annotated[str, typer.Argument(help="Only names that start so.")] = "",
    json: JsonOption = False,
) -> None:
    """List the parameter records: value, range, source, page, grade."""
    from pleuston.services.explain import parameters_answer

    emit(parameters_answer(prefix), json, "parameters")


@app.command()
def check(json: JsonOption = False) -> None:
    """Print the report card: laws, balances, grades of parameters, verification digits."""
    from pleuston.services.check import report_card

    answer = report_card()
    emit(answer, json, "check")
    if not answer["good"]:
        raise typer.Exit(1)


app.command()(cover)
app.command()(oxygen)
app.command()(compare)
app.command()(check_belief)
app.command()(sheet)
app.command()(refresh)
app.command()(jobs)
app.command()(serve)
app.command(name="tests")(due_tests)
app.command()(what_if)
app.command()(why)
app.command()(limits)
app.command()(score)
app.command(name="help-now")(help_now)


keeping.register(app)
plan.register(app)


def run_command(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    try:
        left = app(arguments, standalone_mode=False)
    except PleustonError as error:
        return _refused(error)
    except typer.Exit as leave:
        return leave.exit_code
    except (typer.Abort, KeyboardInterrupt):
        return 130
    except BrokenPipeError:
        raise
    except OSError as error:
        place = error.filename or "file"
        print(f"pleuston: {place}: {error.strerror}. Check the path.", file=sys.stderr)
        return 2
    except Exception as error:
        return _misused(error)
    return left if isinstance(left, int) else 0


def _refused(error: PleustonError) -> int:
    """Tell an error in one line, and under it every problem where there are several."""
    remedy = error.remedy[:1].upper() + error.remedy[1:].rstrip(".")
    print(f"pleuston: {error.where}: {error.what}. {remedy}.", file=sys.stderr)
    problems = getattr(error, "problems", ())
    if len(problems) > 1:
        for problem in problems:
            print(f"  {problem}", file=sys.stderr)
    return error.exit_code


def _misused(error: Exception) -> int:
    """Tell a wrong use of the command in one line; without any argument, give the help."""
    if not hasattr(error, "format_message"):
        raise error
    if type(error).__name__ == "NoArgsIsHelpError":
        print(error.format_message())
        return 2
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "pleuston"
    said = error.format_message().rstrip(".")
    print(f"pleuston: {said}. See `{command} --help`.", file=sys.stderr)
    return 2


def run_main() -> None:
    """Entry point of the installed command."""
    try:
        code = run_command()
        sys.stdout.flush()
    except BrokenPipeError:
        stop_writing()
        code = 0
    sys.exit(code)
