"""Write a migration from the difference between the last schema and the tables.

Usage: python tools/migration.py NUMBER "what changes"     (NUMBER such as 0002)
       python tools/migration.py 0001 "first tables" --again   (before the first release only)
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic.autogenerate import produce_migrations, render_python_code
from alembic.runtime.migration import MigrationContext

from pleuston.store.migrate import OPTIONS, run_steps
from pleuston.store.session import sqlite_engine
from pleuston.store.tables import METADATA

FOLDER = Path(__file__).parents[1] / "src" / "pleuston" / "store" / "migrations" / "versions"
TEXT = '''"""{what}: generated, do not edit."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "{number}"
down_revision = {before!r}
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema before this one to it."""
{body}
'''


def main(arguments: list[str]) -> int:
    """Write the migration of a number."""
    again = "--again" in arguments
    number, what = [a for a in arguments if a != "--again"]
    older = sorted(p.stem[:4] for p in FOLDER.glob("[0-9]*.py") if p.stem[:4] < number)
    if any(FOLDER.glob(f"{number}_*.py")) and not again:
        print(f"{number} is there already")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        engine = sqlite_engine(Path(folder) / "rack.db", foreign_keys=False)
        with engine.connect() as connection, connection.begin():
            if older:
                run_steps(connection, older[-1])
            context = MigrationContext.configure(connection, opts=OPTIONS)
            operations = produce_migrations(context, METADATA).upgrade_ops
            assert operations is not None
            body = render_python_code(
                operations, render_as_batch=bool(older), migration_context=context,
                user_module_prefix="",
            )  # fmt: skip
        engine.dispose()
    body = body.replace("Moment(", "sa.DateTime(")
    lines = [line for line in body.splitlines() if "### " not in line]
    name = f"{number}_{'_'.join(what.lower().split())}.py"
    for old in FOLDER.glob(f"{number}_*.py"):
        old.unlink()
    (FOLDER / name).write_text(
        TEXT.format(
            what=what, number=number, before=older[-1] if older else None, body="\n".join(lines)
        )
    )
    print(FOLDER / name)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
