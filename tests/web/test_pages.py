"""Pages that show answers: list, round, tank, outlook, ledger, and what they refuse."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from pleuston.services.catalogue import rack_settings
from pleuston.services.entries import entries_of_tank

from .answers import give_answers
from .clients import Client, client_on
from .racks import HOSTILE


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    give_answers(made.db)
    yield made
    made.db.close()


def test_the_list_says_state_reason_and_next_act(client: Client) -> None:
    page = client.get("/").text
    line = page[page.index('href="/t/Alder"') : page.index('href="/t/Birch"')]
    assert "Act" in line
    assert "Too little oxygen at dawn" in line
    assert "Thin Lemna minor by 12 g" in line
    assert "and 2 more" in line
    assert "Not worked out yet" in page[page.index('href="/t/Birch"') :]
    worst = client.get("/?order=worst").text
    assert worst.index('href="/t/Alder"') < worst.index('href="/t/Birch"')
    assert client.get("/?order=best").status_code == 422


def test_hostile_names_are_text(client: Client) -> None:
    page = client.get("/").text
    assert "<img src=x" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page
    links = re.findall(r'href="(/t/[^"]+)"', page)
    answers = [client.get(link) for link in links]
    assert [a.status_code for a in answers] == [200] * 3
    assert "<img src=x" not in answers[2].text


def tick(**more: str) -> dict[str, str]:
    return {"tank": "Alder", "act": "thin", "what": "Lemna minor", "amount": "11",
            "entry_id": str(uuid4()), "choice": "done", **more}  # fmt: skip


def test_a_tick_is_an_entry_made_once(client: Client) -> None:
    before = len(entries_of_tank(client.db, "Alder"))
    form = tick()
    for _ in range(2):
        assert client.submit("/round/tick", **form).status_code == 303
    made = entries_of_tank(client.db, "Alder")
    assert len(made) == before + 1
    assert (made[0].kind, made[0].what, made[0].low, made[0].unit, made[0].method) == (
        "harvest", "Lemna minor", 11.0, "g", "round",
    )  # fmt: skip
    page = client.get("/round").text
    assert page.count('class="act-line ticked"') == 1
    assert "2 acts left" in page


def test_what_is_left_out_is_noted_too(client: Client) -> None:
    assert client.submit("/round/tick", **tick(choice="skip")).status_code == 303
    assert entries_of_tank(client.db, "Alder")[0].note == "left out: thin Lemna minor"
    assert "left out" in client.get("/round").text


def test_the_round_fits_the_minutes_that_are_typed(client: Client) -> None:
    """A look at three tanks and the guarded thinning stay; the test of three minutes is left."""
    page = client.get("/round?minutes=2").text
    assert "of your 2 minutes" in page
    left = page.split("Left for next week")[1]
    assert "Test oxygen" in left
    assert "It stays unknown." in left
    assert "Left for next week" not in client.get("/round?minutes=9").text
    assert "of your 10 minutes" in client.get("/round?minutes=many").text


def test_paper_fits_the_same_minutes_as_the_page(client: Client) -> None:
    assert 'href="/paper/round.pdf?minutes=2"' in client.get("/round?minutes=2").text
    sheet = client.get("/paper/round.html?minutes=2").text
    left = sheet.split('<h2 class="rule">Left for next week</h2>')[1]
    assert "Test oxygen." in left
    assert "If skipped: It stays unknown." in left
    assert "next week" not in client.get("/paper/round.html?minutes=9").text
    assert "next week" not in client.get("/paper/round.html").text
    assert client.get("/paper/round.html?minutes=-1").status_code == 422


def test_what_waits_what_binds_and_what_to_test_are_shown(client: Client) -> None:
    page = client.get("/round").text
    assert "waits 2 weeks" in page
    assert "Then 6 g, now 12 g." in page
    assert "It would change with a reading at dawn." in page
    worth = page.split("Tests that tell most")[1]
    assert "above 0.15 mg/L (20 %) would mean: 50 % of the usual food" in worth
    assert "No test would change" in client.get("/round?minutes=1").text


def test_the_round_and_its_tests_as_data(client: Client) -> None:
    made = client.get("/api/v1/round?minutes=2").json()
    assert made["minutes_given"] == 2.0
    assert [(a["tank"], a["act"]) for a in made["left"]] == [("Alder", "test")]
    due = client.get("/api/v1/tests?minutes=5").json()
    assert [(t["tank"], t["what"]) for t in due["tests"]] == [("Alder", "nitrite")]
    assert client.get("/api/v1/tests?minutes=0").json()["tests"] == []
    assert client.get("/api/v1/tests?minutes=-1").status_code == 422


def test_the_rack_s_own_minutes_count_where_none_are_typed(client: Client) -> None:
    before = {t["tank"]: t["why_stale"] for t in client.get("/api/v1/round").json()["tanks"]}
    settings = {**rack_settings(client.db), "round_minutes": "2"}
    assert client.submit("/settings/rack", **settings).status_code == 303
    made = client.get("/api/v1/round").json()
    assert made["minutes_given"] == 2.0
    assert {t["tank"]: t["why_stale"] for t in made["tanks"]} == before
    assert before["Alder"] == ""
    assert "of your 2 minutes" in client.get("/round").text


def test_a_new_top_up_water_is_a_setting(client: Client) -> None:
    form = tick(act="change_top_up", what="half rain", amount="")
    assert client.submit("/round/tick", **{k: v for k, v in form.items() if k != "amount"})
    made = entries_of_tank(client.db, "Alder")[0]
    assert (made.kind, made.what, made.note) == ("setting", "top_up_water", "half rain")


def test_a_tick_that_can_t_be_is_refused_and_nothing_noted(client: Client) -> None:
    before = len(entries_of_tank(client.db, "Alder"))
    assert client.submit("/round/tick", **tick(amount="-3")).status_code == 422
    assert client.submit("/round/tick", **tick(tank="Nowhere")).status_code == 422
    assert client.submit("/round/tick", **tick(what="Lemna minorr")).status_code == 422
    assert len(entries_of_tank(client.db, "Alder")) == before


def test_a_tank_shows_ranges_what_they_rest_on_and_what_to_do(client: Client) -> None:
    page = client.get("/t/Alder").text
    assert "Nitrate (as NO₃)" in page
    assert "Nitrate (as N)" not in page
    assert "4 to 6 mg/L" in page
    assert "Nitrate ion 3 to 7.5 mg/L, 9 days ago; a reading would narrow" in page
    assert "Bin surplus plants." in page
    assert "12 <i>Neocaridina davidi</i>" in page
    assert "Nothing is worked out for this tank yet" in client.get("/t/Birch").text
    assert client.get("/t/Nowhere").status_code == 404


def test_an_outlook_says_in_words_what_it_draws(client: Client) -> None:
    page = client.get("/t/Alder/outlook").text
    assert "Oxygen at dawn is 4 to 6 mg/L at first and stays about there" in page
    assert "Too little oxygen at dawn is 31 % likely within that time" in page
    assert "at the earliest on day 3" in page
    assert page.count("data-chart") == 6
    one = client.get("/t/Alder/outlook?quantity=nitrate_ion").text
    assert one.count("data-chart") == 1
    assert '"readings": [[' in one
    night = client.get("/t/Alder/outlook?span=night").text
    assert '"nights": [[' in night
    assert client.get("/t/Alder/outlook?quantity=gold").status_code == 404
    assert client.get("/t/Alder/outlook?span=year").status_code == 422
    assert "The outlook is not worked out yet" in client.get("/t/Birch/outlook").text


def test_a_ledger_and_its_period_beside_the_one_before(client: Client) -> None:
    page = client.get("/t/Alder/ledger").text
    assert "Soil gave up" in page
    assert "-4 to 4 mg" in page
    both = client.get("/t/Alder/ledger?element=N&since=2026-04-01&until=2026-04-28").text
    assert '<th class="number">Before</th>' in both
    other = "/t/Alder/ledger?element=N&since=2026-02-01&until=2026-02-07"
    assert "not both worked out" in client.get(other).text
    sent = client.submit("/t/Alder/ledger", element="N", since="2026-02-01", until="2026-02-07")
    assert sent.status_code == 303
    assert client.get("/api/v1/jobs").json()[0]["kind"].startswith("ledger:N:2026")
    assert client.get("/t/Alder/ledger?element=Au").status_code == 404
    assert client.get("/t/Alder/ledger?since=soon&until=later").status_code == 422


def test_units_are_the_reader_s_own(client: Client) -> None:
    assert client.submit("/settings/units", temperature="degF", volume="US gal").status_code == 303
    page = client.get("/t/Alder").text
    assert "°F" in page
    assert "6.34 US gal" in page


@pytest.mark.parametrize(
    "path",
    ["/more", "/where", "/where?name=oxidise_ammonium", "/help-now", "/paper", "/take-in",
     "/give-out", "/changes", "/settings", "/people", "/backups", "/api", "/stores/waters",
     "/stores/feeds", "/stores/soils", "/stores/blends", "/stores/species", "/tanks/new",
     "/t/Alder/setup", "/t/Alder/photos", "/t/Alder/cover", "/log", "/sign-in"],
)  # fmt: skip
def test_every_other_page_opens(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert answer.text.count("<h1>") == 1


def test_pages_that_are_not_there_say_so_in_words(client: Client) -> None:
    for path in ("/nowhere", "/stores/gold", f"/t/{'x' * 300}", "/where?name=oxidise_gold"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "Nothing was changed" in answer.text
    assert HOSTILE not in client.get("/nowhere").text


def test_why_names_causes_in_words_and_as_data(client: Client) -> None:
    page = client.get("/t/Alder/why")
    assert page.status_code == 200
    assert "Nothing is wrong" in page.text
    assert "Disease is a vet" in page.text
    causes = client.get("/api/v1/tanks/Alder/why").json()["causes"]
    assert sum(cause["probability"] for cause in causes) == pytest.approx(1.0)
    assert {"nothing_wrong", "unknown", "copper_source"} <= {cause["cause"] for cause in causes}
    assert client.get("/t/Nowhere/why").status_code == 404
    assert client.get("/api/v1/tanks/Nowhere/why").status_code == 404
