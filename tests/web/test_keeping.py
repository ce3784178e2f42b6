"""The planners of keeping as pages and data: asked, answered from a belief, refused."""

from __future__ import annotations

from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from tests.planning.rack import belief, record
from tests.web.clients import client_on
from tests.web.racks import NOW

from pleuston.planning.hours import hours_ahead, night_data
from pleuston.planning.outlook import run_ahead
from pleuston.services.help_amounts import amounts_now
from pleuston.services.model_stamp import model_now
from pleuston.services.plan_ground import Ground
from pleuston.services.plan_kinds import PLANNERS, plan_kind
from pleuston.services.planners import answer_plan
from pleuston.services.state_now import state_now
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.record_hash import record_hash
from pleuston.store.whole import record_of

ASKED = (
    ("away", {"days": "10"}, "for 10 days"), ("feed-budget", {"most": "2"}, "a week"),
    ("soil-age", {"part": "25"}, "when new"),
    ("give-away", {"species": "Lemna minor"}, "Never release"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "values", "text"), ASKED)
def test_a_planner_is_asked_in_the_background_and_shown_when_it_is_there(
    tmp_path: Path, name: str, values: dict[str, str], text: str
) -> None:
    with client_on(tmp_path) as c:
        sent = c.submit(f"/plan/{name}", tank="Alder", **values)
        assert sent.status_code == 303
        assert "not worked out yet" in c.get(sent.headers["location"]).text
        kinds = [j["kind"] for j in c.get("/api/v1/jobs").json()]
        kind = plan_kind(PLANNERS[name], values)
        assert kinds == [kind]
        answer = answer_plan(belief(), kind, 1)
        with c.db.write() as connection:
            made = MadeFrom(NOW, model_now(), 1, record_hash(connection, "Alder"), "{}", NOW)
            put_answers(connection, "Alder", made, [(kind, answer)])
        page = c.get(sent.headers["location"])
        assert page.status_code == 200
        assert answer["headline"] in page.text.replace("&#39;", "'")
        assert text in page.text
        assert answer["steps"][0]["title"] in page.text
        assert all(line in page.text.replace("&#39;", "'") for line in answer["cautions"])
        told = c.post(f"/api/v1/plan/{name}", json={"tank": "Alder", "values": values}).json()
        assert told["answer"]["headline"] == answer["headline"]
        c.db.close()


def test_tracing_answers_at_once_over_the_whole_rack(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        day = (NOW - timedelta(days=20)).date().isoformat()
        names = [t["tank"] for t in c.get("/api/v1/tanks").json()]
        taker = next(n for n in names if n != "Alder")
        at = (NOW - timedelta(days=2)).isoformat()
        entry = {"kind": "plant_in", "what": "Lemna minor", "tank": taker, "low": 5.0, "high": 5.0,
                 "unit": "g", "at": at, "note": "from Alder"}  # fmt: skip
        assert c.post("/api/v1/entries", json={"entries": [entry]}).status_code < 300
        sent = c.submit("/plan/trace", tank="Alder", since=day)
        assert sent.status_code == 303
        text = c.get(sent.headers["location"]).text
        assert f"{taker} alone got something from Alder since {day}" in text
        c.db.close()


def test_help_now_gives_litres_and_surface_of_a_named_tank(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        assert "Amounts for" not in c.get("/help-now").text
        text = c.get("/help-now?tank=Alder").text
        assert "Amounts for Alder" in text
        with c.db.read() as connection:
            tank = record_of(connection).tank("Alder")
        assert f"{tank.net_l / 3:.1f} L" in text
        assert f"{tank.surface_m2 * 7500:.0f} cm" in text
        assert c.get("/help-now?tank=Nowhere").status_code == 404
        assert "/help-now?tank=Alder" in c.get("/t/Alder").text
        assert "the record alone counts" in text
        assert "is not known here" in text
        assert "Tonight was not forecast" in text
        c.db.close()


def test_help_now_takes_what_was_worked_out_on_page_and_as_data(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        here = belief()
        hours = hours_ahead(here)
        state, night = state_now(hours, run_ahead(here, 1)), night_data(hours, ())
        with c.db.write() as connection:
            made = MadeFrom(NOW, model_now(), 1, record_hash(connection, "Alder"), "{}", NOW)
            put_answers(connection, "Alder", made, [("now", state), ("night", night)])
        told = c.get("/api/v1/help-now/Alder?card=gasping").json()
        assert told["headline"] == "Gasping at the surface"
        names = [s["name"] for s in told["steps"]]
        assert names[0] == "card"
        assert {"change_now", "change_calm", "food", "air"} <= set(names)
        text = unescape(c.get("/help-now?tank=Alder").text)
        for one in (s for s in told["steps"] if s["name"] != "card"):
            assert one["title"] in text
            assert all(line in text for line in one["lines"])
        assert "the record alone counts" not in text
        assert c.get("/api/v1/help-now/Nowhere").status_code == 404
        assert c.get("/api/v1/help-now/Alder?card=sneezing").status_code == 404
        c.db.close()


def test_a_third_of_the_water_and_three_quarters_of_the_surface_by_hand() -> None:
    """30 L: 10 L; 0.1 m2: 750 cm2; 1 L at 5 C into 30 L at 27 C: 22 / 31 = 0.7 K."""
    ground = Ground(record(), "Fern", NOW, {"temperature": (26.0, 27.0, 28.0)})
    text = " ".join(" ".join([one["title"], *one["lines"]]) for one in amounts_now(ground))
    assert "10.0 L" in text
    assert "750 cm" in text
    assert "0.7" in text
    cool = Ground(record(), "Fern", NOW, {})
    assert "as warm as the tank" in str(amounts_now(cool))


def test_the_holiday_sheet_takes_what_was_planned(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        kind = plan_kind(PLANNERS["away"], {"days": "10", "neighbour": "yes"})
        answer = answer_plan(belief(), kind, 1)
        with c.db.write() as connection:
            made = MadeFrom(NOW, model_now(), 1, record_hash(connection, "Alder"), "{}", NOW)
            put_answers(connection, "Alder", made, [(kind, answer)])
        planned = f"Alder: thin to {answer['thin_to']} %"
        assert planned in c.get("/paper/holiday.html?days=10").text
        assert planned not in c.get("/paper/holiday.html?days=12").text
        c.db.close()


REFUSED: tuple[tuple[str, dict[str, str]], ...] = (
    ("away", {"tank": "", "days": "5"}), ("away", {"tank": "Alder", "days": "90"}),
    ("away", {"tank": "Alder", "days": "5", "most_cover": "5"}),
    ("feed-budget", {"tank": "Alder", "most": "50"}), ("soil-age", {"tank": "Alder", "part": "0"}),
    ("move-plants", {"tank": "Alder", "species": "Lemna minor"}),
    ("trace", {"tank": "Alder"}), ("trace", {"tank": "Alder", "since": "some day"}),
    ("trace", {"tank": "Alder", "since": "2090-01-01"}),
    ("give-away", {"tank": "Nowhere", "species": "Lemna minor"}),
)  # fmt: skip


def test_what_cannot_be_planned_is_refused_on_the_page(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        token = c.token()
        for name, fields in REFUSED:
            wrong = c.post(f"/plan/{name}", data={"token": token, **fields})
            assert wrong.status_code == 422, (name, fields)
            assert 'role="alert"' in wrong.text
        c.db.close()
