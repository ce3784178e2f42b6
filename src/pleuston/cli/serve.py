"""`pleuston serve`: the app on this machine, or for the home network."""

from __future__ import annotations

import socket
import sys
from pathlib import Path
from typing import Annotated

import typer

from pleuston.base.errors import InputError

LOOPBACK = ("127.0.0.1", "localhost", "::1")


def serve(
    rack: Annotated[str, typer.Argument(help="A database file or address; a new file is made.")],
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes a free one.")] = 8000,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let others on the network in, each by password.")
    ] = False,
    name: Annotated[
        list[str] | None, typer.Option(help="A further name this machine is asked by.")
    ] = None,
    cert: Annotated[Path | None, typer.Option(help="Certificate for TLS (PEM).")] = None,
    key: Annotated[Path | None, typer.Option(help="Its key (PEM).")] = None,
    workers: Annotated[int, typer.Option(min=0, max=64, help="Processes that compute.")] = 2,
    note: Annotated[str, typer.Option(help="A line shown on every page.")] = "",
) -> None:
    """Serve the pages of a rack: to this machine alone, or with --lan to the network."""
    from pleuston.services.people import list_people
    from pleuston.store.session import open_database

    host = host or ("0.0.0.0" if lan else LOOPBACK[0])
    _must_be_safe(host, lan, cert, key)
    db = open_database(rack, create=True)
    try:
        if lan and not any(person["can_sign_in"] for person in list_people(db)):
            raise InputError(
                "nobody has a password yet, so nobody could be let in safely", where="--lan",
                remedy=f"Add a keeper first: pleuston people add {rack} NAME --role keeper",
            )  # fmt: skip
        _run(db, rack, host, port, lan, tuple(name or ()), cert, key, workers, note)
    finally:
        db.close()


def _must_be_safe(host: str, lan: bool, cert: Path | None, key: Path | None) -> None:
    """Refuse to listen to others without sign-in, and half a certificate."""
    if host not in LOOPBACK and not lan:
        raise InputError(
            f"{host} lets others in, and without --lan nobody is asked for a password",
            where="--host", remedy="Add --lan, or leave --host out",
        )  # fmt: skip
    if (cert is None) != (key is None):
        raise InputError("TLS needs both --cert and --key", where="serve", remedy="Give both")
    for file in (cert, key):
        if file is not None and not file.is_file():
            raise InputError("there is no such file", where=str(file), remedy="Check the path")


def _run(
    db: object, rack: str, host: str, port: int, lan: bool, names: tuple[str, ...],
    cert: Path | None, key: Path | None, workers: int, note: str,
) -> None:  # fmt: skip
    import uvicorn

    from pleuston.services.jobs import Workers
    from pleuston.store.session import Database
    from pleuston.web.app import create_app
    from pleuston.web.site import Settings

    assert isinstance(db, Database)
    listener = _listen(host, port)
    port = listener.getsockname()[1]
    own = _own_names() if lan else ()
    scheme = "http" if cert is None else "https"
    shown = own[0] if own else "127.0.0.1"
    address = f"{scheme}://{shown}:{port}"
    settings = Settings(
        lan=lan, hosts=("127.0.0.1", "localhost", "[::1]", *own, *names), address=address,
        secure=cert is not None,
    )  # fmt: skip
    crew = Workers(rack, processes=workers) if workers else None
    app = create_app(db, settings, crew, {"note": note} if note else None)
    typer.echo(f"Pleuston serves {rack} at {address} (stop with Ctrl-C)")
    sys.stdout.flush()
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False,
        timeout_graceful_shutdown=5,
        ssl_certfile=cert, ssl_keyfile=key, proxy_headers=False, timeout_keep_alive=30,
    )  # fmt: skip
    uvicorn.Server(config).run(sockets=[listener])


def _listen(host: str, port: int) -> socket.socket:
    """Take the port before anything is said, so that the address told is the right one."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise InputError(
            f"port {port} can't be used ({error.strerror})", where=host,
            remedy="Stop what uses it, or name another with --port",
        ) from None  # fmt: skip
    listener.listen(128)
    return listener


def _own_names() -> tuple[str, ...]:
    """The addresses and names that others on the network reach this machine by."""
    found: list[str] = []
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    except OSError:
        pass
    finally:
        probe.close()
    host = socket.gethostname()
    return tuple(dict.fromkeys([*found, host, f"{host}.local"]))
