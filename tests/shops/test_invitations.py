"""Invitations: who may invite whom, the link that opens once, and what ends when somebody leaves."""

from __future__ import annotations

import re
import threading
from datetime import timedelta

import pytest
from django.core import mail
from django.db import connections
from django.utils import timezone
from rest_framework.test import APIClient

from setups.models import SignOff
from shops import invitations, pins, recoveries, tablets, verbs
from shops.access import everywhere, rows
from shops.keys import Invitation, Pin, Tablet
from shops.models import AuditEntry, Person
from shops.tablets import COOKIE
from shops.tokens import digest
from shops.trail import Actor
from tests.factories import PASSWORD, InvitationFactory, JobCardFactory
from tests.shops.cases import ReadingCase, problem_codes

NEW = "quince hammer eleven"
CORIN = "corin@springwell.example"


def letters():
    """Return the letters that went out, once they have: they are sent beside the answer."""
    for thread in threading.enumerate():
        if thread.name == "mail":
            thread.join()
    return mail.outbox


def secret_in(text):
    return re.search(r"#/\w+/([\w-]{43})\b", text)[1]


def invite(client, shop, role="technician", email=CORIN):
    return client.post("/api/invitations/", {"email": email, "role": role, "shop": shop.pk})


def accept(client, secret, name="Corin Ashdale", password=NEW):
    return client.post("/api/invitations/accept/", {"secret": secret, "name": name, "password": password})


class TestInvitations(ReadingCase):
    base = "/api/invitations/"
    readers = frozenset({"manager", "owner"})
    retrieved = False

    def make(self, shop):
        return InvitationFactory(shop=shop)


