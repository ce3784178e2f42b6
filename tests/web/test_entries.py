"""What was noted: listed page by page, put right with a reason, taken back, looked up."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pleuston.services.entries import entries_of_tank, entry_history
from pleuston.services.log import log_entries
from pleuston.services.who import Who

from .clients import Client, client_on
from .racks import NOW

FEED = "00000000-0000-4000-8000-000000000006"
NEW = "33333333-3333-4333-8333-333333333333"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


def correction(**more: str) -> dict[str, str]:
    """The form as the page fills it in, with changes."""
    form = {"entry_id": NEW, "at": "2026-05-01T10:30", "at_was": "2026-05-01T10:30",
            "what": "flake", "low": "0.06", "high": "0.06", "unit": "g", "method": "",
            "note": "", "reason": "read the scale wrongly"}  # fmt: skip
    return {**form, **more}


def test_the_list_and_its_filter(client: Client) -> None:
    page = client.get("/t/Alder/entries").text
    assert page.index("Taken out Lemna minor 5 g") < page.index("Feed flake 0.06 g")
    assert "Animals in Neocaridina davidi 12" in page
    only = client.get("/t/Alder/entries?kind=feed").text
    assert "Feed flake" in only
    assert "Lemna minor" not in only
    assert client.get("/t/Nowhere/entries").status_code == 404
    assert client.get("/t/Birch/entries").status_code == 200


def test_page_by_page_nothing_is_missed_or_shown_twice(client: Client) -> None:
    rows = [
        {"at": f"2026-04-{n % 28 + 1:02d}T08:00", "tank": "Birch", "kind": "note",
         "note": f"note number {n:03d}"}
        for n in range(150)
    ]  # fmt: skip
    log_entries(client.db, rows, Who(), NOW)
    seen: list[str] = []
    address = "/t/Birch/entries"
    for _ in range(5):
        page = client.get(address).text
        seen += re.findall(r"note number \d+", page)
        older = re.search(r'href="(\?[^"]+)" rel="next"', page)
        if older is None:
            break
        address = "/t/Birch/entries" + older[1].replace("&amp;", "&")
    assert len(seen) == len(set(seen)) == 150


def test_put_right_with_a_reason(client: Client) -> None:
    form = client.get(f"/t/Alder/entries/{FEED}").text
    assert 'name="low" inputmode="decimal" value="0.06"' in form
    made = client.submit(f"/t/Alder/entries/{FEED}", **correction(low="0,6", high="0,6"))
    assert (made.status_code, made.headers["location"]) == (303, f"/t/Alder/entries/{NEW}")
    found = entries_of_tank(client.db, "Alder", kind="feed")
    assert [(e.id, e.low) for e in found] == [(NEW, 0.6)]
    assert found[0].at.isoformat() == "2026-05-01T09:30:00+00:00"
    page = client.get(f"/t/Alder/entries/{NEW}").text
    assert "Corrected: read the scale wrongly" in page
    old = client.get(f"/t/Alder/entries/{FEED}").text
    assert "It does not count any more" in old
    assert f"/t/Alder/entries/{NEW}" in old
    again = client.submit(f"/t/Alder/entries/{FEED}", **correction(low="0,6", high="0,6"))
    assert again.status_code == 303
    assert len(entries_of_tank(client.db, "Alder", kind="feed")) == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [({"reason": " "}, "reason is missing"), ({"low": "much"}, "is not a number"),
     ({"what": "flak"}, "flake"), ({"low": "9"}, "low is above high")],
)  # fmt: skip
def test_a_flawed_correction_changes_nothing(
    client: Client, change: dict[str, str], said: str
) -> None:
    answer = client.submit(f"/t/Alder/entries/{FEED}", **correction(**change))
    assert answer.status_code == 422
    assert said in answer.text
    assert entry_history(client.db, FEED)["counts"] == FEED


def test_take_back_and_put_back(client: Client) -> None:
    empty = client.submit(f"/t/Alder/entries/{FEED}/withdraw", reason="")
    assert empty.status_code == 422
    client.submit(f"/t/Alder/entries/{FEED}/withdraw", reason="noted for the wrong tank")
    assert not entries_of_tank(client.db, "Alder", kind="feed")
    assert "Taken back: noted for the wrong tank" in client.get(f"/t/Alder/entries/{FEED}").text
    undone = client.submit("/t/Alder/entries/undo")
    assert undone.status_code == 303
    assert len(entries_of_tank(client.db, "Alder", kind="feed")) == 1
    assert "then put back" in client.get(f"/t/Alder/entries/{FEED}").text
    assert client.get(undone.headers["location"]).status_code == 200


def test_entries_of_other_tanks_are_not_found_here(client: Client) -> None:
    assert client.get(f"/t/Birch/entries/{FEED}").status_code == 404
    assert client.submit(f"/t/Birch/entries/{FEED}/withdraw", reason="x").status_code == 404
    assert client.get("/t/Alder/entries/nonsense").status_code == 404


def test_the_whole_rack_is_listed_and_its_own_entries_can_be_put_right(client: Client) -> None:
    row = {"at": "2026-05-03T08:00", "kind": "reading", "what": "room_temperature", "low": "18.5",
           "high": "19.5", "unit": "C"}  # fmt: skip
    (made,) = log_entries(client.db, [row], Who(), NOW)["entries"]
    page = client.get("/log/entries").text
    assert "<strong>Whole rack</strong> Room temperature: 18.5 to 19.5 °C" in page
    assert "<strong>Alder</strong> Feed flake 0.06 g" in page
    address = f"/t/Alder/entries/{made['id']}"
    assert address in page
    form = correction(what="room_temperature", low="19.5", high="20.5", unit="C", at="", at_was="")
    assert client.submit(address, **form).status_code == 303
    assert "19.5 to 20.5" in client.get("/log/entries?kind=reading").text
