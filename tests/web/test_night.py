"""The pages of a night from a logger and of comparing floaters, without script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.services.test_oxygen_night import table

from pleuston.services.entries import entries_of_tank

from .clients import Client, client_on
from .racks import HOSTILE

DARK = {"dark_from": "21:00", "dark_to": "07:00", "clock": "UTC", "pressure": "1013,25"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


def send(client: Client, data: bytes | None, **fields: str) -> tuple[int, str]:
    files = {"file": ("probe.csv", data if data is not None else b"", "text/csv")}
    answer = client.post(
        "/t/Alder/night", data={"token": client.token(), **fields}, files=files if data else None
    )
    return answer.status_code, answer.text


def test_a_file_is_read_shown_and_noted(client: Client) -> None:
    status, text = send(client, table(), **DARK)
    assert status == 200
    assert "The water trades its oxygen with the air" in text
    assert '<polyline class="fit"' in text
    assert not [e for e in entries_of_tank(client.db, "Alder") if e.what == "oxygen"]
    held = re.search(r'name="held" value="([^"]+)"', text)
    assert held is not None
    status, _ = send(client, None, held=held[1], choice="note", **DARK)
    assert status == 303
    noted = [e for e in entries_of_tank(client.db, "Alder") if e.what == "oxygen"]
    assert len(noted) == 2


@pytest.mark.parametrize(
    ("data", "fields", "words"),
    [(None, {}, "No file was chosen"), (b"a,b\n1,2\n", {}, "No line names"),
     (None, {"held": "nothing"}, "no longer held"),
     (table(), {"pressure": "5"}, "is not between 500 and 1090"),
     (table(), {"dark_from": "21:00"}, "One end of the dark hours"),
     (table(), {"percent_of": "moon"}, "is no air")],
)  # fmt: skip
def test_refusals_say_why_and_keep_what_was_typed(
    client: Client, data: bytes | None, fields: dict[str, str], words: str
) -> None:
    status, text = send(client, data, limit="5.5", **fields)
    assert status == 422
    assert words in text
    assert 'name="limit" inputmode="decimal" maxlength="100" value="5.5"' in text


def test_a_form_of_elsewhere_and_a_tank_unknown_are_refused(client: Client) -> None:
    assert client.post("/t/Alder/night", data={"choice": "look"}).status_code == 403
    assert client.get("/t/Nowhere/night").status_code == 404
    assert client.get("/t/Alder/night").status_code == 200


def test_the_interface_answers_the_same(client: Client) -> None:
    files = {"file": ("probe.csv", table(), "text/csv")}
    answer = client.post("/api/v1/oxygen", data={**DARK, "tank": "Alder"}, files=files)
    assert answer.status_code == 200
    assert answer.json()["nights"][0]["told_apart"] is True
    refused = client.post("/api/v1/oxygen", files={"file": ("x.csv", b"a,b\n", "text/csv")})
    assert refused.status_code == 422
    assert refused.json()["title"]


def test_comparing_needs_two_floaters_and_says_what_is_wrong(client: Client) -> None:
    assert "Harvests of two floaters are needed" in client.get("/compare").text
    same = client.get("/compare?a=Lemna+minor&b=Lemna+minor")
    assert same.status_code == 422
    assert "compared with itself" in same.text
    two = client.get("/compare?a=Lemna+minor&b=Salvinia+natans")
    assert two.status_code == 200
    assert "No difference shown" in two.text
    hostile = client.get("/compare", params={"a": HOSTILE, "b": "Lemna minor"})
    assert hostile.status_code == 422
    assert "<img src=x" not in hostile.text
    assert client.get("/api/v1/compare?a=Lemna+minor&b=Salvinia+natans").json()["shown"] is False
    assert 'href="/compare"' in client.get("/more").text
