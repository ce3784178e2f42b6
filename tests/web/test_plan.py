"""The planners' pages and data: listed, asked, answered, refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.web.answers import give_answers
from tests.web.clients import client_on
from tests.web.racks import HOSTILE, NOW, TANKS

from pleuston.base.errors import InputError
from pleuston.inference.tank import learn_tank
from pleuston.services.model_stamp import model_now
from pleuston.services.plan_kinds import PLANNERS
from pleuston.services.planners import answer_plan
from pleuston.store.beliefs import MadeFrom, put_answers
from pleuston.store.record_hash import record_hash
from pleuston.store.whole import record_of
from pleuston.web import plan_form
from pleuston.web.render import tank_url
from pleuston.web.words import Units

WATER = {"ec25": "400", "kh": "6", "gh": "8", "ph": "7.4", "temperature": "24", "ammonium": "0"}


def test_the_planners_are_listed_for_the_rack_and_for_a_tank(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        for address in ("/plan", "/t/Alder/plan", tank_url(HOSTILE, "plan")):
            text = c.get(address).text
            assert all(p.title in text and p.line in text for p in PLANNERS.values())
        assert "/plan/stocking?tank=Alder" in c.get("/t/Alder/plan").text
        assert 'href="/plan"' in c.get("/more").text
        assert tank_url("Alder", "plan") in c.get("/t/Alder").text
        assert c.get("/t/Nowhere/plan").status_code == 404
        assert c.get("/plan/nothing").status_code == 404
        for name in PLANNERS:
            page = c.get(f"/plan/{name}?tank=Alder")
            assert page.status_code == 200
            assert page.text.count("<h1>") == 1
        c.db.close()


def test_a_correction_answers_at_once_and_the_address_tells_it_again(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        sent = c.submit("/plan/dilute", tank="Alder", quantity="nitrate", now="40", limit="20",
                        water="half rain", **WATER)  # fmt: skip
        assert sent.status_code == 303
        page = c.get(sent.headers["location"])
        assert page.status_code == 200
        assert "Never start a siphon by mouth" in page.text
        assert 'value="40"' in page.text
        c.db.close()


def test_an_emergency_stands_first(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        sent = c.submit("/plan/dilute", tank="Alder", quantity="ammonium", now="0.1",
                        gasping="yes", **{**WATER, "ammonium": "0.1"})  # fmt: skip
        text = c.get(sent.headers["location"]).text
        assert "Act now" in text
        assert "does not wait" in text
        high = {**WATER, "ammonium": "6", "ph": "8.4"}
        asked = {"tank": "Alder", "values": {"quantity": "nitrite", "now": "0.01", **high}}
        made = c.post("/api/v1/plan/dilute", json=asked).json()["answer"]
        assert made["emergency"]
        assert "Poisonous ammonia may stand at" in made["steps"][0]["lines"][0]
        calm = {**asked, "values": {**asked["values"], "ammonium": "0"}}  # type: ignore[dict-item]
        assert not c.post("/api/v1/plan/dilute", json=calm).json()["answer"]["emergency"]
        c.db.close()


def test_the_mix_takes_degrees_as_the_reader_writes_them() -> None:
    units = Units({"equivalents": "mg/L CaCO3", "volume": "US gal", "temperature": "degF"})
    typed = {"to_gh": "107.1", "amount": "1", "waters": "hard tap"}
    found = plan_form.canonical(PLANNERS["mix"], typed, units)
    assert float(found["to_gh"]) == pytest.approx(6.0, abs=0.01)
    assert float(found["amount"]) == pytest.approx(3.785, abs=0.001)
    assert found["waters"] == "hard tap"
    warm = plan_form.canonical(PLANNERS["dilute"], {"temperature": "75.2"}, units)
    assert float(warm["temperature"]) == pytest.approx(24.0)
    assert plan_form.shown(PLANNERS["dilute"], warm, units) == {"temperature": "75.2"}
    assert plan_form.cell({"value": 10.0, "unit": "L"}, units) == "2.64 US gal"
    with pytest.raises(InputError):
        plan_form.canonical(PLANNERS["mix"], {"to_gh": "much"}, units)


def test_a_mix_of_several_waters_is_answered_at_once(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        sent = c.post("/plan/mix", data={
            "token": c.token(), "waters": ["hard tap", "rain butt"], "to_gh": "6"})  # fmt: skip
        assert sent.status_code == 303
        assert "waters=hard+tap%2Frain+butt" in sent.headers["location"]
        page = c.get(sent.headers["location"])
        assert "For 10 L" in page.text
        assert page.text.count("checked") == 2
        c.db.close()


def test_what_needs_members_is_asked_of_a_background_process(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        data = {"token": c.token(), "tank": "Alder", "wish_species": ["Boraras brigittae", ""],
                "wish_number": ["8", ""]}  # fmt: skip
        sent = c.post("/plan/stocking", data=data)
        assert sent.status_code == 303
        assert "not worked out yet" in c.get(sent.headers["location"]).text
        kinds = [j["kind"] for j in c.get("/api/v1/jobs").json()]
        assert kinds == ["plan:stocking:wish=Boraras+brigittae+8"]
        c.db.close()


REFUSED: tuple[tuple[str, dict[str, str]], ...] = (
    ("stocking", {"tank": "Alder"}),
    ("stocking", {"tank": "", "wish_species": "Betta splendens", "wish_number": "1"}),
    ("stocking", {"tank": "Alder", "wish_species": "Lemna minor", "wish_number": "1"}),
    ("stocking", {"tank": "Alder", "wish_species": "Betta splendens", "wish_number": "many"}),
    ("mix", {"tank": ""}),
    ("mix", {"tank": "", "waters": "lake", "to_gh": "6"}),
    ("mix", {"tank": "", "to_gh": "a lot"}),
    ("dilute", {"tank": "Alder", "quantity": "nitrate", "now": "40"}),
    ("dilute", {"tank": "Alder", "quantity": "chloride", "limit": "5", **WATER}),
    ("dilute", {"tank": "Alder", "quantity": "sodium", "now": "50", **WATER}),
    ("dose", {"tank": "Alder", **WATER}),
    ("dose", {"tank": "Alder", "rise": "3", "quantity": "kh", **WATER}),
    ("dose", {"tank": "Alder", "rise": "3", "quantity": "kh", "substance": "sodium bicarbonate",
              **WATER, "ammonium": "1"}),
    ("start-up", {"tank": "", "length": "60"}),
    ("start-up", {"tank": "", "length": "60", "width": "30", "depth": "6", "soil_depth": "80"}),
    ("add-back", {"tank": "Alder", "days": "3"}),
    ("add-back", {"tank": "Alder", "weighings": "5 9 5"}),
    ("add-back", {"tank": "Nowhere", "element": "iron"}),
)  # fmt: skip


def test_refusals_keep_what_was_typed(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        token = c.token()
        for name, fields in REFUSED:
            wrong = c.post(f"/plan/{name}", data={"token": token, **fields})
            assert wrong.status_code == 422, (name, fields)
            assert 'role="alert"' in wrong.text
            for key in {"to_gh", "now", "rise", "length", "weighings"} & set(fields):
                assert f'name="{key}"' in wrong.text
                assert f'value="{fields[key]}"' in wrong.text
        c.db.close()


def test_a_tank_as_last_worked_out_fills_in_what_is_not_typed(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        give_answers(c.db)
        wrong = c.submit("/plan/dilute", tank="Alder", quantity="nitrate", limit="1")
        assert wrong.status_code == 422
        assert "ec25" in wrong.text
        rest = {k: v for k, v in WATER.items() if k != "temperature"}
        sent = c.submit("/plan/dilute", tank="Alder", quantity="nitrate", limit="1",
                        water="rain butt", **rest)  # fmt: skip
        assert sent.status_code == 303
        assert "in 80 of 100 cases" in c.get(sent.headers["location"]).text
        c.db.close()


def test_the_interface_answers_asks_and_refuses(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        listed = c.get("/api/v1/plan").json()
        assert [p["name"] for p in listed] == list(PLANNERS)
        made = c.post("/api/v1/plan/dose", json={"tank": "Alder", "values": {"rise": "5", **WATER}})
        assert made.status_code == 200
        assert made.json()["answer"]["milligrams"] == pytest.approx(24.0 * 5.0 / 0.448735, rel=1e-3)
        asked = c.post("/api/v1/plan/stocking", json={
            "tank": "Alder", "values": {"wish": "Betta splendens 1"}})  # fmt: skip
        assert asked.status_code == 202
        assert asked.json()["job"]
        for name, body in (
            ("dose", {"tank": "Alder", "values": {"rose": "5"}}), ("nothing", {}),
            ("dose", {"tank": "Nowhere", "values": {"rise": "5"}}),
            ("stocking", {"values": {"wish": "Betta splendens 1"}}),
        ):  # fmt: skip
            assert c.post(f"/api/v1/plan/{name}", json=body).status_code in (404, 422)
        c.db.close()


def test_the_hostile_tank_is_planned_for_as_any_other(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        sent = c.submit("/plan/dose", tank=HOSTILE, rise="5", **WATER)
        assert sent.status_code == 303
        text = c.get(sent.headers["location"]).text
        assert "<img src=x" not in text
        assert len(TANKS) == 3
        c.db.close()


def test_a_background_process_makes_the_answer_that_the_page_shows(tmp_path: Path) -> None:
    """The same belief and kind give the same answer by job, page and interface."""
    with client_on(tmp_path) as c:
        wish = {"tank": "Alder", "values": {"element": "potassium"}}
        job = c.post("/api/v1/plan/add-back", json=wish).json()["job"]
        row = c.get("/api/v1/jobs").json()[0]
        assert (row["job"], row["kind"]) == (job, "plan:add-back:")
        with c.db.read() as connection:
            record = record_of(connection, NOW)
        members = learn_tank(record, "Alder", NOW, members=16, threads=1, from_prior=True)
        made = answer_plan(members, row["kind"], 1)
        with c.db.write() as connection:
            origin = MadeFrom(NOW, model_now(), 1, record_hash(connection, "Alder"), "{}", NOW)
            put_answers(connection, "Alder", origin, [(row["kind"], made)])
        again = c.post("/api/v1/plan/add-back", json=wish)
        assert again.status_code == 200
        assert again.json()["answer"]["milligrams"] == pytest.approx(made["milligrams"])
        page = c.get("/plan/add-back?tank=Alder&element=potassium")
        assert "must not share water" in page.text
        c.db.close()
