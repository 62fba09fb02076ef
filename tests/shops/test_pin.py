"""Shared tablets: enrolled and revoked, taken over by a PIN, locked after wrong tries, and what an attacker tries."""

from __future__ import annotations

import threading

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.db import connections
from rest_framework.test import APIClient

from shops import pins, tablets
from shops.access import everywhere, rows
from shops.keys import PinTries, Tablet
from shops.models import AuditEntry, Person
from shops.tablets import COOKIE
from shops.trail import Actor
from tests.factories import PASSWORD, PersonFactory, TabletFactory
from tests.shops.cases import ReadingCase, problem_codes
from tests.shops.test_hands import clock  # noqa: F401  # the sessions' clock

PIN, OTHER_PIN = "480217", "915364"


def as_after_a_pin(client, tablet_token, person, pin=PIN):
    client.cookies[COOKIE] = tablet_token
    return client.post("/api/tablet/hands/", {"person": person.pk, "pin": pin})


@pytest.fixture
def enrolled(technician):
    """Return an enrolled tablet of the shop, and its token."""
    return tablets.enrol(Actor(technician), "Bench 1")


@pytest.fixture
def token(enrolled, technician, second_technician):
    """Return the token of a tablet on which both technicians have a PIN."""
    pins.give(Actor(technician), PIN)
    pins.give(Actor(second_technician), OTHER_PIN)
    return enrolled[1]


@pytest.fixture
def device(token):
    """Return a client on the enrolled tablet, with nobody signed in."""
    client = APIClient()
    client.cookies[COOKIE] = token
    return client


def take_over(client, person, pin):
    return client.post("/api/tablet/hands/", {"person": person.pk, "pin": pin})


class TestTablets(ReadingCase):
    base = "/api/tablets/"
    readers = frozenset({"manager", "owner"})
    retrieved = False

    def make(self, shop):
        return TabletFactory(shop=shop)


def test_enrolling_gives_the_device_a_token_that_nobody_else_keeps(technician_client, technician, owner):
    answer = technician_client.post("/api/tablets/", {"name": "Bench 1"})
    assert answer.status_code == 201, answer.content
    cookie = answer.cookies[COOKIE]
    # 256 bits in base64: far more than the 128 that OWASP's session guidance asks for at the least.
    assert len(cookie.value) == 43
    assert cookie["httponly"]
    assert cookie["samesite"] == "Strict"
    assert cookie.value not in answer.content.decode()
    kept = rows(Tablet, technician).get()
    assert cookie.value not in str(vars(kept))
    [line] = rows(AuditEntry, owner).filter(verb="enrol tablet")
    assert cookie.value not in str(line.after)
    assert technician_client.get("/api/session/").json()["tablet"]["name"] == "Bench 1"


def test_the_token_is_for_https_alone_where_the_service_is(technician_client, settings):
    settings.HTTPS = True
    assert technician_client.post("/api/tablets/", {"name": "Bench 1"}).cookies[COOKIE]["secure"]


def test_a_device_is_enrolled_once(technician_client):
    technician_client.post("/api/tablets/", {"name": "Bench 1"})
    answer = technician_client.post("/api/tablets/", {"name": "Bench 2"})
    assert answer.status_code == 409
    assert problem_codes(answer) == ["enrolled_already"]


def test_a_pin_cannot_enrol_anything(device, technician):
    take_over(device, technician, PIN)
    assert problem_codes(device.post("/api/tablets/", {"name": "Mine"})) == ["full_sign_in"]


@pytest.mark.parametrize("shown", ["", "A" * 43, None])
def test_a_session_of_the_tablet_is_no_use_on_another_device(device, technician, shown):
    take_over(device, technician, PIN)
    thief = APIClient()
    thief.cookies["sessionid"] = device.cookies["sessionid"].value
    other = tablets.enrol(Actor(technician), "Bench 2")[1] if shown is None else shown
    thief.cookies[COOKIE] = other
    assert thief.get("/api/tools/").status_code == 401


