"""The tables of a rack's database: facts are added, never changed; what is derived can go.

One database holds one rack. The catalogue (rack, waters, blends, feeds, soils, tanks) has
the columns of the rack folder, so that what goes in comes out the same. Entries are keyed
by the UUID their maker gave them: sending one again adds nothing.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

from pleuston.store import exchange_layout as layout

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class Moment(TypeDecorator[datetime]):
    """An aware time, kept in UTC on every database; a time without zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, _dialect: Dialect) -> datetime | None:
        """Refuse a naive time; give the same moment in UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the time {value} has no time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any, _dialect: Dialect) -> datetime | None:
        """Give back the time zone that SQLite leaves out."""
        if value is None:
            return None
        found: datetime = value
        return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)


def _cells(table: layout.Table) -> list[Column[Any]]:
    """The columns of a file of the rack folder; times stay as they were written."""
    return [
        Column(column.name, Float)
        if column.type == "number"
        else Column(column.name, Text, nullable=False, default="")
        for column in table.columns
    ]


def _catalogue(name: str, table: layout.Table) -> Table:
    """A table of the catalogue: its rows keep the order they came in."""
    order = Column("row_id", Integer, primary_key=True, autoincrement=True)
    return Table(name, METADATA, order, *_cells(table), _digits(), UniqueConstraint(*table.key))


def _digits() -> Column[Any]:
    """JSON of the numbers that were written otherwise than in their shortest form."""
    return Column("as_written", Text, nullable=False, default="")


RACK = _catalogue("rack", layout.RACK)
WATERS = _catalogue("water", layout.WATERS)
BLENDS = _catalogue("blend", layout.BLENDS)
FEEDS = _catalogue("feed", layout.FEEDS)
SOILS = _catalogue("soil", layout.SOILS)
TANKS = _catalogue("tank", layout.TANKS)

KITS = Table(
    "kit",
    METADATA,
    Column("row_id", Integer, primary_key=True, autoincrement=True),
    Column("kit", Text, nullable=False),
    Column("reading", Text, nullable=False),
    Column("unit", Text, nullable=False, default=""),
    Column("way", Text, nullable=False),
    Column("steps", Text, nullable=False),
    Column("note", Text, nullable=False, default=""),
    Column("good_until", Text, nullable=False, default="", server_default=""),
    UniqueConstraint("kit"),
    CheckConstraint("way IN ('chart', 'titration')", name="way"),
)
"""Test kits as their owner describes them; steps: the numbers it can show, from the lowest;
good_until: the day printed on it, empty for none."""

PEOPLE = Table(
    "person",
    METADATA,
    Column("person", Text, primary_key=True),
    Column("role", Text, nullable=False),
    Column("password_hash", Text, nullable=False, default=""),
    Column("units", Text, nullable=False, default="{}"),
    Column("created_at", Moment, nullable=False),
    Column("left_at", Moment),
    CheckConstraint("role IN ('keeper', 'helper', 'viewer')", name="role"),
)
"""Who may use the rack; units: JSON of the units this person reads and writes in."""

DEVICES = Table(
    "device",
    METADATA,
    Column("device", Text, primary_key=True),
    Column("person", Text, ForeignKey("person.person"), nullable=False),
    Column("name", Text, nullable=False, default=""),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("created_at", Moment, nullable=False),
    Column("seen_at", Moment, nullable=False),
    Column("expires_at", Moment, nullable=False),
    Column("revoked_at", Moment),
)
"""Sessions of people on devices: the token itself is never stored, and any can be revoked."""

PAIRINGS = Table(
    "pairing",
    METADATA,
    Column("code_hash", Text, primary_key=True),
    Column("person", Text, ForeignKey("person.person"), nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("expires_at", Moment, nullable=False),
    Column("used_at", Moment),
)
"""One-time codes that let a phone in."""

ENTRIES = Table(
    "entry",
    METADATA,
    Column("sequence", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("at", Moment, nullable=False),
    Column("at_text", Text, nullable=False, default=""),
    Column("tank", Text, nullable=False, default=""),
    Column("kind", Text, nullable=False),
    Column("what", Text, nullable=False, default=""),
    Column("low", Float),
    Column("high", Float),
    Column("unit", Text, nullable=False, default=""),
    Column("by", Text, nullable=False, default=""),
    Column("method", Text, nullable=False, default=""),
    Column("note", Text, nullable=False, default=""),
    _digits(),
    Column("recorded_at", Moment, nullable=False),
    Column("person", Text, nullable=False, default=""),
    Column("device", Text, nullable=False, default=""),
    Index(None, "tank", "kind", "what", "at"),
    Index(None, "tank", "at"),
)
"""All that happened, in the order it was noted; no row is ever changed."""

CHANGES = Table(
    "entry_change",
    METADATA,
    Column("sequence", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("entry", Text, ForeignKey("entry.id"), nullable=False),
    Column("replacement", Text, ForeignKey("entry.id")),
    Column("reason", Text, nullable=False, default=""),
    Column("after_entry", Integer, nullable=False),
    Column("by_undo", Integer, nullable=False, default=0),
    Column("recorded_at", Moment, nullable=False),
    Column("person", Text, nullable=False, default=""),
    Column("device", Text, nullable=False, default=""),
    Column("undone_at", Moment),
    Index(None, "entry"),
)
"""An entry corrected (it has a replacement) or withdrawn (it has none); undone_at: put back.

