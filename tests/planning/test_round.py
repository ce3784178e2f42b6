"""The round: manners are hard rules, reasons carry numbers, doing nothing is allowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from typing import Any

import numpy as np
import pytest

from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, MINUTES, confidence
from pleuston.planning.acts_water import hardness, salts
from pleuston.planning.explain import drivers, said
from pleuston.planning.habits import habits_of
from pleuston.planning.limits import caps_for
from pleuston.planning.outlook import run_ahead
from pleuston.planning.round import round_data, round_of
from pleuston.planning.sources import share_to_dilute, share_within_step, sources
from pleuston.planning.steps import pure_water
from pleuston.planning.tank_round import acts_of, tank_round
from pleuston.planning.view import level_of, state_of_tank, view_of

from .rack import START, belief, entry

STATES = ("well", "watch", "act", "danger")
KNOWN = {
    "thin", "open_surface", "feed_less", "feed_more", "stop_feeding", "top_up", "change_top_up",
    "water_change", "dose", "test", "look", "remove_dead", "stir_surface", "light_more",
    "light_less", "lid", "cool", "flow_less", "flow_more", "add_plants", "no_new_animals",
    "move_animals", "check_source", "check_kit",
}  # fmt: skip


def spiked(amounts: dict[str, float], made: TankBelief | None = None) -> TankBelief:
    """The belief with stores of all members set [per litre of water]."""
    found = belief() if made is None else made
    table, end = found.case.table, found.end.copy()
    for state, per_litre in amounts.items():
        end[:, table.at("state", state)] = per_litre * end[:, table.at("state", "water")]
    return replace(found, end=end)


@cache
def told(**amounts: float) -> dict[str, Any]:
    """The part of the round of the tank with its stores set [per litre of water]."""
    return tank_round(view_of(spiked(amounts), threads=1))


def acts(part: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The acts of a tank by name; of several of a name the first."""
    found: dict[str, dict[str, Any]] = {}
    for act in part["acts"]:
        found.setdefault(act["act"], act)
    return found


def acts_in(made: TankBelief) -> dict[str, dict[str, Any]]:
    """The acts of a tank by what is believed of it."""
    return acts(tank_round(view_of(made, threads=1)))


def test_a_round_has_the_agreed_form() -> None:
    made = round_of([belief()], START + timedelta(days=34))
    assert set(made) >= {"at", "minutes", "tanks"}
    (tank,) = made["tanks"]
    assert tank["state"] in STATES
    for act in tank["acts"]:
        assert set(act) >= {"act", "what", "amount", "unit", "reason", "confidence", "if_skipped"}
        assert act["act"] in KNOWN
        assert act["confidence"] in ("low", "fair", "good")
        assert act["reason"].strip()
        assert act["if_skipped"].strip()


def test_worst_tank_first_and_minutes_summed() -> None:
    parts = [
        {"tank": n, "state": s, "minutes": 2.0, "acts": []}
        for n, s in (("A", "well"), ("B", "danger"), ("C", "watch"), ("D", "act"))
    ]
    made = round_data(parts, START)
    assert [t["tank"] for t in made["tanks"]] == ["B", "D", "C", "A"]
    assert made["minutes"] == 8.0


def test_ammonia_is_diluted_and_the_ph_is_left_alone() -> None:
    made = acts(told(ammonium=6.0))
    assert {"water_change", "stop_feeding", "test", "no_new_animals"} <= set(made)
    assert "feed_less" not in made
    assert "Do not raise the pH" in made["stop_feeding"]["reason"]
    assert "lime" not in str(made)
    assert "bicarbonate" not in str(made["water_change"])
    change = made["water_change"]
    assert change["unit"] == "L"
    assert 0.0 < change["amount"] <= 15.0
    assert "siphon" in change["caution"]


def test_a_water_change_never_moves_salts_beyond_the_step() -> None:
    made = spiked({"ammonium": 6.0})
    view = view_of(made, threads=1)
    change = acts(told(ammonium=6.0))["water_change"]
    water = next(w for w in view.waters if w.name == change["what"])
    share = change["amount"] / 30.0
    now = view.middle("ec25")
    step = abs(share * (water.ec25 - now)) / now
    assert step <= caps_for(["Neocaridina davidi", "Poecilia wingei"]).ec + 1e-6


def test_harder_water_is_never_advised_while_ammonia_is_stored() -> None:
    soft = {"alkalinity": 0.05, "calcium": 1.0, "magnesium": 0.2, "carbon_inorganic": 0.6}
    calm = hardness(view_of(spiked({**soft, "ammonium": 0.001}), threads=1))
    assert any(a.act == "change_top_up" and a.what in ("hard", "half") for a in calm)
    stored = view_of(spiked({**soft, "ammonium": 1.5}), threads=1)
    assert stored.ammonia_stored
    advice = acts_of(stored, "danger")
    raised = [a for a in advice if a.act == "change_top_up" or (a.act == "dose")]
    assert not raised
    assert any("poison" in a.reason for a in advice)
    for act in advice:
        if act.act == "water_change":
            brought = next((w for w in stored.waters if w.name == act.what), pure_water())
            assert brought.kh_dh <= stored.middle("kh")


