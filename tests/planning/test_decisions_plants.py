"""Decisions on plants and food, each against a sum by hand: how much, which, what is short.

The sums stand in the docstrings. Compositions (floating plants 5.5 % dry, 4.5 % nitrogen and
3.5 % potassium of that; protein 16 % nitrogen) are common practice of the trade.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pleuston.engine.events import feed_content
from pleuston.engine.run import run_tank
from pleuston.engine.schedule import Event
from pleuston.inference.causes import causes_of
from pleuston.inference.normal import cdf
from pleuston.inference.readings import observation_model
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts_plants import above, carried, thin
from pleuston.planning.add_back import Trial, analysed
from pleuston.planning.away import away, feeding_days, portion
from pleuston.planning.compare import comparison, interval
from pleuston.planning.feed_budget import (
    floaters_per_food,
    food_carried,
    potassium_gap,
    removal,
)
from pleuston.planning.flows import substance
from pleuston.planning.habits import Habits, fed, habits_of, share_each
from pleuston.planning.outlook import run_ahead
from pleuston.planning.plan import Plan, plan_from
from pleuston.planning.plans import events_under, habits_under
from pleuston.planning.view import View, view_of
from pleuston.planning.whatif import tried
from pleuston.records.record import Entry, Feed, Rack, Record, Tank
from pleuston.records.resolve import feed_named

from .rack import START, belief, entry, record, usual

CARBON = 378.0
"""Carbon of a gram of dry plant [mg], as the model counts it."""
DRY = 0.055


def planted(
    cover: float, grown: float = 1.0, nitrogen: float = 0.045, lid: str = "partial"
) -> View:
    """A view whose duckweed covers a share, then has grown by a factor; composition as traded."""
    made = belief(lid=lid)
    table, end, numbers = made.case.table, made.end.copy(), made.parameters.copy()
    slot = made.case.plants.slots["Lemna minor"]
    numbers[:, table.at("parameter", f"{slot}_dry_share")] = DRY
    area = numbers[:, table.at("parameter", f"{slot}_cover_area")]
    dry = -np.log(1.0 - cover) / area * made.case.tank.surface_m2 * grown
    end[:, table.at("state", f"{slot}_carbon")] = dry * CARBON
    end[:, table.at("state", f"{slot}_nitrogen")] = dry * nitrogen * 1000.0
    end[:, table.at("state", f"{slot}_potassium")] = dry * 35.0
    return replace(view_of(made, threads=1), belief=replace(made, end=end, parameters=numbers))


# -- D2 how much to take out, D3 what to leave ----------------------------------------


@pytest.mark.parametrize(
    ("rate", "percent"), [(0.05, 30.0), (0.10, 50.0), (0.15, 65.0), (0.20, 75.0)]
)  # fmt: skip
def test_d2_the_share_to_take_out_each_week(rate: float, percent: float) -> None:
    """f = 1 - e^(-7 r) holds the level: 30, 50, 65, 75 % at 0.05, 0.10, 0.15, 0.20 a day.

    The tool does not know the rate here: it sees 40 % of the surface, grown for a week.
    """
    view = planted(0.40, np.exp(7.0 * rate))
    grams, share = above(view, 0.40)["Lemna minor"]
    assert 100.0 * np.median(share) == pytest.approx(percent, abs=0.6)
    slot = view.belief.case.plants.slots["Lemna minor"]
    standing = np.median(view.state_now(f"{slot}_carbon")) / CARBON / DRY
    assert np.median(grams) / standing == pytest.approx(percent / 100.0, abs=0.006)


def test_d2_the_act_says_those_grams() -> None:
    """What the act asks for is that share of the drained mass."""
    view = planted(0.40, np.exp(0.7))
    grams, _ = above(view, 0.40)["Lemna minor"]
    acts = thin(replace(view, ahead=view_of(view.belief, threads=1).ahead))
    (act,) = acts
    left = float(act.reason.split()[1].rstrip("%")) / 100.0
    asked = above(view, left)["Lemna minor"][0]
    assert act.amount == pytest.approx(float(np.median(asked)))
    assert (act.amount >= 0.99 * float(np.median(grams))) == (left <= 0.4)


def weekly_yield(cover: float, weeks: int = 6) -> float:
    """Drained grams a week that the model's plants give when thinned weekly to a cover."""
    made: TankBelief = planted(cover).belief
    days, case = 7 * weeks, made.case
    plan = Plan("kept", cover=cover, feed=3.0)
    habits = habits_under(plan, habits_of(case, made.at), case, made.at)
    events: list[Event] = [
        e for e in events_under(plan, case, made.at, days, habits)
        if made.at <= e.time < made.at + days
    ]  # fmt: skip
    run = run_tank(
        case.schedule(made.at, made.at + days, [made.at + days], events=events), made.end,
        belief().parameters, outputs=["canopy_cover"], scale=case.scale, tolerance=1e-3,
        extents=True, threads=1,
    )  # fmt: skip
    names = [r["name"] for r in case.table.data["rows"]]
    names += [m["name"] for m in case.table.data["moves"]]
    assert run.extents is not None
    taken = run.extents[-1, names.index("harvest_floater1_carbon")]
    return float(np.median(taken)) / CARBON / DRY / weeks


