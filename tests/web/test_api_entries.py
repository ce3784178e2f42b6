"""Entries by program: noted once however often they are sent, strict about types."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pleuston.services.entries import entries_of_tank
from pleuston.services.jobs import list_jobs

from .clients import Client, client_on

UUID = "22222222-2222-4222-8222-{:012d}"
FEED = {"id": UUID.format(1), "at": "2026-05-04T08:15:00Z", "tank": "Alder", "kind": "feed",
        "what": "flake", "low": 0.06, "high": 0.06, "unit": "g"}  # fmt: skip


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


def send(client: Client, *entries: dict[str, Any]) -> Any:
    return client.post("/api/v1/entries", json={"entries": list(entries)})


def feeds(client: Client) -> int:
    return len(entries_of_tank(client.db, "Alder", kind="feed"))


def test_new_then_there_already(client: Client) -> None:
    first = send(client, FEED)
    assert (first.status_code, first.json()["entries"][0]["new"]) == (201, True)
    again = send(client, FEED)
    assert (again.status_code, again.json()["entries"][0]["new"]) == (200, False)
    assert again.json()["entries"][0]["id"] == FEED["id"]
    assert feeds(client) == 2
    assert [job["tank"] for job in list_jobs(client.db)] == ["Alder"]


def test_all_or_none(client: Client) -> None:
    answer = send(client, FEED, {**FEED, "id": UUID.format(2), "what": "flak"},
                  {**FEED, "id": UUID.format(3), "tank": "Aldr"})  # fmt: skip
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    problems = answer.json()["problems"]
    assert len(problems) == 2
    assert "entry:2:what" in problems[0]
    assert "flake" in problems[0]
    assert "entry:3:tank" in problems[1]
    assert feeds(client) == 1


def test_other_content_under_the_same_id_is_refused(client: Client) -> None:
    send(client, FEED)
    answer = send(client, {**FEED, "low": 0.1, "high": 0.1})
    assert answer.status_code == 422
    assert "another entry has this id" in answer.json()["problems"][0]


@pytest.mark.parametrize(
    "flaw",
    [
        {"at": 0}, {"at": "yesterday"}, {"at": "2026-05-04T25:00Z"}, {"low": False},
        {"low": "0.06"}, {"high": []}, {"id": "7"}, {"id": None, "kind": 3}, {"extra": 1},
        {"note": "x" * 10_001}, {"note": "a\0b"}, {"tank": "x" * 201}, {"kind": "feedd"},
        {"low": -1.0}, {"low": 0.2}, {"unit": "L"}, {"at": "2026-02-30T10:00"},
    ],
    ids=str,
)  # fmt: skip
def test_flaws_are_refused_with_words(client: Client, flaw: dict[str, Any]) -> None:
    answer = send(client, {**FEED, **flaw})
    assert answer.status_code == 422
    told = answer.json()
    assert told["status"] == 422
    assert told["problems"]
    assert feeds(client) == 1


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b'{"entries": []}', b'{"entries": [{}]}', b'{"entries": [NaN]}',
             b'{"entries": [{"kind": "note", "tank": "Alder", "low": NaN}]}', b"\xff"],
)  # fmt: skip
def test_bodies_that_are_no_entries(client: Client, body: bytes) -> None:
    answer = client.post(
        "/api/v1/entries", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    ("at", "stored"),
    [
        ("2026-05-04T08:15:00Z", "2026-05-04T08:15:00+00:00"),
        ("2026-05-04T10:15:00+02:00", "2026-05-04T08:15:00+00:00"),
        ("2026-05-04T09:15", "2026-05-04T08:15:00+00:00"),
        (None, "2026-05-04T09:30:00+00:00"),
    ],
)
def test_times(client: Client, at: str | None, stored: str) -> None:
    assert send(client, {**FEED, "at": at}).status_code == 201
    assert entries_of_tank(client.db, "Alder")[0].at.isoformat() == stored


def test_open_ends_and_without_id(client: Client) -> None:
    what = {"kind": "reading", "tank": "Alder", "what": "nitrite_ion"}
    below = {**what, "high": 0.05, "unit": "mg/L"}
    assert send(client, below).status_code == 201
    found = entries_of_tank(client.db, "Alder", kind="reading")[0]
    assert (found.low, found.high) == (None, 0.05)
    assert len(found.id) == 36


def test_another_site_can_send_nothing(client: Client) -> None:
    elsewhere = {"origin": "://".join(("http", "other.example"))}
    answer = client.post("/api/v1/entries", json={"entries": [FEED]}, headers=elsewhere)
    assert answer.status_code == 403
    assert feeds(client) == 1


def test_two_phones_send_the_same_at_once(client: Client) -> None:
    answers: list[int] = []

    def phone() -> None:
        answers.append(send(client, FEED).status_code)

    phones = [threading.Thread(target=phone) for _ in range(6)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    assert sorted(answers) == [200] * 5 + [201]
    assert feeds(client) == 2


def test_nobody_signed_in_is_told_as_data(tmp_path: Path) -> None:
    client = client_on(tmp_path, lan=True)
    answer = send(client, FEED)
    assert answer.status_code == 401
    assert answer.headers["content-type"] == "application/problem+json"
    client.db.close()
