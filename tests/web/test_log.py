"""The quick log without script: what a form notes, what it refuses, who may."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote, urlsplit

import pytest

from pleuston.records.record import Tank
from pleuston.services.entries import entries_of_tank
from pleuston.services.jobs import list_jobs
from pleuston.services.people import add_person, set_units
from pleuston.services.who import Who
from pleuston.store.catalogue import add_items, zone_of
from pleuston.web.log_pages import SCREENS

from .clients import Client, client_on
from .racks import HOSTILE, NOW

UUID = "11111111-1111-4111-8111-{:012d}"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


@pytest.fixture(scope="module")
def looking(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """A client for tests that change nothing."""
    made = client_on(tmp_path_factory.mktemp("rack"))
    yield made
    made.db.close()


def noted(client: Client, kind: str, tank: str = "Alder") -> list[tuple[object, ...]]:
    found = entries_of_tank(client.db, tank, kind=kind)
    return [(e.what, e.low, e.high, e.unit, e.method, e.note) for e in found]


def test_tanks_stand_in_walking_order(looking: Client) -> None:
    page = looking.get("/log").text
    assert page.index("Alder") < page.index("Birch") < page.index("&lt;img src=x")
    assert "<img src=x" not in page


@pytest.mark.parametrize("kind", ["", *SCREENS])
@pytest.mark.parametrize("tank", ["Alder", "Birch", HOSTILE])
def test_every_screen_of_every_tank(looking: Client, tank: str, kind: str) -> None:
    answer = looking.get(f"/t/{quote(tank, safe='')}/log", params={"kind": kind})
    assert answer.status_code == 200
    assert answer.text.count("<h1") == 1
    assert "<img src=x" not in answer.text


@pytest.mark.parametrize(
    "what", ["nitrate_ion", "ammonium", "ph", "kh", "temperature", "pen_ppm", "cover", "copper",
             "oxygen_pct", "level_drop", "potassium", "light_ppfd", "humidity"],
)  # fmt: skip
def test_every_reading_has_a_form(looking: Client, what: str) -> None:
    for tank in ("Alder", "Birch"):
        assert looking.get(f"/t/{tank}/log?kind=reading&what={what}").status_code == 200


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("/t/Aldr/log", "Alder"),
        ("/t/Alder/log?kind=readng", "reading"),
        ("/t/Alder/log?kind=reading&what=nitrat", "nitrate"),
    ],
)
def test_unknown_names_are_refused_with_the_nearest(
    looking: Client, address: str, said: str
) -> None:
    answer = looking.get(address)
    assert answer.status_code == 404
    assert said in answer.text


def test_a_step_is_kept_as_an_interval_and_said_with_its_undo(client: Client) -> None:
    made = client.submit(
        "/t/Alder/log", kind="reading", what="nitrate_ion", unit="mg/L", method="chart",
        pair="15|30", screen="reading", screen_what="nitrate_ion", entry_id=UUID.format(1),
    )  # fmt: skip
    assert made.status_code == 303
    assert noted(client, "reading")[0] == ("nitrate_ion", 15.0, 30.0, "mg/L", "chart", "")
    page = client.get(made.headers["location"]).text
    assert "Saved: Nitrate (as NO₃): 15 to 30 mg/L" in re.sub(r"<[^>]+>|\s+", " ", page).replace(
        "  ", " "
    )
    assert [job["tank"] for job in list_jobs(client.db)] == ["Alder"]
    back = client.submit("/log/undo", entry_ids=UUID.format(1), tank="Alder")
    assert (back.status_code, back.headers["location"]) == (303, "/t/Alder/log")
    assert noted(client, "reading")[0][0] == "pen_ppm"
    again = client.submit("/log/undo", entry_ids=UUID.format(1), tank="Alder")
    assert again.status_code == 303


def test_the_same_form_sent_twice_is_noted_once(client: Client) -> None:
    form = {"kind": "feed", "preset": "flake|0.06|0.06|g", "entry_id": UUID.format(2)}
    for _ in range(2):
        assert client.submit("/t/Alder/log", **form).status_code == 303
    assert len(noted(client, "feed")) == 2


def test_other_content_under_the_same_id_is_refused(client: Client) -> None:
    form = {"kind": "feed", "entry_id": UUID.format(3), "what": "flake", "unit": "g"}
    assert client.submit("/t/Alder/log", **form, amount="0.1").status_code == 303
    answer = client.submit("/t/Alder/log", **form, amount="0.2", screen="feed")
    assert answer.status_code == 422
    assert "another entry has this id already" in answer.text.lower()


def test_a_flaw_brings_the_form_back_as_it_was_typed(client: Client) -> None:
    answer = client.submit(
        "/t/Alder/log", kind="reading", what="temperature", unit="C", value="222", half="0.25",
        screen="reading", screen_what="temperature",
    )  # fmt: skip
    assert answer.status_code == 422
    assert "temperature cannot be" in answer.text
    assert 'value="222"' in answer.text
    empty = client.submit("/t/Alder/log", kind="feed", what="flake", unit="g", screen="feed")
    assert empty.status_code == 422
    assert "Nothing was filled in" in empty.text


def test_millimetres_below_the_mark_become_litres(client: Client) -> None:
    client.submit("/t/Alder/log", kind="top_up", what="rain butt", unit="mm", amount="20")
    assert noted(client, "top_up")[0][:4] == ("rain butt", 1.6, 1.6, "L")


def test_thinning_by_cover_notes_both_covers_around_it(client: Client) -> None:
    form = {"kind": "harvest", "what": "Lemna minor", "bare": "1", "minutes": "-1"}
    for n, value, minutes in (("1", "80", "-2"), ("2", "30", "0")):
        form |= {
            f"kind.{n}": "reading", f"what.{n}": "cover", f"unit.{n}": "%", f"value.{n}": value,
            f"half.{n}": "5", f"least.{n}": "0", f"most.{n}": "100", f"minutes.{n}": minutes,
        }  # fmt: skip
    assert client.submit("/t/Alder/log", **form).status_code == 303
    last = entries_of_tank(client.db, "Alder")[:3]
    assert [(e.kind, e.low, e.high) for e in last] == [
        ("reading", 25.0, 35.0), ("harvest", None, None), ("reading", 75.0, 85.0),
    ]  # fmt: skip
    assert (last[0].at - last[2].at).total_seconds() == 120


def test_settings_notes_and_the_whole_rack(client: Client) -> None:
    client.submit("/t/Alder/log", kind="setting", what="lid", bare="1", note="open")
    client.submit("/t/Alder/log", kind="setting", what="heater_c", unit="C", bare="1", amount="")
    client.submit("/t/Alder/log", kind="setting", what="light_hours", unit="h", amount="8")
    assert [row[:4] for row in noted(client, "setting")[::-1]] == [
        ("lid", None, None, ""), ("heater_c", None, None, "C"), ("light_hours", 8.0, 8.0, "h"),
    ]  # fmt: skip
    client.submit("/t/Alder/log", kind="power_off", bare="1", scope="rack")
    assert noted(client, "power_off", "Birch")
    client.submit("/t/Alder/log", kind="note", bare="1", note="<script>alert(1)</script>")
    page = client.get("/t/Alder/entries").text
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_round_with_pen_and_thermometer(client: Client) -> None:
    page = client.get("/log/round").text
    fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page))
    pens = {k: v for k, v in fields.items() if k.startswith("tank.")}
    assert set(pens.values()) >= {"Alder", "Birch", ""}
    n = next(k.split(".")[1] for k, v in fields.items() if k.startswith("what") and v == "pen_ppm")
    made = client.submit("/log/round", **{**fields, f"value.{n}": "140"})
    assert made.status_code == 303
    assert noted(client, "reading")[0][:5] == ("pen_ppm", 139.5, 140.5, "ppm", "pen factor 0.5")
    flaw = client.submit("/log/round", **{**fields, f"value.{n}": "much"})
    assert flaw.status_code == 422
    assert 'value="much"' in flaw.text


def test_several_readings_ask_as_the_tank_is_read(client: Client) -> None:
    page = client.get("/t/Alder/log?kind=kits").text
    assert re.search(r'<label for="k-1">', page)
    assert re.search(r'<select id="k-\d" name="pair', page)
    client.submit("/t/Alder/log", kind="reading", what="ph", pair="7|7.4", method="chart")
    n = 'name="what.{}" value="ph"'
    page = client.get("/t/Alder/log?kind=kits").text
    row = next(i for i in range(1, 9) if n.format(i) in page)
    assert f'name="pair.{row}"' in page
    client.submit("/t/Alder/log", kind="reading", what="ph", value="7.2", half="0.05",
                  method="meter")  # fmt: skip
    page = client.get("/t/Alder/log?kind=kits").text
    row = next(i for i in range(1, 9) if n.format(i) in page)
    assert f'name="value.{row}"' in page
    assert f'name="method.{row}" value="meter"' in page
    assert 'value="7.20"' in client.get("/t/Alder/log?kind=reading&what=ph").text


def test_a_rack_of_many_tanks_is_walked_in_pages(tmp_path: Path) -> None:
    client = client_on(tmp_path)
    with client.db.write() as connection:
        zone = zone_of(connection)
        more = [Tank(f"Shelf {n:03d}", 20.0, 0.06) for n in range(100)]
        add_items(connection, "tank", more, zone)
    address, seen = "/log/round", 0
    while address:
        page = client.get(address).text
        fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page))
        boxes = re.findall(r'name="(value\.\d+)"', page)
        filled = {**fields, **dict.fromkeys(boxes, ""), boxes[0]: "20"}
        made = client.submit(address, **filled)
        assert made.status_code == 303
        seen += (len(boxes) - 2) // 2
        older = re.search(r'href="([^"]+)" rel="next"', page)
        address = older[1] if older else ""
    assert seen == 103
    assert len(noted(client, "reading", "Shelf 037")) == 1
    client.db.close()


def test_usual_amounts_are_offered(looking: Client) -> None:
    page = looking.get("/t/Alder/log?kind=feed").text
    assert 'value="flake|0.06|0.06|g"' in page
    assert 'name="container" inputmode="decimal" value="12"' in looking.get(
        "/t/Alder/log?kind=harvest"
    ).text
    assert "Pinch" not in looking.get("/t/Alder/log?kind=dose").text


@pytest.mark.parametrize(
    ("kind", "caution"),
    [("dose", "dose for that, not for the label"), ("kits", "Kit reagents can burn"),
     ("top_up", "Never start a siphon by mouth"), ("harvest", "Nothing into ponds"),
     ("animals", "Cover cuts"), ("setting", "Pull every plug")],
)  # fmt: skip
def test_cautions_stand_where_an_act_can_hurt(looking: Client, kind: str, caution: str) -> None:
    assert caution in looking.get(f"/t/Alder/log?kind={kind}").text


def test_a_form_of_another_browser_is_refused(client: Client) -> None:
    client.token()
    answer = client.post("/t/Alder/log", data={"token": "x" * 30, "kind": "note", "bare": "1"})
    assert answer.status_code == 403
    assert not noted(client, "note")


def test_own_kits(client: Client) -> None:
    flaw = client.submit("/log/kits", kit="box", reading="gh", unit="ppm", way="chart", steps="1 2")
    assert flaw.status_code == 422
    assert "of what the hardness is counted" in flaw.text
    client.submit("/log/kits", kit="box", reading="gh", unit="mg/L CaCO3", way="titration",
                steps="20 to 200 by 20")  # fmt: skip
    page = client.get("/t/Alder/log?kind=reading&what=gh").text
    assert 'value="20|40"' in page
    assert 'name="method" value="box (titration)"' in page
    client.submit("/t/Alder/log", kind="reading", what="gh", unit="mg/L CaCO3", pair="20|40")
    what, low, high, unit, *_ = noted(client, "reading")[0]
    assert (what, unit) == ("gh", "dH")
    assert [round(float(end), 2) for end in (low, high)] == [1.12, 2.24]  # type: ignore[arg-type]
    client.submit("/log/kits", kit="box", remove="1")
    assert "20|40" not in client.get("/t/Alder/log?kind=reading&what=gh").text


def test_roles_and_units(tmp_path: Path) -> None:
    client = client_on(tmp_path, lan=True)
    keeper = Who("", "this machine", "keeper")
    for name, role in (("lee", "helper"), ("guest", "viewer")):
        add_person(client.db, name, role, "a long enough one", keeper, NOW)
    set_units(client.db, "lee", {"temperature": "degF", "volume": "US gal"}, NOW)

    def enter(name: str) -> None:
        client.cookies.clear()
        page = client.get("/sign-in").text
        token = re.search(r'name="token" value="([^"]+)"', page)
        assert token is not None
        form = {"token": token[1], "person": name, "password": "a long enough one"}
        assert client.post("/sign-in", data=form).status_code == 303

    assert urlsplit(client.get("/t/Alder/log").headers["location"]).path == "/sign-in"
    enter("guest")
    assert client.get("/t/Alder/log").status_code == 403
    assert client.get("/t/Alder/entries").status_code == 200
    enter("lee")
    page = client.get("/t/Alder/log?kind=reading&what=temperature").text
    assert "°F" in page
    assert 'value="71.6"' in page
    made = client.submit(
        "/t/Alder/log", kind="reading", what="temperature", unit="degF", value="71.6", half="0.45"
    )
    assert made.status_code == 303
    assert noted(client, "reading")[0][:4] == ("temperature", 21.75, 22.25, "C")
    assert entries_of_tank(client.db, "Alder")[0].by == "lee"
    assert client.submit("/log/kits", kit="x").status_code == 403
    client.db.close()