def test_d3_the_most_is_taken_out_near_half_cover() -> None:
    """Logistic growth c(1 - c/1.15): 32, 68, 91, 100 % of the most at 10, 25, 40, 58 % cover.

    The model knows no logistic law, only light, crowding and nutrients: it must come within 15
    points, have its most between half and three quarters, and give less from a closed surface.
    """
    covers = (0.10, 0.25, 0.40, 0.58, 0.75, 0.95)
    found = np.array([weekly_yield(c) for c in covers])
    found = 100.0 * found / found.max()
    by_hand = np.array([c * (1.0 - c / 1.15) for c in covers[:4]]) / (1.15 / 4.0) * 100.0
    assert by_hand == pytest.approx([32, 68, 91, 100], abs=1.0)
    assert np.abs(found[:4] - by_hand).max() < 15.0
    assert covers[int(found.argmax())] in (0.58, 0.75)
    assert found[-1] < 95.0


# -- D4, D5 food and harvest ----------------------------------------------------------


def test_d5_a_gram_of_food_balances_29_grams_of_plants() -> None:
    """45 % protein is 72 mg of nitrogen a gram; drained plants hold 0.055 x 45 = 2.475 mg/g."""
    brought = feed_content(Feed("dry", protein_pct=45.0), 1.0)["feed_nitrogen"]
    assert brought == pytest.approx(72.0)
    view = planted(0.9)
    grams, share = above(view, 0.3)["Lemna minor"]
    slot = view.belief.case.plants.slots["Lemna minor"]
    each = carried(view, slot, "nitrogen", share) / float(np.median(grams))
    assert brought / each == pytest.approx(29.0, abs=0.3)


def test_d5_that_harvest_takes_seven_times_the_food_s_potassium() -> None:
    """29 g x 0.055 x 35 mg/g = 56 mg out, 8 mg in at 0.8 % potassium: seven times."""
    brought = feed_content(Feed("dry", protein_pct=45.0, potassium_pct=0.8), 1.0)
    view = planted(0.9)
    grams, share = above(view, 0.3)["Lemna minor"]
    slot = view.belief.case.plants.slots["Lemna minor"]
    out = 29.0 * carried(view, slot, "potassium", share) / float(np.median(grams))
    assert out == pytest.approx(56.0, abs=0.5)
    assert out / brought["feed_potassium"] == pytest.approx(7.0, abs=0.1)


