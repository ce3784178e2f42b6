"""First tables: generated, do not edit."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema before this one to it."""
    op.create_table(
        "answer",
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("grades", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("tank", "kind", name=op.f("pk_answer")),
    )
    op.create_table(
        "audit",
        sa.Column("sequence", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sequence", name=op.f("pk_audit")),
    )
    op.create_table(
        "belief",
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("grades", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("members", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("tank", "at", name=op.f("pk_belief")),
    )
    op.create_table(
        "blend",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("blend", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("share", sa.Float(), nullable=True),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_blend")),
        sa.UniqueConstraint("blend", "part", name=op.f("uq_blend_blend_part")),
    )
    op.create_table(
        "entry",
        sa.Column("sequence", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at_text", sa.Text(), nullable=False),
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("low", sa.Float(), nullable=True),
        sa.Column("high", sa.Float(), nullable=True),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sequence", name=op.f("pk_entry")),
        sa.UniqueConstraint("id", name=op.f("uq_entry_id")),
    )
    op.create_index(op.f("ix_entry_tank_at"), "entry", ["tank", "at"], unique=False)
    op.create_index(
        op.f("ix_entry_tank_kind_what_at"), "entry", ["tank", "kind", "what", "at"], unique=False
    )
    op.create_table(
        "feed",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("feed", sa.Text(), nullable=False),
        sa.Column("protein_pct", sa.Float(), nullable=True),
        sa.Column("phosphorus_pct", sa.Float(), nullable=True),
        sa.Column("potassium_pct", sa.Float(), nullable=True),
        sa.Column("copper_mg_kg", sa.Float(), nullable=True),
        sa.Column("moisture_pct", sa.Float(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_feed")),
        sa.UniqueConstraint("feed", name=op.f("uq_feed_feed")),
    )
    op.create_table(
        "job",
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("urgent", sa.Integer(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("progress", sa.Float(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("cancel_asked", sa.Integer(), nullable=False),
        sa.Column("process", sa.Integer(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled', 'lost')",
            name=op.f("ck_job_state"),
        ),
        sa.PrimaryKeyConstraint("job", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_state_asked_at"), "job", ["state", "asked_at"], unique=False)
    op.create_table(
        "kit",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("kit", sa.Text(), nullable=False),
        sa.Column("reading", sa.Text(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("way", sa.Text(), nullable=False),
        sa.Column("steps", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("way IN ('chart', 'titration')", name=op.f("ck_kit_way")),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_kit")),
        sa.UniqueConstraint("kit", name=op.f("uq_kit_kit")),
    )
    op.create_table(
        "person",
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("units", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("left_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("role IN ('keeper', 'helper', 'viewer')", name=op.f("ck_person_role")),
        sa.PrimaryKeyConstraint("person", name=op.f("pk_person")),
    )
    op.create_table(
        "photo",
        sa.Column("photo", sa.Text(), nullable=False),
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("picture", sa.LargeBinary(), nullable=False),
        sa.Column("small", sa.LargeBinary(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("photo", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_tank_at"), "photo", ["tank", "at"], unique=False)
    op.create_table(
        "rack",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_rack")),
        sa.UniqueConstraint("key", name=op.f("uq_rack_key")),
    )
    op.create_table(
        "soil",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("soil", sa.Text(), nullable=False),
        sa.Column("organic_pct", sa.Float(), nullable=True),
        sa.Column("nitrogen_pct", sa.Float(), nullable=True),
        sa.Column("phosphorus_pct", sa.Float(), nullable=True),
        sa.Column("copper_mg_kg", sa.Float(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_soil")),
        sa.UniqueConstraint("soil", name=op.f("uq_soil_soil")),
    )
    op.create_table(
        "tank",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("tank", sa.Text(), nullable=False),
        sa.Column("net_l", sa.Float(), nullable=True),
        sa.Column("surface_m2", sa.Float(), nullable=True),
        sa.Column("lid", sa.Text(), nullable=False),
        sa.Column("heater_c", sa.Float(), nullable=True),
        sa.Column("light_hours", sa.Float(), nullable=True),
        sa.Column("light_ppfd", sa.Float(), nullable=True),
        sa.Column("soil", sa.Text(), nullable=False),
        sa.Column("soil_mm", sa.Float(), nullable=True),
        sa.Column("cap_mm", sa.Float(), nullable=True),
        sa.Column("soil_since", sa.Text(), nullable=False),
        sa.Column("started", sa.Text(), nullable=False),
        sa.Column("flow", sa.Text(), nullable=False),
        sa.Column("top_up_water", sa.Text(), nullable=False),
        sa.Column("cover_target_pct", sa.Float(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_tank")),
        sa.UniqueConstraint("tank", name=op.f("uq_tank_tank")),
    )
    op.create_table(
        "water",
        sa.Column("row_id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("water", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("calcium_mg_l", sa.Float(), nullable=True),
        sa.Column("magnesium_mg_l", sa.Float(), nullable=True),
        sa.Column("sodium_mg_l", sa.Float(), nullable=True),
        sa.Column("potassium_mg_l", sa.Float(), nullable=True),
        sa.Column("bicarbonate_mg_l", sa.Float(), nullable=True),
        sa.Column("sulfate_mg_l", sa.Float(), nullable=True),
        sa.Column("chloride_mg_l", sa.Float(), nullable=True),
        sa.Column("nitrate_mg_l", sa.Float(), nullable=True),
        sa.Column("phosphate_mg_l", sa.Float(), nullable=True),
        sa.Column("iron_mg_l", sa.Float(), nullable=True),
        sa.Column("copper_ug_l", sa.Float(), nullable=True),
        sa.Column("zinc_ug_l", sa.Float(), nullable=True),
        sa.Column("ph", sa.Float(), nullable=True),
        sa.Column("kh_dh", sa.Float(), nullable=True),
        sa.Column("gh_dh", sa.Float(), nullable=True),
        sa.Column("ec25_us_cm", sa.Float(), nullable=True),
        sa.Column("from", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("row_id", name=op.f("pk_water")),
        sa.UniqueConstraint("water", "from", name=op.f("uq_water_water_from")),
    )
    op.create_table(
        "device",
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("token_hash", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["person.person"], name=op.f("fk_device_person")),
        sa.PrimaryKeyConstraint("device", name=op.f("pk_device")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_device_token_hash")),
    )
    op.create_table(
        "entry_change",
        sa.Column("sequence", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("replacement", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("after_entry", sa.Integer(), nullable=False),
        sa.Column("by_undo", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["entry"], ["entry.id"], name=op.f("fk_entry_change_entry")),
        sa.ForeignKeyConstraint(
            ["replacement"], ["entry.id"], name=op.f("fk_entry_change_replacement")
        ),
        sa.PrimaryKeyConstraint("sequence", name=op.f("pk_entry_change")),
        sa.UniqueConstraint("id", name=op.f("uq_entry_change_id")),
    )
    op.create_index(op.f("ix_entry_change_entry"), "entry_change", ["entry"], unique=False)
    op.create_table(
        "pairing",
        sa.Column("code_hash", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["person.person"], name=op.f("fk_pairing_person")),
        sa.PrimaryKeyConstraint("code_hash", name=op.f("pk_pairing")),
    )
