"""Setting up, taking in and giving out, people, back-ups, paper, photos: done and refused."""

from __future__ import annotations

import io
import re
import sqlite3
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from html import unescape
from pathlib import Path
from uuid import uuid4

import openpyxl  # type: ignore[import-untyped]
import pytest
from httpx import Response
from PIL import Image
from tests.photo.scenes import Scene, picture

from pleuston.services.catalogue import get_item, list_tanks, rack_settings
from pleuston.services.entries import entries_of_tank
from pleuston.services.people import devices_of, list_people
from pleuston.services.photos import list_photos

from .clients import Client, client_on
from .racks import NOW

LOG = b"Date;Tank;NO3 (mg/l);pH\n24.02.2026;Alder;12,5;7,2\n02.03.2026;Birch;<5;99\n"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


def test_a_tank_is_set_up_from_inside_measures(client: Client) -> None:
    measures = {"tank": "Willow", "length_cm": "45", "width_cm": "28", "depth_cm": "28",
                "soil": "garden soil", "soil_mm": "30", "cap_mm": "25", "lid": "open",
                "flow": "still"}  # fmt: skip
    seen = client.submit("/tanks/new", **measures, choice="measure")
    assert seen.status_code == 200
    assert "31.3 L of water" in seen.text
    assert "Willow" not in [row["tank"] for row in list_tanks(client.db)]
    assert client.submit("/tanks/new", **measures, choice="save").status_code == 303
    made = get_item(client.db, "tank", "Willow")[0]
    assert (made["net_l"], made["surface_m2"]) == (31.34, 0.126)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"depth_cm": "3"}, "the bed is deeper than the water"),
        ({"length_cm": "long"}, "is not a number"),
        ({"tank": "Alder"}, "there is a tank of this name already"),
        ({"tank": "../x"}, "would have no page of its own"),
        ({"heater_c": "80", "length_cm": ""}, "heater_c"),
    ],
)
def test_a_tank_that_can_t_be_is_refused_and_what_was_typed_stays(
    client: Client, change: dict[str, str], words: str
) -> None:
    form = {"tank": "Willow", "length_cm": "45", "width_cm": "28", "depth_cm": "28",
            "soil_mm": "40", "cap_mm": "25", "lid": "open", "flow": "still",
            "net_l": "20", "surface_m2": "0.1", "note": "by the window", **change}  # fmt: skip
    answer = client.submit("/tanks/new", **form, choice="save")
    assert answer.status_code == 422
    assert words.casefold() in unescape(answer.text).casefold()
    assert "by the window" in answer.text
    assert len(list_tanks(client.db)) == 3


def test_waters_and_blends_are_kept_changed_and_taken_out(client: Client) -> None:
    water = {"water": "cellar", "kind": "tap", "copper_ug_l": "40"}
    assert client.submit("/stores/waters", **water).status_code == 303
    assert "copper [ug/L]: 40" in client.get("/stores/waters").text
    blend = {"blend": "two", "part0": "cellar", "share0": "0.5", "part1": "rain butt"}
    refused = client.submit("/stores/blends", **blend, share1="0.2")
    assert refused.status_code == 422
    assert client.submit("/stores/blends", **blend, share1="0.5").status_code == 303
    gone = client.submit("/stores/waters/remove", name="cellar")
    assert gone.status_code == 422
    assert "names this water" in gone.text
    assert client.submit("/stores/blends/remove", name="two").status_code == 303
    assert client.submit("/stores/waters/remove", name="cellar").status_code == 303
    assert "Save water: cellar" in client.get("/changes").text
    assert client.submit("/stores/species", name="x").status_code == 422
    assert client.submit("/stores/blends", blend="none").status_code == 422


def upload(client: Client, address: str, name: str, data: bytes, **fields: str) -> Response:
    return client.post(
        address, data={"token": client.token(), **fields}, files={"file": (name, data)}
    )


def test_a_kept_table_is_looked_at_tried_and_taken_in(client: Client) -> None:
    seen = upload(client, "/take-in", "log.csv", LOG)
    assert "NO3 (mg/l): taken as the ion NO3" in seen.text
    key = re.search(r'action="(/take-in/[^"]+)"', seen.text)
    assert key is not None
    before = len(entries_of_tank(client.db, "Alder"))
    tried = client.submit(key[1], choice="try")
    assert "What would happen" in tried.text
    assert "Line 3, pH" in tried.text
    assert len(entries_of_tank(client.db, "Alder")) == before
    refused = client.submit(key[1], choice="refused")
    assert refused.content.startswith(b"\xef\xbb\xbf")
    assert b"99" in refused.content
    taken = client.submit(key[1], choice="take")
    assert "Taken in" in taken.text
    assert "3 new entries" in taken.text
    again = client.submit(key[1], choice="take")
    assert "3 there already" in again.text
    low = {e.low for e in entries_of_tank(client.db, "Alder", kind="reading")}
    assert 12.5 in low
    wrong = client.submit(key[1], choice="try", as0="ignore")
    assert wrong.status_code == 422
    assert client.submit("/take-in/unknown", choice="try").status_code == 422


