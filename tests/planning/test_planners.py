"""Starting, stocking and giving back: sums by hand, and what members must show."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from tests.planning.rack import belief, record

from pleuston.base.errors import InputError, UnknownNameError
from pleuston.planning.add_back import Trial, add_back, analysed, shown_by, trials_from
from pleuston.planning.company import Company, company_of, fit_by_room
from pleuston.planning.habits import habits_of
from pleuston.planning.planner import Field, Planner
from pleuston.planning.start_up import (
    DAYS,
    PROOF,
    Start,
    ammonium_chloride,
    course_of_plan,
    first_proof,
    floater_grams,
    start_up,
    start_up_of_tank,
)
from pleuston.planning.stocking import (
    fit_by_nitrogen,
    heated,
    loaded,
    mass_of,
    most_within,
    nitrogen_of_feed,
    removal_of_nitrogen,
    stocking,
)
from pleuston.records.library import library
from pleuston.records.record import Tank
from pleuston.services.plan_kinds import PLANNERS, plan_kind, plan_of_kind

NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)
PLANNED = Tank("x", 43.2, 0.18, "partial", 24.0, 8.0, 60.0, soil="garden soil", soil_mm=25.0,
               cap_mm=25.0)  # fmt: skip


# -- what is typed -------------------------------------------------------------------


def test_what_is_typed_reads_back_from_its_kind() -> None:
    given = {"quantity": "kh", "rise": "2,5", "purity": "98"}
    planner, read = plan_of_kind(plan_kind(PLANNERS["dose"], given))
    assert planner is PLANNERS["dose"]
    assert planner.read(read)["rise"] == 2.5
    assert planner.read(read)["substance"] == "potassium sulfate"
    assert plan_kind(planner, {**read, "purity": "100"}).endswith("quantity=kh&rise=2%2C5")


@pytest.mark.parametrize(("field", "text"), [
    (Field("a", "A", high=10.0), "11"), (Field("a", "A"), "nan"), (Field("a", "A"), "much"),
    (Field("a", "A", "choice", choices=("x",)), "y"), (Field("a", "A", "yes"), "perhaps"),
    (Field("a", "A", "animals"), "Betta splendens"), (Field("a", "A", "animals"), "Lemna minor 3"),
    (Field("a", "A", "animals"), "Betta splendens 0"),
    (Field("a", "A", "many", choices=("x",)), "x/y"),
])  # fmt: skip
def test_what_can_not_be_meant_is_refused(field: Field, text: str) -> None:
    with pytest.raises(InputError):
        field.read(text)


def test_an_unknown_field_is_named() -> None:
    with pytest.raises(UnknownNameError):
        Planner("p", "P", "p", (Field("a", "A"),)).read({"b": "1"})


# -- starting (D1, D17) --------------------------------------------------------------


def test_the_uptake_test_weighs_what_the_formula_says() -> None:
    # NH4Cl: 53.49 g hold 14.007 g of nitrogen; 0.5 mg/L N in 40 L
    assert ammonium_chloride(40.0) == pytest.approx(0.5 * 40.0 * 53.49 / 14.007, rel=1e-3)
    assert ammonium_chloride(40.0, 1.0, 0.98) == pytest.approx(2.0 / 0.98 * ammonium_chloride(40.0))


def test_a_reading_above_begins_the_count_anew() -> None:
    below = np.ones((40, 3), dtype=bool)
    below[9, 1] = False
    below[:, 2] = False
    found = first_proof(below)
    assert found[0] == PROOF
    assert found[1] == 10 + PROOF
    assert np.isnan(found[2])


def test_plants_are_weighed_by_cover_and_surface() -> None:
    start = Start(PLANNED, "soft", cover=0.25)
    full = library().find_species("Lemna minor").full_cover_g_m2
    assert full is not None
    assert floater_grams(start) == pytest.approx(0.25 * 0.18 * full.best)


def test_a_start_names_no_date_but_a_proof() -> None:
    made = start_up(record(), Start(PLANNED, "soft"), NOW, free_litres=39.6, threads=1)
    text = " ".join(s["title"] + " ".join(s["lines"]) for s in made["steps"])
    assert "Animals only after proof" in made["headline"]
    assert f"{ammonium_chloride(43.2):.0f} mg of ammonium chloride" in text
    assert "One reading above begins the count anew" in text
    low, middle, high = made["peak_ammonium"]
    assert 0.0 < low < middle < high
    assert made["proof_day"][0] >= PROOF
    weeks = next(t for t in made["tables"] if t["title"].startswith("By week"))
    shares = [row[-1]["value"] for row in weeks["rows"]]
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert made["soil_release"][0] > 0.0


def test_more_plants_leave_less_ammonia_member_by_member() -> None:
    few, many = (
        course_of_plan(record(), Start(PLANNED, "soft", planted=p), NOW, threads=1)
        for p in (0.05, 0.75)
    )
    assert np.array_equal(few.belief.parameters, many.belief.parameters)
    peaks = [c.of("ammonium_concentration").max(axis=0) for c in (few, many)]
    assert float((peaks[1] < peaks[0]).mean()) > 0.75
    assert float(np.median(peaks[1] / peaks[0])) < 0.9
    assert few.of("ammonium_concentration").shape[0] == DAYS


def test_a_tank_of_the_record_starts_from_its_belief_and_a_filter_is_kept() -> None:
    made = start_up_of_tank(belief(), (0.2, 0.05), threads=1)
    assert made["tank"] == "Fern"
    assert not made["priors_only"]
    assert made["headline"].startswith("Animals are in already")
    assert made["test"] is None
    assert "ammonium chloride" not in str(made["steps"])
    kept = start_up(record(), Start(PLANNED, "soft", converts=True), NOW, threads=1)
    assert any(s["title"].startswith("Keep the filter for") for s in kept["steps"])


# -- stocking (D6) -------------------------------------------------------------------


def test_nitrogen_leaves_room_by_the_balance() -> None:
    # 1 g of flake holds 0.45/6.25 g of nitrogen: 72 mg; a gram of fish is fed a hundredth of it
    b = belief()
    per_gram = nitrogen_of_feed(b.case.record, habits_of(b.case, b.at))
    assert per_gram == pytest.approx(72.0, rel=0.01)
    assert fit_by_nitrogen(10.0, 2.8, per_gram * 0.01) == pytest.approx(10.0, rel=0.01)
    assert fit_by_nitrogen(2.0, 2.8, 0.72) == 0.0


def test_ten_small_fish_are_no_hundredth_of_a_large_one_by_length() -> None:
    small, large = (library().find_species(n) for n in ("Boraras brigittae", "Corydoras aeneus"))
    assert mass_of(large) / mass_of(small) > 50.0


def test_the_most_that_fit_lies_where_the_margin_is_gone() -> None:
    margins = np.array([[2.0, 1.0, -1.0, 4.0], [1.0, -1.0, -2.0, 3.0], [-1.0, -3.0, -3.0, 2.0]])
    assert most_within([0.0, 10.0, 20.0], margins).tolist() == [15.0, 5.0, 0.0, 20.0]


def test_room_and_company_are_told_as_practice() -> None:
    assert fit_by_room(Company(8, 25.0, 2.0), 24.9) == 0
    assert fit_by_room(Company(8, 25.0, 2.0), 30.0) == 10
    assert fit_by_room(company_of("Betta splendens", "fish"), 500.0) == 1
    assert company_of("Nothing known", "shrimp").group == 8


def test_more_animals_leave_less_oxygen_in_the_heat() -> None:
    b = belief()
    habits = habits_of(b.case, b.at)
    none, many = (heated(b, w, habits, 1, members=24) for w in ({}, {"Danio rerio": 30}))
    dawn = [h.ahead.values("oxygen_dawn")[:, none.good & many.good].min(axis=0)
            for h in (none, many)]  # fmt: skip
    assert np.all(dawn[1] < dawn[0])
    assert loaded(habits, 1.0).feed_per_day == pytest.approx(habits.feed_per_day + 1.0)


def test_nitrogen_out_is_nitrogen_and_grows_with_food() -> None:
    b = belief()
    habits = habits_of(b.case, b.at)
    little, much = (removal_of_nitrogen(b, loaded(habits, g), 1, 24) for g in (0.0, 0.2))
    assert np.all(little >= 0.0)
    assert float(np.median(much)) > float(np.median(little))


def test_a_species_gets_number_binding_and_remedy() -> None:
    made = stocking(belief(), [("Boraras brigittae", 8), ("Pomacea diffusa", 1)], 1)
    small, snail = made["species"]
    for row in (small, snail):
        bounds = {b["name"]: b for b in row["bounds"]}
        assert {"oxygen at dawn", "ammonia", "nitrogen", "room"} <= set(bounds)
        assert row["binds"]
        assert row["room"]
        sure = [b["sure"] for b in row["bounds"] if b["sure"] is not None]
        assert row["fits"] in (0, int(min(sure)))
    assert "2012/697" in snail["law"]
    assert "Ask the authority" in snail["law"]
    assert any("2012/697" in line for line in made["said"])
    assert small["law"] == ""
    nitrogen = next(r for r in made["risks"] if r["limit"] == "nitrogen")
    assert nitrogen["with"] >= nitrogen["now"]
    assert "length" not in " ".join(b["why"] for b in small["bounds"])


def test_no_wish_is_refused() -> None:
    with pytest.raises(InputError):
        stocking(belief(), [], 1)


# -- giving back (D14) ---------------------------------------------------------------


def test_a_trial_shows_what_its_weighings_can() -> None:
    # four pairs, each weighed to 15 %: sd of ln is 0.15 x 2, over 12 days; t(3) is 3.182
    assert shown_by(4, 12.0) == pytest.approx(3.182 * 0.3 / 12.0 / 2.0, rel=1e-3)
    assert shown_by(16, 12.0) < 0.5 * shown_by(4, 12.0)


def test_a_pair_is_the_difference_of_two_growths() -> None:
    trial = Trial((5.0, 10.0), (5.0, 7.5), 10.0)
    assert trial.difference == pytest.approx((np.log(2.0) - np.log(1.5)) / 10.0)


def test_the_trial_is_told_with_its_interval() -> None:
    same = "5 9 5 7 / 5 9.2 5 7.2 / 5 8.8 5 7.1 / 5 9.1 5 7.0"
    found = analysed(trials_from(same), "potassium")
    apart = np.log(np.array([9.0 / 7.0, 9.2 / 7.2, 8.8 / 7.1, 9.1 / 7.0])) / 12.0
    half = 3.1824 * apart.std(ddof=1) / 2.0
    assert found["verdict"] == "short"
    assert found["difference"]["low"] == pytest.approx(apart.mean() - half, rel=1e-3)
    even = "5 8 5 8 / 5 8.1 5 8 / 5 8 5 8.1 / 5 8.05 5 8"
    assert analysed(trials_from(even), "potassium")["verdict"] == "not short"
    wild = "5 16 5 8 / 5 6 5 9 / 5 14 5 8 / 5 6 5 8"
    assert analysed(trials_from(wild), "potassium")["verdict"] == "not told"
    assert analysed(trials_from("5 9 5 7"), "iron")["verdict"] == "not told"


def test_a_trial_is_laid_out_from_the_belief() -> None:
    made = add_back(belief(), "potassium", threads=1)
    assert made["milligrams"] == pytest.approx(5.0 * 30.0 / 0.448735, rel=1e-3)
    assert made["growth_now"][0] < made["growth_now"][2]
    assert 0.0 <= made["likely"] <= 1.0
    assert any("must not share water" in line for s in made["steps"] for line in s["lines"])


@pytest.mark.parametrize(("element", "days", "pairs"), [
    ("gold", 12, 4), ("potassium", 5, 4), ("potassium", 12, 1),
])  # fmt: skip
def test_trials_that_show_nothing_are_refused(element: str, days: int, pairs: int) -> None:
    with pytest.raises(InputError):
        add_back(belief(), element, days=days, pairs=pairs, threads=1)


@pytest.mark.parametrize("text", ["5 9 5", "5 9 x 7", "5 0 5 7"])
def test_weighings_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        trials_from(text)
