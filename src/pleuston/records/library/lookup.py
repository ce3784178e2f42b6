"""Look up what the library knows: by scientific, common, chemical or older name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pleuston.base.errors import UnknownNameError
from pleuston.records.near import near_names
from pleuston.records.record import Feed, Soil, Water

ANIMAL_GROUPS = ("fish", "shrimp", "snails")
PLANT_GROUPS = ("floating", "rooted")
FLOATER_MODELS = (
    "lemna", "spirodela", "pistia", "salvinia",
    "azolla", "limnobium", "ceratopteris", "phyllanthus",
)  # fmt: skip
"""Groups of floating plants that have growth parameters of their own."""


@dataclass(frozen=True, slots=True)
class Value:
    """A number of the library: best value, range, and what it rests on.

    A range open on one side has None there; `value` is None where only the range is known.
    """

    value: float | None
    low: float | None
    high: float | None
    unit: str
    grade: str
    source: str
    note: str = ""

    @property
    def best(self) -> float:
        """The value, else the middle of the range, else its known end."""
        if self.value is not None:
            return self.value
        known = [end for end in (self.low, self.high) if end is not None]
        return sum(known) / len(known)


@dataclass(frozen=True, slots=True)
class Species:
    """An animal or plant, with what the trade or the literature says of it."""

    name: str
    common: tuple[str, ...]
    synonyms: tuple[str, ...]
    group: str
    model: str = ""
    """The group whose growth parameters stand for a floating plant; else empty."""
    growth: str = ""
    """fast, medium or slow for rooted plants; else empty."""
    breathes_air: bool = False
    check_law: bool = False
    """True where keeping, selling or giving away is restricted in some places."""
    note: str = ""
    adult_mass_g: Value | None = None
    temperature_c: Value | None = None
    ph: Value | None = None
    gh_dh: Value | None = None
    full_cover_g_m2: Value | None = None
    doubling_days: Value | None = None

    @property
    def is_plant(self) -> bool:
        return self.group in PLANT_GROUPS

    @property
    def is_animal(self) -> bool:
        return self.group in ANIMAL_GROUPS


@dataclass(frozen=True, slots=True)
class Substance:
    """A substance for doses: what one mg of it gives to the water."""

    name: str
    formula: str
    synonyms: tuple[str, ...]
    content: Mapping[str, Fraction]
    """Amount per mg of substance, by state of the tank: mg of the element, alkalinity in meq."""
    note: str = ""

    def given(self, mass: float) -> dict[str, float]:
        """Amounts that a dose of that mass [mg] gives to each state."""
        return {state: float(share) * mass for state, share in self.content.items()}


@dataclass(frozen=True)
class Library:
    """All of the shipped library, each kind by its own name."""

    species: Mapping[str, Species]
    feeds: Mapping[str, Feed]
    soils: Mapping[str, Soil]
    waters: Mapping[str, Water]
    substances: Mapping[str, Substance]
    values: Mapping[tuple[str, str], Value]
    """Range, grade and source by name and field: values["flake", "protein_pct"]."""

    def find_species(self, name: str, groups: Iterable[str] = ()) -> Species:
        """Find a species by scientific, common or older name, in the groups if any are given."""
        wanted = tuple(groups)
        found = self._species_by_word.get(_fold(name))
        if found is not None and (not wanted or found.group in wanted):
            return found
        if found is not None:
            raise UnknownNameError(
                what=f"{found.name} is of the group {found.group}, not of {' or '.join(wanted)}",
                where="library of species",
                remedy="check the kind of the entry",
            )
        fitting = [item for item in self.species.values() if not wanted or item.group in wanted]
        names = [word for item in fitting for word in (item.name, *item.common, *item.synonyms)]
        raise UnknownNameError(
            what=f"the species {name!r} is not known",
            where="library of species",
            remedy=near_names(name, names),
        )

    def find_substance(self, name: str) -> Substance:
        """Find a substance by its chemical name, its formula or another name."""
        found = self._substance_by_word.get(_fold(name))
        if found is None:
            raise UnknownNameError(
                what=f"the substance {name!r} is not known",
                where="library of substances",
                remedy=near_names(name, [item.name for item in self.substances.values()]),
            )
        return found

    @cached_property
    def _species_by_word(self) -> dict[str, Species]:
        return {
            _fold(word): item
            for item in self.species.values()
            for word in (*item.synonyms, *item.common, item.name)
        }

    @cached_property
    def _substance_by_word(self) -> dict[str, Substance]:
        return {
            _fold(word): item
            for item in self.substances.values()
            for word in (*item.synonyms, item.formula, item.name)
        }


def _fold(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())
