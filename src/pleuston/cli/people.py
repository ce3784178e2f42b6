"""`pleuston people`: who may use a rack over the network, and on which devices."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from pleuston.cli.show import emit

people = typer.Typer(
    help="Say who may use a rack over the network, and on which devices.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
DatabaseArg = Annotated[str, typer.Argument(metavar="RACK", help="A database file or address.")]
NameArg = Annotated[str, typer.Argument(metavar="NAME", help="The person.")]
RoleOption = Annotated[str, typer.Option("--role", help="keeper, helper or viewer.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]
FromInput = Annotated[
    bool, typer.Option("--password-from-stdin", help="Read the password from standard input.")
]


def _password(from_input: bool) -> str:
    """Ask for a password unseen, twice; or read one line of standard input."""
    if from_input:
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True))


@people.command(name="list")
def list_(rack: DatabaseArg, json: JsonOption = False) -> None:
    """List people and devices."""
    from pleuston.cli.keeping import opened
    from pleuston.services.people import devices_of, list_people

    with opened(rack) as db:
        answer = {"people": list_people(db), "devices": devices_of(db)}
    emit(answer, json, "people")


@people.command()
def add(
    rack: DatabaseArg,
    name: NameArg,
    role: RoleOption = "helper",
    password_from_stdin: FromInput = False,
    without_password: Annotated[
        bool, typer.Option("--without-password", help="They come in by a code alone.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """Let a person use the rack."""
    from pleuston.cli.keeping import me, now, opened, said
    from pleuston.services.people import add_person

    with opened(rack, create=True) as db:
        password = "" if without_password else _password(password_from_stdin)
        answer = add_person(db, name, role, password, me(), now())
    said(f"{answer['person']} is a {role}.", answer, json, "people")


@people.command()
def password(rack: DatabaseArg, name: NameArg, password_from_stdin: FromInput = False) -> None:
    """Give a person a new password; their devices must sign in again."""
    from pleuston.cli.keeping import me, now, opened
    from pleuston.services.people import set_password

    with opened(rack) as db:
        set_password(db, name, _password(password_from_stdin), me(), now())
    typer.echo(f"{name} has a new password.")


@people.command()
def role(rack: DatabaseArg, name: NameArg, to: Annotated[str, typer.Argument()]) -> None:
    """Give a person another role: keeper, helper or viewer."""
    from pleuston.cli.keeping import me, now, opened
    from pleuston.services.people import set_role

    with opened(rack) as db:
        set_role(db, name, to, me(), now())
    typer.echo(f"{name} is a {to}.")


@people.command()
def remove(rack: DatabaseArg, name: NameArg) -> None:
    """Take a person out with all their devices; what they noted stays."""
    from pleuston.cli.keeping import me, now, opened
    from pleuston.services.people import remove_person

    with opened(rack) as db:
        remove_person(db, name, me(), now())
    typer.echo(f"{name} is taken out.")


@people.command()
def revoke(rack: DatabaseArg, device: Annotated[str, typer.Argument(metavar="DEVICE")]) -> None:
    """End the session of a device at once."""
    from pleuston.cli.keeping import me, now, opened
    from pleuston.services.people import revoke as end

    with opened(rack) as db:
        end(db, device, me(), now())
    typer.echo("The device is signed out.")


@people.command()
def pair(
    rack: DatabaseArg,
    name: NameArg,
    base_url: Annotated[
        str, typer.Option("--base-url", help="The address that `serve --lan` printed.")
    ],
    minutes: Annotated[int, typer.Option(min=1, max=1440, help="How long the code works.")] = 10,
    json: JsonOption = False,
) -> None:
    """Show a code that lets one device in as this person, once."""
    from datetime import timedelta

    import segno

    from pleuston.cli.keeping import me, now, opened, said
    from pleuston.services.people import new_pairing

    with opened(rack) as db:
        code = new_pairing(db, name, me(), now(), lasts=timedelta(minutes=minutes))
    address = f"{base_url.rstrip('/')}/pair/{code}"
    if not json:
        segno.make(address, error="m").terminal(border=2, compact=True)
    said(f"Open on the device, within {minutes} minutes: {address}", {"address": address}, json,
         "people")  # fmt: skip
