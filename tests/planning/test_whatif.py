"""Plans side by side: hand-checkable cases, and what no plan may do."""

from __future__ import annotations

import numpy as np
import pytest
from tests.planning.rack import belief

from pleuston.base.errors import InputError
from pleuston.planning.habits import habits_of
from pleuston.planning.outlook import limits_of
from pleuston.planning.plan import AS_NOW, Plan, plan_from, text_of
from pleuston.planning.policy import STEPS, _fastest, acted_on, best_week, candidates, judge
from pleuston.planning.whatif import tried, what_if


def test_the_same_plan_as_now_differs_by_exactly_nothing() -> None:
    made = what_if(belief(), [Plan("same again")], days=20)
    for apart in made["plans"][1]["differences"].values():
        assert apart == {"end": [0.0, 0.0, 0.0], "mean": [0.0, 0.0, 0.0]}
    assert all(row["change"] == [0.0, 0.0, 0.0] for row in made["plans"][1]["chances"])


def test_each_limit_of_a_name_has_its_own_chance() -> None:
    """Oxygen at dawn has three limits of one name: each is judged by itself in every answer."""
    b = belief()
    run = tried(b, AS_NOW, 28, 24)
    limits = limits_of(run.ahead)
    assert len({x.key for x in limits}) == len(limits) > len({x.name for x in limits})
    chances = judge(run, run, acted_on(limits)).chances
    asked = what_if(b, [Plan("same")], days=28, members=24)
    rows = {(r["limit"], r["word"], r["severity"]): r["chance"]
            for r in asked["plans"][0]["chances"]}  # fmt: skip
    for limit in acted_on(limits):
        own = float(run.ahead.crossed(limit).any(axis=0).mean())
        assert chances[limit.key] == own
        if limit.quantity == "oxygen_dawn" and own >= 0.01:
            assert rows[limit.name, limit.word, limit.severity] == pytest.approx(own, abs=1e-4)
    dawn = {x.severity: chances[x.key] for x in limits if x.quantity == "oxygen_dawn"}
    assert dawn["watch"] > dawn["danger"]
    assert dawn["watch"] >= dawn["act"] >= dawn["danger"]


def test_a_water_change_dilutes_chloride_by_the_closed_form() -> None:
    b = belief()
    plan = plan_from("w:water_change=6,cover=100,feed=0")
    run = tried(b, plan, 2, 24).ahead.run
    chloride = b.case.table.at("state", "chloride")
    water = b.case.table.at("state", "water")
    before = b.end[:24, chloride] / b.end[:24, water]
    share = 6.0 / b.case.tank.net_l
    brought = b.case.maker.water(b.at, "soft")["chloride_in"]
    left = b.end[:24, chloride] * (1.0 - share)
    filled = b.case.tank.net_l - b.end[:24, water] * (1.0 - share)
    assert run.end[:, chloride] == pytest.approx(left + filled * brought, rel=0.02)
    assert np.all(before > 0.0)


def test_cover_grows_through_a_holiday_until_it_is_thinned() -> None:
    b = belief()
    away, kept = (tried(b, plan_from(t), 14, 24).ahead.values("cover").mean(axis=1)
                  for t in ("a:holiday=14", "k:cover=25"))
    assert away[-1] > kept[-1]


def test_a_power_cut_never_brings_light_or_raises_dawn_oxygen_that_night() -> None:
    b = belief(flow="gentle")
    now, cut = (tried(b, p, 3, 24).ahead.values("oxygen_dawn")
                for p in (AS_NOW, plan_from("p:power_cut=24")))
    assert np.median(cut[1] - now[1]) < 0.0


@pytest.mark.parametrize("text", ["a:holiday=14,neighbour=yes", "b:cover=25,feed=50,lid=open",
                                  "c:stock=Poecilia wingei -2,top_up=half"])
def test_text_of_a_plan_reads_back(text: str) -> None:
    assert plan_from(text_of(plan_from(text))) == plan_from(text)


@pytest.mark.parametrize("text", ["a:hliday=1", "a:feed=-1", "a:lid=ajar", "a:stock=Lemna minor 3",
                                  ":feed=50", "a:feed=nan"])
def test_what_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        plan_from(text)


@pytest.mark.parametrize("plan", [Plan("x", top_up="lake"), Plan("x", soil=("moon dust", 1.0)),
                                  Plan("x", swap=("Pistia stratiotes", "Lemna minor"))])
def test_what_cannot_be_done_here_is_refused(plan: Plan) -> None:
    with pytest.raises(InputError):
        tried(belief(), plan, 5, 8)


def test_the_chosen_plan_keeps_the_steps() -> None:
    b = belief()
    week = best_week(b)
    plan = plan_from("x:" + week["plan"].split(":", 1)[1])
    now, chosen = (tried(b, p, 28, 24) for p in (AS_NOW, plan))
    for quantity, (cap, share) in STEPS.items():
        fastest = [_fastest(t.ahead.values(quantity), share) for t in (now, chosen)]
        assert fastest[1] <= cap or fastest[1] <= fastest[0] * 1.05
    assert AS_NOW in candidates(b, habits_of(b.case, b.at))