def test_copper_is_looked_for_and_never_called_safe() -> None:
    made = acts(told(copper=0.05))
    assert "a kit that shows nothing does not clear it" in made["check_source"]["reason"].lower()
    below = (entry(33.0, "reading", "copper", None, high=0.05, unit="mg/L"),)
    text = str(tank_round(view_of(belief(extra=below), threads=1)))
    assert "copper-safe" not in text
    assert "free of copper" not in text


def test_salts_that_creep_ask_for_softer_top_up_water() -> None:
    made = belief(top_up_water="hard", lid="open")
    ahead = run_ahead(made, 28, replace(habits_of(made.case, made.at), top_up_water="hard"))
    view = replace(view_of(made, threads=1), ahead=ahead)
    (act,) = salts(view)
    assert (act.act, act.what) == ("change_top_up", "half")
    assert "hard brings" in act.reason
    soft = replace(habits_of(made.case, made.at), top_up_water="soft")
    assert salts(replace(view_of(made, threads=1), ahead=run_ahead(made, 28, soft))) == []


def test_gasping_is_danger_and_the_surface_comes_first() -> None:
    made = belief(extra=(entry(33.9, "seen", "gasping", 1.0),))
    view = view_of(made, threads=1)
    assert state_of_tank(view)[0] == "danger"
    assert [a.act for a in acts_of(view, "danger")][:2] == ["stir_surface", "open_surface"]


def test_the_dead_are_taken_out_and_none_added() -> None:
    made = acts_in(belief(extra=(entry(33.0, "death", "Neocaridina davidi", 3),)))
    assert {"remove_dead", "no_new_animals"} <= set(made)
    assert "3 died" in made["remove_dead"]["reason"]


def test_doing_nothing_is_an_answer() -> None:
    made = belief(extra=(entry(33.9, "harvest", "Lemna minor", 3.0),))
    table, end = made.case.table, made.end.copy()
    end[:, table.at("state", "water")] = 30.0
    view = view_of(replace(made, end=end), threads=1)
    assert acts_of(replace(view, limits=()), "well") == []
    brimming = tank_round(replace(view, limits=()))
    assert (brimming["state"], brimming["acts"]) == ("well", [])
    assert 0.0 < brimming["minutes"] <= 1.0


def test_nothing_is_promised_that_hurts() -> None:
    parts = told(), told(ammonium=6.0), told(copper=0.05), told(nitrite=2.0)
    texts = [str(part) for part in parts]
    for text in texts:
        for word in ("antibiotic", "formalin", "malachite", "guaranteed", "no water change"):
            assert word not in text.lower()


def test_a_closed_mat_is_thinned_to_a_cover_in_grams() -> None:
    found = belief()
    table, end = found.case.table, found.end.copy()
    for name in ("carbon", "nitrogen", "phosphorus", "potassium"):
        end[:, table.at("state", f"floater1_{name}")] *= 30.0
    made = acts_in(replace(found, end=end))
    assert made["thin"]["what"] == "Lemna minor"
    assert made["thin"]["unit"] == "g"
    assert made["thin"]["amount"] > 5.0
    assert "Leave " in made["thin"]["reason"]
    assert "nitrogen" in made["thin"]["reason"]
    assert "into ponds" in made["thin"]["caution"]


def test_drivers_are_rows_with_signs_and_words() -> None:
    view = view_of(belief(), threads=1)
    found = drivers(view.ahead, "oxygen_dawn")
    assert found
    assert any(d.per_day < 0.0 for d in found)
    text = said(found)
    assert "mg/d" in text
    assert "floater1" not in text
    assert drivers(view.ahead, "temperature") == []


def test_dilution_and_steps() -> None:
    assert share_to_dilute(2.0, 1.0, 0.5) == pytest.approx(2.0 / 3.0)
    assert share_to_dilute(2.0, 1.0, 1.5) == 1.0
    share = share_within_step(500.0, 50.0, 0.1)
    assert abs(share * (50.0 - 500.0)) / 500.0 == pytest.approx(0.1)


def test_waters_at_hand_are_known_by_their_ions() -> None:
    found = {w.name: w for w in sources(belief().case, belief().at)}
    assert set(found) == {"soft", "hard", "half"}
    assert found["half"].kh_dh == pytest.approx(6.5, abs=0.01)
    assert found["soft"].ec25 < found["half"].ec25 < found["hard"].ec25
    assert 450.0 < found["hard"].ec25 < 800.0
    assert "copper" in found["soft"].assumed
    assert "copper" not in found["hard"].assumed


def test_a_chance_raises_the_state_by_its_severity() -> None:
    levels = [[level_of(s, c) for c in (0.01, 0.1, 0.3, 0.9)] for s in ("watch", "act", "danger")]
    assert levels == [[0, 0, 0, 1], [0, 0, 1, 2], [0, 1, 2, 3]]
    assert [confidence(c) for c in (0.5, 0.75, 0.02)] == ["low", "fair", "good"]


def test_acts_that_can_hurt_carry_a_caution() -> None:
    assert {"water_change", "thin", "dose", "test", "remove_dead", "stir_surface"} <= set(CAUTIONS)
    assert set(MINUTES) <= KNOWN
    assert np.all([m >= 0.0 for m in MINUTES.values()])
