"""The page and the data of a what-if: asked for, shown, refused, made the plan."""

from __future__ import annotations

from pathlib import Path

from tests.web.clients import client_on


def test_a_plan_is_asked_for_and_the_page_reads_without_script(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        assert c.get("/t/Alder/what-if").status_code == 200
        sent = c.submit("/t/Alder/what-if", name1="away", holiday1="14", days="30")
        assert sent.status_code == 303
        assert "holiday" in sent.headers["location"]
        assert "not compared yet" in c.get(sent.headers["location"]).text
        jobs = c.get("/api/v1/jobs").json()
        assert [j["kind"] for j in jobs] == ["what-if:30:away:holiday=14"]
        c.db.close()


def test_refusals_keep_what_was_typed(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        wrong = c.submit("/t/Alder/what-if", name1="x", feed1="much", days="30")
        assert wrong.status_code == 422
        assert 'value="much"' in wrong.text
        assert c.submit("/t/Alder/what-if", days="30").status_code == 422
        assert c.get("/t/Alder/what-if?plan=a:zzz=1").status_code in (400, 404, 422)
        assert c.get("/t/Nowhere/what-if").status_code == 404
        c.db.close()


def test_api_gives_a_job_then_refuses_what_is_no_plan(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        at = "/api/v1/tanks/Alder/what-if"
        asked = c.post(at, json={"plans": [{"name": "a", "changes": {"cover": "25"}}]})
        assert asked.status_code == 202
        assert asked.json()["job"]
        assert asked.json()["kept"] is None
        assert c.post(at, json={"plans": []}).status_code == 422
        c.db.close()


def test_made_the_plan_it_is_noted_as_settings(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        text = "calm:cover=25,light=7,lid=open,flow=gentle,top_up=hard tap"
        made = c.submit("/t/Alder/what-if/plan", plan=text)
        assert made.status_code == 303
        rows = c.get("/api/v1/entries?tank=Alder&limit=6").json()
        assert {r["what"] for r in rows if r["kind"] == "setting"} == {
            "cover_target_pct", "light_hours", "lid", "flow", "top_up_water"}
        assert any(r["kind"] == "note" for r in rows)
        c.db.close()