def test_a_file_that_is_none_is_refused(client: Client) -> None:
    for name, data in (("a.csv", b""), ("a.xlsx", b"PK\x03\x04 broken"), ("a.csv", b"\x00\x01")):
        assert upload(client, "/take-in", name, data).status_code == 422


def test_the_record_goes_out_and_comes_in_again(client: Client) -> None:
    packed = client.get("/give-out/rack.zip").content
    names = zipfile.ZipFile(io.BytesIO(packed)).namelist()
    assert {"rack.csv", "tanks.csv", "entries.csv", "datapackage.json"} <= set(names)
    book = openpyxl.load_workbook(io.BytesIO(client.get("/give-out/rack.xlsx").content))
    assert "entries" in book.sheetnames
    book.close()
    assert b"Lemna minor" in client.get("/give-out/entries.csv").content
    assert client.get("/give-out/other").status_code == 303


def test_people_come_and_go(client: Client) -> None:
    secret = "long enough to keep"
    added = {"person": "Kim", "role": "keeper", "password": secret}
    assert client.submit("/people", **added).status_code == 303
    assert client.submit("/people", **added).status_code == 422
    short = {"person": "Lee", "role": "helper", "password": "short"}
    assert client.submit("/people", **short).status_code == 422
    code = client.submit("/people/pairing", person="Kim")
    assert "/pair/" in code.text
    assert "data:image/svg+xml;base64," in code.text
    assert client.submit("/people/password", person="Kim", password="another long one")
    assert client.submit("/people/leave", person="Kim").status_code == 303
    assert list_people(client.db) == []
    assert client.submit("/people/leave", person="Kim").status_code == 422
    assert client.submit("/devices/revoke", device="none").status_code == 404
    assert devices_of(client.db) == []


def test_settings_of_the_rack(client: Client) -> None:
    given = {"name": "Shelf", "timezone": "Etc/GMT-1", "room_c": "21.5"}
    assert client.submit("/settings/rack", **given).status_code == 303
    assert 'value="21.5"' in client.get("/settings").text
    refused = client.submit("/settings/rack", **{**given, "timezone": "Moon/Sea"})
    assert refused.status_code == 422
    assert "Moon/Sea" in refused.text


def test_back_ups_are_made_checked_and_fetched(client: Client, tmp_path: Path) -> None:
    made = client.submit("/backups")
    assert "Written and checked" in made.text
    name = re.search(r'href="/backups/([^"]+)"', made.text)
    assert name is not None
    assert "is sound: 3 tanks, 8 entries" in client.submit("/backups/check", name=name[1]).text
    file = tmp_path / "fetched.db"
    file.write_bytes(client.get(f"/backups/{name[1]}").content)
    with sqlite3.connect(file) as copy:
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    copy.close()
    for other in ("..%2Frack.db", "rack.db", "none"):
        assert client.get(f"/backups/{other}").status_code in (404, 422)


def test_sheets_are_printed(client: Client) -> None:
    for kind in ("round", "tank-card", "incidents", "water-record", "holiday", "labels"):
        answer = client.get(f"/paper/{kind}.pdf")
        assert answer.content.startswith(b"%PDF"), kind
    assert client.get("/paper/vet.pdf?tank=Alder").content.startswith(b"%PDF")
    shown = client.get("/paper/round.html").text
    assert 'href="/paper/style.css"' in shown
    assert client.get("/paper/style.css").headers["content-type"].startswith("text/css")
    assert client.get("/paper/poster.pdf").status_code == 422
    assert client.get("/paper/round.doc").status_code == 404
    assert client.get("/paper/vet.pdf").status_code == 422


def test_the_page_of_paper_offers_a_slip_its_region(client: Client) -> None:
    assert 'name="region"' in client.get("/paper").text
    shown = client.get("/paper/slip.html?tank=Alder&region=eu").text
    assert "European Union: " in shown
    assert "heck with your authority" in shown
    assert client.get("/paper/slip.html?tank=Alder&region=" + "x" * 61).status_code == 422
    settings = {**rack_settings(client.db), "region": "uk"}
    assert client.submit("/settings/rack", **settings).status_code == 303
    assert 'value="uk"' in client.get("/paper").text
    assert "United Kingdom: " in client.get("/paper/slip.html?tank=Alder").text


