"""The rack's settings, waters, blends, feeds, soils and tanks: looked up, saved, taken out.

What is saved is checked by the reader of rack folders, in the same words, and noted in the
audit with what was there before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from types import MappingProxyType
from typing import Any

from sqlalchemy import Connection, func, select

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.records.library import library
from pleuston.records.near import near_names
from pleuston.records.record import Rack
from pleuston.services.who import Who, require
from pleuston.store import audit
from pleuston.store import catalogue as rows
from pleuston.store.catalogue_read import CatalogueReader, Cells
from pleuston.store.entries import in_force
from pleuston.store.exchange_layout import RACK_SETTINGS
from pleuston.store.exchange_problems import ImportRefused, Problem
from pleuston.store.rows import text_problem
from pleuston.store.session import Database
from pleuston.store.tables import BLENDS, ENTRIES, TANKS

SETTINGS_MEAN = MappingProxyType({c.name: c.meaning for c in RACK_SETTINGS.values()})
"""The settings of a rack and what each means."""
KINDS = ("water", "blend", "feed", "soil", "tank")
POROSITY = 0.35
"""Share of settled sand and gravel that is water, where none is given."""
SOIL_POROSITY = 0.5
"""Share of settled soil that is water, where none is given."""


def rack_settings(db: Database) -> dict[str, str]:
    """The settings of the rack as text, all of them."""
    with db.read() as connection:
        rack = rows.rack_of(connection)
    return {item.name: rows.text_of(getattr(rack, item.name)) for item in fields(Rack)}


def save_rack_settings(
    db: Database, settings: Mapping[str, str], who: Who, now: datetime
) -> dict[str, str]:
    """Change settings of the rack; those not named stay."""
    require(who, "keep")
    with db.write() as connection:
        old = rows.rack_of(connection)
        before = {item.name: rows.text_of(getattr(old, item.name)) for item in fields(Rack)}
        after = {**before, **settings}
        given: list[Cells] = [{"key": key, "value": value} for key, value in after.items()]
        reader = CatalogueReader(connection, "rack", given)
        try:
            rack = reader.item()
        except ImportRefused as refused:
            raise _by_setting(refused, list(after)) from None
        rows.put_rack(connection, rack)
        changed = {key: value for key, value in after.items() if before.get(key) != value}
        if changed:
            audit.note(
                connection, "save rack settings", "rack", now,
                person=who.person, device=who.device,
                before={key: before.get(key, "") for key in changed}, after=changed,
            )  # fmt: skip
    return rack_settings(db)


def _by_setting(refused: ImportRefused, keys: Sequence[str]) -> ImportRefused:
    """Name the setting instead of the column `value`."""
    problems = [
        Problem("rack", 0, keys[p.line - 1] if p.line else p.column, p.what, p.remedy)
        for p in refused.problems
    ]
    return ImportRefused("rack", problems, failed="not saved")


def _kind(kind: str) -> str:
    if kind not in KINDS:
        raise UnknownNameError(
            f"there is no list of {kind!r}", "catalogue", near_names(kind, KINDS)
        )
    return kind


def _shown(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in ("row_id", "as_written")}


def list_items(db: Database, kind: str) -> list[dict[str, Any]]:
    """The rack's own things of a kind, as rows of its file: all analyses, all parts."""
    with db.read() as connection:
        return [_shown(row) for row in rows.rows_of(connection, _kind(kind))]


def get_item(db: Database, kind: str, name: str) -> list[dict[str, Any]]:
    """The rows of one thing: a water's analyses, a blend's parts, else one row."""
    with db.read() as connection:
        found = [_shown(row) for row in rows.rows_of(connection, _kind(kind), name)]
        if not found:
            raise _unknown(connection, kind, name)
    return found


def _unknown(connection: Connection, kind: str, name: str) -> UnknownNameError:
    names = rows.names_of(connection, kind)
    return UnknownNameError(f"there is no {kind} named {name!r}", kind, near_names(name, names))


