"""The description of a rack folder in the open Data Package form (Table Schema)."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from pleuston.store.exchange_layout import ENTRIES, TABLES, WATERS, Column, Table

TYPES = {"text": "string", "number": "number", "time": "string", "day": "string"}


def describe(title: str, texts: Mapping[str, bytes]) -> bytes:
    """Give `datapackage.json` for the files of a rack folder."""
    package = {
        "profile": "tabular-data-package",
        "name": "rack",
        "title": title,
        "description": "The record of a rack of planted tanks: what is known of its waters, "
        "feeds, soils and tanks, and everything that happened. Unknown is an empty cell.",
        "resources": [_resource(table, texts[table.file]) for table in TABLES],
    }
    return (json.dumps(package, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _resource(table: Table, data: bytes) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.file.removesuffix(".csv"),
        "path": table.file,
        "description": table.meaning,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": "sha256:" + hashlib.sha256(data).hexdigest(),
        "dialect": {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "header": True},
        "schema": _schema(table),
    }


def _schema(table: Table) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_field(column) for column in table.columns],
        "missingValues": [""],
    }
    if table is not WATERS:  # the date of an analysis may be empty, a primary key may not
        schema["primaryKey"] = list(table.key)
    if table is ENTRIES:
        reference = {"resource": "tanks", "fields": ["tank"]}
        schema["foreignKeys"] = [{"fields": ["tank"], "reference": reference}]
    return schema


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "type": TYPES[column.type],
        "description": column.meaning,
    }
    limits: dict[str, Any] = {}
    if column.required:
        limits["required"] = True
    if column.least is not None:
        limits["minimum"] = column.least
    if column.most is not None:
        limits["maximum"] = column.most
    if column.choices:
        limits["enum"] = list(column.choices)
    if limits:
        field["constraints"] = limits
    return field