def test_the_tablet_names_who_can_take_it_over(device, technician, second_technician, manager, sister_technician):
    pins.give(Actor(sister_technician), PIN)
    body = device.get("/api/tablet/").json()
    assert body["tablet"]["shop_name"] == "Harbour Yard"
    assert body["people"] == [
        {"id": technician.pk, "name": "Ansel Thorpe"}, {"id": second_technician.pk, "name": "Petra Lindqvar"},
    ]  # fmt: skip


@pytest.mark.parametrize("cookie", ["", "guess", "A" * 43, "A" * 5000])
def test_any_other_device_is_told_nothing(token, cookie):
    client = APIClient()
    client.cookies[COOKIE] = cookie
    assert client.get("/api/tablet/").json() == {"tablet": None, "people": []}


def test_changing_hands(device, technician, second_technician, owner):
    answer = take_over(device, technician, PIN)
    assert answer.status_code == 200, answer.content
    assert answer.json()["person"]["name"] == "Ansel Thorpe"
    assert answer.json()["full"] is False
    assert device.get("/api/tools/").status_code == 200
    first = device.cookies["sessionid"].value
    assert take_over(device, second_technician, OTHER_PIN).json()["person"]["name"] == "Petra Lindqvar"
    assert device.cookies["sessionid"].value != first
    # The session that was handed over is gone, not only replaced in this browser.
    device.cookies["sessionid"] = first
    assert device.get("/api/tools/").status_code == 401
    lines = rows(AuditEntry, owner).filter(verb="change hands").order_by("pk")
    assert [line.person_id for line in lines] == [technician.pk, second_technician.pk]


def test_a_session_planted_on_the_tablet_is_not_taken_over(device, technician, client_for, second_technician):
    planted = client_for(second_technician).cookies["sessionid"].value
    device.cookies["sessionid"] = planted
    take_over(device, technician, PIN)
    assert device.cookies["sessionid"].value != planted
    device.cookies["sessionid"] = planted
    assert device.get("/api/session/").json()["person"] is None


def test_taking_over_needs_the_csrf_token(token, technician):
    client = APIClient(enforce_csrf_checks=True)
    client.cookies[COOKIE] = token
    assert problem_codes(take_over(client, technician, PIN)) == ["csrf"]


def test_a_pin_is_nothing_on_a_device_that_is_not_enrolled(token, technician):
    answer = take_over(APIClient(), technician, PIN)
    assert answer.status_code == 403
    assert problem_codes(answer) == ["not_enrolled"]
    assert not everywhere(PinTries, why="test").exists()


def test_five_wrong_pins_lock_that_person_on_that_tablet(device, technician, second_technician, owner):
    for _ in range(pins.TRIES - 1):
        assert problem_codes(take_over(device, technician, "111213")) == ["wrong_pin"]
    for pin in ("111213", PIN):
        answer = take_over(device, technician, pin)
        assert answer.status_code == 403
        assert problem_codes(answer) == ["pin_locked"]
    assert take_over(device, second_technician, OTHER_PIN).status_code == 200
    [line] = rows(AuditEntry, owner).filter(verb="lock PIN")
    assert (line.person, line.after["person"]) == (None, technician.pk)
    assert "111213" not in str(vars(line))


def test_the_full_sign_in_on_that_tablet_unlocks(device, technician):
    for _ in range(pins.TRIES):
        take_over(device, technician, "111213")
    APIClient().post("/api/session/", {"email": technician.email, "password": PASSWORD})
    assert problem_codes(take_over(device, technician, PIN)) == ["pin_locked"]
    assert device.post("/api/session/", {"email": technician.email, "password": PASSWORD}).status_code == 200
    assert take_over(device, technician, PIN).status_code == 200


def test_a_right_pin_starts_the_count_anew(device, technician):
    for _ in range(2):
        told = [problem_codes(take_over(device, technician, "111213")) for _ in range(pins.TRIES - 1)]
        assert told == [["wrong_pin"]] * (pins.TRIES - 1)
        assert take_over(device, technician, PIN).status_code == 200


