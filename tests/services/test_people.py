"""Who may come in: passwords, sessions, codes, roles."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import text
from tests.store.databases import GUEST, KIM, LEE, NOW

from pleuston.base.errors import InputError, UnitError, UnknownNameError
from pleuston.services import people
from pleuston.services.log import changes_made
from pleuston.services.who import Who, may
from pleuston.store.session import Database

WORD = "correct horse"
HERE = Who()


@pytest.fixture
def kim(db: Database) -> str:
    """The token of kim, a keeper who signed in on a phone."""
    people.add_person(db, "kim", "keeper", WORD, HERE, NOW)
    return people.sign_in(db, "kim", WORD, "kim's phone", NOW)


def test_roles_allow_what_they_should() -> None:
    assert may(KIM, "keep")
    assert may(KIM, "anything else")
    assert [may(LEE, act) for act in ("read", "log", "tick", "photo", "keep")] == [True] * 4 + [
        False
    ]
    assert may(GUEST, "read")
    assert not any(may(GUEST, act) for act in ("log", "keep", "wat"))
    assert not may(Who(role="nobody"), "read")


def test_who_signs_in_is_known_by_the_token_alone(db: Database, kim: str) -> None:
    who = people.who_of_token(db, kim, NOW)
    assert who is not None
    assert (who.person, who.role) == ("kim", "keeper")
    (device,) = people.devices_of(db)
    assert (device["person"], device["name"]) == ("kim", "kim's phone")
    assert device["device"] == who.device
    for wrong in ("", kim[:-1], kim + "x", "\0", "é\ud800"):
        assert people.who_of_token(db, wrong, NOW) is None


def test_neither_password_token_nor_code_is_stored(db: Database, kim: str) -> None:
    code = people.new_pairing(db, "kim", KIM, NOW)
    tables = ("person", "device", "pairing", "audit")
    with db.read() as connection:
        stored = "".join(
            str(connection.execute(text(f"SELECT * FROM {table}")).all()) for table in tables
        )
    assert "$argon2id$" in stored
    for secret in (WORD, kim, code):
        assert secret not in stored


def test_a_wrong_name_and_a_wrong_password_look_the_same(db: Database, kim: str) -> None:
    del kim
    people.add_person(db, "ann", "helper", "", HERE, NOW)
    said = set()
    for name, word in (("kim", "wrong horse!"), ("nobody", WORD), ("ann", ""), ("ann", WORD),
                       ("", WORD), ("kim", ""), ("kim", "x" * 100_000),
                       ("kim", "\ud800")):  # fmt: skip
        with pytest.raises(InputError) as refused:
            people.sign_in(db, name, word, "phone", NOW)
        said.add(str(refused.value))
    assert len(said) == 1


def test_sessions_end_by_disuse_by_age_and_by_leaving(db: Database, kim: str) -> None:
    for days in range(20, 180, 20):
        assert people.who_of_token(db, kim, NOW + timedelta(days=days)) is not None
    assert people.who_of_token(db, kim, NOW + people.LASTS) is None
    other = people.sign_in(db, "kim", WORD, "tablet", NOW)
    assert people.who_of_token(db, other, NOW + people.IDLE) is not None
    third = people.sign_in(db, "kim", WORD, "tablet", NOW)
    assert people.who_of_token(db, third, NOW + people.IDLE + timedelta(seconds=1)) is None
    people.sign_out(db, other, NOW)
    assert people.who_of_token(db, other, NOW) is None


def test_a_new_password_signs_every_device_out(db: Database, kim: str) -> None:
    people.set_password(db, "kim", "a new long word", KIM, NOW)
    assert people.who_of_token(db, kim, NOW) is None
    with pytest.raises(InputError, match="wrong"):
        people.sign_in(db, "kim", WORD, "phone", NOW)
    assert people.sign_in(db, "kim", "a new long word", "phone", NOW)
    with pytest.raises(InputError, match="9 characters"):
        people.set_password(db, "kim", "too short", KIM, NOW)


def test_a_code_lets_one_device_in_once_and_not_for_long(db: Database, kim: str) -> None:
    del kim
    code = people.new_pairing(db, "kim", KIM, NOW)
    token = people.use_pairing(db, code, "phone\x07 of <kim>", NOW + timedelta(seconds=60))
    assert people.who_of_token(db, token, NOW) is not None
    assert people.devices_of(db)[0]["name"] == "phone of <kim>"
    late = people.new_pairing(db, "kim", KIM, NOW)
    for wrong, when in ((code, NOW), (late, NOW + people.PAIRING_LASTS), ("guess", NOW)):
        with pytest.raises(InputError, match="used up or too old"):
            people.use_pairing(db, wrong, "phone", when)


def test_who_leaves_is_out_at_once_and_may_come_back(db: Database, kim: str) -> None:
    people.add_person(db, "lee", "helper", WORD, HERE, NOW)
    lee = people.sign_in(db, "lee", WORD, "phone", NOW)
    code = people.new_pairing(db, "lee", KIM, NOW)
    people.remove_person(db, "lee", KIM, NOW)
    assert people.who_of_token(db, lee, NOW) is None
    with pytest.raises(InputError):
        people.use_pairing(db, code, "phone", NOW)
    with pytest.raises(InputError):
        people.sign_in(db, "lee", WORD, "phone", NOW)
    assert [person["person"] for person in people.list_people(db)] == ["kim"]
    people.add_person(db, "lee", "viewer", "another word", HERE, NOW)
    assert people.who_of_token(db, lee, NOW) is None
    assert people.who_of_token(db, kim, NOW) is not None


def test_the_last_keeper_stays(db: Database, kim: str) -> None:
    del kim
    people.add_person(db, "lee", "helper", "", HERE, NOW)
    with pytest.raises(InputError, match="only keeper"):
        people.remove_person(db, "kim", KIM, NOW)
    with pytest.raises(InputError, match="only keeper"):
        people.set_role(db, "kim", "viewer", KIM, NOW)
    people.set_role(db, "lee", "keeper", KIM, NOW)
    people.remove_person(db, "kim", KIM, NOW)


def test_only_a_keeper_changes_people(db: Database, kim: str) -> None:
    people.add_person(db, "lee", "helper", WORD, HERE, NOW)
    device = people.devices_of(db, "kim")[0]["device"]
    for act in (
        lambda: people.add_person(db, "x", "keeper", WORD, LEE, NOW),
        lambda: people.remove_person(db, "kim", LEE, NOW),
        lambda: people.set_role(db, "lee", "keeper", LEE, NOW),
        lambda: people.set_password(db, "kim", "stolen password", LEE, NOW),
        lambda: people.new_pairing(db, "kim", LEE, NOW),
        lambda: people.revoke(db, device, LEE, NOW),
    ):
        with pytest.raises(InputError, match="helper may not"):
            act()
    people.set_password(db, "lee", "my own new word", LEE, NOW)
    assert people.who_of_token(db, kim, NOW) is not None
    people.revoke(db, device, KIM, NOW)
    assert people.who_of_token(db, kim, NOW) is None
    assert [c["action"] for c in changes_made(db)][:2] == ["revoke device", "set password"]


def test_names_and_roles_are_checked(db: Database, kim: str) -> None:
    del kim
    for name in ("", "  ", "a\nb", "x" * 101, "\ud800", "KIM"):
        with pytest.raises(InputError):
            people.add_person(db, name, "helper", "", HERE, NOW)
    with pytest.raises(InputError, match="keeper, helper, viewer"):
        people.add_person(db, "ann", "owner", "", HERE, NOW)
    with pytest.raises(UnknownNameError, match="kim"):
        people.remove_person(db, "kin", KIM, NOW)


def test_units_are_kept_for_each_person_and_without_sign_in(db: Database, kim: str) -> None:
    del kim
    assert people.units_of(db, "kim") == {}
    people.set_units(db, "kim", {"volume": "US gal", "temperature": "degF"})
    people.set_units(db, "", {"equivalents": "mg/L CaCO3"}, NOW)
    assert people.units_of(db, "kim") == {"volume": "US gal", "temperature": "degF"}
    assert people.units_of(db, "") == {"equivalents": "mg/L CaCO3"}
    assert [person["person"] for person in people.list_people(db)] == ["kim"]
    with pytest.raises(InputError):
        people.sign_in(db, "", "", "phone", NOW)
    with pytest.raises(UnitError):
        people.set_units(db, "kim", {"volume": "g"})
    with pytest.raises(UnknownNameError):
        people.set_units(db, "kim", {"colour": "L"})