def test_d4_food_a_week_is_what_the_harvest_takes_out() -> None:
    """29.1 g of drained plants a week hold 72 mg of nitrogen: one gram of 45 % protein a week."""
    assert floaters_per_food(72.0, DRY, 45.0) == pytest.approx(29.1, abs=0.05)
    out = np.array([29.1 * DRY * 45.0 / 7.0])
    assert food_carried(out, 72.0)[0] == pytest.approx(1.0, abs=0.001)
    taken, brought = potassium_gap(72.0, DRY, 45.0, 35.0, 8.0)
    assert (taken, brought) == (pytest.approx(56.0, abs=0.05), 8.0)


def test_d4_a_tank_fed_what_is_taken_out_gathers_no_nitrogen() -> None:
    """The budget's own food: over the same weeks the tank's nitrogen must not gather.

    What goes in as food (and with the top-up) is what harvest and denitrification take, so the
    whole tank's nitrogen moves by less than a quarter of the food's. Twice the food gathers, half
    of it draws the stores down.
    """
    made = belief()
    habits = habits_of(made.case, made.at)
    able = removal(made, habits, 1)
    protein = feed_named(made.case.record, "flake").protein_pct
    assert protein is not None
    carried_grams = float(np.median(food_carried(able.total, protein * 1.6)))
    half, same, twice = (_gathered(made, habits, k * carried_grams / 7.0) for k in (0.5, 1.0, 2.0))
    assert half < -0.3
    assert abs(same) < 0.25
    assert twice > 0.3


def _gathered(made: TankBelief, habits: Habits, grams_a_day: float) -> float:
    """Share of the food's nitrogen that the tank still holds more after four weeks (middle)."""
    under = fed(habits, grams_a_day / habits.feed_per_day)
    run = run_ahead(made, 28, under, threads=1).run
    weights = substance(made.case.table, "N").weights
    given = 28.0 * grams_a_day * 1.6 * float(
        feed_named(made.case.record, "flake").protein_pct or 0.0
    )  # fmt: skip
    return float(np.median((run.end - made.end[: len(run.end)]) @ weights)) / given


def test_d4_three_times_the_food_brings_three_times_the_nitrogen_of_the_plan() -> None:
    """A plan of 300 % food: what goes in over four weeks is 3 x grams x protein x 0.16."""
    made = belief()
    habits = habits_of(made.case, made.at)
    meals = sum(m.grams for m in habits.meals)
    more = tried(made, plan_from("m:feed=300"), 28, 8)
    given = sum(e.arguments["feed_nitrogen"] for e in more.events if e.jump == "feed")
    usual_feed = [e for e in tried(made, Plan("as now"), 28, 8).events if e.jump == "feed"]
    once = sum(e.arguments["feed_nitrogen"] for e in usual_feed)
    assert given == pytest.approx(3.0 * once)
    protein = feed_named(made.case.record, "flake").protein_pct
    assert protein is not None
    assert once == pytest.approx(4.0 * meals * protein * 10.0 * 0.16)


# -- D14, D15 what is short -----------------------------------------------------------


def test_d14_a_trial_is_judged_by_its_paired_interval() -> None:
    """Four pairs over ten days, 10 g each: 20 g dosed, 14.8 g not: ln(20/14.8)/10 = 0.030 a day."""
    clear = [Trial((10.0, 20.0 + i), (10.0, 14.8 + i), 10.0) for i in (-0.4, 0.0, 0.3, 0.1)]
    found = analysed(clear, "potassium")
    assert found["difference"]["mean"] == pytest.approx(np.log(20.0 / 14.8) / 10.0, abs=0.001)
    assert found["verdict"] == "short"
    none = [Trial((10.0, 15.0 + i), (10.0, 15.0 - i), 10.0) for i in (-0.3, 0.2, 0.3, -0.2)]
    assert analysed(none, "potassium")["verdict"] != "short"
    assert analysed(clear[:1], "potassium")["verdict"] == "not told"


