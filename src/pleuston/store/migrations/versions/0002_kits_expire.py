"""Test kits say until when they are good."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema before this one to it."""
    with op.batch_alter_table("kit") as kit:
        kit.add_column(sa.Column("good_until", sa.Text(), nullable=False, server_default=""))
