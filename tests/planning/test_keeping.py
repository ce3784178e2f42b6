"""Holiday, feed, soil, moving and giving away: sums by hand, and what members must show."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.planning.rack import START, belief, entry, record

from pleuston.base import parameters, references
from pleuston.base.errors import InputError, UnknownNameError
from pleuston.inference.tank import TankBelief
from pleuston.planning.away import (
    COVERS,
    away,
    before_leaving,
    cover_after,
    feeding_days,
    low_salt_water,
    portion,
)
from pleuston.planning.feed_budget import (
    _per_gram,
    advised,
    binding,
    content_of,
    feed_budget,
    floaters_per_food,
    food_carried,
    potassium_gap,
)
from pleuston.planning.give_away import COPPER_PLANT, give_away, law_said, notice_for, notices
from pleuston.planning.habits import habits_of
from pleuston.planning.moving import (
    copper_flag,
    flags_of_record,
    metals_in,
    moves_of,
    moving,
    reached,
    trace,
)
from pleuston.planning.outlook import limits_of
from pleuston.planning.plan import AS_NOW
from pleuston.planning.soil_age import new_store, soil_age, verdict, years_left
from pleuston.planning.whatif import tried
from pleuston.records.library import library
from pleuston.records.record import Entry, Record, Tank

NOW = START + timedelta(days=34)


# -- D18 holiday ---------------------------------------------------------------------


def test_a_tenth_of_the_surface_closes_again_in_two_weeks() -> None:
    """0.1 growing by 0.2 a day: 0.1 e^2.8 / (0.9 + 0.1 e^2.8) = 1.644 / 2.544 = 65 %."""
    assert cover_after(0.1, 0.2, 14.0) == pytest.approx(1.6445 / 2.5445, abs=1e-3)
    assert portion(0.05) == pytest.approx(0.05 * 2 / 3)
    assert feeding_days(14) == [1, 3, 5, 7, 9, 11, 13]


def test_a_holiday_is_left_so_that_chances_hold() -> None:
    made = away(belief(lid="open"), 14, threads=1)
    assert made["holds"]
    assert all(made["chances"][n] <= made["allowed"][n] for n in made["chances"])
    assert made["chances_left_alone"]["cover"] > made["chances"]["cover"]
    assert {"limit_oxygen_dawn_day_low_act", "limit_oxygen_dawn_day_low_danger"} <= {
        *made["chances"]}  # fmt: skip
    assert made["thin_to"] in {round(100 * c) for c in COVERS if c}
    assert made["top_up_water"] == "soft"
    assert made["bags"] == []
    assert 0.3 < made["litres_short"][1] < 4.0


def test_a_limit_likely_at_home_too_is_told_before_leaving() -> None:
    """Of danger no more is put up with than ever; of a limit to act at, no more than at home."""
    made = away(belief(), 14, threads=1)
    usual = tried(belief(), AS_NOW, 14, 200).ahead
    limit = next(x for x in limits_of(usual)
                 if (x.quantity, x.severity) == ("oxygen_dawn", "act"))  # fmt: skip
    home = float(usual.crossed(limit).any(axis=0).mean())
    assert home > 0.05
    assert made["allowed"][limit.key] == home
    assert made["allowed"]["limit_oxygen_dawn_day_low_danger"] == 0.01
    assert made["at_home"] == {limit.word.capitalize(): home}
    assert any("at home, too" in line and f"{home:.0%}" in line for line in made["said"])


def test_a_longer_holiday_wants_no_more_cover_and_more_water() -> None:
    short, long = away(belief(), 5, threads=1), away(belief(), 21, threads=1)
    assert long["litres_short"][1] == pytest.approx(short["litres_short"][1] * 21 / 5, rel=0.35)
    assert (long["thin_to"] or 100) <= (short["thin_to"] or 100)
    assert any("ask somebody in" in line for line in long["said"])


def test_a_neighbour_tops_up_and_feeds_weighed_bags() -> None:
    alone, helped = away(belief(), 14, threads=1), away(belief(), 14, neighbour=True, threads=1)
    assert helped["litres_short"][1] < 0.8 * alone["litres_short"][1]
    assert len(helped["bags"]) == 7
    usual = habits_of(belief().case, belief().at).feed_per_day
    assert helped["bags"][0]["grams"] == pytest.approx(usual * 2 / 3, abs=1e-3)
    assert helped["bags"][0]["day"] == (NOW + timedelta(days=1)).date().isoformat()


def test_what_is_done_before_leaving_thins_all_and_fills_with_the_softest() -> None:
    made = belief()
    habits = habits_of(made.case, made.at)
    water = low_salt_water(made, habits)
    assert water is not None
    assert water.name == "soft"
    events = before_leaving(made, habits, 0.25, water)
    assert [e.jump for e in events] == ["harvest_floater1", "top_up"]
    assert events[0].arguments["harvest_cover"] == pytest.approx(0.25)
    assert [e.jump for e in before_leaving(made, habits, None, water)] == ["top_up"]


@pytest.mark.parametrize(("days", "most"), [(0, 75.0), (57, 75.0), (14, 5.0), (14, 120.0)])
def test_holidays_that_cannot_be_meant_are_refused(days: int, most: float) -> None:
    with pytest.raises(InputError):
        away(belief(), days, most_cover=most)


# -- D4, D5 feed ---------------------------------------------------------------------


def test_a_gram_of_food_asks_for_29_grams_of_floaters_and_56_mg_of_potassium() -> None:
    """Food 45 % protein, 16 % N: 72 mg. Floaters 5.5 % dry, 4.5 % N: 2.475 mg a gram: 29 g.
    Those hold 29.1 x 0.055 x 35 mg = 56 mg of potassium; the food brings 8."""
    assert floaters_per_food(72.0, 0.055, 45.0) == pytest.approx(72.0 / 2.475)
    taken, brought = potassium_gap(72.0, 0.055, 45.0, 35.0, 8.0)
    assert taken / brought == pytest.approx(7.0)
    assert float(food_carried(np.array([7.2]), 72.0)[0]) == pytest.approx(0.7)


def holding(dry: list[float], nitrogen: list[float], potassium: list[float]) -> TankBelief:
    """Three members with 10 g dry of duckweed: dry shares, and mg of each in a gram dry."""
    made = belief()
    table = made.case.table
    end, numbers = made.end[:3].copy(), made.parameters[:3].copy()
    end[:, table.at("state", "floater1_carbon")] = 3780.0
    end[:, table.at("state", "floater1_nitrogen")] = 10.0 * np.array(nitrogen)
    end[:, table.at("state", "floater1_potassium")] = 10.0 * np.array(potassium)
    numbers[:, table.at("parameter", "floater1_dry_share")] = dry
    return replace(made, end=end, parameters=numbers)


def test_what_plants_hold_is_the_tank_s_own_with_its_range() -> None:
    """Members of 5 % dry: 20, 40 and 60 mg of nitrogen, 30 mg of potassium in a gram dry.

    A drained gram holds 1, 2 and 3 mg of nitrogen: 72, 36 and 24 g for 72 mg; those take
    72 x 30 / 20 = 108, 54 and 36 mg of potassium. 10 and 90 % lie 0.2 of the way inside.
    """
    held = content_of(holding([0.05] * 3, [20.0, 40.0, 60.0], [30.0] * 3))
    assert held.learned
    assert held.whose == "Lemna minor"
    told = _per_gram(held, 72.0, 8.0)
    assert told["floaters_per_gram"] == pytest.approx([24 + 0.2 * 12, 36.0, 36 + 0.8 * 36])
    assert told["potassium_taken_per_gram"] == pytest.approx([36 + 0.2 * 18, 54.0, 54 + 0.8 * 54])
    assert told["plants"]["nitrogen_mg_per_g"] == pytest.approx([24.0, 40.0, 56.0])
    assert told["plants"]["dry_share"] == pytest.approx([0.05] * 3)


def test_two_kinds_count_by_their_mass() -> None:
    """10 g dry at 40 mg and 5 % dry, 5 g at 10 mg and 10 %: 450 mg in 250 drained grams."""
    twin = belief(extra=(entry(0.0, "plant_in", "Pistia stratiotes", 20.0),))
    table, end, numbers = twin.case.table, twin.end.copy(), twin.parameters.copy()
    slots = twin.case.plants.slots
    assert len(slots) == 2
    for species, carbon, nitrogen, dry in (
        ("Lemna minor", 3780.0, 400.0, 0.05), ("Pistia stratiotes", 1890.0, 50.0, 0.1),
    ):  # fmt: skip
        end[:, table.at("state", f"{slots[species]}_carbon")] = carbon
        end[:, table.at("state", f"{slots[species]}_nitrogen")] = nitrogen
        numbers[:, table.at("parameter", f"{slots[species]}_dry_share")] = dry
    held = content_of(replace(twin, end=end, parameters=numbers))
    assert held.dry_share == pytest.approx(15.0 / 250.0)
    assert held.nitrogen == pytest.approx(450.0 / 15.0)
    ratio = _per_gram(held, 72.0, 8.0)["floaters_per_gram"]
    assert ratio == pytest.approx([72.0 * 250.0 / 450.0] * 3)


def test_where_nothing_floats_the_literature_s_range_stands_and_is_told() -> None:
    """Duckweed: 4.0 to 9.0 % dry, and nitrogen from its least to its luxury content."""
    made = belief()
    end = made.end.copy()
    for state in ("carbon", "nitrogen", "potassium"):
        end[:, made.case.table.at("state", f"floater1_{state}")] *= 1e-3
    told = feed_budget(replace(made, end=end), threads=1)
    assert not told["plants"]["learned"]
    records = parameters.load()
    least, most = (records[f"lemna_nitrogen_{e}"].value for e in ("min", "max"))
    low, middle, high = told["plants"]["nitrogen_mg_per_g"]
    assert (low, middle, high) == pytest.approx((least, 0.5 * (least + most), most))
    assert told["floaters_per_gram"][0] < told["floaters_per_gram"][2] / 3.0
    assert "the literature gives: next to none float here" in told["tables"][1]["note"]


def test_the_range_of_the_plants_reaches_the_answer() -> None:
    told = feed_budget(belief(), threads=1)
    low, middle, high = told["floaters_per_gram"]
    assert low < middle < high
    assert f"{middle:.0f} g ({low:.0f} to {high:.0f}) of drained" in str(told["steps"][0]["lines"])
    rows = {row[0]: row[1] for row in told["tables"][1]["rows"]}
    assert rows["Drained floating plants that hold as much"]["low"] == pytest.approx(low)
    assert rows["Potassium that these take along"]["high"] == pytest.approx(
        told["potassium_taken_per_gram"][2])  # fmt: skip
    assert "Lemna minor as learned for this tank" in told["tables"][1]["note"]


def test_the_budget_of_a_tank_adds_up() -> None:
    made = feed_budget(belief(), threads=1)
    low, high = made["advised_g_per_week"]
    assert low <= high
    assert high <= max(made["carried_g_per_week"][0], made["need_g_per_week"][0]) + 1e-9
    assert made["fed_g_per_week"] == pytest.approx(0.25)
    assert made["overfed"] == pytest.approx(0.25 / made["carried_g_per_week"][1])
    assert made["animals_g"] == pytest.approx(6 * 0.3 + 10 * 0.2, rel=0.4)
    rows = made["tables"][0]["rows"]
    assert rows[-1][0] == "Together"


def test_more_animals_turn_the_binding_side() -> None:
    crowd = feed_budget(belief(), animals=400.0, threads=1)
    assert crowd["binds"] == "too many animals"
    assert "emergency water change" in str(crowd["steps"])
    few = feed_budget(belief(), animals=0.5, threads=1)
    assert few["binds"] == "animals"
    assert few["advised_g_per_week"][1] == pytest.approx(0.5 * 0.02 * 7)
    assert binding([1.0, 2.0, 3.0], [0.5, 1.5]) == "nitrogen"
    assert advised([1.0, 2.0, 3.0], [0.5, 1.5]) == [0.5, 1.0]


def test_a_tank_without_animals_or_food_has_no_budget() -> None:
    made = belief()
    empty = replace(made, case=replace(made.case, record=record()))
    with pytest.raises(InputError, match="neither animals nor food"):
        feed_budget(empty, threads=1)


# -- D16 soil ------------------------------------------------------------------------


def test_soil_years_follow_the_trend() -> None:
    """Half left after two years is a quarter after four: two more years."""
    assert float(years_left(np.array([0.5]), 2.0)[0]) == pytest.approx(2.0)
    assert float(years_left(np.array([0.2]), 2.0)[0]) == 0.0
    assert float(years_left(np.array([1.2]), 2.0)[0]) == 30.0


@pytest.mark.parametrize(("worn", "rooted", "floating", "found"), [
    (0.9, 0.0, 0.08, "worn"), (0.9, 0.03, 0.08, "wearing"), (0.9, None, 0.08, "unseen"),
    (0.1, 0.03, 0.0, "water"), (0.9, 0.0, 0.0, "both"), (0.1, 0.02, 0.08, "neither"),
    (0.1, 0.0, 0.08, "suspect"), (0.1, 0.0, None, "worn"),
])  # fmt: skip
def test_which_plants_stall_tells_soil_from_water(
    worn: float, rooted: float | None, floating: float | None, found: str
) -> None:
    assert verdict(worn, rooted, floating) == found


def test_a_part_renewed_frees_more_than_nothing() -> None:
    made = belief()
    small, large = soil_age(made, 0.1, threads=1), soil_age(made, 1.0, threads=1)
    assert large["kilograms"] == pytest.approx(10 * small["kilograms"])
    assert large["ammonia"]["highest"][2] > small["ammonia"]["highest"][2]
    assert large["ammonia"]["highest"][2] > large["ammonia"]["highest_usual"][2]
    assert small["age_years"] == pytest.approx((NOW - datetime(2024, 3, 2, tzinfo=UTC)).days
                                               / 365.25)  # fmt: skip
    assert new_store(made, "nitrogen") > 0.0


def test_soil_that_is_not_there_is_not_judged() -> None:
    bare = belief(soil_mm=0.0, cap_mm=0.0)
    with pytest.raises(InputError, match="no soil"):
        soil_age(bare, threads=1)
    with pytest.raises(InputError, match="part"):
        soil_age(belief(), 0.0)


# -- moving --------------------------------------------------------------------------


def other(day: float, tank: str, kind: str, what: str, amount: float, note: str = "") -> Entry:
    return Entry(f"{day}{tank}{kind}{what}", START + timedelta(days=day), tank, kind, what, amount,
                 amount, note=note)  # fmt: skip


def chain() -> Record:
    made = record([
        other(1, "Fern", "plant_out", "Lemna minor", 10),
        other(1.1, "Oak", "plant_in", "Lemna minor", 10),
        other(5, "Oak", "plant_out", "Lemna minor", 4),
        other(6, "Elm", "plant_in", "Lemna minor", 4),
        other(3, "Ash", "plant_in", "Lemna minor", 4, "a handful from Elm"),
        other(9, "Yew", "stock_in", "Neocaridina davidi", 5),
    ])  # fmt: skip
    tanks = [Tank(n, 30.0, 0.1) for n in ("Oak", "Elm", "Ash", "Yew")]
    return Record(made.rack, made.waters, made.blends, tanks=(*made.tanks, *tanks),
                  entries=made.entries)  # fmt: skip


def test_moves_are_read_from_pairs_and_notes_and_followed_in_time() -> None:
    moves = moves_of(chain())
    assert [(m.giver, m.taker, m.sure) for m in moves] == [
        ("Fern", "Oak", True), ("Elm", "Ash", True), ("Oak", "Elm", True),
    ]  # fmt: skip
    ways = reached(moves, "Fern", START)
    assert list(ways) == ["Oak", "Elm"]
    assert [m.taker for m in ways["Elm"]] == ["Oak", "Elm"]
    assert reached(moves, "Fern", START + timedelta(days=2)) == {}
    told = trace(chain(), "Fern", START)
    assert told["reached"] == ["Oak", "Elm"]
    assert "Ash, Yew" in told["said"][1]
    with pytest.raises(UnknownNameError):
        trace(chain(), "Nowhere", START)


def test_a_longer_name_in_a_note_is_not_the_tank_of_a_shorter() -> None:
    tanks = (Tank("Oak", 30.0, 0.1), Tank("Elm", 30.0, 0.1))
    came = other(5.0, "Elm", "plant_in", "Lemna minor", 3.0, note="from oakley's shop")
    assert moves_of(replace(chain(), tanks=tanks, entries=(came,))) == []
    told = replace(came, note="from Oak, rinsed")
    (move,) = moves_of(replace(chain(), tanks=tanks, entries=(told,)))
    assert (move.giver, move.sure) == ("Oak", True)


def test_deaths_medicine_and_riders_are_flagged() -> None:
    made = record([
        entry(30, "death", "Poecilia wingei", 2), entry(31, "dose", "copper sulfate", 3.0),
        entry(32, "seen", "hydra", 1.0), entry(0, "plant_in", "Lemna minor", 5.0),
    ])  # fmt: skip
    flags = flags_of_record(made, "Fern", NOW)
    assert [f.block for f in flags] == [True, True, False, False]
    assert flags_of_record(made, "Fern", NOW + timedelta(days=61))[0].text.startswith("Lemna")
    told = Entry("x", START, "Fern", "death", "Poecilia wingei", 1.0, 1.0, note="jumped out")
    assert flags_of_record(record([told]), "Fern", START + timedelta(days=1)) == []
    vague = replace(told, note="found at noon")
    assert flags_of_record(record([vague]), "Fern", START + timedelta(days=1))[0].block


def test_metal_of_plants_grows_with_their_mass() -> None:
    ten, twenty = (metals_in(belief(), "Lemna minor", g)["copper"] for g in (10.0, 20.0))
    assert twenty == pytest.approx([2 * v for v in ten])
    assert 0.0 < ten[0] <= ten[1] <= ten[2] < COPPER_PLANT * 10.0


def test_a_move_is_held_back_or_waits() -> None:
    ok = belief()
    both = ok.case.record
    wide = replace(both, tanks=(*both.tanks, Tank("Oak", 30.0, 0.1)))
    ready = replace(ok, case=replace(ok.case, record=wide))
    made = moving(ready, "Oak", "Lemna minor", 10.0, threads=1)
    assert made["quarantine_days"] == 14
    dead = replace(wide, entries=(*wide.entries, entry(33, "death", "Poecilia wingei", 1)))
    held = moving(replace(ok, case=replace(ok.case, record=dead)), "Oak", "Lemna minor", 10.0, 1)
    assert not held["allowed"]
    assert held["quarantine_days"] == 28
    assert held["headline"].startswith("Do not move")
    for to, species in (("Fern", "Lemna minor"), ("Oak", "Poecilia wingei")):
        with pytest.raises(InputError):
            moving(ready, to, species, 1.0, threads=1)
    with pytest.raises(UnknownNameError):
        moving(ready, "Nowhere", "Lemna minor", 1.0, threads=1)


# -- D24 giving away -----------------------------------------------------------------


def test_notices_are_leads_that_say_check() -> None:
    assert set(notices()) == {"eu", "uk", "us", "elsewhere"}
    assert notice_for("Northern Ireland").name == "uk"
    assert notice_for("business park").name == "elsewhere"
    for region in ("eu", "uk", "us", "", "the moon"):
        for name in ("Pistia stratiotes", "Lemna minor", "Pomacea diffusa"):
            said = law_said(library().find_species(name), region)
            assert any("Ask " in line for line in said)
            assert not any(w in " ".join(said) for w in ("is legal", "is allowed", "you may"))
    assert "CHECK FIRST" in law_said(library().find_species("Pistia stratiotes"), "eu")[0]
    assert "no proof" in law_said(library().find_species("Lemna minor"), "eu")[0]
    assert all("Check with your authority" in law_said(library().find_species("Lemna minor"), r)[1]
               for r in ("eu", "uk", "us", "elsewhere"))  # fmt: skip


def test_every_lead_says_where_and_when_it_was_read() -> None:
    """Sources are in the bibliography; a day stands with all but what is from memory."""
    found = [(n, x) for n in notices().values() for x in n.leads]
    assert len(found) >= 15
    for notice, lead in found:
        assert lead.source in references.load()
        assert date.fromisoformat(lead.looked_at) >= date(2026, 11, 26)
        assert lead.looked_at in lead.rests_on
        assert lead.grade in ("read", "abstract")
        assert notice.lead(lead.kinds[0]) is not None
    said = law_said(library().find_species("Pistia stratiotes"), "eu")[0]
    assert "as reported, looked at 2026-11-26" in said
    assert "read, looked at" in law_said(library().find_species("Azolla filiculoides"), "uk")[0]


@pytest.mark.parametrize(("region", "species", "named"), [
    ("eu", "Salvinia molesta", True), ("eu", "Salvinia natans", False),
    ("uk", "Elodea canadensis", True), ("eu", "Elodea canadensis", False),
    ("us", "Hygrophila polysperma", True), ("us", "Hygrophila difformis", False),
    ("eu", "Pomacea diffusa", True), ("eu", "Ludwigia repens", False),
    ("uk", "Lemna minor", False), ("elsewhere", "Pistia stratiotes", False),
])  # fmt: skip
def test_a_lead_names_what_was_read_and_no_relative_of_it(
    region: str, species: str, named: bool
) -> None:
    assert notice_for(region).names(library().find_species(species).name) == named


@pytest.mark.parametrize(("lead", "what"), [
    ({"source": "nobody1999"}, "unknown source"), ({"grade": "sure"}, "grade 'sure'"),
    ({"looked_at": ""}, "looked at ''"), ({"grade": "memory"}, "grade 'memory'"),
])  # fmt: skip
def test_a_notice_without_source_or_day_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, lead: dict[str, str], what: str
) -> None:
    fields = {"says": "is listed", "source": "eu2014", "grade": "read",
              "looked_at": "2026-11-26"} | lead  # fmt: skip
    lines = "".join(f'{k} = "{v}"\n' for k, v in fields.items())
    (tmp_path / "law_notices.toml").write_text(
        '[x]\ntitle = "X"\nwords = []\nauthority = "a"\nnote = "n"\nsource = "eu2014"\n'
        f'grade = "read"\nlooked_at = "2026-11-26"\n[[x.leads]]\nkinds = ["A b"]\n{lines}'
    )
    monkeypatch.setattr("pleuston.planning.give_away.resources.files", lambda _: tmp_path)
    with pytest.raises(InputError, match=what):
        notices.__wrapped__()


def test_giving_away_never_releases_nor_calls_a_plant_free_of_metal() -> None:
    made = give_away(belief(), "Lemna minor", 20.0, "uk", threads=1)
    text = " ".join(made["said"]) + str(made["steps"]) + str(made["cautions"])
    assert "Never release" in text
    assert "METAL SUSPECTED" in text or "not ruled out" in text
    copper = entry(33, "dose", "copper sulfate pentahydrate", 2.0)
    dosed = give_away(belief(extra=(copper,)), "Lemna minor", threads=1)
    assert dosed["metal_suspected"]
    assert dosed["hold_back"]
    snail = give_away(belief(), "Pomacea diffusa", 1.0, "eu", threads=1)
    assert snail["metals_mg"] == {}
    assert "CHECK FIRST" in snail["law"][0]
    assert snail["headline"].startswith("Do not give Pomacea diffusa away")
    assert made["headline"].endswith("ask the authority before it is passed on")


def test_copper_is_judged_by_the_animals_that_the_plants_go_to() -> None:
    """A fish-only tank's copper that fish bear may be too much for the shrimp next door."""
    ok = belief()
    shrimp = replace(entry(2, "stock_in", "Neocaridina davidi", 12), id="shrimp", tank="Oak")
    fish = tuple(e for e in ok.case.record.entries if e.kind != "stock_in"
                 or library().find_species(e.what).group == "fish")  # fmt: skip
    wide = replace(ok.case.record, tanks=(*ok.case.record.tanks, Tank("Oak", 30.0, 0.1)),
                   entries=(*fish, shrimp))  # fmt: skip
    end = ok.end.copy()
    table = ok.case.table
    end[:, table.at("state", "copper")] = 0.016 * end[:, table.at("state", "water")]
    ready = replace(ok, case=replace(ok.case, record=wide), end=end)
    held = copper_flag(ready, 1, "Oak")
    assert held is not None
    assert held.block
    alone = copper_flag(ready, 1)
    assert alone is None or not alone.block
