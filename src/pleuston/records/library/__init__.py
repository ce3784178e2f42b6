"""The shipped library: species, feeds, soils, waters and substances, with sources."""

from pleuston.records.library.load import library
from pleuston.records.library.lookup import (
    ANIMAL_GROUPS,
    FLOATER_MODELS,
    PLANT_GROUPS,
    Library,
    Species,
    Substance,
    Value,
)

__all__ = [
    "ANIMAL_GROUPS",
    "FLOATER_MODELS",
    "PLANT_GROUPS",
    "Library",
    "Species",
    "Substance",
    "Value",
    "library",
]