def test_going_from_tablet_to_tablet_gives_no_more_than_fifteen_tries(token, technician):
    """Somebody of the shop who enrols device after device must not try a colleague's PIN on each."""
    told = []
    for number in range(6):
        client = APIClient()
        client.cookies[COOKIE] = tablets.enrol(Actor(technician), f"Spare {number}")[1]
        for _ in range(pins.TRIES - 1):
            told += problem_codes(take_over(client, technician, "111213"))
    assert told.count("wrong_pin") == pins.TRIES_ON_ALL - 1
    assert told[-1] == "pin_locked"
    assert problem_codes(as_after_a_pin(APIClient(), token, technician)) == ["pin_locked"]


@pytest.mark.django_db(transaction=True)
def test_tries_sent_together_are_counted_one_by_one(enrolled, technician):
    pins.give(Actor(technician), PIN)
    told = []

    def guess():
        try:
            client = APIClient()
            client.cookies[COOKIE] = enrolled[1]
            told.extend(problem_codes(take_over(client, technician, "111213")))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=guess) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count("wrong_pin") <= pins.TRIES - 1
    assert len(told) == 12
    assert everywhere(PinTries, why="test").get().wrong == pins.TRIES


def test_who_is_unknown_there_and_who_has_no_pin_are_answered_in_the_same_words(
    device, technician, manager, sister_technician, stranger
):
    wrong = take_over(device, technician, "111213")
    for person_id in (manager.pk, sister_technician.pk, stranger.pk, 9_000_000):
        answer = device.post("/api/tablet/hands/", {"person": person_id, "pin": "111213"})
        assert (answer.status_code, answer.content) == (wrong.status_code, wrong.content)


def test_an_unknown_person_costs_a_hash_too(device, monkeypatch):
    """So that the time taken does not tell who has a PIN: no clock is read here, the work is counted."""
    made = []
    monkeypatch.setattr(pins, "make_password", lambda text: made.append(text) or "")
    device.post("/api/tablet/hands/", {"person": 9_000_000, "pin": "111213"})
    assert len(made) == 1


@pytest.mark.parametrize("pin", [
    "000000", "999999", "123456", "654321", "234567", "890123", "098765", "121212", "123123", "112233", "111222",
    "414141",
])
def test_what_anybody_would_try_first_is_refused(technician_client, pin):
    answer = technician_client.put("/api/session/pin/", {"password": PASSWORD, "pin": pin})
    assert problem_codes(answer) == ["easy_pin"]
    assert answer.json()["problems"][0]["value"] is None


@pytest.mark.parametrize("pin", ["48021", "4802171", "48021x", "٤٨٠٢١٧", " 48021", ""])
def test_what_is_not_six_digits_is_refused(technician_client, pin):
    answer = technician_client.put("/api/session/pin/", {"password": PASSWORD, "pin": pin})
    assert answer.status_code == 400
    assert problem_codes(answer) in (["not_a_pin"], ["blank"])


def test_setting_a_pin_needs_the_password_and_a_full_sign_in(technician_client, technician, token):
    wrong = technician_client.put("/api/session/pin/", {"password": "wrong", "pin": PIN})
    assert problem_codes(wrong) == ["wrong_password"]
    right = technician_client.put("/api/session/pin/", {"password": PASSWORD, "pin": PIN})
    assert right.status_code == 204, right.content
    by_pin = APIClient()
    as_after_a_pin(by_pin, token, technician)
    answer = by_pin.put("/api/session/pin/", {"password": PASSWORD, "pin": OTHER_PIN})
    assert problem_codes(answer) == ["full_sign_in"]