def kept(weeks: int, grams: list[float], *signs: tuple[float, str]) -> Record:
    """A fed tank that reads no nitrate and gives these harvests."""
    rows = usual(weeks)
    rows = [e for e in rows if e.kind != "harvest"]
    rows += [entry(7.0 * w + 0.05, "harvest", "Lemna minor", g) for w, g in enumerate(grams, 1)]
    rows += [entry(7.0 * w + 0.1, "reading", "nitrate_ion", None, high=1.0, unit="mg/L")
             for w in range(1, weeks)]  # fmt: skip
    rows += [entry(day, "seen", what, 1.0) for day, what in signs]
    return record(sorted(rows, key=lambda e: e.at))


def chance_of(made: Record, cause: str) -> float:
    """Probability of a cause by the record's signs."""
    at = START + timedelta(days=62)
    told = {c["cause"]: c["probability"] for c in causes_of(made, "Fern", at)["causes"]}
    return float(told.get(cause, 0.0))


def test_d15_no_nitrate_is_fine_while_plants_grow_and_hungry_when_they_stall() -> None:
    """Harvest steady and colour good: ammonium feeds them. Falling and pale: nitrogen is short."""
    fine = kept(9, [6.0] * 8)
    hungry = kept(9, [6.0, 6.0, 5.0, 4.0, 2.5, 1.5, 1.0, 0.6], (45.0, "pale_leaves"),
                  (55.0, "pale_leaves"))  # fmt: skip
    assert chance_of(fine, "nitrogen_short") < 0.25
    assert chance_of(hungry, "nitrogen_short") > 2.0 * chance_of(fine, "nitrogen_short")
    assert chance_of(fine, "nothing_wrong") > chance_of(hungry, "nothing_wrong")


# -- D18 holiday, D22 light, D23 which floater ----------------------------------------


def test_d18_cover_grows_by_its_rate_while_nobody_thins() -> None:
    """At 0.10 a day 25 % grow by e^1.4 = 4.06 in 14 days: to all there is room for.

    To leave at most 50 % on return, go with 50 / 4.06 = 12 %. Here the rate is the model's own.
    """
    assert 25.0 * np.exp(1.4) == pytest.approx(101.4, abs=0.1)
    made = planted(0.12).belief
    numbers = belief().parameters
    away = tried(replace(made, parameters=numbers), plan_from("a:holiday=14"), 14, 24)
    slot = made.case.plants.slots["Lemna minor"]
    at = made.case.table.at("state", f"{slot}_carbon")
    rate = np.log(away.ahead.run.end[:, at] / made.end[:24, at]) / 14.0
    area = numbers[:24, made.case.table.at("parameter", f"{slot}_cover_area")]
    mass = made.end[:24, at] * np.exp(14.0 * rate) / CARBON / made.case.tank.surface_m2
    by_hand = 1.0 - np.exp(-mass * area)
    run = away.ahead.run
    seen = run.values[-1, run.outputs.index("canopy_cover")]
    assert seen == pytest.approx(by_hand, abs=0.02)
    assert np.all(rate < 0.2)


def test_d18_the_planner_thins_to_what_growth_leaves_room_for() -> None:
    """Go with the most cover c0 that 19 of 20 members keep under 60 % of the surface.

    By hand: mass grows by e^(14 r), so the open share 1 - c0 becomes (1 - c0)^(e^(14 r)), give
    or take what the model is out by in a cover. The tank is open, so that it is cover that binds
    and not the oxygen of still water under a lid. (Of 24 members no chance near 5 % can be told.)
    """
    numbers = belief(lid="open").parameters
    made = replace(planted(0.5, lid="open").belief, parameters=numbers)
    told = away(made, 14, most_cover=60.0, threads=1)
    thin = replace(planted(0.15, lid="open").belief, parameters=numbers)
    plan = plan_from(f"a:holiday=14,light={told['light_hours']}")
    at = made.case.table.at("state", "floater1_carbon")
    rate = np.log(tried(thin, plan, 14, 24).ahead.run.end[:, at] / thin.end[:24, at]) / 14.0
    eye, (known, left) = observation_model("cover"), made.error_ahead("cover", [14.0])
    by_hand = [
        c for c in (0.5, 0.35, 0.25, 0.15, 0.1)
        for grown in [eye.scaled(1.0 - (1.0 - c) ** np.exp(14.0 * rate)) + known[0, :24]]
        if cdf((grown - eye.scaled(0.6)) / left[0]).mean() <= 0.05
    ]  # fmt: skip
    assert told["holds"]
    assert told["thin_to"] == pytest.approx(100.0 * max(by_hand))
    assert told["cover_at_end"][2] <= 60.0


