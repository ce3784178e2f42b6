"""Feeds and soils by name: the rack's own before those of the library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from pleuston.base.errors import UnknownNameError
from pleuston.records.library import library
from pleuston.records.near import near_names
from pleuston.records.record import Feed, Record, Soil

Item = TypeVar("Item", Feed, Soil)


def feed_named(record: Record, name: str) -> Feed:
    """Give the feed of that name; what it does not say is None."""
    return _named(name, record.feeds, library().feeds, "feed")


def soil_named(record: Record, name: str) -> Soil:
    """Give the soil of that name; what it does not say is None."""
    return _named(name, record.soils, library().soils, "soil")


def _named(name: str, own: Sequence[Item], shelf: Mapping[str, Item], what: str) -> Item:
    for item in own:
        if item.name == name:
            return item
    if name in shelf:
        return shelf[name]
    raise UnknownNameError(
        what=f"the {what} {name!r} is not known",
        where="rack and library",
        remedy=near_names(name, [*(item.name for item in own), *shelf]),
    )
