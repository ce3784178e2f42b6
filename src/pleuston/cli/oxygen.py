"""`pleuston oxygen`: what a probe's night tells about exchange, breathing and the next night."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from pleuston.base.errors import InputError
from pleuston.cli.show import emit

File = Annotated[Path, typer.Argument(help="The probe's CSV or .xlsx.")]
TankOption = Annotated[
    tuple[str, str], typer.Option("--tank", help="RACK TANK: its lamp, height, time zone.")
]
Warmth = Annotated[
    float | None, typer.Option("--temperature-c", min=1, max=39, help="Where none is in it.")
]
Pressure = Annotated[
    float | None, typer.Option("--pressure-hpa", min=500, max=1090, help="Air pressure here.")
]
Height = Annotated[
    float | None, typer.Option("--altitude-m", min=-400, max=5000, help="Height over the sea.")
]
Salinity = Annotated[
    float, typer.Option("--salinity-g-kg", min=0, max=42, help="Salt in the water.")
]
Zone = Annotated[
    str, typer.Option("--timezone", help="Clock of the logger, such as UTC or Etc/GMT-1.")
]
Columns = Annotated[
    list[str] | None, typer.Option("--column", help="ROLE=HEADER, such as oxygen=DO.")
]
Dark = Annotated[str, typer.Option("--dark", help="Hours without light: 22:00-06:00.")]
PercentOf = Annotated[
    str, typer.Option("--percent-of", help="% are of air `here` or at `sea` level.")
]
Limit = Annotated[
    float, typer.Option("--limit", min=0.5, max=12, help="Least oxygen wanted, mg/L.")
]
Tonight = Annotated[
    list[float] | None, typer.Option("--at-c", help="Temperature of the coming night.")
]
Json = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]


def oxygen(
    file: File, tank: TankOption = ("", ""), temperature_c: Warmth = None,
    pressure_hpa: Pressure = None, altitude_m: Height = None, salinity: Salinity = 0.0,
    timezone: Zone = "", column: Columns = None, dark: Dark = "", percent_of: PercentOf = "",
    limit: Limit = 4.0, at_c: Tonight = None, json: Json = False,
) -> None:  # fmt: skip
    """Read a probe's oxygen, check it, and tell exchange, breathing and the coming night."""
    from pleuston.services.oxygen_night import Asked, oxygen_answer
    from pleuston.services.racks import open_rack

    if percent_of not in ("", "here", "sea"):
        raise InputError(f"{percent_of!r} is no air", "--percent-of", "use here or sea")
    parts = dict(pair.partition("=")[::2] for pair in column or [])
    asked = Asked(
        temperature_c, pressure_hpa, altitude_m, salinity, timezone, parts, dark,
        percent_of, limit, tuple(at_c or ()),
    )  # fmt: skip
    try:
        data = file.read_bytes()
    except OSError as fault:
        raise InputError(f"it can't be read ({fault.strerror})", str(file), "check it") from None
    record = open_rack(tank[0]) if tank[0] else None
    if record is not None:
        record.tank(tank[1])
    answer = oxygen_answer(data, file.name, asked, record, tank[1])
    if json:
        emit(answer, json, "oxygen")
    else:
        _say(answer)


def _say(answer: dict[str, Any]) -> None:
    for line in (*answer["words"], *(f"Taken for granted: {a}" for a in answer["assumed"])):
        typer.echo(line)
    for found in answer["findings"]:
        aside = ", set aside" if found["set_aside"] else ""
        count = f"{found['readings']} readings{aside}"
        typer.echo(f"Found: {found['kind']}: {found['words']} ({count})")
