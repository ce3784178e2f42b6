"""Rows of the catalogue: rack settings, waters, blends, feeds, soils and tanks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import tzinfo
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy import Table as Rows

from pleuston.records.given import Given, number_text
from pleuston.records.record import Blend, Feed, Rack, Soil, Tank, Water
from pleuston.store import exchange_layout as layout
from pleuston.store import tables
from pleuston.store.rows import fields_of_row, values_of

ROWS: Mapping[str, tuple[layout.Table, Rows]] = MappingProxyType({
    "rack": (layout.RACK, tables.RACK),
    "water": (layout.WATERS, tables.WATERS),
    "blend": (layout.BLENDS, tables.BLENDS),
    "feed": (layout.FEEDS, tables.FEEDS),
    "soil": (layout.SOILS, tables.SOILS),
    "tank": (layout.TANKS, tables.TANKS),
})  # fmt: skip
"""Each kind of the catalogue: its file in the rack folder, and its table."""


def rack_of(connection: Connection) -> Rack:
    """The settings of the rack."""
    texts = {row.key: row.value for row in connection.execute(select(tables.RACK))}
    given: dict[str, Any] = {}
    for item in fields(Rack):
        text = texts.get(item.name, "")
        if layout.RACK_SETTINGS[item.name].type == "number":
            given[item.name] = Given(text) if text else None
        else:
            given[item.name] = text
    return Rack(**given)


def put_rack(connection: Connection, rack: Rack) -> None:
    """Write the settings of the rack in place of those there are."""
    connection.execute(delete(tables.RACK))
    values = [
        {"key": item.name, "value": text_of(getattr(rack, item.name))} for item in fields(Rack)
    ]
    connection.execute(insert(tables.RACK), values)


def text_of(value: str | float | None) -> str:
    """A setting of the rack as text."""
    return value if isinstance(value, str) else number_text(value)


def zone_of(connection: Connection) -> tzinfo | None:
    """The rack's time zone; None where it names none."""
    found = connection.execute(
        select(tables.RACK.c.value).where(tables.RACK.c.key == "timezone")
    ).scalar()  # fmt: skip
    return ZoneInfo(found) if found else None


def rows_of(connection: Connection, kind: str, name: str = "") -> list[dict[str, Any]]:
    """The rows of a kind in their order; those of one name alone where it is given."""
    table, rows = ROWS[kind]
    query = select(rows).order_by(rows.c.row_id)
    if name:
        query = query.where(rows.c[table.key[0]] == name)
    return [dict(row) for row in connection.execute(query).mappings()]


def names_of(connection: Connection, kind: str) -> list[str]:
    """The names of a kind, each once, in their order."""
    table, rows = ROWS[kind]
    query = select(rows.c[table.key[0]]).order_by(rows.c.row_id)
    return list(dict.fromkeys(connection.execute(query).scalars()))


def waters_of(connection: Connection, zone: tzinfo | None, name: str = "") -> tuple[Water, ...]:
    """The analyses of waters."""
    found = rows_of(connection, "water", name)
    return tuple(Water(**fields_of_row(layout.WATERS, row, zone)) for row in found)


def blends_of(connection: Connection, name: str = "") -> tuple[Blend, ...]:
    """The blends of waters."""
    parts: dict[str, list[tuple[str, float]]] = {}
    for row in rows_of(connection, "blend", name):
        share = fields_of_row(layout.BLENDS, row, None)["share"]
        parts.setdefault(row["blend"], []).append((row["part"], share))
    return tuple(Blend(blend, tuple(found)) for blend, found in parts.items())


def feeds_of(connection: Connection, name: str = "") -> tuple[Feed, ...]:
    """The rack's own feeds."""
    found = rows_of(connection, "feed", name)
    return tuple(Feed(**fields_of_row(layout.FEEDS, row, None)) for row in found)


def soils_of(connection: Connection, name: str = "") -> tuple[Soil, ...]:
    """The rack's own soils."""
    found = rows_of(connection, "soil", name)
    return tuple(Soil(**fields_of_row(layout.SOILS, row, None)) for row in found)


def tanks_of(connection: Connection, zone: tzinfo | None, name: str = "") -> tuple[Tank, ...]:
    """The tanks as they were set up."""
    found = rows_of(connection, "tank", name)
    return tuple(Tank(**fields_of_row(layout.TANKS, row, zone)) for row in found)


def row_values(kind: str, item: Any, zone: tzinfo | None) -> list[dict[str, Any]]:
    """The rows of one thing: one, or as many as a blend has parts."""
    if isinstance(item, Blend):
        return [
            {"blend": item.name, "part": part, "share": float(share),
             "as_written": f'{{"share": "{share.text}"}}' if isinstance(share, Given) else ""}
            for part, share in item.parts
        ]  # fmt: skip
    return [values_of(ROWS[kind][0], item, zone)]


def add_items(
    connection: Connection, kind: str, items: Sequence[Any], zone: tzinfo | None
) -> None:
    """Add things of a kind that are not there yet."""
    values = [row for item in items for row in row_values(kind, item, zone)]
    if values:
        connection.execute(insert(ROWS[kind][1]), values)


def put_item(connection: Connection, kind: str, item: Any, zone: tzinfo | None) -> None:
    """Write a thing in place of the one with its key; a new one is added at the end."""
    table, rows = ROWS[kind]
    if isinstance(item, Blend):
        connection.execute(delete(rows).where(rows.c.blend == item.name))
        add_items(connection, kind, [item], zone)
        return
    (values,) = row_values(kind, item, zone)
    same = [rows.c[key] == values[key] for key in table.key]
    changed = connection.execute(update(rows).where(*same).values(**values))
    if not changed.rowcount:
        connection.execute(insert(rows), [values])


def remove_item(connection: Connection, kind: str, key: Mapping[str, str]) -> int:
    """Take the rows of a key out; gives how many there were."""
    rows = ROWS[kind][1]
    wanted = [rows.c[name] == value for name, value in key.items()]
    return connection.execute(delete(rows).where(*wanted)).rowcount
