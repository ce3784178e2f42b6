"""Bring a database of an older schema up to date, all of it or not at all.

A file is copied aside first. The steps themselves are one transaction: a step that fails
leaves the database as it was.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext, StampStep
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from pleuston.store.session import (
    HEAD,
    Database,
    StoreError,
    plain_engine,
    revision_of,
    shown,
    told,
)
from pleuston.store.tables import METADATA

OPTIONS: dict[str, Any] = {
    "target_metadata": METADATA,
    "render_as_batch": True,
    "compare_type": True,
    "transactional_ddl": True,
}


@contextmanager
def steps(folder: Path | None = None) -> Iterator[ScriptDirectory]:
    """The steps from each schema to the next; folder: another place of them, for tests."""
    with as_file(files("pleuston.store") / "migrations") as own:
        config = Config()
        config.set_main_option("script_location", str(folder or own))
        config.set_main_option("path_separator", "os")
        yield ScriptDirectory.from_config(config)


def run_steps(
    connection: Connection, target: str = HEAD, folder: Path | None = None
) -> None:
    """Carry out the steps up to a schema, within the transaction of the connection."""
    with steps(folder) as script:

        def wanted(revision: Any, _context: MigrationContext) -> list[StampStep]:
            return script._upgrade_revs(target, revision)  # type: ignore[return-value]

        with EnvironmentContext(Config(), script, fn=wanted, destination_rev=target) as context:
            context.configure(connection=connection, **OPTIONS)
            context.run_migrations()


def upgrade(db: Database, found: str, target: str = HEAD, folder: Path | None = None) -> None:
    """Bring a database from the schema found to the newest; a file is copied aside first."""
    _known(db, found, folder)
    if not db.is_sqlite:
        with db.write() as connection:
            if revision_of(connection) == found:
                run_steps(connection, target, folder)
        return
    file = Path(db.address)
    copy = copy_aside(file, found)
    db.engine.dispose()
    engine = plain_engine(file)
    try:
        with told(str(file)), engine.connect() as connection:
            writing = connection.execution_options(pleuston_writes=True)
            with writing.begin():
                if revision_of(writing) == found:
                    run_steps(writing, target, folder)
                    _keys_fit(writing, file)
    except Exception as fault:
        raise StoreError(
            what=f"the database could not be brought up to date ({_first_line(fault)})",
            where=str(file),
            remedy=f"it is as it was; a copy of it is {copy.name}",
        ) from fault
    finally:
        engine.dispose()


def _first_line(fault: Exception) -> str:
    return (str(fault).splitlines() or [type(fault).__name__])[0]


def _known(db: Database, found: str, folder: Path | None) -> None:
    with steps(folder) as script:
        names = {step.revision for step in script.walk_revisions()}
    if found not in names:
        raise StoreError(
            what=f"this database has the schema {found}, newer than this program's {HEAD}",
            where=shown(db.address),
            remedy="use the newer program, or restore a backup made before it",
        )


def copy_aside(file: Path, found: str) -> Path:
    """Copy a database file beside itself, under a name that is free."""
    number, copy = 1, file.with_name(f"{file.stem}.before-{found}{file.suffix}")
    stem = copy.stem
    while copy.exists():
        number += 1
        copy = file.with_name(f"{stem}-{number}{file.suffix}")
    engine = plain_engine(file)
    try:
        with engine.connect() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.execute("VACUUM INTO ?", (str(copy),)).close()
    except sqlite3.Error as fault:
        copy.unlink(missing_ok=True)
        raise StoreError(
            what=f"no copy could be put aside before the database is brought up to date ({fault})",
            where=str(file),
            remedy="make room beside it; nothing was changed",
        ) from fault
    finally:
        engine.dispose()
    return copy


def _keys_fit(connection: Connection, file: Path) -> None:
    broken = connection.execute(text("PRAGMA foreign_key_check")).all()
    if broken:
        raise StoreError(
            what=f"{len(broken)} rows would point at nothing",
            where=str(file),
            remedy="restore a backup",
        )


def differences(connection: Connection) -> list[Any]:
    """What a database holds otherwise than `tables` says."""
    from alembic.autogenerate import compare_metadata

    context = MigrationContext.configure(
        connection, opts={"compare_type": True, "target_metadata": METADATA}
    )
    return list(compare_metadata(context, METADATA))