def test_d18_a_neighbour_s_bags_hold_a_third_of_two_days() -> None:
    """0.06 g a day: a bag for two days holds 0.06 x 2 / 3 = 0.04 g, seven in a fortnight."""
    assert portion(0.06) == pytest.approx(0.04)
    days = feeding_days(14)
    assert len(days) * 0.04 == pytest.approx(0.06 * 14 / 3.0, rel=0.01)


def test_d18_covers_of_several_floaters_overlap_at_random() -> None:
    """Two species of 50 % each leave 0.5 x 0.5 = 25 % open: together 75 %."""
    assert share_each(0.75, 2) == pytest.approx(0.5)


def test_d22_growth_goes_with_the_hours_of_light() -> None:
    """Photosynthesis by the hour, breathing around the clock: net growth rises nearly straight.

    From 6 to 9 to 12 h the two steps are alike, and at few enough hours nothing is left over.
    """
    made = belief()
    at = made.case.table.at("state", "floater1_carbon")

    def growth(hours: int) -> float:
        run = tried(made, plan_from(f"l:light={hours},cover=100,feed=300"), 7, 24).ahead.run
        return float(np.median(np.log(run.end[:, at] / made.end[:24, at]))) / 7.0

    rates = [growth(h) for h in (6, 9, 12)]
    first, second = np.diff(rates)
    assert first > 0.0
    assert second / first == pytest.approx(0.9, abs=0.25)
    compensation = 6.0 - rates[0] / first * 3.0
    assert 0.0 < compensation < 6.0


def test_d23_a_floater_is_better_only_where_the_interval_leaves_nought_out() -> None:
    """Eight weeks, two floaters on 0.2 m2: 2 g a week more of half the surface are 20 g/m2.

    The interval is the paired t, 2.3646 x sd / sqrt(8), or wider where weeks resemble each other.
    Nutrients must not be short: else nothing is shown.
    """
    apart = np.array([1.0, 3.0, 2.0, 2.5, 1.5, 2.2, 1.8, 2.0]) / 0.1
    found = interval(apart)
    assert found is not None
    by_hand = 2.3646 * apart.std(ddof=1) / np.sqrt(8.0)
    assert found["mean"] == pytest.approx(20.0)
    assert found["high"] - found["mean"] >= by_hand * 0.99
    begun = datetime(2026, 3, 1, 10, tzinfo=UTC)

    def weighed(species: str, grams: list[float]) -> list[Entry]:
        return [Entry(f"{species}{n}", begun + timedelta(days=7 * n), "T", "harvest", species, g,
                      g, "g") for n, g in enumerate(grams)]  # fmt: skip

    rich = [Entry(f"n{d}", begun + timedelta(days=d), "T", "reading", "nitrate_ion", 10.0, 10.0,
                  "mg/L") for d in range(0, 60, 7)]  # fmt: skip
    rows = weighed("Lemna minor", [9.0, *(8.0 + apart * 0.1)])
    rows += weighed("Spirodela polyrhiza", [8.0] * 9) + rich
    made = Record(Rack("hand"), tanks=(Tank("T", 50.0, 0.2, light_hours=9.0, light_ppfd=80.0),),
                  entries=tuple(sorted(rows, key=lambda e: e.at)))  # fmt: skip
    told = comparison(made, "Lemna minor", "Spirodela polyrhiza", ["T"], begun,
                      begun + timedelta(days=200))  # fmt: skip
    assert told["shown"]
    assert told["difference"]["mean"] == pytest.approx(20.0)
    assert told["difference"]["low"] > 0.0
