"""Fixtures of every test: a rack's database, on a file and on a server."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from tests.store.databases import programs, server, two_tanks

from pleuston.store.session import Database, open_database

_NUMBER = count(1)


@pytest.fixture(scope="session")
def database_server() -> Iterator[str]:
    """The address of a PostgreSQL server that runs for these tests alone."""
    if programs() is None:
        pytest.skip("there is no folder of PostgreSQL's programs: not tested on it")
    with server() as address:
        yield address


@pytest.fixture
def server_address(database_server: str) -> Iterator[str]:
    """The address of an empty database on the server."""
    name = f"rack{next(_NUMBER)}"
    engine = create_engine(database_server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE template0"))
    yield database_server.rpartition("/")[0] + "/" + name
    with engine.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a new database can be made: a file, then a server."""
    if request.param == "sqlite":
        return str(tmp_path / "rack.db")
    return str(request.getfixturevalue("server_address"))


@pytest.fixture
def db(address: str) -> Iterator[Database]:
    """The database of a small rack."""
    made = open_database(address, create=True)
    two_tanks(made)
    yield made
    made.close()


@pytest.fixture
def db_file(tmp_path: Path) -> Iterator[Database]:
    """The database of a small rack, in a file."""
    made = open_database(tmp_path / "rack.db", create=True)
    two_tanks(made)
    yield made
    made.close()
