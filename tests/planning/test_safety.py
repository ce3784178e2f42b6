"""No advice may hurt, whatever is believed: steps, stored ammonia, copper, drugs, emergencies.

Tanks are drawn at random far beyond what is usual. Every amount is checked by a sum of its own:
two waters mix in proportion, and the pH of a mix follows from bicarbonate and CO2 (pK 6.35).
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from pleuston.planning.acts import Act
from pleuston.planning.acts_safety import copper as copper_acts
from pleuston.planning.fit import within
from pleuston.planning.plan import Plan
from pleuston.planning.policy import ammonia_stored, safe_waters
from pleuston.planning.sources import Source
from pleuston.planning.steps import pure_water
from pleuston.planning.tank_round import acts_of
from pleuston.planning.view import View, state_of_tank

from .fakes import DH, DRAWN, Drawn, fake_view
from .rack import entry

EC_CAP, PH_CAP, HARDNESS_CAP = 0.10, 0.30, 1.0
"""Common practice: a tenth of the conductivity, 0.3 pH, a degree of hardness in a day."""
ROUGH = 0.12
"""pH by which the sum with two species only may differ from the whole one."""
NO_BUFFER = 1e-3
"""Carbonate hardness [dH] that counts as none."""
ACID = 7.8
"""pH up to which carbonate counts for little beside the two."""
WATERS = st.sampled_from(["soft", "hard", "half"])
quickly = settings(max_examples=40, deadline=None, phases=[Phase.explicit, Phase.generate],
                   suppress_health_check=[HealthCheck.too_slow])  # fmt: skip
DRUGS = ("antibiotic", "formalin", "malachite", "methylene", "praziquantel", "levamisole",
         "metronidazole", "medicine", "remedy", "copper sulfate", "fenbendazole")  # fmt: skip
SKIPS = re.compile(
    r"(skip|leave out|put off|do without|needs? no|avoid|never do) (an? |the )?(emergency )?water "
    r"change|no water change|do not change (any )?water", re.IGNORECASE)  # fmt: skip
SALTS = {"potassium sulfate"}


def advice(drawn: Drawn, water: str) -> tuple[View, list[Act]]:
    """The acts of a tank that was drawn."""
    view = fake_view(drawn, water)
    return view, acts_of(view, state_of_tank(view)[0])


def named(view: View, name: str) -> Source:
    """The water that an act names."""
    return next(w for w in (*view.waters, pure_water()) if w.name == name)


def plain_ph(alkalinity: float, carbon: float) -> float:
    """pH of a water by bicarbonate and CO2 alone: meq/L and mg/L of C."""
    bicarbonate = alkalinity * 12.011
    return 6.35 + float(np.log10(bicarbonate / max(carbon - bicarbonate, 1e-9)))


def middle(view: View, state: str) -> float:
    """Middle of a store's concentration."""
    return float(np.median(view.state_now(state) / view.state_now("water")))


def steps(view: View, act: Act) -> dict[str, float]:
    """What putting the act's litres of its water in does to the tank's middle, by mixing."""
    assert act.amount is not None
    source, share = named(view, act.what), act.amount / view.tank.net_l
    ec = view.middle("ec25")
    kh, gh = view.middle("kh"), view.middle("gh")
    held, carbon = middle(view, "alkalinity"), middle(view, "carbon_inorganic")
    mixed = [(1.0 - share) * a + share * source.per_litre[b] for a, b in (
        (held, "alkalinity"), (carbon, "carbon_inorganic"))]  # fmt: skip
    moved = {
        "share": share, "ec": share * (source.ec25 - ec) / ec,
        "kh": share * (source.kh_dh - kh), "gh": share * (source.gh_dh - gh),
    }  # fmt: skip
    if kh > NO_BUFFER or source.kh_dh > NO_BUFFER:
        now = max(kh, NO_BUFFER)
        moved["ph later"] = float(np.log10(((1.0 - share) * now + share * source.kh_dh) / now))
    buffered = held > 0.1 and mixed[0] > 0.1
    if buffered and plain_ph(held, carbon) < ACID and plain_ph(*mixed) < ACID:
        moved["ph"] = plain_ph(*mixed) - plain_ph(held, carbon)
    return moved