after_entry: the last entry noted before it, so that their order needs no clock; by_undo: 1
for an entry that its maker took back, which is not undone in turn."""

AUDIT = Table(
    "audit",
    METADATA,
    Column("sequence", Integer, primary_key=True, autoincrement=True),
    Column("at", Moment, nullable=False),
    Column("person", Text, nullable=False, default=""),
    Column("device", Text, nullable=False, default=""),
    Column("action", Text, nullable=False),
    Column("subject", Text, nullable=False, default=""),
    Column("before", Text, nullable=False, default=""),
    Column("after", Text, nullable=False, default=""),
)
"""Who changed what: catalogue, people, devices, corrections, backups; before and after as JSON."""

PHOTOS = Table(
    "photo",
    METADATA,
    Column("photo", Text, primary_key=True),
    Column("tank", Text, nullable=False),
    Column("at", Moment, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("width", Integer, nullable=False),
    Column("height", Integer, nullable=False),
    Column("picture", LargeBinary, nullable=False),
    Column("small", LargeBinary, nullable=False),
    Column("note", Text, nullable=False, default=""),
    Index(None, "tank", "at"),
)
"""Pictures without the data of their camera; `photo` is the UUID of their entry."""

BELIEFS = Table(
    "belief",
    METADATA,
    Column("tank", Text, primary_key=True),
    Column("at", Moment, primary_key=True),
    Column("model", Text, nullable=False),
    Column("seed", Integer, nullable=False),
    Column("record", Text, nullable=False),
    Column("grades", Text, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("members", LargeBinary, nullable=False),
)
"""What was believed of a tank at a moment; model, record: hashes of what it was made from."""

ANSWERS = Table(
    "answer",
    METADATA,
    Column("tank", Text, primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("at", Moment, nullable=False),
    Column("model", Text, nullable=False),
    Column("seed", Integer, nullable=False),
    Column("record", Text, nullable=False),
    Column("grades", Text, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("answer", LargeBinary, nullable=False),
)
"""The last answer of each kind for each tank, as packed JSON; pages show it with its age."""

JOBS = Table(
    "job",
    METADATA,
    Column("job", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("tank", Text, nullable=False, default=""),
    Column("at", Moment, nullable=False),
    Column("urgent", Integer, nullable=False, default=0),
    Column("attempts", Integer, nullable=False, default=0),
    Column("state", Text, nullable=False),
    Column("progress", Float, nullable=False, default=0.0),
    Column("message", Text, nullable=False, default=""),
    Column("cancel_asked", Integer, nullable=False, default=0),
    Column("process", Integer, nullable=False, default=0),
    Column("asked_at", Moment, nullable=False),
    Column("started_at", Moment),
    Column("seen_at", Moment),
    Column("ended_at", Moment),
    CheckConstraint(
        "state IN ('waiting', 'running', 'done', 'failed', 'cancelled', 'lost')", name="state"
    ),
    Index(None, "state", "asked_at"),
)
"""Work in the background. at: the moment it answers for; asked_at: its place in the queue,
after the urgent; attempts: how often it was begun; seen_at: the last sign of life of the
process that runs it."""