def test_a_photo_is_kept_once_and_measured(client: Client) -> None:
    data, truth = picture(Scene(cover=0.4))
    entry = str(uuid4())
    for _ in range(2):
        sent = upload(client, "/t/Alder/photos", "a.jpg", data, entry_id=entry, choice="cover")
        assert sent.headers["location"] == f"/t/Alder/cover?photo={entry}"
    assert [row["photo"] for row in list_photos(client.db, "Alder")] == [entry]
    assert entries_of_tank(client.db, "Alder", kind="photo")[0].id == entry
    for small in ("", "?small=true"):
        shown = Image.open(io.BytesIO(client.get(f"/photos/{entry}.jpg{small}").content))
        assert not shown.getexif()
    form = {"photo": entry, "entry_id": str(uuid4())}
    seen = client.submit("/t/Alder/cover", **form)
    found = re.search(r"Between ([\d.]+) and ([\d.]+) %", seen.text)
    assert found is not None
    assert float(found[1]) <= truth <= float(found[2])
    assert client.submit("/t/Alder/cover", **form, choice="note").status_code == 303
    noted = entries_of_tank(client.db, "Alder", kind="reading")[0]
    assert (noted.what, noted.unit) == ("cover", "%")
    assert noted.method.startswith("photo")
    strokes = '[{"points": [[0, 0], [600, 400]], "radius": 300, "paint": true}]'
    assert client.submit("/t/Alder/cover", **form, strokes=strokes).status_code == 200
    for flaw in ({"corners": "1,2;3,4"}, {"strokes": "[{"}, {"shift": "99"}):
        assert client.submit("/t/Alder/cover", **{**form, **flaw}).status_code == 422
    assert client.submit(f"/photos/{entry}/remove", tank="Alder").status_code == 303
    assert client.get(f"/photos/{entry}.jpg").status_code == 404
    assert client.submit(f"/photos/{entry}/remove", tank="Alder").status_code == 404


def test_a_photo_sent_again_later_is_not_another(client: Client) -> None:
    data, _ = picture(Scene())
    sent = {"files": {"image": ("a.jpg", data)}, "data": {"photo": str(uuid4())}}
    assert client.post("/api/v1/tanks/Alder/photos", **sent).status_code == 201
    later = Client(client.db, NOW + timedelta(hours=3))
    again = later.post("/api/v1/tanks/Alder/photos", **sent)
    assert (again.status_code, again.json()["new"]) == (201, False)
    assert len(list_photos(client.db, "Alder")) == 1


def test_the_cover_of_one_tank_is_not_measured_for_another(client: Client) -> None:
    data, _ = picture(Scene())
    name = str(uuid4())
    upload(client, "/t/Birch/photos", "a.jpg", data, entry_id=name)
    form = {"photo": name, "entry_id": str(uuid4()), "choice": "note"}
    assert client.submit("/t/Alder/cover", **form).status_code == 404
    assert client.get(f"/t/Alder/cover?photo={name}").status_code == 404
    assert [e.what for e in entries_of_tank(client.db, "Alder", kind="reading")].count("cover") == 0
    assert client.submit("/t/Birch/cover", **form).status_code == 303


def test_older_photos_are_a_page_further(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pleuston.web.routes.photos.ON_A_PAGE", 2)
    data, _ = picture(Scene())
    names = [str(uuid4()) for _ in range(3)]
    for day, name in enumerate(names, start=1):
        upload(client, "/t/Alder/photos", "a.jpg", data, entry_id=name, at=f"2026-04-0{day}T12:00")
    first = client.get("/t/Alder/photos").text
    assert names[0] not in first
    older = re.search(r'href="(\?before=[^"]+)"', first)
    assert older is not None
    assert names[0] in client.get(f"/t/Alder/photos{older[1]}").text
    assert client.get(f"/t/Alder/cover?photo={names[0]}").status_code == 200


def test_what_is_no_picture_is_refused_and_nothing_kept(client: Client) -> None:
    for data in (b"", b"GIF89a....", b"\xff\xd8\xff broken"):
        answer = upload(client, "/t/Alder/photos", "a.jpg", data, entry_id=str(uuid4()))
        assert answer.status_code == 422
    assert list_photos(client.db, "Alder") == []
    assert entries_of_tank(client.db, "Alder", kind="photo") == []
    data, _ = picture(Scene())
    late = upload(client, "/t/Alder/photos", "a.jpg", data, entry_id=str(uuid4()), at="soon")
    assert late.status_code == 422


def test_photos_and_cover_as_data(client: Client) -> None:
    data, truth = picture(Scene(cover=0.5))
    found = client.post("/api/v1/cover", files={"image": ("a.jpg", data)}).json()
    assert found["low_pct"] <= truth <= found["high_pct"]
    name = str(uuid4())
    kept = client.post(
        "/api/v1/tanks/Birch/photos", files={"image": ("a.jpg", data)}, data={"photo": name}
    )
    assert (kept.status_code, kept.json()["new"]) == (201, True)
    assert client.get("/api/v1/tanks/Birch/photos").json()[0]["photo"] == name
    refused = client.post("/api/v1/cover", files={"image": ("a.jpg", b"no")})
    assert refused.status_code == 422
    assert refused.headers["content-type"] == "application/problem+json"