def save_item(
    db: Database, kind: str, given: Cells | Sequence[Cells], who: Who, now: datetime,
    new: bool = False,
) -> list[dict[str, Any]]:  # fmt: skip
    """Save a thing of the catalogue, given by the columns of its file.

    A blend is given by all its rows. Columns left out keep what they hold. new: refuse a
    name that is there already. Raises `ImportRefused` with every problem by column.
    """
    require(who, "keep")
    parts: list[Cells] = [given] if isinstance(given, Mapping) else list(given)
    table = rows.ROWS[_kind(kind)][0]
    with db.write() as connection:
        old = _old(connection, kind, parts)
        if new and old:
            what = f"there is a {kind} of this name already"
            problem = Problem(kind, 1, table.key[0], what, "give another name")
            raise ImportRefused(kind, [problem], failed="not saved")
        if len(old) == 1 and len(parts) == 1 and kind != "blend":
            kept = {c: old[0][c] for c in table.names if old[0][c] is not None}
            parts = [{**kept, **parts[0]}]
        item = CatalogueReader(connection, kind, parts).item()
        if item is None:
            raise InputError(f"nothing of the {kind} was given", kind, "fill in its columns")
        _fits_the_past(connection, kind, item)
        zone = rows.zone_of(connection)
        rows.put_item(connection, kind, item, zone)
        made = rows.row_values(kind, item, zone)
        audit.note(
            connection, f"save {kind}", item.name, now, person=who.person, device=who.device,
            before=[_shown(row) for row in old] or None, after=[_shown(row) for row in made],
        )  # fmt: skip
    return [_shown(row) for row in made]


def _old(connection: Connection, kind: str, parts: Sequence[Cells]) -> list[dict[str, Any]]:
    table = rows.ROWS[kind][0]
    if not parts:
        return []
    key = [str(parts[0].get(column) or "").strip() for column in table.key]
    if not key[0] or any(text_problem(name, k) for name, k in zip(table.key, key, strict=True)):
        return []
    found = rows.rows_of(connection, kind, key[0])
    if kind == "blend":
        return found
    return [row for row in found if [row[column] for column in table.key] == key]


def _fits_the_past(connection: Connection, kind: str, item: Any) -> None:
    """Refuse what would make the record contradict itself."""
    if kind in ("water", "blend"):
        other = "blend" if kind == "water" else "water"
        if item.name in rows.names_of(connection, other):
            what = f"{item.name!r} is the name of a {other} already"
            problem = Problem(kind, 1, kind, what, "give it another name")
            raise ImportRefused(kind, [problem], failed="not saved")
    if kind == "tank" and item.started is not None:
        first = connection.execute(
            select(func.min(ENTRIES.c.at)).where(ENTRIES.c.tank == item.name, in_force())
        ).scalar()  # fmt: skip
        if first is not None and first < item.started:
            what = f"there are entries before, the first of {first.date().isoformat()}"
            problem = Problem(kind, 1, "started", what, "give an earlier day")
            raise ImportRefused(kind, [problem], failed="not saved")


def remove_item(
    db: Database, kind: str, name: str, who: Who, now: datetime, valid_from: str | None = None
) -> int:
    """Take a thing out that nothing of the record names; valid_from: one analysis of a water."""
    require(who, "keep")
    with db.write() as connection:
        found = rows.rows_of(connection, _kind(kind), name)
        key = {rows.ROWS[kind][0].key[0]: name}
        if kind == "water" and valid_from is not None:
            key["from"] = valid_from
            found = [row for row in found if row["from"] == valid_from]
        if not found:
            raise _unknown(connection, kind, name)
        if len(found) == len(rows.rows_of(connection, kind, name)):
            _not_used(connection, kind, name)
        gone = rows.remove_item(connection, kind, key)
        audit.note(
            connection, f"remove {kind}", name, now, person=who.person, device=who.device,
            before=[_shown(row) for row in found],
        )  # fmt: skip
    return gone


def _not_used(connection: Connection, kind: str, name: str) -> None:
    e = ENTRIES.c
    uses = {
        "tank": [select(e.id).where(e.tank == name)],
        "feed": [select(e.id).where(e.kind == "feed", e.what == name)],
        "soil": [select(TANKS.c.row_id).where(TANKS.c.soil == name)],
        "water": [
            select(e.id).where(e.kind.in_(["top_up", "water_change"]), e.what == name),
            select(e.id).where(e.kind == "setting", e.what == "top_up_water", e.note == name),
            select(TANKS.c.row_id).where(TANKS.c.top_up_water == name),
            select(BLENDS.c.row_id).where(BLENDS.c.part == name),
        ],
    }
    uses["blend"] = uses["water"][:3]
    shipped = {"feed": library().feeds, "soil": library().soils, "water": library().waters}
    if name in shipped.get(kind, {}):
        return
    if any(connection.execute(query.limit(1)).first() is not None for query in uses[kind]):
        raise InputError(
            what=f"the record names this {kind}", where=name, remedy="leave it where it is"
        )