SOFT_AND_SALTY = Drawn(
    0.001, 0.001, 70.0, 0.001, 6.5, 0.5, 16.0, 560.0, 7.0, 24.0, 0.7, 0.3, 0.02, 1, 1.0,
    plan=Plan("as now"),
)  # fmt: skip
"""Nitrate asks for a change, salts fit the hard water's, but a KH step lifts the pH by half."""


SOFTER_THAN_BELIEVED = Drawn(
    0.0425, 2.2255, 1.0, 0.00327, 7.6294, 1.3815, 1.0955, 120.55, 8.52, 28.14, 0.778, 0.565, 1e-9,
    700, 0.5537, plan=Plan("planned", cover=1.0, feed=0.75, top_up="half"),
)  # fmt: skip
"""Readings say less hardness than the members' own: the pH must not be told from a mixed pair."""


@quickly
@example(SOFT_AND_SALTY, "hard")
@example(SOFTER_THAN_BELIEVED, "hard")
@given(DRAWN, WATERS)
def test_no_act_moves_the_water_beyond_a_step(drawn: Drawn, water: str) -> None:
    view, acts = advice(drawn, water)
    for act in acts:
        if act.act in ("water_change", "top_up"):
            moved = steps(view, act)
            assert 0.0 < moved["share"] <= 0.5 + 1e-9
            assert abs(moved["ec"]) <= EC_CAP + 1e-6, (act.act, moved)
            assert abs(moved["kh"]) <= HARDNESS_CAP + 1e-6, (act.act, moved)
            assert abs(moved["gh"]) <= HARDNESS_CAP + 1e-6, (act.act, moved)
            assert abs(moved.get("ph later", 0.0)) <= PH_CAP + 1e-6, (act.act, moved)
            assert abs(moved.get("ph", 0.0)) <= PH_CAP + ROUGH, (act.act, moved)
        if act.act == "water_change":
            assert "Match temperature within 2 degrees" in act.reason
        if act.act == "dose":
            assert act.amount is not None
            potassium = act.amount / view.tank.net_l * 2.0 / 174.26
            added = potassium * (73.5 + 80.0)
            assert added <= EC_CAP * view.middle("ec25") * 1.01


@quickly
@given(DRAWN, WATERS)
def test_the_ph_is_never_raised_while_ammonia_is_stored(drawn: Drawn, water: str) -> None:
    view, acts = advice(drawn, water)
    if not view.ammonia_stored:
        return
    for act in acts:
        if act.act in ("water_change", "top_up"):
            moved = steps(view, act)
            assert moved.get("ph later", 0.0) <= 1e-9, (act.act, act.what, moved)
            assert moved.get("ph", 0.0) <= ROUGH, (act.act, act.what, moved)
        if act.act == "change_top_up":
            assert named(view, act.what).kh_dh <= view.middle("kh")
        if act.act == "dose":
            assert act.what in SALTS
        assert not re.search(r"\b(lime|bicarbonate|crushed coral|chalk)\b", act.reason)
    if ammonia_stored(view.belief):
        for name in safe_waters(view.belief, view.ahead.habits):
            assert named(view, name).per_litre["alkalinity"] <= middle(view, "alkalinity") + 1e-9


@quickly
@given(DRAWN, WATERS)
def test_poison_that_is_likely_is_always_diluted(drawn: Drawn, water: str) -> None:
    view, acts = advice(drawn, water)
    likely = max(
        (view.chance(view.limit(q, "high", s), 7) for q in
         ("ammonia_nh3", "ammonium", "nitrite", "nitrate") for s in ("act", "danger")),
        default=0.0,
    )  # fmt: skip
    changes = [a for a in acts if a.act == "water_change"]
    if likely >= 0.5:
        assert changes
        assert changes[0].safety
        assert "If animals suffer, change water at once" in changes[0].reason
    for act in acts:
        assert not SKIPS.search(f"{act.reason} {act.if_skipped} {act.would_change}")


@quickly
@given(DRAWN, WATERS)
def test_no_drug_is_ever_advised(drawn: Drawn, water: str) -> None:
    _, acts = advice(drawn, water)
    for act in acts:
        told = f"{act.act} {act.what} {act.reason} {act.would_change}".lower()
        assert not any(drug in told for drug in DRUGS), told
        assert act.act != "dose" or act.what in SALTS


