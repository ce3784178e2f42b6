"""The page of a tank's limits: set, ended and refused by a form without script."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

from tests.web.clients import Client, client_on
from tests.web.racks import HOSTILE, NOW
from tests.web.test_security import SECRET, signed_in

from pleuston.services import people
from pleuston.services.limits import limit_row
from pleuston.services.log import log_entries
from pleuston.services.who import Who
from pleuston.web.render import tank_url

WHY = "the shrimp breed <b>better</b> cooler"
COOL = {"what": "temperature", "side": "high", "amount": "25", "severity": "act", "reason": WHY}


def text_of(c: Client, address: str = "/t/Alder/limits") -> str:
    found = c.get(address)
    assert found.status_code == 200
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", found.text)).split())


def test_a_limit_is_set_shown_with_both_reasons_and_ended(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        before = text_of(c)
        assert "None is set" in before
        assert "at most 30 °C" in before
        sent = c.submit("/t/Alder/limits", **COOL)
        assert sent.status_code == 303
        page = c.get(sent.headers["location"]).text
        assert "<b>better" not in page
        shown = text_of(c)
        assert f"Your own limit: {WHY}, since 2026-05-04" in shown
        assert "the library's limit: at most 30 C" in shown.casefold().replace(" c ", " C ")
        assert "Holds." in shown
        assert [j["tank"] for j in c.get("/api/v1/jobs").json()] == ["Alder"]
        told = c.get("/api/v1/tanks/Alder/limits").json()
        (own,) = told["own"]
        assert (own["value"], own["reason"]) == (25.0, WHY)
        entries = text_of(c, "/t/Alder/entries")
        assert f"Own limit: water temperature at most 25 °C (act): {WHY}" in entries
        without = c.submit("/t/Alder/limits/end", id=own["id"], side="high", reason="-")
        assert without.status_code == 422
        assert "reason why the limit ends is missing" in without.text.casefold()
        ended = c.submit("/t/Alder/limits/end", id=own["id"], side="high", reason="autumn is here")
        assert ended.status_code == 303
        assert "None is set" in text_of(c)
        again = c.submit("/t/Alder/limits/end", id=own["id"], side="high", reason="autumn is here")
        assert again.status_code == 422
        assert "does not hold any more" in again.text
        c.db.close()


def test_a_tank_without_animals_has_only_its_keeper_s_limits(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        assert "No animals are here: only your own limits hold" in text_of(c, "/t/Birch/limits")
        nitrate = {**COOL, "what": "nitrate", "amount": "5"}
        assert c.submit("/t/Birch/limits", **nitrate).status_code == 303
        shown = text_of(c, "/t/Birch/limits")
        assert "the library has no such limit here" in shown.casefold()
        c.db.close()


def test_what_is_refused_comes_back_with_what_was_typed(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        looser = {**COOL, "severity": "danger", "amount": "40"}
        for fields, words in (
            ({**COOL, "reason": " "}, "reason why the limit is set is missing"),
            (looser, "may not be looser"), ({**COOL, "amount": "warm"}, "is not a number"),
            ({**COOL, "amount": ""}, "has no value"), ({**COOL, "what": ""}, "limit"),
            ({**COOL, "severity": "nice"}, "how bad"),
        ):
            sent = c.submit("/t/Alder/limits", **fields)
            assert sent.status_code == 422, fields
            assert words in unescape(sent.text)
            assert 'role="alert"' in sent.text
        again = c.submit("/t/Alder/limits", **looser).text
        assert 'value="40"' in again
        assert WHY in unescape(again)
        assert c.get("/api/v1/tanks/Alder/limits").json()["own"] == []
        c.db.close()


def test_a_keeper_of_fahrenheit_types_and_reads_fahrenheit(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        people.set_units(c.db, "", {"temperature": "degF"}, c.app.state.site.now())
        assert "at most 86 °F" in text_of(c)
        assert c.submit("/t/Alder/limits", **{**COOL, "amount": "77"}).status_code == 303
        (own,) = c.get("/api/v1/tanks/Alder/limits").json()["own"]
        assert (own["value"], own["unit"]) == (25.0, "C")
        assert "at most 77 °F" in text_of(c)
        c.db.close()


def test_the_whole_rack_and_a_species_and_a_strange_name(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        wide = {**COOL, "scope": "rack", "species": "Neocaridina davidi", "since": "2026-05-01"}
        assert c.submit(f"{tank_url(HOSTILE)}/limits", **wide).status_code == 303
        shown = text_of(c)
        assert "for the whole rack, Neocaridina davidi alone" in shown
        assert "Since 2026-05-01" in shown
        assert len(c.get("/api/v1/jobs").json()) == 3
        address = "what=temperature&amp;side=high&amp;severity=act#set"
        assert address in c.get("/t/Alder/limits").text
        form = c.get("/t/Alder/limits?what=temperature&side=high&severity=act").text
        assert '<option value="temperature" selected>' in form
        assert "/t/Alder/limits" in c.get("/t/Alder").text
        assert c.get("/t/Nowhere/limits").status_code == 404
        c.db.close()


def test_the_interface_takes_a_limit_as_an_entry_and_refuses_it_likewise(tmp_path: Path) -> None:
    with client_on(tmp_path) as c:
        entry = {"tank": "Alder", "kind": "limit", "what": "temperature", "high": 25.0,
                 "unit": "C", "method": "act", "note": "they breed better"}  # fmt: skip
        assert c.post("/api/v1/entries", json={"entries": [entry]}).status_code == 201
        looser = {**entry, "high": 40.0}
        refused = c.post("/api/v1/entries", json={"entries": [looser]})
        assert refused.status_code == 422
        assert "may not be looser" in refused.text
        c.db.close()


def test_a_helper_reads_the_limits_and_finds_no_form(tmp_path: Path) -> None:
    with client_on(tmp_path, lan=True) as c:
        for name, role in (("Kim", "keeper"), ("Lee", "helper")):
            people.add_person(c.db, name, role, SECRET, Who("Kim", "", "keeper"), NOW)
        log_entries(c.db, [limit_row("Alder", "temperature", "act", "they breed better",
                                     at_most=25.0)], Who("Kim"), NOW)  # fmt: skip
        signed_in(c, "Lee")
        page = c.get("/t/Alder/limits")
        assert "they breed better" in page.text
        assert "Set it" not in page.text
        assert "End this limit" not in page.text
        assert c.submit("/t/Alder/limits", **COOL).status_code == 403
        c.db.close()
