"""Limits: published criteria, the stricter of those present, words beside colours."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pleuston.base import references
from pleuston.base.errors import UnknownNameError
from pleuston.chemistry.hardness import CACO3_PER_MEQ
from pleuston.planning.limits import (
    SEVERITIES,
    Limit,
    WaterState,
    breaches,
    caps_for,
    chance_of_crossing,
    conflicts,
    limits_for,
    records,
    state_of,
)
from pleuston.planning.limits import criteria as c
from pleuston.records.library import library

DATA = Path(__file__).parent / "data"
TANK = WaterState(temperature=297.15, ph=7.4, chloride=15.0, gh=2.0, dissolved_carbon=2.0)
ANIMALS = sorted(name for name, s in library().species.items() if s.is_animal)


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def limit(
    species: list[str], quantity: str, severity: str, side: str = "high", water: WaterState = TANK
) -> Limit:
    found = [
        item for item in limits_for(species, water)
        if (item.quantity, item.severity, item.side) == (quantity, severity, side)
    ]  # fmt: skip
    assert len(found) == 1, (quantity, severity, side, found)
    return found[0]


# --- published criteria -------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("ammonia_epa2013.csv"), ids=lambda r: "-".join(r.values()))
def test_ammonia_criteria_are_the_published_ones(row: dict[str, str]) -> None:
    water = WaterState(float(row["celsius"]) + 273.15, float(row["ph"]))
    got = c.RULES[f"ammonia_{row['criterion']}"](water)
    assert f"{got:.2g}" == f"{float(row['tan_mg_l']):.2g}"


@pytest.mark.parametrize("row", rows("copper_epa1996.csv"), ids=lambda r: r["hardness_mg_l"])
def test_copper_criteria_are_the_published_ones(row: dict[str, str]) -> None:
    water = WaterState(ph=7.5, gh=float(row["hardness_mg_l"]) / CACO3_PER_MEQ)
    for term in ("acute", "chronic"):
        assert c.RULES[f"copper_{term}"](water) == pytest.approx(
            float(row[f"{term}_ug_l"]) / 1e3, rel=1e-5
        )


@pytest.mark.parametrize(
    ("chloride", "mean", "most"),
    [(None, 0.02, 0.06), (0.0, 0.02, 0.06), (1.99, 0.02, 0.06), (2.0, 0.04, 0.12),
     (5.0, 0.06, 0.18), (7.0, 0.08, 0.24), (9.9, 0.10, 0.30), (11.0, 0.20, 0.60),
     (300.0, 0.20, 0.60)],
)  # fmt: skip
def test_nitrite_steps_by_chloride(chloride: float | None, mean: float, most: float) -> None:
    water = WaterState(chloride=chloride)
    assert limit(["Danio rerio"], "nitrite", "watch", water=water).value == mean
    assert limit(["Danio rerio"], "nitrite", "act", water=water).value == most


def test_ammonia_limits_fall_with_ph_and_heat() -> None:
    cool, warm = WaterState(295.15, 7.0), WaterState(301.15, 8.2)
    for severity in ("watch", "act", "danger"):
        assert (
            limit(["Danio rerio"], "ammonium", severity, water=warm).value
            < limit(["Danio rerio"], "ammonium", severity, water=cool).value
        )


def test_unknown_water_is_judged_strictly() -> None:
    """What is not known is taken at the strict end of what tanks show."""
    for water in (TANK, WaterState(295.15, 7.9, 30.0, 4.0, 5.0)):
        for known in limits_for(["Neocaridina davidi", "Danio rerio"], water):
            unknown = limit(
                ["Neocaridina davidi", "Danio rerio"], known.quantity, known.severity,
                known.side, WaterState(),
            )  # fmt: skip
            assert not known.is_stricter(unknown.value)


# --- copper -------------------------------------------------------------------------------


def test_invertebrates_copper_is_stricter_and_not_relaxed_by_carbon() -> None:
    soft = WaterState(gh=1.0, dissolved_carbon=20.0)
    hard = WaterState(gh=3.0, dissolved_carbon=20.0)
    for animal in ("Neocaridina davidi", "Physella acuta"):
        assert limit([animal], "copper", "act", water=soft).value == 0.010
        assert limit([animal], "copper", "act", water=hard).value == 0.020
        assert limit([animal], "copper", "danger", water=hard).value == 0.030
        assert limit([animal], "copper", "watch", water=hard).value <= 0.016
    fish, shrimp = ["Danio rerio"], ["Neocaridina davidi"]
    for severity in ("act", "danger"):
        assert (
            limit(fish, "copper", severity, water=hard).value
            > limit(shrimp, "copper", severity, water=hard).value
        )


def test_fish_copper_follows_hardness_and_carbon() -> None:
    bare = limit(["Danio rerio"], "copper", "act", water=WaterState(gh=2.0, dissolved_carbon=0.0))
    humic = limit(["Danio rerio"], "copper", "act", water=WaterState(gh=2.0, dissolved_carbon=2.0))
    hard = limit(["Danio rerio"], "copper", "act", water=WaterState(gh=4.0, dissolved_carbon=0.0))
    assert humic.value / bare.value == pytest.approx((17.2 * 2.0 + 30.2) / 30.2)
    assert hard.value / bare.value == pytest.approx(2.0**0.9422)
    acid, alkaline = (
        limit(["Danio rerio"], "copper", "act", water=WaterState(ph=ph, gh=2.0)).value
        for ph in (6.5, 8.5)
    )
    assert 3.0 < alkaline / acid < 5.0


# --- oxygen and the surface ----------------------------------------------------------------


def test_breathers_of_air_need_open_surface_not_dissolved_oxygen() -> None:
    quantities = {item.quantity for item in limits_for(["Betta splendens"], TANK)}
    assert "oxygen_dawn" not in quantities
    assert limit(["Betta splendens"], "cover", "act").value == 0.95
    assert "cover" not in {item.quantity for item in limits_for(["Danio rerio"], TANK)}


@pytest.mark.parametrize(
    ("animal", "watch", "act", "danger"),
    [("Danio rerio", 5.0, 4.0, 3.0), ("Neocaridina davidi", 4.0, 3.0, 2.5),
     ("Neritina natalensis", 4.0, 3.0, 2.5)],
)  # fmt: skip
def test_dawn_oxygen(animal: str, watch: float, act: float, danger: float) -> None:
    for severity, value in {"watch": watch, "act": act, "danger": danger}.items():
        assert limit([animal], "oxygen_dawn", severity, "low").value == value


# --- the stricter of those present ----------------------------------------------------------


def test_the_stricter_of_those_present() -> None:
    both = ["Danio rerio", "Neocaridina davidi"]
    for item in limits_for(both, TANK):
        for animal in both:
            for alone in limits_for([animal], TANK):
                same = (alone.quantity, alone.side, alone.severity)
                if same == (item.quantity, item.side, item.severity):
                    assert not alone.is_stricter(item.value)
                    if alone.value == item.value:
                        assert animal in item.who


def test_limits_name_whom_they_protect() -> None:
    both = ["Danio rerio", "Neocaridina davidi"]
    assert limit(both, "copper", "danger").who == ("Neocaridina davidi",)
    assert limit(both, "oxygen_dawn", "act", "low").who == ("Danio rerio",)
    assert set(limit(both, "nitrate", "act").who) == set(both)


@pytest.mark.parametrize("animal", ANIMALS)
def test_a_graver_limit_never_stands_inside_a_milder_one(animal: str) -> None:
    for water in (TANK, WaterState(), WaterState(301.15, 8.6, 3.0, 5.0, 8.0)):
        by_kind: dict[tuple[str, str], list[Limit]] = {}
        for item in limits_for([animal], water):
            by_kind.setdefault((item.quantity, item.side), []).append(item)
        for kind, items in by_kind.items():
            ranks = [item.rank for item in items]
            assert ranks == sorted(set(ranks)), kind
            for milder, graver in pairwise(items):
                assert not graver.is_stricter(milder.value), (animal, kind)


@pytest.mark.parametrize("animal", ANIMALS)
def test_every_animal_is_kept_from_every_danger(animal: str) -> None:
    species = library().find_species(animal)
    wanted = {
        "ammonia_nh3", "ammonium", "nitrite", "nitrate", "copper", "temperature", "ph", "kh",
        "gh", "ec_step", "ph_step", "temperature_step",
        "cover" if species.breathes_air else "oxygen_dawn",
    }  # fmt: skip
    assert wanted <= {item.quantity for item in limits_for([animal], TANK)}


@pytest.mark.parametrize("animal", ANIMALS)
def test_the_middle_of_its_comfort_is_well_for_every_animal(animal: str) -> None:
    species = library().find_species(animal)
    good = {"ammonia_nh3": 0.002, "nitrite": 0.01, "nitrate": 3.0, "copper": 0.001,
            "oxygen_dawn": 6.5, "cover": 0.6, "ec_step": 0.02}  # fmt: skip
    assert species.temperature_c is not None
    assert species.ph is not None
    assert species.gh_dh is not None
    good["temperature"] = species.temperature_c.best + 273.15
    good["ph"] = species.ph.best
    good["gh"] = species.gh_dh.best * 0.35665
    assert state_of(breaches(limits_for([animal], TANK), good)) == "well"


def test_what_is_known_of_a_species_stands_before_its_group() -> None:
    assert limit(["Danio rerio"], "ph", "danger", "low").value == 4.8
    assert limit(["Paracheirodon innesi"], "ph", "danger", "low").value == 3.6
    assert limit(["Neocaridina davidi"], "temperature", "danger").value == pytest.approx(305.15)
    assert limit(["Paracheirodon axelrodi"], "nitrite", "act").value == 0.335
    soft = WaterState(chloride=0.0)
    assert limit(["Paracheirodon axelrodi"], "nitrite", "act", water=soft).value == 0.06


def test_a_group_gives_way_to_what_a_species_is_comfortable_with() -> None:
    """A fish of pH 4.5 is not in danger at 4.8."""
    assert limit(["Boraras brigittae"], "ph", "danger", "low").value == pytest.approx(3.5)


def test_animals_that_want_different_water_are_told() -> None:
    pairs = conflicts(limits_for(["Poecilia wingei", "Caridina logemanni"], TANK))
    assert {low.quantity for low, _ in pairs} == {"ph", "gh"}
    for low, high in pairs:
        assert low.who == ("Poecilia wingei",)
        assert high.who == ("Caridina logemanni",)
    assert conflicts(limits_for(["Poecilia wingei"], TANK)) == ()


def test_without_animals_nothing_is_limited() -> None:
    assert limits_for([]) == ()
    assert limits_for(["Lemna minor"]) == ()


def test_common_names_are_understood_and_unknown_ones_refused() -> None:
    assert limits_for(["cherry shrimp"], TANK) == limits_for(["Neocaridina davidi"], TANK)
    with pytest.raises(UnknownNameError, match="Neocaridina davidi"):
        limits_for(["Neocaridina davidis"])


# --- crossing -------------------------------------------------------------------------------


def test_crossing_a_limit() -> None:
    limits = limits_for(["Danio rerio"], TANK)
    crossed = breaches(limits, {"oxygen_dawn": 3.5, "nitrate": 12.0, "copper": 0.0})
    assert [(b.limit.quantity, b.limit.severity) for b in crossed] == [
        ("oxygen_dawn", "act"), ("nitrate", "watch"), ("oxygen_dawn", "watch"),
    ]  # fmt: skip
    assert state_of(crossed) == "act"
    assert state_of(()) == "well"
    assert state_of(breaches(limits, {"ammonia_nh3": 0.5})) == "danger"


def test_the_limit_itself_is_allowed() -> None:
    item = limit(["Danio rerio"], "nitrate", "watch")
    assert not item.is_crossed(item.value)
    assert item.is_crossed(np.nextafter(item.value, np.inf))


def test_chance_of_crossing_by_members_and_days() -> None:
    item = limit(["Danio rerio"], "oxygen_dawn", "act", "low")
    members = np.array([[5.0, 3.0], [3.9, 3.0], [4.1, 6.0], [2.0, 6.0]])
    np.testing.assert_allclose(chance_of_crossing(item, members), [0.5, 0.5])
    weighted = chance_of_crossing(item, members, [1.0, 0.0, 0.0, 3.0])
    np.testing.assert_allclose(weighted, [0.75, 0.25])


def test_steps_are_capped_with_and_without_animals() -> None:
    for present in ([], ["Neocaridina davidi"], ["Lemna minor", "Danio rerio"]):
        caps = caps_for(present)
        assert (caps.ec, caps.ph, caps.temperature) == (0.10, 0.3, 2.0)


# --- the records ----------------------------------------------------------------------------


def test_every_limit_says_it_without_colour() -> None:
    assert len({s.icon for s in SEVERITIES.values()}) == len(SEVERITIES)
    assert len({s.word for s in SEVERITIES.values()}) == len(SEVERITIES)
    for item in limits_for(ANIMALS, TANK):
        assert item.word
        assert item.icon
        assert item.who
        assert item.where
        assert item.name == f"limit_{item.quantity}_{item.horizon}"


def test_every_source_is_in_the_bibliography() -> None:
    known = {"common_practice", *references.load()}
    assert {record.source for record in records()} <= known


def test_units_are_canonical() -> None:
    units = {record.quantity: record.unit for record in records()}
    assert units["temperature"] == "K"
    assert units["kh"] == "meq/L"
    assert {u for q, u in units.items() if q in {"copper", "nitrite", "oxygen_dawn"}} == {"mg/L"}