@quickly
@given(DRAWN, WATERS, st.sampled_from([0.02, 0.05, 0.1, 0.25]))
def test_a_kit_that_shows_nothing_clears_no_copper(
    drawn: Drawn, water: str, step: float
) -> None:
    """With a reading below the first step the same is said of copper as without it."""
    read = entry(33.0, "reading", "copper", None, high=step, unit="mg/L")
    acts = copper_acts(fake_view(drawn, water))
    after = copper_acts(fake_view(replace(drawn, entries=(read,)), water))
    assert [(a.act, a.what) for a in after] == [(a.act, a.what) for a in acts]
    danger = fake_view(drawn, water)
    if danger.chance(danger.limit("copper", "high", "act"), 7) >= 0.5:
        assert any("A kit that shows nothing does not clear it" in a.reason for a in after)
    for act in acts_of(fake_view(replace(drawn, entries=(read,)), water), "watch"):
        assert not re.search(r"copper[- ](safe|free)|free of copper|is safe", act.reason.lower())


@quickly
@given(DRAWN, WATERS)
def test_what_is_taken_out_and_fed_stays_within_what_there_is(drawn: Drawn, water: str) -> None:
    view, acts = advice(drawn, water)
    table = view.belief.case.table
    for act in acts:
        if act.act == "thin":
            slot = view.belief.case.plants.slots[act.what]
            dry = view.belief.parameters[:, table.at("parameter", f"{slot}_dry_share")]
            grown = float(np.median(view.state_now(f"{slot}_carbon") / 378.0 / dry))
            assert 0.0 < float(act.amount or 0.0) < 1.05 * grown
        if act.act == "feed_less":
            assert 0.0 <= float(act.amount or 0.0) < view.ahead.habits.feed_per_day
        assert act.binds.strip(), act
        assert act.would_change.strip(), act


ACTS = st.fixed_dictionaries({
    "act": st.sampled_from(["thin", "test", "top_up", "water_change", "check_source"]),
    "what": st.sampled_from(["x", "y"]), "minutes": st.floats(0.0, 8.0),
    "safety": st.booleans(), "worth": st.one_of(st.none(), st.floats(0.0, 9.0)),
    "if_skipped": st.just("it waits"), "carried_over": st.integers(0, 3),
})  # fmt: skip
TANKS = st.lists(
    st.fixed_dictionaries({
        "tank": st.text(min_size=1, max_size=3), "minutes": st.floats(0.0, 30.0),
        "state": st.sampled_from(["well", "watch", "act", "danger"]),
        "acts": st.lists(ACTS, max_size=4),
    }), max_size=6, unique_by=lambda t: t["tank"],
)  # fmt: skip


@settings(max_examples=100, deadline=None)
@given(TANKS, st.floats(0.0, 40.0))
def test_minutes_never_leave_out_what_guards_animals(
    tanks: list[dict[str, Any]], minutes: float
) -> None:
    kept, left = within(tanks, minutes)
    assert not any(act["safety"] for act in left)
    for tank, was in zip(kept, tanks, strict=True):
        guards = [a for a in was["acts"] if a["safety"]]
        assert len([a for a in tank["acts"] if a["safety"]]) == len(guards)
        assert len(tank["acts"]) + sum(a["tank"] == was["tank"] for a in left) == len(was["acts"])
    spent = 0.2 * len(tanks) + sum(a["minutes"] for t in kept for a in t["acts"])
    only_safe = all(a["safety"] or a["minutes"] < 1e-8 for t in kept for a in t["acts"])
    assert spent <= minutes + 1e-6 or only_safe


def test_the_checks_themselves_can_fail() -> None:
    """A hard water put in whole would be caught by every sum above."""
    drawn = Drawn(2.0, 0.01, 1.0, 0.001, 7.0, 3.0, 5.0, 300.0, 7.0, 24.0, 0.99, 0.3, 0.1, 1, 1.0,
                  plan=Plan("as now"))  # fmt: skip
    view = fake_view(drawn, "hard")
    assert view.ammonia_stored
    bad = Act("water_change", "hard", 0.5 * view.tank.net_l, "L", "", "good", "")
    moved = steps(view, bad)
    assert moved["ec"] > EC_CAP
    assert moved["kh"] > HARDNESS_CAP
    assert moved["ph later"] > PH_CAP
    assert moved["kh"] == pytest.approx(0.5 * (12.0 - view.middle("kh")), rel=1e-6)
    assert middle(view, "alkalinity") * DH == pytest.approx(3.0, rel=1e-6)
    assert SKIPS.search("Leave out the water change")
