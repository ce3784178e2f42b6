"""A keeper's own limits: stricter ones hold everywhere, looser ones only where nothing dies."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pleuston.planning.limits import (
    GUARDED,
    SEVERITIES,
    Limit,
    OwnLimit,
    WaterState,
    caps_for,
    limits_for,
    refusal,
)
from pleuston.planning.limits.own import LENIENT, judged_for
from pleuston.planning.outlook import crossings, limits_of, own_of, run_ahead
from pleuston.planning.plan import plan_from
from pleuston.planning.policy import steps_too_fast
from pleuston.planning.steps import caps_of
from pleuston.planning.stocking import stocking
from pleuston.planning.tank_round import tank_round
from pleuston.planning.view import view_of
from pleuston.planning.whatif import tried, what_if
from pleuston.records.kinds import LIMIT_SEVERITIES, LIMITED
from pleuston.records.library import library
from pleuston.records.own_limits import limit_value, own_limits, written_value
from pleuston.records.record import Entry

from .rack import START, belief, record

ANIMALS = ["Poecilia wingei", "Neocaridina davidi"]
WATER = WaterState(temperature=297.15, ph=7.4, chloride=15.0, gh=2.0, dissolved_carbon=2.0)


def own(
    what: str, side: str, value: float, severity: str = "watch", species: str = ""
) -> OwnLimit:
    item = LIMITED[what]
    return OwnLimit(
        "an id", "Fern", what, item.quantity, side, limit_value(what, item.unit, value), value,
        item.unit, severity, species, "they breed better so", "2026-03-20", "Kim", START,
    )  # fmt: skip


def noted(
    what: str, *, low: float | None = None, high: float | None = None, severity: str = "watch",
    day: float = 20.0, kind: str = "limit", tank: str = "Fern", reason: str = "they breed so",
) -> Entry:  # fmt: skip
    return Entry(
        f"{day}-{kind}-{what}-{severity}-{tank}", START + timedelta(days=day), tank, kind, what,
        low, high, LIMITED[what].unit, "Kim", severity, reason,
    )  # fmt: skip


def one(limits: tuple[Limit, ...], quantity: str, side: str, severity: str) -> Limit:
    (found,) = [
        x for x in limits if (x.quantity, x.side, x.severity) == (quantity, side, severity)
    ]  # fmt: skip
    return found


def verdict(limit: OwnLimit, animals: list[str]) -> str:
    present = judged_for(limit, animals)
    found = refusal(limit, [limits_for(present, water) for water in LENIENT])
    return "" if found is None else f"{found.what}. {found.remedy}"


# --- which limit holds --------------------------------------------------------------------


def test_a_stricter_own_limit_stands_in_the_library_s_place_and_tells_both() -> None:
    library_s = one(limits_for(ANIMALS, WATER), "temperature", "high", "act")
    made = one(
        limits_for(ANIMALS, WATER, [own("temperature", "high", 25.0, "act")]),
        "temperature", "high", "act",
    )  # fmt: skip
    assert library_s.value > 298.15
    assert made.value == pytest.approx(298.15)
    assert made.is_own
    assert made.horizon == library_s.horizon
    assert made.where == "your own limit: they breed better so, since 2026-03-20"
    assert f"at most {library_s.value - 273.15:.4g} C" in made.conditions
    assert library_s.source in made.conditions
    assert library_s.own == ""


def test_a_looser_limit_to_watch_holds_up_to_the_limit_to_act() -> None:
    library_s = one(limits_for(ANIMALS, WATER), "nitrate", "high", "watch")
    act = one(limits_for(ANIMALS, WATER), "nitrate", "high", "act")
    looser = limits_for(ANIMALS, WATER, [own("nitrate", "high", 15.0)])
    assert library_s.value == 10.0
    assert one(looser, "nitrate", "high", "watch").value == 15.0
    assert one(looser, "nitrate", "high", "act") == act
    beyond = limits_for(ANIMALS, WATER, [own("nitrate", "high", 90.0)])
    assert one(beyond, "nitrate", "high", "watch").value == act.value


@pytest.mark.parametrize("severity", ["act", "danger"])
def test_a_looser_limit_that_guards_life_has_no_effect(severity: str) -> None:
    loose = own("nitrate", "high", 200.0, severity)
    assert limits_for(ANIMALS, WATER, [loose]) == limits_for(ANIMALS, WATER)


def test_a_stricter_limit_to_act_takes_the_milder_one_with_it() -> None:
    made = limits_for(ANIMALS, WATER, [own("nitrate", "high", 5.0, "act")])
    assert one(made, "nitrate", "high", "act").value == 5.0
    assert one(made, "nitrate", "high", "watch").value == 5.0
    assert one(made, "nitrate", "high", "danger").value == 48.5


def test_a_limit_for_one_species_leaves_the_others_alone() -> None:
    mine = own("temperature", "high", 24.0, "watch", "Neocaridina davidi")
    both = one(limits_for(ANIMALS, WATER, [mine]), "temperature", "high", "watch")
    assert both.who == ("Neocaridina davidi",)
    fish = ["Poecilia wingei"]
    assert limits_for(fish, WATER, [mine]) == limits_for(fish, WATER)


def test_without_animals_only_the_keeper_s_own_limits_hold() -> None:
    assert limits_for([], WATER) == ()
    (only,) = limits_for([], WATER, [own("nitrate", "high", 5.0)])
    assert (only.value, only.who) == (5.0, ())
    assert only.conditions == "the library has no such limit here"


def test_own_steps_only_narrow_what_an_act_may_move() -> None:
    usual_caps = caps_for(ANIMALS)
    narrow = caps_for(ANIMALS, [own("ec_step", "high", 5.0, "act")])
    assert (usual_caps.ec, narrow.ec) == (0.10, pytest.approx(0.05))
    assert (narrow.ph, narrow.temperature) == (usual_caps.ph, usual_caps.temperature)
    assert caps_for(ANIMALS, [own("ec_step", "high", 50.0, "act")]) == usual_caps
    assert caps_for(ANIMALS, [own("ec_step", "high", 4.0, "danger")]).ec == pytest.approx(0.04)


OWN = st.builds(
    lambda what, side, share, severity, species: own(
        what, side if side in LIMITED[what].sides else "high",
        LIMITED[what].least + share * (min(LIMITED[what].most, 100.0) - LIMITED[what].least),
        severity, species,
    ),
    st.sampled_from(sorted(LIMITED)), st.sampled_from(["low", "high"]), st.floats(0.0, 1.0),
    st.sampled_from(LIMIT_SEVERITIES), st.sampled_from(["", *ANIMALS]),
)  # fmt: skip
KINDS_OF_ANIMALS = sorted(n for n, s in library().species.items() if s.is_animal)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(OWN, max_size=6), st.lists(st.sampled_from(KINDS_OF_ANIMALS), max_size=4),
    st.sampled_from([WATER, WaterState(), WaterState(299.0, 6.2, 0.0, 0.5, 0.0)]),
)  # fmt: skip
def test_no_own_limit_makes_what_guards_life_looser(
    mine: list[OwnLimit], animals: list[str], water: WaterState
) -> None:
    """Each library limit of danger, to act, or of what kills fast stands, or a stricter one."""
    held = {(x.quantity, x.side, x.severity): x for x in limits_for(animals, water, mine)}
    for limit in limits_for(animals, water):
        now = held[limit.quantity, limit.side, limit.severity]
        if limit.severity != "watch" or limit.quantity in GUARDED:
            assert not limit.is_stricter(now.value)
        if limit.severity == "watch" and limit.is_stricter(now.value):
            # an own limit, or what another animal's library limit is once one animal has its own
            assert any((o.quantity, o.side) == (limit.quantity, limit.side) for o in mine)
    touched = {(x.quantity, x.side) for x in held.values() if x.is_own}
    for quantity, side in touched if len(animals) < 2 else ():
        keys = [(quantity, side, severity) for severity in LIMIT_SEVERITIES]
        ordered = [held[key] for key in keys if key in held]
        for mild, grave in pairwise(ordered):
            assert not grave.is_stricter(mild.value)


# --- what is refused ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "why"),
    [
        (own("nitrate", "high", 60.0, "danger"), "a limit of danger may not be looser"),
        (own("temperature", "high", 40.0, "act"), "a limit to act may not be looser"),
        (own("ammonia_nh3", "high", 0.03), "of ammonia nh3 no limit may be looser"),
        (own("nitrite_ion", "high", 5.0), "of nitrite ion no limit may be looser"),
        (own("copper", "high", 1.0, "act"), "of copper no limit may be looser"),
        (own("oxygen_dawn", "low", 2.0, "danger"), "of oxygen dawn no limit may be looser"),
        (own("ec_step", "high", 20.0, "act"), "of ec step no limit may be looser"),
        (own("nitrate", "high", 30.0), "lies beyond the library's graver limit"),
    ],
    ids=lambda value: value.what if isinstance(value, OwnLimit) else "",
)
def test_what_guards_life_is_not_loosened_and_the_refusal_says_what_is_allowed(
    limit: OwnLimit, why: str
) -> None:
    said = verdict(limit, ANIMALS)
    assert why in said
    assert "set at " in said
    assert "or stricter" in said


@pytest.mark.parametrize(
    "limit",
    [own("nitrate", "high", 15.0), own("ammonia_nh3", "high", 0.01), own("cover", "high", 90.0),
     own("nitrate", "high", 40.0, "danger"), own("potassium", "low", 5.0),
     own("nitrite", "high", 0.01, "act"), own("ec_step", "high", 5.0, "act")],
    ids=lambda value: f"{value.what}-{value.severity}",
)  # fmt: skip
def test_stricter_limits_and_mild_looser_ones_are_kept(limit: OwnLimit) -> None:
    assert verdict(limit, ANIMALS) == ""


def test_a_tank_without_animals_takes_any_limit() -> None:
    assert verdict(own("nitrate", "high", 200.0, "danger"), []) == ""


# --- in the record ------------------------------------------------------------------------


def test_an_own_limit_holds_from_its_day_until_it_is_ended_or_set_anew() -> None:
    entries = [
        noted("temperature", high=25.0, day=10.0), noted("temperature", high=24.0, day=15.0),
        noted("nitrate", high=8.0, low=1.0, day=12.0), noted("nitrate", high=8.0, day=18.0,
                                                             kind="limit_end"),
        noted("nitrate", kind="limit_end", day=25.0),
    ]  # fmt: skip
    made = record(entries)

    def at(day: float) -> set[tuple[str, str, float]]:
        found = own_limits(made, "Fern", START + timedelta(days=day))
        return {(x.what, x.side, x.written) for x in found}

    assert at(9.0) == set()
    assert at(13.0) == {("temperature", "high", 25.0), ("nitrate", "high", 8.0),
                        ("nitrate", "low", 1.0)}  # fmt: skip
    assert at(20.0) == {("temperature", "high", 24.0), ("nitrate", "low", 1.0)}
    assert at(30.0) == {("temperature", "high", 24.0)}


def test_the_tank_s_own_limit_goes_before_the_whole_rack_s() -> None:
    made = record([
        noted("temperature", high=24.0, day=12.0), noted("temperature", high=22.0, day=14.0,
                                                         tank=""),
    ])  # fmt: skip
    found = own_limits(made, "Fern", START + timedelta(days=20))
    held = one(limits_for(ANIMALS, WATER, found), "temperature", "high", "watch")
    assert held.value == pytest.approx(297.15)


def test_ions_and_keeper_s_units_become_the_library_s() -> None:
    assert limit_value("nitrate_ion", "mg/L", 50.0) == pytest.approx(50.0 * 14.007 / 62.004)
    assert limit_value("kh", "dH", 5.0) == pytest.approx(5.0 * 0.356652, rel=1e-4)
    assert limit_value("temperature", "F", 77.0) == pytest.approx(298.15)
    for item in LIMITED.values():
        back, unit = written_value(item.quantity, limit_value(item.quantity, "", 7.0))
        assert (back, unit) == (pytest.approx(7.0), LIMITED[item.quantity].unit)
    assert set(LIMIT_SEVERITIES) == set(SEVERITIES) - {"well"}


# --- in every answer ----------------------------------------------------------------------


def test_an_own_limit_changes_outlook_round_and_what_if() -> None:
    entry = noted("temperature", high=20.0, severity="act")
    plain, mine = belief(), belief(extra=(entry,))
    assert [x.written for x in own_of(mine)] == [20.0]

    def rows(made: object) -> list[dict[str, object]]:
        ahead = run_ahead(made, 28, threads=1)  # type: ignore[arg-type]
        found = crossings(ahead, limits_of(ahead))
        return [x for x in found if (x["quantity"], x["severity"], x["side"])
                == ("temperature", "act", "high")]  # fmt: skip

    assert not rows(plain)
    (row,) = rows(mine)
    assert (row["value"], row["chance"]) == (20.0, 1.0)
    assert "your own limit: they breed so, since 2026-03-22" in str(row["own"])
    assert "the library's limit: at most" in str(row["own"])
    before, after = (tank_round(view_of(x, threads=1)) for x in (plain, mine))
    assert (before["state"], after["state"]) == ("watch", "act")
    assert not any(b["own"] for b in before["because"])
    assert any("your own limit" in b["own"] for b in after["because"])
    cool = next(a for a in after["acts"] if a["act"] == "cool")
    assert "your own limit: they breed so" in str(cool)
    told = what_if(mine, [plan_from("less:feed=50")], 14, threads=1)
    limit = next(x for x in told["limits"] if x["own"])
    assert limit["value"] == 20.0
    place = told["limits"].index(limit)
    assert told["plans"][0]["chances"][place]["chance"] == 1.0


def test_an_own_limit_binds_stocking_and_the_steps_of_the_planner() -> None:
    cold = noted("temperature", high=20.0, severity="act")
    made = stocking(belief(extra=(cold,)), [("Poecilia wingei", 4)], threads=1)
    assert made["species"][0]["fits"] == 0
    assert "your own limit: they breed so" in str(made["species"][0]["bounds"])
    before = stocking(belief(), [("Poecilia wingei", 4)], threads=1)
    assert "your own limit" not in str(before)
    narrow = noted("temperature_step", high=0.1, severity="act")
    assert caps_of(view_of(belief(extra=(narrow,)), threads=1)).temperature == 0.1
    wave = plan_from("warm:heat=4,heat_days=3")
    for extra, found in (((), False), ((narrow,), True)):
        one = belief(extra=extra)
        usual = tried(one, plan_from("same:"), 7, 12, threads=1)
        assert ("temperature" in steps_too_fast(usual, tried(one, wave, 7, 12, threads=1))) is found


def test_limits_of_every_quantity_go_through_every_answer() -> None:
    entries = tuple(
        noted(item.name, high=0.5 * (item.least + min(item.most, 60.0)), severity=severity)
        for item in LIMITED.values() for severity in LIMIT_SEVERITIES
    )  # fmt: skip
    made = belief(extra=entries)
    view = view_of(made, threads=1)
    own_ones = {x.quantity for x in view.limits if x.is_own}
    assert {"potassium", "iron", "phosphate_ion"} <= own_ones
    assert tank_round(view)["state"] in SEVERITIES
    assert what_if(made, [plan_from("less:feed=50")], 14, threads=1)["limits"]