def test_an_invitation_from_end_to_end(manager_client, shop, owner, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        answer = invite(manager_client, shop)
    assert answer.status_code == 201, answer.content
    [letter] = letters()
    assert letter.to == [CORIN]
    secret = secret_in(letter.body)
    assert answer.json()["url"] == f"http://testserver/#/invited/{secret}"
    kept = everywhere(Invitation, why="test").get()
    assert kept.secret_sha256 == digest(secret)
    assert timedelta(days=6, hours=23) < kept.expires_at - timezone.now() <= timedelta(days=7)
    newcomer = APIClient()
    offered = newcomer.post("/api/invitations/open/", {"secret": secret})
    assert offered.json() == {
        "business": "Springwell", "shop": "Harbour Yard", "role": "technician", "email": CORIN,
        "invited_by": "Imke Daveney",
    }  # fmt: skip
    entered = accept(newcomer, secret)
    assert entered.status_code == 200, entered.content
    assert entered.json()["person"]["name"] == "Corin Ashdale"
    assert newcomer.get("/api/tools/").status_code == 200
    assert APIClient().post("/api/session/", {"email": CORIN, "password": NEW}).status_code == 200
    for again in (accept(APIClient(), secret), APIClient().post("/api/invitations/open/", {"secret": secret})):
        assert again.status_code == 404
    lines = rows(AuditEntry, owner).order_by("pk")
    assert [line.verb for line in lines][:3] == ["invite", "accept invitation", "sign in"]
    told = str([(line.before, line.after, line.reason) for line in lines])
    assert secret not in told
    assert CORIN not in told


def test_what_opens_nothing_is_answered_alike(anonymous, shop, manager, technician):
    def made(**values):
        return InvitationFactory(shop=shop, made_by=manager, **values)

    now = timezone.now()
    left = Person.objects.create(
        business=shop.business, shop=shop, name="Gone", email="gone@springwell.example", role="manager", is_active=False
    )
    made(secret_sha256=digest("expired"), expires_at=now - timedelta(seconds=1))
    made(secret_sha256=digest("revoked"), revoked_at=now)
    made(secret_sha256=digest("used"), accepted_at=now)
    InvitationFactory(shop=shop, made_by=left, secret_sha256=digest("of one who left"))
    InvitationFactory(shop=shop, made_by=technician, secret_sha256=digest("of one who no longer manages"))
    made(secret_sha256=digest("open"))
    told = set()
    for secret in ("expired", "revoked", "used", "of one who left", "of one who no longer manages", "unknown"):
        for answer in (anonymous.post("/api/invitations/open/", {"secret": secret}), accept(anonymous, secret)):
            told.add((answer.status_code, answer.content))
    assert len(told) == 1
    assert told.pop()[0] == 404
    assert anonymous.post("/api/invitations/open/", {"secret": "open"}).status_code == 200


@pytest.mark.parametrize(("who", "role", "where", "code"), [
    ("manager", "technician", "shop", 201), ("manager", "manager", "shop", 201), ("manager", "owner", "shop", 403),
    ("manager", "technician", "sister_shop", 403), ("manager", "technician", "other_shop", 400),
    ("technician", "technician", "shop", 403),
    ("owner", "owner", "shop", 201), ("owner", "manager", "sister_shop", 201),
    ("owner", "technician", "other_shop", 400),
])
def test_who_may_invite_whom(request, client_for, who, role, where, code):
    client = client_for(request.getfixturevalue(who))
    assert invite(client, request.getfixturevalue(where), role).status_code == code


def test_inviting_asks_for_the_full_sign_in(manager_client, shop):
    session = manager_client.session
    session["hands_full_until"] = 0
    session.save()
    assert problem_codes(invite(manager_client, shop)) == ["full_sign_in"]


def test_taking_it_back(manager_client, shop, anonymous, owner):
    made = invite(manager_client, shop).json()
    answer = manager_client.post(f"/api/invitations/{made['id']}/revoke/")
    assert answer.status_code == 200, answer.content
    assert accept(anonymous, secret_in(made["url"])).status_code == 404
    assert manager_client.get("/api/invitations/").json()["count"] == 0
    assert rows(AuditEntry, owner).filter(verb="revoke invitation").count() == 1


def test_one_that_was_taken_up_is_not_taken_back(manager_client, shop, anonymous):
    made = invite(manager_client, shop).json()
    accept(anonymous, secret_in(made["url"]))
    assert problem_codes(manager_client.post(f"/api/invitations/{made['id']}/revoke/")) == ["accepted"]


@pytest.mark.parametrize("password", ["short", "password1234", "corin ashdale"])
def test_a_weak_password_takes_nothing_up(manager_client, shop, anonymous, password):
    secret = secret_in(invite(manager_client, shop).json()["url"])
    answer = accept(anonymous, secret, password=password)
    assert problem_codes(answer)[0] == "weak_password"
    assert answer.json()["problems"][0]["value"] is None
    assert accept(anonymous, secret).status_code == 200


def test_whether_an_address_is_used_elsewhere_is_not_told_to_whoever_invites(manager_client, shop, stranger, anonymous):
    answer = invite(manager_client, shop, email=stranger.email.upper())
    assert answer.status_code == 201
    assert problem_codes(accept(anonymous, secret_in(answer.json()["url"]))) == ["taken"]
    assert problem_codes(invite(manager_client, shop, email="imke@springwell.example")) == ["taken"]


def test_taking_up_needs_the_csrf_token_and_starts_a_session_of_its_own(manager_client, shop, client_for, technician):
    secret = secret_in(invite(manager_client, shop).json()["url"])
    assert problem_codes(accept(APIClient(enforce_csrf_checks=True), secret)) == ["csrf"]
    client = client_for(technician)
    planted = client.cookies["sessionid"].value
    assert accept(client, secret).json()["person"]["name"] == "Corin Ashdale"
    assert client.cookies["sessionid"].value != planted
    client.cookies["sessionid"] = planted
    assert client.get("/api/session/").json()["person"] is None


@pytest.mark.django_db(transaction=True)
def test_of_two_who_come_with_one_secret_one_gets_in(manager, shop):
    _, secret = invitations.invite(Actor(manager), email=CORIN, role="technician", shop=shop)
    told = []

    def come():
        try:
            told.append(accept(APIClient(raise_request_exception=False), secret).status_code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=come) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count(200) == 1
    assert everywhere(Person, why="test").filter(email=CORIN).count() == 1


def test_trying_secrets_is_slowed_down(anonymous, db):
    told = [anonymous.post("/api/invitations/open/", {"secret": f"guess-{n}"}).status_code for n in range(31)]
    assert told == [404] * 30 + [429]


# --- leaving


@pytest.fixture
def leaver(manager, shop):
    """Return a manager who has left something behind everywhere."""
    card = JobCardFactory(shop=shop, opened_by=manager)
    SignOff.objects.create(card=card, part="work", statement="Done by the manual.", by=manager)
    return manager


def leave(person, owner):
    return verbs.change_person(Actor(owner), person, person.version, {"is_active": False})


def test_who_leaves_is_out_at_once_everywhere(leaver, owner, client_for, shop):
    pins.give(Actor(leaver), "480217")
    _, token = tablets.enrol(Actor(leaver), "At home")
    _, lent = tablets.enrol(Actor(owner), "Bench 1")
    by_password, by_pin = client_for(leaver), APIClient()
    by_pin.cookies[COOKIE] = lent
    by_pin.post("/api/tablet/hands/", {"person": leaver.pk, "pin": "480217"})
    assert by_pin.get("/api/tools/").status_code == by_password.get("/api/tools/").status_code == 200
    leave(leaver, owner)
    assert by_pin.get("/api/tools/").status_code == by_password.get("/api/tools/").status_code == 401
    assert not everywhere(Pin, why="test").exists()
    assert tablets.of_token(token) is None
    assert tablets.of_token(lent) is not None
    assert problem_codes(by_pin.post("/api/tablet/hands/", {"person": leaver.pk, "pin": "480217"})) == ["wrong_pin"]
    assert everywhere(Tablet, why="test").exclude(revoked_at=None).get().name == "At home"


def test_the_links_that_a_leaver_gave_out_or_was_given_open_nothing(leaver, owner, shop, anonymous):
    _, invited = invitations.invite(Actor(leaver), email=CORIN, role="technician", shop=shop)
    _, recovering = recoveries.issue(Actor(owner), leaver)
    leave(leaver, owner)
    assert accept(anonymous, invited).status_code == 404
    assert anonymous.post("/api/recovery/use/", {"secret": recovering, "password": NEW}).status_code == 404


def test_who_comes_back_does_not_come_back_into_old_sessions(leaver, owner, client_for):
    before = client_for(leaver)
    leave(leaver, owner)
    verbs.change_person(Actor(owner), leaver, leaver.version, {"is_active": True})
    assert before.get("/api/tools/").status_code == 401
    assert APIClient().post("/api/session/", {"email": leaver.email, "password": PASSWORD}).status_code == 200


def test_what_a_leaver_signed_off_stays_with_the_name(leaver, owner, owner_client):
    leave(leaver, owner)
    card = everywhere(SignOff, why="test").get().card
    [signed] = owner_client.get(f"/api/cards/{card.pk}/").json()["sign_offs"]
    assert signed["by_name"] == "Imke Daveney"