def list_library(kind: str) -> list[dict[str, Any]]:
    """What the shipped library knows of a kind, each with its numbers and their grades.

    kind: water, feed, soil, species or substance.
    """
    shelf = library()
    shelves: dict[str, Mapping[str, Any]] = {
        "water": shelf.waters, "feed": shelf.feeds, "soil": shelf.soils,
        "species": shelf.species, "substance": shelf.substances,
    }  # fmt: skip
    if kind not in shelves:
        raise UnknownNameError(
            f"the library has no {kind!r}", "library", near_names(kind, shelves)
        )
    made = []
    for name, item in shelves[kind].items():
        row = {f.name: getattr(item, f.name) for f in fields(item) if not f.name.endswith("_text")}
        if kind == "substance":
            row["content"] = {state: float(share) for state, share in item.content.items()}
        of = {key: value for (owner, key), value in shelf.values.items() if owner == name}
        row["grades"] = {key: {"low": v.low, "high": v.high, "grade": v.grade, "source": v.source}
                         for key, v in of.items()}  # fmt: skip
        made.append(row)
    return made


def net_litres(
    length_cm: float, width_cm: float, depth_cm: float, soil_mm: float = 0.0,
    cap_mm: float = 0.0, soil_porosity: float = SOIL_POROSITY, cap_porosity: float = POROSITY,
) -> dict[str, float]:  # fmt: skip
    """Litres of water a tank holds, from its inside measures up to the mark.

    depth_cm: from the bottom pane to the mark; soil and cap take their room but for their
    pores. Gives also the surface [m2] and what the bed takes [L].

    >>> net_litres(60, 30, 30, soil_mm=30, cap_mm=20)["net_l"]
    48.96
    """
    lengths = {"length_cm": length_cm, "width_cm": width_cm, "depth_cm": depth_cm}
    for name, value in lengths.items():
        if not 0.0 < value <= 500.0:
            raise InputError(f"{value:g} cm can't be meant", name, "measure inside the glass")
    for name, value in (("soil_porosity", soil_porosity), ("cap_porosity", cap_porosity)):
        if not 0.0 <= value < 1.0:
            raise InputError(f"a share of {value:g} can't be meant", name, "give 0 to 1")
    if soil_mm < 0 or cap_mm < 0 or (soil_mm + cap_mm) / 10.0 >= depth_cm:
        raise InputError("the bed is deeper than the water", "soil_mm", "check the millimetres")
    surface = length_cm * width_cm / 1e4
    solid = surface * (soil_mm * (1.0 - soil_porosity) + cap_mm * (1.0 - cap_porosity))
    gross = length_cm * width_cm * depth_cm / 1000.0
    return {
        "net_l": round(gross - solid, 2), "gross_l": round(gross, 2),
        "surface_m2": round(surface, 4), "bed_takes_l": round(solid, 2),
    }  # fmt: skip


def list_waters(db: Database) -> list[dict[str, Any]]:
    """The rack's waters, one row an analysis."""
    return list_items(db, "water")


def list_tanks(db: Database) -> list[dict[str, Any]]:
    """The rack's tanks as they were set up."""
    return list_items(db, "tank")


def save_tank(db: Database, row: Cells, who: Who, now: datetime) -> dict[str, Any]:
    """Save a tank; its columns are those of `tanks.csv`."""
    return save_item(db, "tank", row, who, now)[0]


def save_water(db: Database, row: Cells, who: Who, now: datetime) -> dict[str, Any]:
    """Save one analysis of a water; its columns are those of `waters.csv`."""
    return save_item(db, "water", row, who, now)[0]


def save_blend(
    db: Database, name: str, shares: Mapping[str, float], who: Who, now: datetime
) -> list[dict[str, Any]]:
    """Save a blend by the shares of its waters."""
    return save_item(
        db, "blend", [{"blend": name, "part": p, "share": s} for p, s in shares.items()], who, now
    )


def save_feed(db: Database, row: Cells, who: Who, now: datetime) -> dict[str, Any]:
    """Save a feed; its columns are those of `feeds.csv`."""
    return save_item(db, "feed", row, who, now)[0]


def save_soil(db: Database, row: Cells, who: Who, now: datetime) -> dict[str, Any]:
    """Save a soil; its columns are those of `soils.csv`."""
    return save_item(db, "soil", row, who, now)[0]