def test_pins_are_kept_with_argon2_and_the_installations_secret(settings, technician):
    from shops.site import settings as ours  # noqa: PLC0415  the real list, not the quick one of the tests

    settings.PASSWORD_HASHERS = ours.PASSWORD_HASHERS
    held = pins.give(Actor(technician), PIN)
    assert identify_hasher(held.hash).algorithm == "argon2"
    assert pins.check_password(pins._mixed(technician, PIN), held.hash)
    settings.SECRET_KEY = "x" * 60
    assert not pins.check_password(pins._mixed(technician, PIN), held.hash)


def test_two_people_with_one_pin_are_not_seen_to_have_it(technician, second_technician):
    assert pins._mixed(technician, PIN) != pins._mixed(second_technician, PIN)


def test_taking_a_pin_away(device, technician, owner):
    take_over(device, technician, PIN)
    device.post("/api/session/full/", {"password": PASSWORD})
    assert device.delete("/api/session/pin/").status_code == 204
    assert problem_codes(take_over(device, technician, PIN)) == ["wrong_pin"]
    assert [line.verb for line in rows(AuditEntry, owner).filter(subject="pin").order_by("pk")][-1] == "remove PIN"


def test_an_idle_tablet_signs_its_person_out(device, technician, settings, clock):  # noqa: F811
    take_over(device, technician, PIN)
    clock.pass_by(settings.IDLE_S - 5)
    assert device.get("/api/tools/").status_code == 200
    clock.pass_by(settings.IDLE_S + 1)
    assert device.get("/api/tools/").status_code == 401
    assert device.get("/api/session/").json()["person"] is None


def test_so_does_one_that_was_signed_in_on_by_password(device, technician, settings, clock):  # noqa: F811
    device.post("/api/session/", {"email": technician.email, "password": PASSWORD})
    clock.pass_by(settings.IDLE_S + 1)
    assert device.get("/api/tools/").status_code == 401


def test_a_full_sign_in_is_over_when_the_tablet_changes_hands(device, manager, technician):
    device.post("/api/session/", {"email": manager.email, "password": PASSWORD})
    assert device.get("/api/session/").json()["full"] is True
    assert take_over(device, technician, PIN).json()["full"] is False
    pins.give(Actor(manager), "702846")
    assert take_over(device, manager, "702846").json()["full"] is False


def test_revoking_ends_the_tablets_sessions_at_once(device, enrolled, technician, manager_client):
    take_over(device, technician, PIN)
    address = f"/api/tablets/{enrolled[0].pk}/revoke/"
    assert manager_client.post(address).status_code == 200
    assert device.get("/api/tools/").status_code == 401
    assert device.get("/api/tablet/").json()["tablet"] is None
    assert problem_codes(take_over(device, technician, PIN)) == ["not_enrolled"]
    assert manager_client.post(address).status_code == 200


def test_a_sister_shops_tablet_is_not_revoked_from_here(manager_client, sister_shop):
    tablet = TabletFactory(shop=sister_shop)
    assert manager_client.post(f"/api/tablets/{tablet.pk}/revoke/").status_code == 403


def test_a_new_password_ends_the_sessions_begun_by_pin(device, technician, technician_client):
    take_over(device, technician, PIN)
    technician_client.post("/api/session/password/", {"current": PASSWORD, "new": "quince hammer eleven"})
    assert device.get("/api/tools/").status_code == 401


def test_neither_pin_nor_token_is_ever_answered(device, technician, token):
    answers = [take_over(device, technician, PIN), device.get("/api/session/"), device.get("/api/tablet/")]
    for answer in answers:
        assert PIN not in answer.content.decode()
        assert token not in answer.content.decode()
    assert not any(PIN in str(line.after) for line in everywhere(AuditEntry, why="test"))


def test_a_person_of_a_sister_shop_takes_over_by_password_only(device, sister_shop):
    guest = PersonFactory(shop=sister_shop)
    pins.give(Actor(guest), "702846")
    assert problem_codes(take_over(device, guest, "702846")) == ["wrong_pin"]
    assert device.post("/api/session/", {"email": guest.email, "password": PASSWORD}).status_code == 200
    assert everywhere(Person, why="test").filter(pk=guest.pk).exists()
