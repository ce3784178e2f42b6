"""The shipped library: every value has a source, every name is found, sums are right."""

from __future__ import annotations

import pytest

from pleuston.base import references
from pleuston.base.errors import UnknownNameError
from pleuston.records.composition import ATOMIC_WEIGHT, molar_mass
from pleuston.records.library import FLOATER_MODELS, Species, library

SHELF = library()
ALL_SPECIES = sorted(SHELF.species.values(), key=lambda item: item.name)


def test_the_library_is_as_large_as_promised() -> None:
    animals = [item for item in ALL_SPECIES if item.is_animal]
    assert len(animals) >= 28
    assert {item.group for item in animals} == {"fish", "shrimp", "snails"}
    assert {item.model for item in ALL_SPECIES if item.group == "floating"} == set(FLOATER_MODELS)
    assert len([item for item in ALL_SPECIES if item.group == "rooted"]) >= 20


@pytest.mark.parametrize("species", ALL_SPECIES, ids=lambda item: item.name)
def test_species_is_found_by_each_of_its_names(species: Species) -> None:
    for word in (species.name, *species.common, *species.synonyms):
        assert SHELF.find_species(word) is species
        assert SHELF.find_species(f" {word.upper()} ") is species


def test_no_name_stands_for_two_species() -> None:
    words = [
        word.casefold()
        for item in ALL_SPECIES
        for word in {item.name, *item.common, *item.synonyms}
    ]
    assert sorted(words) == sorted(set(words))


@pytest.mark.parametrize(
    "species", [item for item in ALL_SPECIES if item.is_animal], ids=lambda item: item.name
)
def test_animal_has_mass_and_comfort_ranges(species: Species) -> None:
    for value in (species.adult_mass_g, species.temperature_c, species.ph, species.gh_dh):
        assert value is not None
    assert species.adult_mass_g is not None
    assert 0.01 < species.adult_mass_g.best < 30
    assert species.temperature_c is not None
    assert 5 < species.temperature_c.best < 35


def test_every_source_of_the_library_is_in_the_bibliography() -> None:
    sources = {value.source for value in SHELF.values.values()}
    for item in ALL_SPECIES:
        for value in (item.adult_mass_g, item.temperature_c, item.ph, item.gh_dh,
                      item.full_cover_g_m2, item.doubling_days):  # fmt: skip
            if value is not None:
                sources.add(value.source)
    assert sources - set(references.load()) == set()


def test_an_unknown_species_is_told_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="Lemna minor"):
        SHELF.find_species("Lemna mino")
    with pytest.raises(UnknownNameError, match="group fish, not of floating"):
        SHELF.find_species("guppy", groups=("floating",))


@pytest.mark.parametrize(
    ("word", "state", "share"),
    [
        ("potassium sulfate", "potassium", 78.196 / 174.252),
        ("calcium carbonate", "calcium", 40.078 / 100.086),
        ("calcium carbonate", "alkalinity", 2 / 100.086),
        ("baking soda", "alkalinity", 1 / 84.006),
        ("baking soda", "sodium", 22.990 / 84.006),
        ("chelated iron", "iron", 0.13),
        ("Epsom salt", "magnesium", 24.305 / 246.466),
        ("calcium chloride dihydrate", "chloride", 70.90 / 147.008),
        ("KNO3", "nitrate", 14.007 / 101.102),
        ("monopotassium phosphate", "phosphate", 30.974 / 136.084),
    ],
)
def test_substances_hold_what_their_formula_says(word: str, state: str, share: float) -> None:
    assert float(SHELF.find_substance(word).content[state]) == pytest.approx(share, rel=1e-5)
    assert SHELF.find_substance(word).given(100.0)[state] == pytest.approx(100 * share, rel=1e-5)


CHARGE = {
    "calcium": 2 / 40.078, "magnesium": 2 / 24.305, "sodium": 1 / 22.990,
    "potassium": 1 / 39.098, "copper": 2 / 63.546, "chloride": -1 / 35.45,
    "sulfate": -2 / 32.06, "nitrate": -1 / 14.007, "phosphate": -1 / 30.974,
    "alkalinity": -1.0,
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(set(SHELF.substances) - {"chelated iron"}))
def test_salts_are_neutral(name: str) -> None:
    content = SHELF.substances[name].content
    charge = sum(float(share) * CHARGE.get(state, 0.0) for state, share in content.items())
    assert charge == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("name", sorted(SHELF.waters))
def test_waters_of_the_library_are_nearly_neutral(name: str) -> None:
    water = SHELF.waters[name]
    ions = {"calcium": 2, "magnesium": 2, "sodium": 1, "potassium": 1,
            "bicarbonate": -1, "sulfate": -2, "chloride": -1, "nitrate": -1}  # fmt: skip
    parts = [
        charge * getattr(water, f"{ion}_mg_l") / float(molar_mass(ion))
        for ion, charge in ions.items()
    ]
    assert sum(parts) == pytest.approx(0, abs=0.02 * sum(map(abs, parts)))


@pytest.mark.parametrize(
    ("name", "hardness", "alkalinity"),
    [("very soft", 10.5964, 7.14798), ("soft", 42.3855, 28.5919),
     ("moderately hard", 84.7709, 57.1838), ("hard", 169.542, 114.368),
     ("very hard", 339.084, 228.735)],
)  # fmt: skip
def test_synthetic_waters_have_the_published_hardness(
    name: str, hardness: float, alkalinity: float
) -> None:
    """Hardness and alkalinity in mg/L CaCO3, by a geochemical program from the same recipes."""
    water = SHELF.waters[name]
    assert water.calcium_mg_l is not None
    assert water.magnesium_mg_l is not None
    assert water.bicarbonate_mg_l is not None
    meq = 2 * water.calcium_mg_l / 40.078 + 2 * water.magnesium_mg_l / 24.305
    assert meq * 50.043 == pytest.approx(hardness, rel=1e-3)
    found = water.bicarbonate_mg_l / float(molar_mass("bicarbonate")) * 50.043
    assert found == pytest.approx(alkalinity, rel=1e-3)


def test_feeds_and_soils_are_possible() -> None:
    for feed in SHELF.feeds.values():
        parts = (feed.protein_pct, feed.phosphorus_pct, feed.potassium_pct, feed.moisture_pct)
        assert None not in parts
        assert sum(part for part in parts if part is not None) < 100
    for soil in SHELF.soils.values():
        assert soil.organic_pct is not None
        assert soil.nitrogen_pct is not None
        assert soil.nitrogen_pct < soil.organic_pct
    assert {"flake", "granule", "sinking wafer", "algae wafer", "shrimp pellet"} <= set(SHELF.feeds)


def test_molar_masses() -> None:
    assert float(molar_mass("carbonate") + ATOMIC_WEIGHT["Ca"]) == pytest.approx(100.086)
