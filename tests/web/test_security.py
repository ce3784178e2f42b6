"""Who gets in, who may do what, what other sites can't do, and what every answer carries."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.routing import APIRoute

from pleuston.services import people
from pleuston.services.who import Who
from pleuston.web.routes import ROUTERS, door
from pleuston.web.security import HEADERS

from .clients import Client, client_on
from .racks import NOW

SECRET = "a long enough secret"
KEEPER = Who("Kim", "", "keeper")
OPEN_TO_ALL = {"/sign-in", "/sign-out", "/pair/{code}"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    made = client_on(tmp_path)
    yield made
    made.db.close()


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Client]:
    """The app for the home network, with one person of each role."""
    made = client_on(tmp_path, lan=True)
    for name, role in (("Kim", "keeper"), ("Lee", "helper"), ("Mo", "viewer")):
        people.add_person(made.db, name, role, SECRET, KEEPER, NOW)
    door.TRIES._tries.clear()
    yield made
    made.db.close()


def routes() -> list[tuple[str, str]]:
    """Every method and path of the app."""
    found = [
        (method, route.path)
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in sorted(route.methods)
    ]
    assert len(found) > 90
    return found


def filled(path: str) -> str:
    """A path with something in the place of its parameters."""
    name = "33333333-3333-4333-8333-333333333333"
    given = {"tank": "Alder", "photo": name, "entry_id": name, "form": "pdf", "kind": "round",
             "shelf": "waters"}  # fmt: skip
    return re.sub(r"\{(\w+)(:\w+)?\}", lambda m: given.get(m[1], "x"), path)


def signed_in(house: Client, person: str) -> Client:
    house.cookies.clear()
    token = people.sign_in(house.db, person, SECRET, "phone", NOW)
    house.cookies.set("pleuston_session", token)
    return house


def test_nobody_gets_in_without_a_session(house: Client) -> None:
    for method, path in routes():
        if path in OPEN_TO_ALL or method == "HEAD":
            continue
        answer = house.request(method, filled(path))
        refused = (303, 401) if method == "GET" else (303, 401, 403)
        assert answer.status_code in refused, (method, path, answer.status_code)
        if answer.status_code == 303:
            assert answer.headers["location"] == "/sign-in"


def test_a_viewer_changes_nothing_and_a_helper_keeps_out_of_the_house(house: Client) -> None:
    before = state(house)
    signed_in(house, "Mo")
    tried = [(m, p) for m, p in routes() if m not in ("GET", "HEAD") and p not in OPEN_TO_ALL]
    assert len(tried) > 30
    for method, path in tried:
        answer = house.request(method, filled(path), data={"token": "x"})
        allowed = path == "/settings/units"
        assert allowed or answer.status_code in (403, 422), (method, path, answer.status_code)
    assert state(house) == before
    signed_in(house, "Lee")
    for path in ("/people", "/backups", "/take-in", "/tanks/new"):
        assert house.get(path).status_code == 403
    assert house.get("/t/Alder/log").status_code == 200


def state(client: Client) -> list[Any]:
    from pleuston.store.whole import state_of

    with client.db.read() as connection:
        return state_of(connection)


def sign_in(house: Client, person: str, password: str) -> httpx.Response:
    token = re.search(r'form-token" content="([^"]+)"', house.get("/sign-in").text)
    assert token is not None
    return house.post("/sign-in", data={"token": token[1], "person": person, "password": password})


def test_the_password_opens_and_too_many_guesses_close(house: Client) -> None:
    assert sign_in(house, "Kim", "wrong wrong wrong").status_code == 422
    assert sign_in(house, "Nobody", SECRET).status_code == 422
    answer = sign_in(house, "Kim", SECRET)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert house.get("/people").status_code == 200
    house.cookies.clear()
    tries = [sign_in(house, "Kim", "wrong wrong wrong").status_code for _ in range(9)]
    assert tries == [422] * 8 + [429]
    assert sign_in(house, "Kim", SECRET).status_code == 429


def test_over_tls_cookies_are_secure(tmp_path: Path) -> None:
    made = client_on(tmp_path, lan=True, secure=True)
    people.add_person(made.db, "Kim", "keeper", SECRET, KEEPER, NOW)
    assert "Secure" in made.get("/sign-in").headers["set-cookie"]
    made.db.close()


def test_a_device_taken_out_is_out_at_once(house: Client) -> None:
    signed_in(house, "Kim")
    assert house.get("/").status_code == 200
    device = people.devices_of(house.db)[0]["device"]
    people.revoke(house.db, device, KEEPER, NOW)
    assert house.get("/").status_code == 303
    signed_in(house, "Lee")
    assert house.submit("/sign-out").status_code == 303
    assert house.get("/").status_code == 303


def test_a_code_works_once_and_not_for_long(house: Client) -> None:
    code = people.new_pairing(house.db, "Lee", KEEPER, NOW)
    page = house.get(f"/pair/{code}")
    token = re.search(r'form-token" content="([^"]+)"', page.text)
    assert token is not None
    assert house.get(f"/pair/{code}").status_code == 200
    sent = {"token": token[1], "device": "phone"}
    assert house.post(f"/pair/{code}", data=sent).status_code == 303
    assert house.get("/t/Alder").status_code == 200
    house.cookies.delete("pleuston_session")
    assert house.post(f"/pair/{code}", data=sent).status_code == 422
    early = NOW - timedelta(hours=2)
    old = people.new_pairing(house.db, "Lee", KEEPER, early)
    assert house.post(f"/pair/{old}", data=sent).status_code == 422


FOREIGN = (
    {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"},
    {"origin": "http://localhost"}, {"origin": "null"}, {"origin": ""},
)  # fmt: skip


@pytest.mark.parametrize("headers", FOREIGN)
def test_another_site_can_make_a_browser_change_nothing(
    client: Client, headers: dict[str, str]
) -> None:
    token = client.token()
    del client.headers["origin"]
    for path in ("/work-out", "/settings/units", "/api/v1/undo"):
        answer = client.post(path, data={"token": token}, headers=headers)
        assert answer.status_code == 403
        assert "another site" in answer.text
    assert client.post("/work-out", data={"token": token}).status_code == 403
    own = {"sec-fetch-site": "same-origin"}
    assert client.post("/work-out", data={"token": token}, headers=own).status_code == 303


def test_forms_of_another_browser_are_refused(client: Client) -> None:
    client.token()
    for token in ("", "x" * 30, "\u00e9"):
        answer = client.post("/work-out", data={"token": token})
        assert answer.status_code == 403
        assert "was not made for this browser" in answer.text


def test_only_known_hosts_are_answered(client: Client) -> None:
    answer = client.get("/", headers={"host": "rebound.example"})
    assert answer.status_code == 400
    assert "Alder" not in answer.text


async def _in_parts(app: Any, count: int) -> int:
    """Send a body in parts of 50 kB whose length is not declared; gives the status."""
    headers = [(b"host", b"127.0.0.1"), (b"sec-fetch-site", b"same-origin"),
               (b"content-type", b"application/json")]  # fmt: skip
    scope = {"type": "http", "method": "POST", "path": "/api/v1/entries", "query_string": b"",
             "headers": headers, "http_version": "1.1", "scheme": "http",
             "raw_path": b"/api/v1/entries", "client": ("127.0.0.1", 1),
             "root_path": ""}  # fmt: skip
    parts = iter([b"x" * 50_000] * count)
    status = 0

    async def receive() -> dict[str, Any]:
        part = next(parts, None)
        return {"type": "http.request", "body": part or b"", "more_body": part is not None}

    async def send(message: dict[str, Any]) -> None:
        nonlocal status
        status = message.get("status", status)

    await app(scope, receive, send)
    return status


def test_bodies_are_counted_while_they_are_read(client: Client) -> None:
    token = client.token()
    kind = {"content-type": "application/json"}
    assert asyncio.run(_in_parts(client.app, 10)) == 422
    assert asyncio.run(_in_parts(client.app, 40)) == 413
    declared = client.post("/work-out", data={"token": token, "note": "x" * 1_100_000})
    assert declared.status_code == 413
    lying = {**kind, "content-length": "many"}
    assert client.post("/api/v1/entries", content=b"{}", headers=lying).status_code == 413
    picture = client.post(
        "/t/Alder/photos", data={"token": token}, files={"file": ("a.jpg", b"x" * 2_000_000)}
    )
    assert picture.status_code == 422


def test_every_answer_carries_the_guards(client: Client) -> None:
    for path in ("/", "/nowhere", "/static/style.css", "/api/v1/tanks", "/api/v1/nowhere",
                 "/paper/style.css", "/api/v1/openapi.json"):  # fmt: skip
        headers = client.get(path).headers
        for name, value in HEADERS.items():
            assert headers[name] == value, path
    assert client.get("/").headers["cache-control"] == "no-store"
    assert "server" not in client.get("/").headers


def test_no_template_needs_what_the_policy_forbids() -> None:
    folder = files("pleuston.web") / "templates"
    for file in folder.iterdir():
        text = file.read_text()
        assert not re.search(r"\sstyle=|\son\w+=|javascript:|<style", text), file.name
        for script in re.findall(r"<script[^>]*>", text):
            assert "src=" in script or 'type="application/json"' in script, file.name
        assert "|safe" not in text.replace(" ", ""), file.name
        assert not re.search(r"https?://", text.replace("http://www.w3.org", "")), file.name


def test_static_files_stay_in_their_folder(client: Client) -> None:
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/none.css"):
        assert client.get(path).status_code == 404
    address = re.search(r'href="(/static/[0-9a-f]{12}/style\.css)"', client.get("/").text)
    assert address is not None
    assert "immutable" in client.get(address[1]).headers["cache-control"]
    assert client.get("/static/style.css").headers["cache-control"] == "no-cache"


def test_a_locked_database_is_told_in_words(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pleuston.store.session import StoreError

    def locked(*_: object) -> None:
        raise StoreError("another program is writing", "rack.db", "try again in a moment")

    monkeypatch.setattr("pleuston.web.routes.tanks.tanks_glance", locked)
    answer = client.get("/")
    assert answer.status_code == 503
    assert "Another program is writing" in answer.text
    assert "try again in a moment" in answer.text.casefold()
